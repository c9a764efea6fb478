"""What has no paper: results without a letter, deliveries without a document, seed without a certificate.

A lot's proof: each obligation of the claim, in words, with what shows it and what leaves it open.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.records.columns import is_in
from certgen.records.quantities import format_mass
from certgen.records.tables import load_tables
from certgen.rules.samples.soundness import has_letter
from certgen.rules.seed.departures import LEAVING
from certgen.rules.wording import capital, count, day, join, noun

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result
    from certgen.records.columns import Array
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
    results = int(_with(case, "screening", "result").sum())
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
        own = case.own(name)
        if "evidence" in table.fields and own.any():
            naming = own & case.columns(name).known("evidence")
            found.append(Papered(name, int(own.sum()), int(naming.sum())))
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
            bare = _with(case, name, "report") & case.columns(name).absent("evidence")
            records = tuple(
                (f"{name} {id_}", f"report {report}")
                for _, id_, report in case.columns(name).rows(table.key, "report", where=bare)
            )
            kinds.append((f"{table.title}, no copy of the report filed", records, int(case.own(name).sum())))
    return tuple(Unpapered(title, records, of) for title, records, of in kinds if records)


def _with(case: Case, table: str, name: str) -> Array:
    """For each row of a table: does it stand in this season's own folder, and something in the column?"""
    return case.own(table) & case.columns(table).known(name)


def _results(case: Case) -> tuple[tuple[str, str], ...]:
    tests = case.columns("screening")
    bare = _with(case, "screening", "result") & ~has_letter(tests)
    return tuple(
        (f"screening {sample}", f"{result}, {laboratory or 'no laboratory named'}")
        for _, sample, result, laboratory in tests.rows("sample", "result", "laboratory", where=bare)
    )


def _letters(case: Case) -> tuple[tuple[str, str], ...]:
    tests = case.columns("screening")
    bare = _with(case, "screening", "result") & tests.known("report") & tests.absent("evidence")
    held = Counter((report, by) for _, report, by in tests.rows("report", "laboratory", where=bare))
    return tuple(
        (f"report {report}", f"{laboratory or 'no laboratory named'}, {count(size, 'screening')}")
        for (report, laboratory), size in held.items()
    )


def _movements(case: Case, kinds: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    moved = case.columns("movements")
    return _tell_movements(case, _moved(case, kinds) & moved.absent("document") & moved.absent("evidence"))


def _numbered(case: Case, kinds: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    moved = case.columns("movements")
    return _tell_movements(case, _moved(case, kinds) & moved.known("document") & moved.absent("evidence"))


def _moved(case: Case, kinds: tuple[str, ...]) -> Array:
    return case.own("movements") & is_in(case.columns("movements")["kind"], kinds)


def _count_moved(case: Case, kinds: tuple[str, ...]) -> int:
    return int(_moved(case, kinds).sum())


def _tell_movements(case: Case, where: Array) -> tuple[tuple[str, str], ...]:
    told = []
    said = ("movement", "document", "kind", "weight_mg", "lot", "date", "party")
    for _, movement, document, kind, weight, lot, when, party in case.columns("movements").rows(
        *said, where=where
    ):
        on = f" on {day(when)}" if when else ""
        words = f"{kind} {format_mass(weight or 0)} of lot {lot}{on}, {party or 'no party named'}"
        told.append((f"movements {movement}", f"{document}: {words}" if document else words))
    return tuple(told)


def _count_bought(case: Case) -> int:
    plantings = _with(case, "plantings", "origin.supplier")
    return int(plantings.sum() + (_own_packed(case) & case.joined("packed").known("supplier")).sum())


def _own_packed(case: Case) -> Array:
    """Which rows of what was packed are of lots of this season's own folder."""
    found: Array = case.joined("packed")["lot_row"] < case.season.own("lots")
    return found


def _plantings(case: Case) -> tuple[tuple[str, str], ...]:
    plantings = case.columns("plantings")
    # What is not called organic needs another paper, the supplier's word on engineering.
    called = is_in(plantings["material_status"], {None, "organic"})
    bought = called & _with(case, "plantings", "origin.supplier") & plantings.absent("origin.lot")
    bare = bought & plantings.absent("origin.certificate") & plantings.absent("evidence")
    return tuple(
        (f"plantings {planting}", f"{status or 'no status'}, from {supplier}")
        for _, planting, status, supplier in plantings.rows(
            "planting", "material_status", "origin.supplier", where=bare
        )
    )


def _lots(case: Case) -> tuple[tuple[str, str], ...]:
    packed = case.joined("packed")
    bare = _own_packed(case) & packed.known("supplier") & packed.absent("certificate")
    return tuple(
        (f"lots {lot}", f"{format_mass(weight or 0)} from {supplier}")
        for _, lot, weight, supplier in packed.rows("lot", "weight_mg", "supplier", where=bare)
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
