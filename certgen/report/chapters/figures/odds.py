"""What screening leaves open: of each lot, of the whole screening, and every figure that it rests on."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Final

from certgen.dossier.odds import list_used
from certgen.dossier.odds_wording import (
    NEVER_COVERED,
    explain_assumption,
    list_open,
    say_chance,
    say_span,
    tell_passing,
)
from certgen.dossier.screening_power import CARRIERS, weigh_screening
from certgen.report.tables import Amount, Column, say_shown, table
from certgen.report.wording import key, whole
from certgen.rules.wording import count, join
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.dossier.lot_odds import LotOdds, LotParent
    from certgen.dossier.screening_power import Power
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Grid, Part

HOW_TO_READ: Final = (
    (
        "A clean result isn’t proof: each test misses some, and a leaf can be another tree’s. So the"
        " question is not whether a lot is clean. It is: if one of its parents had carried a transgene, how"
        " likely is it that nobody noticed, and how much of the seed would it be? A lot whose line says 2.5"
        " % and 4.1 to 8.7 %: of 40 carriers so screened one would have been missed, and that one would"
        " have put the gene into 4 to 9 of 100 seeds. It is all or nothing: a lot holds that much or none."
    ),
    (
        "These are planning figures, no proof. They rest on assumed test performances, each listed in the"
        " appendix in plain words; an operation changes any of them under ‘practice’ in its season, with a"
        " reason. No figure here changes a lot’s standing. What stands under ‘not covered’ has no figure at"
        " all, and may matter more than all figures beside it."
    ),
)
#: Parents listed singly; more are counted.
_MOST = 30
#: Shares below this are said to be below it.
_LEAST = 1e-7


def percent(share: float) -> str:
    """A share as a percentage with three significant figures; below one in ten million as such."""
    return say_shown(percentage(share))


def percentage(share: float) -> Shown:
    """A share as `percent` says it, for a column of shares."""
    return "under 0.00001\u00a0%" if 0 < share < _LEAST else Amount(in_digits(100 * share), "%")


def in_digits(value: float) -> str:
    """Three significant figures without a power of ten: 0.0000227, not 2.27e-05."""
    return f"{Decimal(f'{value:.3g}'):f}"


def build_odds(context: Context) -> Section:
    """The section of odds: of each lot, and the parents that nothing clears."""
    parts: list[Part] = []
    if context.odds:
        parts += [_show_lots(context), *_show_open(context)]
    else:
        parts.append(Prose(("No lot is recorded, so there is nothing to reckon with.",)))
    return Section("odds", "What screening leaves open", 2, tuple(parts), style="part")


def build_odds_ground(context: Context) -> Section:
    """For the appendix: what the screening of all would have missed, and every figure that odds rest on."""
    parts = (*_show_power(context), _show_assumptions(context))
    return Section("odds-ground", "What the odds rest on", 2, parts, style="part")


def _show_lots(context: Context) -> Grid:
    return table(
        "What may have passed unseen, lot by lot",
        (
            Column("Lot", "key", lambda lot: key(lot.lot, f"lots/{lot.lot}")),
            Column("Parents", "number", lambda lot: len(lot.parents), "7%"),
            Column("A carrier parent would have passed with", "text", tell_passing, "16%"),
            Column("It would carry into (one copy)", "text", lambda lot: _say_carried(lot, 1), "12%"),
            Column("(two copies)", "text", lambda lot: _say_carried(lot, 2), "12%"),
            Column("Own seed test rules out more than", "text", _say_bound, "13%"),
            Column("Not covered", "text", lambda lot: "; ".join(list_open(lot)) or "as in every lot"),
        ),
        list(context.odds.values()),
        note=f"In no line: {NEVER_COVERED}; foreign pollen is bounded below. Parts are of the whole lot’s"
        " seed, from the parent of least to that of most, by recorded fruit. Handling errors are reckoned in;"
        f" odds are told no finer than “{say_chance(0, context.floor)}”. A seed test’s bound holds with 95 %"
        " confidence, if the assay misses nothing.",
    )


def _say_carried(lot: LotOdds, copies: int) -> str | None:
    span = lot.one if copies == 1 else lot.two
    return None if span is None else say_span(span, lot.floor, part=True)


def _say_bound(lot: LotOdds) -> str | None:
    if lot.positive_tests:
        return f"no bound: {join(lot.positive_tests)} was positive"
    if lot.check is None:
        return None
    if lot.check.bound is None:
        return f"no bound by {lot.check.test}: {join(lot.check.reasons)}"
    return f"{say_chance(lot.check.bound, lot.floor)} for {join(lot.check.targets) or 'no target named'}"


def _show_open(context: Context) -> list[Part]:
    """The parents that no result clears, those first that would put the gene into most seed."""
    rows: list[tuple[LotOdds, LotParent]] = sorted(
        ((lot, parent) for lot in context.odds.values() for parent in lot.open_parents),
        key=lambda row: (-row[1].two.high, row[0].lot, row[1].tree),
    )
    if not rows:
        return []
    more = len(rows) - _MOST
    trees = context.order["trees"]
    return [
        table(
            "Parents that no result clears",
            (
                Column(
                    "Tree",
                    "key",
                    lambda row: key(row[1].tree, f"trees/{row[1].tree}" * (row[1].tree in trees)),
                ),
                Column("Lot", "key", lambda row: key(row[0].lot, f"lots/{row[0].lot}")),
                Column(
                    "It would carry into (one copy)",
                    "text",
                    lambda row: say_span(row[1].one, row[0].floor, part=True),
                ),
                Column("(two copies)", "text", lambda row: say_span(row[1].two, row[0].floor, part=True)),
            ),
            rows[:_MOST],
            note="By the share of the lot’s seed: screening the first helps most."
            + (f" {whole(more)} more weigh less." if more > 0 else ""),
        )
    ]


def _show_power(context: Context) -> list[Part]:
    """What the screening of all parents together would have missed."""
    parents = dict.fromkeys(parent.tree for lot in context.odds.values() for parent in lot.parents)
    rows = weigh_screening(context.result, context.evidence, parents)
    if not rows:
        return []

    def say(row: Power, number: int) -> str | None:
        return say_chance(row.chances[number], context.floor) if number < len(row.chances) else None

    return [
        table(
            "Power of the whole screening: the chance that so many carriers all passed",
            (
                Column("Events", "text", lambda row: join(row.events)),
                Column("Cleared parents", "number", lambda row: row.screened),
                *(_power_column(number, say) for number in range(len(CARRIERS))),
            ),
            rows,
            note="If so many of the cleared parents of all lots carried, any of them alike. Methods and trees"
            " fail independently; trees of one pool are found or missed together.",
        )
    ]


def _power_column(number: int, say: Callable[[Power, int], str | None]) -> Column[Power]:
    title = count(CARRIERS[number], "carrier")
    return Column(title, "text", lambda row: say(row, number))


def _show_assumptions(context: Context) -> Grid:
    return table(
        "What these figures rest on",
        (
            Column("Name under ‘practice’", "long", lambda row: row.key, "24%"),
            Column("In words", "text", explain_assumption, "30%"),
            Column("Taken as", "text", lambda row: f"{row.percent:g}\u00a0%"),
            Column("Source", "text", lambda row: row.source),
            Column("Kind", "text", lambda row: row.mark),
        ),
        list_used(context.result, context.evidence),
        note="A pool of n leaves with one carrier in it is taken to be found with a single leaf’s chance"
        " to the power of n, an assumption: no study of pooled leaves was read. Different methods are"
        " taken to fail independently; repeats of one method count once. Methods that this season didn’t use"
        " are left out.",
    )
