"""Seed leaves the farm: not before it may, and never without its papers."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage.custody import fold
from certgen.records.rows import indexed_rows, look_up
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import sound_samples
from certgen.rules.samples.verdicts import find_clearing
from certgen.rules.seed.departures import TOLD, departures
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import Series

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
    frame = departures(case)
    early = frame[frame["date"] < frame["packed"]]
    for row, movement, when, lot, kind, packed in indexed_rows(
        early, "movement", "date", "lot", "kind", "packed"
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
    cleared = _cleared(case)
    frame = departures(case)
    frame = frame.assign(cleared=look_up(frame["lot"], cleared))
    early = frame[frame["date"] < frame["cleared"]]
    for row, movement, when, lot, kind, last in indexed_rows(
        early, "movement", "date", "lot", "kind", "cleared"
    ):
        unknown = last.year == _NEVER.year
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


#: Later than any day: of a result of which nothing says when it came.
_NEVER: Final = date(2999, 12, 31)


def _in_hand(case: Case, parent: str) -> Series[Any]:
    """By bag the day on which the results were in that had cleared its parent before it was put on."""
    import pandas as pd

    samples, bags = sound_samples(case), case.keyed("bagging")[["bag", parent, "covered"]]
    reported = look_up(samples["row"], case.season.table("screening")["reported"])
    samples = samples.assign(reported=reported.fillna(pd.Timestamp(_NEVER)))
    told = samples.merge(bags[bags[parent].notna()], left_on="tree", right_on=parent, suffixes=("", "_of"))
    told = told[(told["collected"] <= told["covered"]).fillna(value=False)]
    # What a result rules out is known from the day of its letter, not from that of its leaf.
    told = told.assign(tree=told["bag"], collected=told["reported"])
    return find_clearing(told, told["tree"].unique().tolist(), case.profile, case.events_of_concern)


def _cleared(case: Case) -> Series[Any]:
    """By lot, the day on which results that clear all of its parents were in. Through blended lots."""
    import pandas as pd

    picked = case.picked
    given = case.season.table("bagging")["pollen_parent"].notna().any()
    parents = ["tree", *(["pollen_parent"] if given else [])]
    days = pd.concat([look_up(picked["bag"], _in_hand(case, parent)) for parent in parents])
    of_harvest = days.groupby(pd.concat([picked["harvest_row"]] * len(parents))).max()
    processed, packed = case.processed, case.packed
    of_batch = look_up(processed["harvest_row"], of_harvest).groupby(processed["batch"]).max()
    found: Series[Any] = look_up(packed["batch"], of_batch).groupby(packed["lot"]).max()
    blended = packed[packed["source_lot"].isin(found.index)]
    for _ in range(len(blended)):
        handed = look_up(blended["source_lot"], found).groupby(blended["lot"]).max()
        longer = pd.concat([found, handed]).groupby(level=0).max()
        if longer.equals(found):
            break
        found = longer
    return found


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
    frame = departures(case)
    paper = frame["document"].notna() | (frame["evidence"].str.len() > 0)
    bare = frame.assign(paper=paper)[frame["party"].isna() | ~paper]
    for row, movement, when, lot, kind, weight, party, document in indexed_rows(
        bare, "movement", "date", "lot", "kind", "weight", "party", "paper"
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
    frame = case.season.table("movements")
    came = frame[frame["kind"].isin(["received", "returned"])]
    paper = came["document"].notna() | (came["evidence"].str.len() > 0)
    bare = came.assign(paper=paper)[came["party"].isna() | ~paper]
    for row, movement, when, lot, kind, weight, party, document in indexed_rows(
        bare, "movement", "date", "lot", "kind", "weight", "party", "paper"
    ):
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
    frame = departures(case)
    frame = frame[frame["document"].notna() & frame["party"].notna()]
    paper = frame["document"].map(fold) + "\n" + case.season.labels("movements")[frame.index]
    buyers = frame["party"].map(fold).groupby(paper).transform("nunique")
    for document, group in frame.assign(paper=paper)[buyers > 1].groupby("paper"):
        parties = list(dict.fromkeys(group["party"].tolist()))
        for row, movement, number in indexed_rows(group, "movement", "document"):
            yield Finding(
                "movements",
                movement,
                row,
                ("document",),
                f"Document {number} stands at sales to {join(parties)}.",
                cause=document,
                supply=f"the documents of {name('movements', group['movement'].tolist())}",
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
    frame = departures(case)
    silent = frame[frame["status"].isna() & ~frame["lot_status"].isin(["transitional", "conventional"])]
    for row, movement, lot, document in indexed_rows(silent, "movement", "lot", "document"):
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
    frame = departures(case)
    rank, own = frame["status"].map(_RANKS), frame["lot_status"].map(_RANKS)
    for row, movement, lot, status, actual, kind, when in indexed_rows(
        frame[rank > own], "movement", "lot", "status", "lot_status", "kind", "date"
    ):
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
    frame = departures(case)
    claims = ~frame["lot_status"].isin(["transitional", "conventional"])
    silent = frame[frame["last_certified_operation"].isna() & claims]
    for row, movement, lot, document in indexed_rows(silent, "movement", "lot", "document"):
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
    frame = case.season.table("movements")
    lost = frame[(frame["kind"] == "sown") & frame["planting"].isna() & frame["note"].isna()]
    for row, movement, lot, weight in indexed_rows(lost, "movement", "lot", "weight"):
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
    frame = case.season.table("movements")
    frame = frame[frame["kind"].isin(["discarded", "downgraded"])]
    silent = frame[frame["note"].isna() & frame["document"].isna()]
    for row, movement, lot, kind, weight in indexed_rows(silent, "movement", "lot", "kind", "weight"):
        yield Finding(
            "movements", movement, row, ("note",), f"{weight} of lot {lot} was {kind}, and nothing says why."
        )
