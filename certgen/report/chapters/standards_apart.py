"""Where the standards part: one season held against several, each by itself."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from certgen.report.wording import cell, count_of, figure, key, say, whole
from certgen.rules.findings import WEIGHTS
from certgen.rules.wording import join
from certgen.standards import crossing
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.standards import Crossing, Demand
    from certgen.typeset.parts import Part

LEAD: Final = (
    "The packet’s lots and gaps are those under all standards taken together. Here the season is held against"
    " each by itself, as if there were no other; what rests on practice alone counts under every one."
)
#: Longer tables name their number only.
_MOST: Final = 40
_STANDINGS: Final = ("traced", "unproven", "rejected")
#: Demands made of a group of growers or of a certifier say nothing about one season.
_NOT_OF_A_SEASON: Final = ("group_", "inspections_", "unannounced_", "certifier_", "exempt_")


def build_standards_apart(context: Context) -> Section | None:
    """The section, or None where the season is held against one standard only."""
    if len(context.result.rulebooks) < 2:
        return None
    parts = [_overview(context), *_lots(context), *_gaps(context), _demands(context)]
    return Section("standards-part", "Where the standards part", 1, tuple(parts), lead=LEAD, style="follow")


def _overview(context: Context) -> Grid:
    rows = []
    for book in context.result.rulebooks:
        under = context.result.by_standard[book.key]
        weights = Counter(gap.weight for gap in under.gaps)
        standings = Counter(lot.standing for lot in under.lots.values())
        rows.append(
            Row(
                (
                    cell(f"{book.title} ({book.key})"),
                    *(figure(whole(weights[weight])) for weight in WEIGHTS),
                    *(figure(whole(standings[standing])) for standing in _STANDINGS),
                )
            )
        )
    return Grid(
        "Under each standard by itself",
        (
            Head("Standard"),
            *(Head(f"Gaps: {weight}", "number") for weight in WEIGHTS),
            *(Head(f"Lots {standing}", "number") for standing in _STANDINGS),
        ),
        tuple(rows),
    )


def _lots(context: Context) -> list[Part]:
    parting = context.result.standards_part_on
    if not parting:
        return [Prose(("Every lot has the same standing under each of them.",))]
    books = context.result.rulebooks
    rows = []
    for lot in parting[:_MOST]:
        standings = [context.result.by_standard[book.key].lots[lot].standing for book in books]
        rows.append(Row((key(lot, f"lots/{lot}"), *(cell(one, mark=one) for one in standings))))
    left = len(parting) - len(rows)
    return [
        Grid(
            f"{count_of('lots', len(parting)).capitalize()} whose standing is not the same",
            (Head("Lot", "key"), *(Head(book.key) for book in books)),
            tuple(rows),
            note=f"And {count_of('lots', left)} more." if left else "",
        )
    ]


def _same(gap: Gap) -> tuple[object, ...]:
    return gap.rule, gap.table, gap.id, gap.field, gap.place


def _gaps(context: Context) -> list[Part]:
    """The gaps that do not weigh alike under all of them."""
    books = context.result.rulebooks
    weights = [
        {_same(gap): gap.weight for gap in context.result.by_standard[book.key].gaps} for book in books
    ]
    rows = []
    for number, gap in enumerate(context.result.gaps, start=1):
        found = [known.get(_same(gap), "") for known in weights]
        if len(set(found)) > 1:
            rows.append(
                Row(
                    (
                        key(str(number), f"gap/{number}"),
                        Cell(say(gap.message)),
                        *(cell(one or "not asked", mark=WEIGHT_MARKS[one] if one else "") for one in found),
                    )
                )
            )
    if not rows:
        return [Prose(("Every gap weighs alike under each of them.",))]
    left = len(rows) - _MOST
    return [
        Grid(
            "Gaps that do not count alike",
            (Head("Gap", "key"), Head("What is wrong"), *(Head(book.key) for book in books)),
            tuple(rows[:_MOST]),
            note=f"And {whole(left)} more gaps." if left > 0 else "",
        )
    ]


def _demands(context: Context) -> Grid:
    books = context.result.rulebooks
    rows = [
        _demand(one, [book.key for book in books])
        for one in crossing(books)
        if not one.same and not one.key.startswith(_NOT_OF_A_SEASON)
    ]
    return Grid(
        "What they ask differently",
        (Head("Subject"), *(Head(book.key) for book in books)),
        tuple(rows),
        note="Where one answer asks more, it says ‘stricter’. ‘From memory’ means that the figure was"
        " recalled and must be looked up before anything is built on it.",
    )


def _demand(one: Crossing, books: Sequence[str]) -> Row:
    cells = []
    asking = sum(1 for demand in one.asked.values() if demand is not None)
    for book in books:
        demand = one.asked.get(book)
        said = "–" if demand is None else _say_demand(demand)
        if demand is not None and book in one.strictest and len(one.strictest) < asking:
            said += " (stricter)"
        cells.append(cell(said))
    return Row((cell(one.title), *cells))


def _say_demand(demand: Demand) -> str:
    value = demand.value
    if isinstance(value, bool):
        said = "asked" if value else "not asked"
    elif isinstance(value, tuple):
        said = join([str(one).replace("_", " ") for one in value])
    else:
        unit = demand.unit.removesuffix("s") if value == 1 else demand.unit
        said = f"{value:g} {unit}".strip() if isinstance(value, (int, float)) else str(value)
    clause = demand.clause.partition(":")[2]
    mark = "" if demand.mark == "read" else f", {demand.mark}"
    return f"{said} ({clause}{mark})"
