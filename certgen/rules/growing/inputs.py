"""What was put onto the land and the trees, and what allows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.rules.findings import Finding
from certgen.rules.growing.approvals import find_approvals
from certgen.rules.harvest.picked_since import PickedSince
from certgen.rules.registry import rule
from certgen.rules.wording import capital, day, join
from certgen.standards import find_prohibited

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array
    from certgen.rules.case import Case


def claimed_inputs(case: Case) -> Array:
    """For each input: is it on land that is, or may be, organic or in transition?"""
    blocks = case.columns("blocks").look_up("block", case.columns("inputs")["block"], "status")
    claimed: Array = blocks != "conventional"
    return claimed


@rule(
    weight="unproven",
    clauses=(
        "us-nop:205.201(a)(2)",
        "us-nop:205.601",
        "us-nop:205.602",
        "us-nop:205.206",
        "eu:2018/848 annex II 1.9.3",
        "eu:2018/848 annex II 1.10.2",
        "canada:5.1",
    ),
    remedy="Name under `approval` its entry on your list of approved materials, or write under `allowed_by` "
    "the paragraph, the list or the section of your plan that allows the material. If you find none, tell "
    "the certifier before anything is sold.",
    after=("date-in-future",),
)
def input_unlisted(case: Case) -> Iterator[Finding]:
    """Something was put on organic land, and nothing says what allows it.

    Whatever the standard doesn't allow is prohibited, and one wrong bag costs the land its years. On land
    in transition the years begin anew.
    """
    inputs, approved, picked = case.columns("inputs"), find_approvals(case), PickedSince(case)
    bare = claimed_inputs(case) & inputs.absent("allowed_by") & inputs.absent("approval")
    for row, identifier, material, block, when in inputs.rows(
        "input", "material", "block", "date", where=bare
    ):
        if row in approved:
            continue
        yield Finding(
            "inputs",
            identifier,
            row,
            ("allowed_by",),
            f"{capital(material)} was put on block {block} (input {identifier}), and "
            f"nothing says what allows it.",
            reaches=picked.find([block], when),
            supply=f"what allows input {identifier}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.201(a)(2)", "us-nop:205.601", "eu:2018/848 annex II 1.10.2"),
    remedy="If the days, the block or the condition are wrong in one of the two records, correct it. "
    "Otherwise ask the certifier whether the use was allowed, and enter the answer as an approval of its "
    "own.",
    after=("date-in-future",),
)
def approval_not_holding(case: Case) -> Iterator[Finding]:
    """A material was used on other days, in another place or for another purpose than it is approved for.

    An approval holds as it was given. Where an input rests on nothing else its fruit isn't proved organic
    until somebody says that the use was allowed; where it says in words what else allows it, this is asked.
    """
    inputs, approvals, picked = case.columns("inputs"), find_approvals(case), PickedSince(case)
    columns = ("input", "material", "block", "date", "allowed_by")
    for row, identifier, material, block, when, words in inputs.rows(*columns, where=claimed_inputs(case)):
        approval = approvals.get(row)
        if approval is None or (approval.holds and not approval.other_use):
            continue
        why = [*approval.lacks, *([approval.other_use] if approval.other_use else [])]
        rests = not approval.holds and (approval.cited or words is None)
        yield Finding(
            "inputs",
            identifier,
            row,
            ("approval",) if approval.cited else ("material",),
            f"{capital(material)} was put on block {block} on {day(when)} (input {identifier}). Approved"
            f" material {approval.material} doesn't cover that: {join(why)}.",
            weight=None if rests else "advice",
            reaches=picked.find([block], when) if rests else (),
            supply=f"an approval of material {approval.material} that holds for input {identifier}",
        )


@rule(
    weight="rejects",
    clauses=(
        "us-nop:205.105(e)",
        "us-nop:205.601",
        "us-nop:205.602",
        "us-nop:205.202(b)",
        "eu:2018/848 annex II 1.9.3",
        "eu:2018/848 annex II 1.10.2",
        "canada:5.1",
    ),
    remedy="If the entry is right, tell the certifier before anything more is sold: the land's years "
    "begin anew. If it was another material, correct it.",
    after=("date-in-future",),
)
def input_prohibited(case: Case) -> Iterator[Finding]:
    """Something that no organic standard allows was put on the land, by its own name in the record.

    Whatever the entry gives as its permission, fruit picked from that land since isn't organic. The list
    of names is a starting one, and what isn't on it is not therefore allowed. How the ban on each kind was
    read stands beside it. A name that is denied ('free of urea') is none.
    """
    inputs, approvals, picked = case.columns("inputs"), find_approvals(case), PickedSince(case)
    for row, identifier, material, block, when in inputs.rows(
        "input", "material", "block", "date", where=claimed_inputs(case)
    ):
        approval = approvals.get(row)
        named = find_prohibited(material) or (find_prohibited(approval.name) if approval else None)
        if named is None:
            continue
        yield Finding(
            "inputs",
            identifier,
            row,
            ("material",),
            f"{capital(material)} was put on block {block} on {day(when)} (input {identifier}). No"
            f" standard here allows {named.name} ({named.kind}, {named.mark}).",
            reaches=picked.find([block], when),
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.201(a)(2)",),
    remedy="Enter the material under `materials` with who approved it and until when, or correct its name.",
    after=("input-prohibited",),
)
def material_not_listed(case: Case) -> Iterator[Finding]:
    """A list of approved materials is kept, and something was used that isn't on it.

    What `allowed_by` says are words. A list with who approved what, until when, is what an inspector reads
    them against.
    """
    if not len(case.columns("materials")):
        return
    inputs, approved = case.columns("inputs"), find_approvals(case)
    claimed = claimed_inputs(case) & case.own("inputs")
    worded = claimed & inputs.known("allowed_by") & inputs.absent("approval")
    for row, identifier, material, words in inputs.rows("input", "material", "allowed_by", where=worded):
        if row in approved:
            continue
        yield Finding(
            "inputs",
            identifier,
            row,
            ("material",),
            f"{capital(material)} (input {identifier}) isn't on the list of approved materials; only its own"
            f" words say what allows it ('{words}').",
            cause=material.casefold(),
            reaches=(),
        )
