"""Where the standards part: one season checked against several, each by itself."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from certgen.records.nouns import agree
from certgen.report.tables import Column, table
from certgen.report.wording import cell, count_of, key, say, whole
from certgen.rules.findings import WEIGHTS
from certgen.rules.wording import join
from certgen.standards import crossing
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Cell, Prose, Section

if TYPE_CHECKING:
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.rules.findings import Gap
    from certgen.standards import Crossing, Demand, Rulebook
    from certgen.typeset.parts import Grid, Part

LEAD: Final = (
    "The packet’s lots and gaps are those under all standards taken together. Here the season is checked"
    " against each by itself, as if there were no other; what rests on practice alone counts under every one."
)
#: Longer tables name their number only.
_MOST: Final = 40
_STANDINGS: Final = ("traced", "unproven", "rejected")
#: Demands made of a group of growers or of a certifier say nothing about one season.
_NOT_OF_A_SEASON: Final = ("group_", "inspections_", "unannounced_", "certifier_", "exempt_")


def build_standards_apart(context: Context) -> Section | None:
    """The section, or None where the season is checked against one standard only."""
    if len(context.result.rulebooks) < 2:
        return None
    parts = (
        _show_overview(context),
        _show_lots(context),
        _show_gaps(context),
        _show_demands(context.result.rulebooks),
    )
    return Section("standards-part", "Where the standards part", 1, parts, lead=LEAD, style="follow")


def _show_overview(context: Context) -> Grid:
    """The gaps by weight and the lots by standing, a row a standard."""

    def weights(weight: str) -> Column[Rulebook]:
        return Column(
            f"Gaps: {weight}",
            "number",
            lambda book: sum(gap.weight == weight for gap in under[book.key].gaps),
        )

    def standings(standing: str) -> Column[Rulebook]:
        return Column(
            f"Lots {standing}",
            "number",
            lambda book: sum(lot.standing == standing for lot in under[book.key].lots.values()),
        )

    under = context.result.by_standard
    return table(
        "Under each standard by itself",
        (
            Column("Standard", "text", lambda book: f"{book.title} ({book.key})"),
            *map(weights, WEIGHTS),
            *map(standings, _STANDINGS),
        ),
        context.result.rulebooks,
    )


def _show_lots(context: Context) -> Part:
    """The lots whose standing is not the same under all of them."""
    parting = context.result.standards_part_on
    if not parting:
        return Prose(("Every lot has the same standing under each of them.",))

    def standing(book: Rulebook) -> Column[str]:
        lots = context.result.by_standard[book.key].lots
        return Column(book.key, "standing", lambda lot: lots[lot].standing)

    left = len(parting) - _MOST
    return table(
        f"{count_of('lots', len(parting)).capitalize()} whose standing is not the same",
        (Column("Lot", "key", lambda lot: key(lot, f"lots/{lot}")), *map(standing, context.result.rulebooks)),
        parting[:_MOST],
        note=f"And {count_of('lots', left)} more." if left > 0 else "",
    )


def _same(gap: Gap) -> tuple[object, ...]:
    return gap.rule, gap.table, gap.id, gap.field, gap.place


def _show_gaps(context: Context) -> Part:
    """The gaps that do not weigh alike under all of them."""
    books = context.result.rulebooks
    weights = {
        book.key: {_same(gap): gap.weight for gap in context.result.by_standard[book.key].gaps}
        for book in books
    }
    parting = [
        (number, gap)
        for number, gap in enumerate(context.result.gaps, start=1)
        if len({weights[book.key].get(_same(gap), "") for book in books}) > 1
    ]
    if not parting:
        return Prose(("Every gap weighs alike under each of them.",))

    def weight(book: Rulebook) -> Column[tuple[int, Gap]]:
        return Column(book.key, "text", lambda row: _say_weight(weights[book.key].get(_same(row[1]))))

    left = len(parting) - _MOST
    return table(
        "Gaps that do not count alike",
        (
            Column("Gap", "key", lambda row: key(str(row[0]), f"gap/{row[0]}")),
            Column("What is wrong", "text", lambda row: Cell(say(row[1].message))),
            *map(weight, books),
        ),
        parting[:_MOST],
        note=f"And {whole(left)} more gaps." if left > 0 else "",
    )


def _say_weight(weight: str | None) -> Shown:
    return cell(weight, mark=WEIGHT_MARKS[weight]) if weight else "not asked"


def _show_demands(books: tuple[Rulebook, ...]) -> Grid:
    def asked(book: Rulebook) -> Column[Crossing]:
        return Column(book.key, "text", lambda row: _say_answer(row, book.key))

    return table(
        "What they ask differently",
        (Column("Subject", "text", lambda row: row.title), *map(asked, books)),
        [row for row in crossing(books) if not row.same and not row.key.startswith(_NOT_OF_A_SEASON)],
        note="Where one answer asks more, it says ‘stricter’. ‘From memory’ means that the figure was"
        " recalled and must be looked up before anything is built on it.",
    )


def _say_answer(row: Crossing, book: str) -> str | None:
    """What one rulebook asks, and whether it asks more than another."""
    demand = row.asked.get(book)
    if demand is None:
        return None
    asking = Counter(answer is not None for answer in row.asked.values())[True]
    stricter = book in row.strictest and len(row.strictest) < asking
    return f"{_say_demand(demand)} (stricter)" if stricter else _say_demand(demand)


def _say_demand(demand: Demand) -> str:
    value = demand.value
    if isinstance(value, bool):
        said = "asked" if value else "not asked"
    elif isinstance(value, tuple):
        said = join([str(part).replace("_", " ") for part in value])
    else:
        said = agree(f"{value:g} {demand.unit}".strip()) if isinstance(value, (int, float)) else str(value)
    clause = demand.clause.partition(":")[2]
    mark = "" if demand.mark == "read" else f", {demand.mark}"
    return f"{said} ({clause}{mark})"
