"""What has no paper: results without a letter, deliveries without a document, seed without a certificate.

A lot's proof: each obligation of the claim, in words, with what shows it and what leaves it open.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.records.columns import Columns
from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows
from certgen.records.tables import load_tables
from certgen.rules.samples.soundness import has_letter
from certgen.rules.seed.departures import LEAVING
from certgen.rules.wording import capital, count, day, join, noun

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pandas import DataFrame, Series

    from certgen.examination import Result
    from certgen.rules.case import Case
    from certgen.rules.proofs import Shown


#: What comes to a lot from outside.
COMING: Final = ("received", "returned")


@dataclass(frozen=True, slots=True)
class Unpapered:
    """Records of one kind that lack their paper: what they are, each with what it says, and how many records
    of the kind there are. `rules` ask for the paper, none where no rule does."""

    title: str
    records: tuple[tuple[str, str], ...]
    of: int
    rules: tuple[str, ...] = ()


def list_unpapered(case: Case) -> tuple[Unpapered, ...]:
    """This season's records that lack a paper, by kind; kinds with none are left out."""
    results = int(_own(case, "screening")["result"].notna().sum())
    kinds = (
        ("Results that name no letter", _results(case), results, "report-missing"),
        ("Letters of which no copy is filed", _letters(case), results, "letter-unfiled"),
        (
            "Seed that left, without a document",
            _movements(case, LEAVING),
            _count_moved(case, LEAVING),
            "sale-without-document",
        ),
        (
            "Seed that came, without a document",
            _movements(case, COMING),
            _count_moved(case, COMING),
            "receipt-without-document",
        ),
        (
            "Bought seed without a certificate",
            (*_plantings(case), *_lots(case)),
            _count_bought(case),
            "supplier-certificate-missing bought-seed-unproven",
        ),
    )
    return tuple(
        Unpapered(title, records, of, tuple(asks.split())) for title, records, of, asks in kinds if records
    )


def count_weighing(result: Result, kind: Unpapered) -> int:
    """How many of the records that lack their paper leave seed unproven, by a rule that asks for it."""
    weighing = {
        f"{gap.table} {name}"
        for gap in result.gaps
        if gap.rule in kind.rules and gap.weight != "advice"
        for name in (gap.ids or (gap.id,))
    }
    return sum(record in weighing for record, _ in kind.records)


@dataclass(frozen=True, slots=True)
class Papered:
    """A table of this season: how many records it has, and how many name a file, themselves or through the
    letter that speaks of them."""

    table: str
    records: int
    naming: int


def count_papered(case: Case) -> tuple[Papered, ...]:
    """Every table that has records and takes files, in the order of the job."""
    found = []
    for name, table in load_tables().items():
        frame = _own(case, name)
        if "evidence" in table.fields and len(frame):
            found.append(Papered(name, len(frame), int((~_unfiled(frame)).sum())))
    return tuple(found)


def list_uncopied(case: Case) -> tuple[Unpapered, ...]:
    """This season's records that bear the number of a paper of which no copy is filed, by kind.

    No rule asks for these copies; who looks at the records alone can't see the papers.
    """
    kinds = [
        (f"Seed that {moved}, no copy of its document filed", _numbered(case, some), _count_moved(case, some))
        for moved, some in (("left", LEAVING), ("came", COMING))
    ]
    for name, table in load_tables().items():
        # Results of leaves are told by their letter, above.
        if {"report", "evidence"} <= table.fields.keys() and name not in {"screening", "letters"}:
            frame = _own(case, name)
            bare = frame[frame["report"].notna() & _unfiled(frame)]
            listed = plain_rows(bare, table.key, "report")
            records = tuple((f"{name} {id_}", f"report {report}") for id_, report in listed)
            kinds.append((f"{table.title}, no copy of the report filed", records, len(frame)))
    return tuple(Unpapered(title, records, of) for title, records, of in kinds if records)


def _own(case: Case, table: str) -> DataFrame:
    return case.season.table(table)[case.own(table)]


def _unfiled(frame: DataFrame) -> Series[bool]:
    found: Series[bool] = frame["evidence"].str.len() == 0
    return found


def _results(case: Case) -> tuple[tuple[str, str], ...]:
    frame = _own(case, "screening")
    bare = frame[frame["result"].notna() & ~has_letter(Columns.of(frame))]
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
    frame = _moved(case, kinds)
    return _tell_movements(frame[frame["document"].isna() & _unfiled(frame)])


def _numbered(case: Case, kinds: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    frame = _moved(case, kinds)
    return _tell_movements(frame[frame["document"].notna() & _unfiled(frame)])


def _moved(case: Case, kinds: tuple[str, ...]) -> DataFrame:
    frame = _own(case, "movements")
    return frame[frame["kind"].isin(kinds)]


def _count_moved(case: Case, kinds: tuple[str, ...]) -> int:
    return len(_moved(case, kinds))


def _tell_movements(frame: DataFrame) -> tuple[tuple[str, str], ...]:
    told = []
    for movement, document, kind, weight, lot, when, party in plain_rows(
        frame, "movement", "document", "kind", "weight_mg", "lot", "date", "party"
    ):
        on = f" on {day(when)}" if when else ""
        words = f"{kind} {format_mass(weight or 0)} of lot {lot}{on}, {party or 'no party named'}"
        told.append((f"movements {movement}", f"{document}: {words}" if document else words))
    return tuple(told)


def _count_bought(case: Case) -> int:
    plantings, packed = _own(case, "plantings"), case.packed
    own = packed["lot_row"] < case.season.own("lots")
    return int(plantings["origin.supplier"].notna().sum() + (own & packed["supplier"].notna()).sum())


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


#: Who says what shows an obligation.
SAID_BY: Final[Mapping[str, str]] = {
    "record": "the records themselves",
    "round": "rounds",
    "letter": "laboratory letters",
    "packet": "suppliers’ packets",
    "routine": "the operation’s own statement of its routine",
}
#: More open records than this are counted, not listed.
_MOST: Final = 4


@dataclass(frozen=True, slots=True)
class Proven:
    """One obligation of a lot: what the claim needs, on how many records it is shown, and by whose word.

    `open` names the records that leave it open; it is empty where all of it is shown.
    """

    claim: str
    shown: str
    by: str
    open: str
    weight_mg: int


def list_proof(result: Result, lot: str) -> tuple[Proven, ...]:
    """Every obligation of the lot in the order of the claim, from the jar back to the land."""
    return tuple(_tell(shown, lot) for shown in result.proof(lot))


def _tell(shown: Shown, lot: str) -> Proven:
    claim = capital(_claim(shown, lot))
    sources = [source for source in SAID_BY if shown.by.get(source)]
    by = join(f"{shown.by[source]} by {source}" if len(sources) > 1 else f"by {source}" for source in sources)
    open_ = join(shown.open) if len(shown.open) <= _MOST else count(shown.records - shown.shown, "record")
    return Proven(claim, f"{shown.shown} of {shown.records}", by, open_, shown.weight_mg)


def _claim(shown: Shown, lot: str) -> str:
    """What the claim needs, of the lot or of each record behind it."""
    table = shown.obligation.table
    names = f"lot {lot}" if table == "lots" and shown.records == 1 else f"each {noun(table)}"
    return shown.obligation.says.format(names=names, was="was")


def say_proof(result: Result, lot: str) -> str:
    """How much of the claim is shown, by what, and what is left open, in a sentence or two."""
    proof = result.proof(lot)
    words: Counter[str] = Counter()
    for one in proof:
        words.update(one.by)
    told = [f"{words[source]:,} by {said_by}" for source, said_by in SAID_BY.items() if words[source]]
    done = sum(one.whole for one in proof)
    said = f"{done} of {len(proof)} obligations of the claim are shown"
    open_ = [
        f"{_claim(one, lot)} ({one.shown} of {count(one.records, one.obligation.table)})"
        for one in proof
        if not one.whole
    ]
    left = f" Not shown of all: {'; '.join(open_)}." if open_ else ""
    return f"{said}{f': {join(told)}' if told else ''}.{left}"
