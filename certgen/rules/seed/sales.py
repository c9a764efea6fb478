"""Seed leaves the farm: not before it may, and never without its papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage.custody import fold
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.seed.clearing import NEVER, list_cleared
from certgen.rules.seed.departures import TOLD, is_of_kind
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

_TRAIL: Final = (
    "us-nop:205.2 audit trail",
    "us-nop:205.103(b)(2)",
    "us-nop:205.403(d)(5)",
    "eu:2021/771 1(4)(a)-(e)",
    "codex:annex 3 A accounts",
    "canada:4.4",
)
#: Lower than what stands after it.
_RANKS: Final = {status: rank for rank, status in enumerate(("conventional", "transitional", "organic"))}


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(4)"),
    remedy="One of the two days is wrong, or the wrong lot is named: look at the invoice and correct it.",
    after=("date-in-future",),
)
def sold_before_packed(case: Case) -> Iterator[Finding]:
    """Seed of a lot left the farm before the lot existed.

    Either a day or the lot's number is wrong, and then other seed than the record says is in the buyer's
    hands.
    """
    moves = case.moves
    early = moves["left"] & (moves["date"] < moves["packed"])
    for row, movement, when, lot, kind, packed in moves.rows(
        "movement", "date", "lot", "kind", "packed", where=early
    ):
        yield Finding(
            "movements",
            movement,
            row,
            ("date",),
            f"Seed of lot {lot} was {TOLD[kind]} on {day(when)}, before the lot was packed on {day(packed)}.",
            supply=f"the right day or lot of movement {movement}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.105(e)", "us-nop:205.103(b)(2)", "eu:2018/848 27"),
    remedy="If the laboratory told the result earlier, enter that day under `reported`. Otherwise tell the "
    "certifier what was sold on which day; from now on keep seed back until the last result is in.",
    after=("sold-before-packed",),
)
def sold_before_cleared(case: Case) -> Iterator[Finding]:
    """Seed left the farm before the result of one of its parents was in, or nobody knows when it was.

    On that day nobody could know that the seed was clean. That it turned out so is luck, and the record
    should say how it was kept apart from luck.
    """
    moves = case.moves
    if not moves["left"].any():
        return
    cleared = list_cleared(case)
    for row, movement, when, lot, kind in moves.rows("movement", "date", "lot", "kind", where=moves["left"]):
        last = cleared.get(lot)
        if last is None or when >= last:
            continue
        unknown = last.year == NEVER.year
        came = "nothing says when the last result of its parents came in"
        if not unknown:
            came = f"the last result of its parents came in on {day(last)}"
        yield Finding(
            "movements",
            movement,
            row,
            ("date",),
            f"Seed of lot {lot} was {TOLD[kind]} on {day(when)}, and {came}.",
            supply=f"{'the' if unknown else 'an earlier'} day for the last result behind lot {lot}",
        )


@rule(
    weight="unproven",
    clauses=_TRAIL,
    remedy="Write the buyer under `party` and the number of the invoice or dispatch note under `document`. "
    "If none was written, ask the buyer to confirm the delivery in writing, and file that.",
)
def sale_without_document(case: Case) -> Iterator[Finding]:
    """Seed left the farm, and the record names no buyer or no document.

    An inspector follows seed to the buyer and back. Without a name and a paper the trail ends at the gate.
    """
    for row, movement, when, lot, kind, weight, party, document in _without_papers(
        case.moves, case.moves["left"]
    ):
        lacks = [
            told
            for told, value in (("who took it", party), ("which document went with it", document))
            if not value
        ]
        yield Finding(
            "movements",
            movement,
            row,
            ("party" if party is None else "document",),
            f"{weight} of lot {lot} was {TOLD[kind]} on {day(when)}, and nothing says {join(lacks)}.",
            supply=f"the papers of movement {movement}",
        )


@rule(
    weight="unproven",
    clauses=(*_TRAIL, "eu:2018/848 annex III 5"),
    remedy="Write who it came from under `party` and their delivery note under `document`. Look at the label "
    "before you put the seed with yours.",
)
def receipt_without_document(case: Case) -> Iterator[Finding]:
    """Seed came onto the farm, and nothing says from whom or on what paper.

    What comes in without a paper could be any seed. From then on it lies in the lot with the rest.
    """
    came = is_of_kind(case.moves, "received", "returned")
    for row, movement, when, lot, kind, weight, party, document in _without_papers(case.moves, came):
        lacks = [told for told, value in (("from whom", party), ("on what document", document)) if not value]
        came_in = "came back to" if kind == "returned" else "was taken into"
        yield Finding(
            "movements",
            movement,
            row,
            ("party" if party is None else "document",),
            f"{weight} {came_in} lot {lot} on {day(when)}, and nothing says {join(lacks)}.",
            touches="mixed",
            supply=f"the papers of movement {movement}",
        )


def _without_papers(moves: Columns, where: Array) -> Iterator[tuple[Any, ...]]:
    """Movements that name nobody, or no paper: row, number, day, lot, kind, weight, party, and whether a
    paper."""
    paper = moves.known("document") | moves.known("evidence")
    bare = where & (moves.absent("party") | ~paper)
    told = ("movement", "date", "lot", "kind", "weight", "party", "paper")
    return moves.adding(paper=paper).rows(*told, where=bare)


@rule(
    weight="unproven",
    clauses=_TRAIL,
    remedy="Look at both copies: one of the numbers or one of the buyers is wrong. Correct it.",
)
def document_repeated(case: Case) -> Iterator[Finding]:
    """One document number stands at sales to two buyers.

    An invoice is written to one buyer. Where its number turns up at another, one of the two sales has no
    paper of its own.
    """
    moves, labels = case.moves, case.season.labels("movements")
    papers: dict[str, list[tuple[Any, ...]]] = {}
    named = moves["left"] & moves.known("document") & moves.known("party")
    for sale in moves.rows("movement", "document", "party", where=named):
        papers.setdefault(f"{fold(sale[2])}\n{labels[sale[0]]}", []).append(sale)
    for document, sales in sorted(papers.items()):
        parties = list(dict.fromkeys(party for *_, party in sales))
        if len(set(map(fold, parties))) == 1:
            continue
        for row, movement, number, _ in sales:
            yield Finding(
                "movements",
                movement,
                row,
                ("document",),
                f"Document {number} stands at sales to {join(parties)}.",
                cause=document,
                supply=f"the documents of {name('movements', [one for _, one, _, _ in sales])}",
            )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(3)", "eu:2018/848 annex III 2.1"),
    remedy="Look at your copy of the document. If it says organic, enter that under `status`; if it doesn't, "
    "send the buyer a corrected one.",
    after=("sale-without-document",),
)
def dispatch_status_missing(case: Case) -> Iterator[Finding]:
    """The document that went with organic seed doesn't say that it is organic.

    The word must stand on the paper itself, not only in the seller's memory. Where none of the season's
    standards asks for it, it is advice.
    """
    weight: Weight | None = (
        None if any(demand.value for _, demand in case.demand("documents_status")) else "advice"
    )
    silent = _claims(case.moves) & case.moves.absent("status")
    for row, movement, lot, document in case.moves.rows("movement", "lot", "document", where=silent):
        paper = f"document {document}" if document else f"the document of movement {movement}"
        yield Finding(
            "movements",
            movement,
            row,
            ("status",),
            f"Nothing says that {paper}, with seed of lot {lot}, bears the word organic.",
            weight=weight,
            supply=f"the status on {paper}",
        )


def _claims(moves: Columns) -> Array:
    """By which movements seed left the farm that may be organic."""
    lower = (moves["lot_status"] == "transitional") | (moves["lot_status"] == "conventional")
    claims: Array = moves["left"] & ~lower
    return claims


@rule(
    weight="rejects",
    clauses=(
        "us-nop:205.103(b)(3)",
        "us-nop:205.201(a)(3)",
        "eu:2018/848 annex III 2.1",
        "eu:2018/848 30(4)",
    ),
    remedy="Tell the buyer and the certifier at once, and correct the document.",
)
def sold_above_status(case: Case) -> Iterator[Finding]:
    """Seed left the farm under a better status than its lot has.

    The buyer holds a paper that is not true. The other way round, organic seed sold without the word, does
    no harm.
    """
    moves = case.moves
    other = moves["left"] & (moves["status"] != moves["lot_status"])
    for row, movement, lot, status, actual, kind, when in moves.rows(
        "movement", "lot", "status", "lot_status", "kind", "date", where=other
    ):
        if _RANKS.get(status, -1) <= _RANKS.get(actual, len(_RANKS)):
            continue
        yield Finding(
            "movements",
            movement,
            row,
            ("status",),
            f"Seed of lot {lot}, which is {actual}, was {TOLD[kind]} as {status} on {day(when)}.",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.307(b)", "us-nop:205.2 audit trail"),
    remedy="Look at your copy of the document, and enter the operation that it names under "
    "`last_certified_operation`. If it names none, send the buyer a corrected one.",
    after=("sale-without-document",),
)
def last_certified_operation_missing(case: Case) -> Iterator[Finding]:
    """The document doesn't name the last certified operation that handled the seed.

    The buyer's own inspector begins there. It is asked by the standards that say so only.
    """
    if not any(demand.value for _, demand in case.demand("last_certified_operation")):
        return
    silent = _claims(case.moves) & case.moves.absent("last_certified_operation")
    for row, movement, lot, document in case.moves.rows("movement", "lot", "document", where=silent):
        paper = f"Document {document}" if document else f"The document of movement {movement}"
        yield Finding(
            "movements",
            movement,
            row,
            ("last_certified_operation",),
            f"{paper}, with seed of lot {lot}, names no last certified operation.",
            supply=f"the last certified operation on movement {movement}",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.403(d)(4)"),
    remedy="Write under `planting` what the seed became, or in a `note` where it was sown.",
)
def sowing_without_planting(case: Case) -> Iterator[Finding]:
    """Seed was sown, and nothing says where.

    Own seed that grows somewhere unknown can't be followed into the next generation.
    """
    moves = case.moves
    lost = is_of_kind(moves, "sown") & moves.absent("planting") & moves.absent("note")
    for row, movement, lot, weight in moves.rows("movement", "lot", "weight", where=lost):
        yield Finding(
            "movements",
            movement,
            row,
            ("planting",),
            f"{weight} of lot {lot} was sown, and nothing says where.",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.403(d)(4)", "eu:2021/771 1(5)(a)-(i)"),
    remedy="Write in a `note` why the seed was given up and what became of it.",
)
def discard_unexplained(case: Case) -> Iterator[Finding]:
    """Seed was thrown away or given a lower status, and nothing says why.

    Seed that leaves the book by this door is the easiest to sell unseen, so an inspector asks about it.
    """
    moves = case.moves
    silent = is_of_kind(moves, "discarded", "downgraded") & moves.absent("note") & moves.absent("document")
    for row, movement, lot, kind, weight in moves.rows("movement", "lot", "kind", "weight", where=silent):
        yield Finding(
            "movements", movement, row, ("note",), f"{weight} of lot {lot} was {kind}, and nothing says why."
        )
