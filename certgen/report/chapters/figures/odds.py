"""What screening leaves of the chance that a lot holds transgenic seed, with every figure it rests on."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import TYPE_CHECKING

from certgen.dossier.odds import list_assumptions, weigh_lots, weigh_trees
from certgen.report.tables import Amount, Column, say_shown, table
from certgen.report.wording import key, whole
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.dossier.odds import LotChance
    from certgen.dossier.shares import LotParents
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Grid, Part

WHAT_IT_IS = (
    "These are planning figures, no proof. They show what negative results leave open and where one more"
    " test would help most. They rest on assumed shares and test performances, all listed below; an"
    " operation changes any of them under ‘practice’ in its season, with a reason. No figure here changes"
    " a lot’s standing."
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


def build_odds(context: Context, shares: Mapping[str, LotParents]) -> Section:
    """The section of odds; `shares` are the parents' shares of each lot."""
    lots = weigh_lots(context.result, shares)
    parts: list[Part] = [Prose((WHAT_IT_IS,))]
    if lots:
        parts.append(_show_lots(lots, shares))
        parts += _show_untested(context, lots, shares)
    else:
        parts.append(Prose(("No lot has a parent on record, so there is nothing to reckon with.",)))
    if len(context.season.table("trees")):
        parts.append(_show_trees(context))
    parts.append(_show_assumptions(context))
    return Section("odds", "What screening leaves open", 2, tuple(parts), style="part")


def _show_lots(lots: Mapping[str, LotChance], shares: Mapping[str, LotParents]) -> Grid:
    return table(
        "What may be left in each lot",
        (
            Column("Lot", "key", lambda name: key(name, f"lots/{name}")),
            Column("Parents", "number", lambda name: len(lots[name].parents)),
            Column("Parents known for", "number", lambda name: percentage(float(shares[name].known))),
            Column("Share to expect", "number", lambda name: percentage(lots[name].odds.expected)),
            Column("Chance of any", "number", lambda name: percentage(lots[name].odds.any_parent)),
            Column("If the heaviest were", "number", lambda name: percentage(lots[name].odds.one_parent)),
            Column("If all untested were", "number", lambda name: percentage(lots[name].odds.uncleared)),
        ),
        list(lots),
        note="Share to expect: transgenic seed to reckon with. Chance of any: that at least one"
        " parent is transgenic. If the heaviest were: the share if the parent that gave"
        " most seed were transgenic after all, with one copy. If all untested were: the"
        " worst case, every parent that no result clears transgenic with two copies."
        " Figures are of the part whose parents are on record.",
    )


def _show_untested(
    context: Context, lots: Mapping[str, LotChance], shares: Mapping[str, LotParents]
) -> list[Part]:
    """The parents that no result clears, those first that weigh most."""
    untested = sorted(
        ((times, name, tree) for name, lot in lots.items() for tree, times in lot.untested.items()),
        reverse=True,
    )
    if not untested:
        return []
    more = len(untested) - _MOST
    trees = context.order["trees"]
    return [
        table(
            "Parents that no result clears",
            (
                Column("Tree", "key", lambda row: key(row[2], f"trees/{row[2]}" if row[2] in trees else "")),
                Column("Lot", "key", lambda row: key(row[1], f"lots/{row[1]}")),
                Column(
                    "Part of the seed", "number", lambda row: percentage(float(shares[row[1]].shares[row[2]]))
                ),
                Column("Makes the share to expect", "text", lambda row: _say_times(row[0])),
            ),
            untested[:_MOST],
            note=f"{whole(more)} more weigh less." if more > 0 else "",
        )
    ]


def _say_times(times: float) -> str:
    return f"{times:.3g} times what it would be if the tree were cleared"


def _show_trees(context: Context) -> Grid:
    """Trees gathered by their results: every tree with the same results has the same odds."""
    groups = Counter(
        (tree.results, tree.before, tree.after, tree.unseen) for tree in weigh_trees(context.result).values()
    )
    return table(
        "Trees by their results",
        (
            Column("Results", "long", lambda row: ", ".join(row[0][0]) or "none that counts"),
            Column("Trees", "number", lambda row: row[1]),
            Column("Chance before", "number", lambda row: percentage(row[0][1])),
            Column("Chance after", "number", lambda row: percentage(row[0][2])),
            Column("Events not looked for", "text", lambda row: ", ".join(row[0][3]) or "none"),
        ),
        sorted(groups.items(), key=lambda row: row[0][2]),
        note="The chance that a tree of the register carries an event of concern. Repeats of one method"
        " count once; different methods are taken to fail independently of one another; a pool of n leaves is"
        " taken to find a carrier with a single leaf’s chance to the power of n (assumed).",
    )


def _show_assumptions(context: Context) -> Grid:
    return table(
        "What these figures rest on",
        (
            Column("Name under ‘practice’", "long", lambda row: row.key, "24%"),
            Column("Figure", "text", lambda row: row.title, "30%"),
            Column("Taken as", "number", lambda row: Amount(f"{row.percent:g}", "%")),
            Column("Source", "text", lambda row: row.source),
            Column("Kind", "text", lambda row: row.mark),
        ),
        list_assumptions(context.result),
    )
