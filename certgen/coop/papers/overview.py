"""The report's first chapters: the co-op on a page, its members, stock and yields."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

from certgen.coop.between.result import READINESS
from certgen.coop.members.facts import Grams
from certgen.coop.papers.readiness import show_readiness
from certgen.records.quantities import format_mass
from certgen.report.tables import Column, table
from certgen.report.wording import cell
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterator

    from certgen.coop.between.result import CoopResult
    from certgen.typeset.parts import Part


def build_overview(result: CoopResult) -> Section:
    """How ready members are, the seed by variety, the gaps by stage of the job."""
    return Section("overview", "The co-op on a page", 1, tuple(_overview(result)), style="follow")


def _overview(result: CoopResult) -> Iterator[Part]:
    ready = [
        (word, views, reduce(Grams.plus, (view.standing for view in views)))
        for word in READINESS
        if (views := [view for view in result.members if view.readiness == word])
    ]
    yield table(
        "How ready members are",
        (
            Column("Readiness", "text", lambda row: show_readiness(row[0])),
            Column("Members", "number", lambda row: len(row[1])),
            Column("Traced", "number", lambda row: format_mass(row[2].traced_mg)),
            Column("Unproven", "number", lambda row: format_mass(row[2].unproven_mg)),
            Column("Rejected", "number", lambda row: format_mass(row[2].rejected_mg)),
        ),
        ready,
    )
    if result.varieties:
        yield table(
            "Seed by variety, with the other members’ records at hand",
            (
                Column("Variety", "text", lambda row: row[0] or "no variety written"),
                Column("Standing", "standing", lambda row: row[1].standing),
                Column("All", "number", lambda row: format_mass(row[1].whole_mg)),
                Column("Traced", "number", lambda row: format_mass(row[1].traced_mg)),
                Column("Unproven", "number", lambda row: format_mass(row[1].unproven_mg)),
                Column("Rejected", "number", lambda row: format_mass(row[1].rejected_mg)),
                Column("Unaccounted", "number", lambda row: format_mass(row[1].unaccounted_mg)),
            ),
            list(result.varieties.items()),
        )
    if result.stages:
        yield _stages(result)


def _stages(result: CoopResult) -> Part:
    def gaps(weight: str) -> Column[tuple[str, Counter[str]]]:
        return Column(weight.capitalize(), "number", lambda row: row[1][weight])

    def count_members(stage: str) -> int:
        return sum(stage in view.summary.stages for view in result.members)

    return table(
        "Gaps by stage of the job",
        (
            Column("Stage", "text", lambda row: row[0].replace("_", " ").capitalize()),
            Column("Members", "number", lambda row: count_members(row[0])),
            *map(gaps, GAP_WEIGHTS),
        ),
        list(result.stages.items()),
    )


def build_balance(result: CoopResult) -> Section:
    """All members' stock books in one, variety by variety."""
    grid = table(
        "All members together",
        (
            Column("Variety", "text", lambda row: row.title),
            Column("Came", "number", lambda row: format_mass(row.came_mg)),
            Column("Went", "number", lambda row: format_mass(row.went_mg)),
            Column("To members", "number", lambda row: format_mass(row.sent_mg)),
            Column("From members", "number", lambda row: format_mass(row.received_mg)),
            Column("Difference", "number", lambda row: format_mass(row.difference_mg)),
            Column("In store", "number", lambda row: format_mass(row.closing_mg)),
        ),
        result.balance,
        note="Came − went − difference = in store, to the milligram. The difference is what members booked "
        "out to members and nobody booked in; it is nought where their books agree.",
        tone=lambda row: "total" if row.variety is None else "plain",
    )
    return Section("balance", "The combined mass balance", 1, (grid,), style="follow")


def build_yields(result: CoopResult) -> Section:
    """What each member packed for each screened tree, the unusual ones first."""
    ordered = sorted(result.yields, key=lambda one: (not one.is_far, one.variety, one.member))
    grid = table(
        "Seed packed for each screened tree",
        (
            Column("Member", "key", lambda row: cell(row.member, f"member/{row.member}")),
            Column("Variety", "text", lambda row: row.variety),
            Column("Trees", "number", lambda row: row.trees),
            Column("Seed", "number", lambda row: format_mass(row.seed_mg)),
            Column("A tree", "number", lambda row: f"{row.grams_a_tree:.1f} g"),
            Column("Middle", "number", lambda row: None if row.median is None else f"{row.median:.1f} g"),
            Column("Asked", "text", lambda row: row.asked),
        ),
        ordered,
        note="Computed; how a figure counts as far from the others stands under “How this was found”.",
        tone=lambda row: "faulty" if row.is_far else "plain",
    )
    nothing = Prose(("No member packed seed from batches.",))
    return Section("yields", "Yields", 2, (grid if ordered else nothing,))
