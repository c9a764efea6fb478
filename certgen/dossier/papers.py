"""What has no paper: results without a letter, deliveries without a document, seed without a certificate."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows
from certgen.rules.samples.soundness import has_letter
from certgen.rules.seed.departures import LEAVING
from certgen.rules.wording import count, day

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case


@dataclass(frozen=True, slots=True)
class Unpapered:
    """Records of one kind that lack their paper: what they are, and each with what it says."""

    title: str
    records: tuple[tuple[str, str], ...]


def list_unpapered(case: Case) -> tuple[Unpapered, ...]:
    """This season's records that lack a paper, by kind; kinds with none are left out."""
    kinds = (
        ("Results that name no letter", _results(case)),
        ("Letters of which no copy is filed", _letters(case)),
        ("Seed that left, without a document", _movements(case, LEAVING)),
        ("Seed that came, without a document", _movements(case, ("received", "returned"))),
        ("Bought seed without a certificate", (*_plantings(case), *_lots(case))),
    )
    return tuple(Unpapered(title, records) for title, records in kinds if records)


def _own(case: Case, table: str) -> DataFrame:
    return case.season.table(table)[case.own(table)]


def _unfiled(frame: DataFrame) -> Series[bool]:
    found: Series[bool] = frame["evidence"].str.len() == 0
    return found


def _results(case: Case) -> tuple[tuple[str, str], ...]:
    frame = _own(case, "screening")
    bare = frame[frame["result"].notna() & ~has_letter(frame)]
    return tuple(
        (f"screening {sample}", f"{result}, {laboratory or 'no laboratory named'}")
        for sample, result, laboratory in plain_rows(bare, "sample", "result", "laboratory")
    )


def _letters(case: Case) -> tuple[tuple[str, str], ...]:
    frame = _own(case, "screening")
    bare = frame[frame["result"].notna() & frame["report"].notna() & _unfiled(frame)]
    held = Counter((report, laboratory) for report, laboratory in plain_rows(bare, "report", "laboratory"))
    return tuple(
        (f"report {report}", f"{laboratory or 'no laboratory named'}, {count(size, 'screening')}")
        for (report, laboratory), size in held.items()
    )


def _movements(case: Case, kinds: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    frame = _own(case, "movements")
    bare = frame[frame["kind"].isin(kinds) & frame["document"].isna() & _unfiled(frame)]
    return tuple(
        (
            f"movements {movement}",
            (
                f"{kind} {format_mass(weight or 0)} of lot {lot}{f' on {day(when)}' if when else ''}, "
                f"{party or 'no party named'}"
            ),
        )
        for movement, kind, weight, lot, when, party in plain_rows(
            bare, "movement", "kind", "weight_mg", "lot", "date", "party"
        )
    )


def _plantings(case: Case) -> tuple[tuple[str, str], ...]:
    frame = _own(case, "plantings")
    # What is not called organic needs another paper, the supplier's word on engineering.
    called = frame["material_status"].isna() | (frame["material_status"] == "organic")
    bought = called & frame["origin.supplier"].notna() & frame["origin.lot"].isna()
    bare = frame[bought & frame["origin.certificate"].isna() & _unfiled(frame)]
    return tuple(
        (f"plantings {planting}", f"{status or 'no status'}, from {supplier}")
        for planting, status, supplier in plain_rows(bare, "planting", "material_status", "origin.supplier")
    )


def _lots(case: Case) -> tuple[tuple[str, str], ...]:
    packed = case.packed
    own = packed["lot_row"] < case.season.own("lots")
    bare = packed[own & packed["supplier"].notna() & packed["certificate"].isna()]
    return tuple(
        (f"lots {lot}", f"{format_mass(weight or 0)} from {supplier}")
        for lot, weight, supplier in plain_rows(bare, "lot", "weight_mg", "supplier")
    )
