"""What screening leaves of the chance that a lot holds transgenic seed, with every figure it rests on."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import TYPE_CHECKING

from certgen.dossier.odds import list_assumptions, weigh_lots, weigh_trees
from certgen.report.wording import cell, figure, key, whole
from certgen.typeset.parts import Grid, Head, Prose, Row, Section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.dossier.shares import LotParents
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

WHAT_IT_IS = (
    "These are planning figures, no proof. They show what negative results leave open and where one more"
    " test would help most. They rest on assumed shares and test performances, all listed below; an"
    " operation changes any of them under ‘practice’ in its season, with a reason. No figure here changes"
    " a lot’s standing."
)
#: Parents listed singly; more are counted.
_MOST = 30


def percent(share: float) -> str:
    """A share as a percentage with three significant figures; below one in ten million as such."""
    if 0 < share < 1e-7:
        return "under 0.00001\u00a0%"
    return f"{in_digits(100 * share)}\u00a0%"


def in_digits(value: float) -> str:
    """Three significant figures without a power of ten: 0.0000227, not 2.27e-05."""
    return f"{Decimal(f'{value:.3g}'):f}"


def build_odds(context: Context, shares: Mapping[str, LotParents]) -> Section:
    """The section of odds; `shares` are the parents' shares of each lot."""
    lots = weigh_lots(context.result, shares)
    parts: list[Part] = [Prose((WHAT_IT_IS,))]
    if not lots:
        parts.append(Prose(("No lot has a parent on record, so there is nothing to reckon with.",)))
    else:
        rows = [
            Row(
                (
                    key(name, f"lots/{name}"),
                    figure(whole(len(lot.parents))),
                    figure(percent(float(shares[name].known))),
                    figure(percent(lot.odds.expected)),
                    figure(percent(lot.odds.any_parent)),
                    figure(percent(lot.odds.one_parent)),
                    figure(percent(lot.odds.uncleared)),
                )
            )
            for name, lot in lots.items()
        ]
        parts.append(
            Grid(
                "What may be left in each lot",
                (
                    Head("Lot", "key"),
                    Head("Parents", "number"),
                    Head("Parents known for", "number"),
                    Head("Share to expect", "number"),
                    Head("Chance of any", "number"),
                    Head("If the heaviest were", "number"),
                    Head("If all untested were", "number"),
                ),
                tuple(rows),
                note="Share to expect: transgenic seed to reckon with. Chance of any: that at least one"
                " parent is transgenic. If the heaviest were: the share if the parent that gave"
                " most seed were transgenic after all, with one copy. If all untested were: the"
                " worst case, every parent that no result clears transgenic with two copies."
                " Figures are of the part whose parents are on record.",
            )
        )
        untested = sorted(
            ((times, name, tree) for name, lot in lots.items() for tree, times in lot.untested.items()),
            reverse=True,
        )
        if untested:
            parts.append(_untested(context, shares, untested))
    if len(context.season.table("trees")):
        parts.append(_trees(context))
    parts.append(_assumptions(context))
    return Section("odds", "What screening leaves open", 2, tuple(parts), style="part")


def _untested(
    context: Context, shares: Mapping[str, LotParents], untested: list[tuple[float, str, str]]
) -> Grid:
    more = len(untested) - _MOST
    return Grid(
        "Parents that no result clears",
        (
            Head("Tree", "key"),
            Head("Lot", "key"),
            Head("Part of the seed", "number"),
            Head("Makes the share to expect"),
        ),
        tuple(
            Row(
                (
                    key(tree, f"trees/{tree}" if tree in context.order["trees"] else ""),
                    key(name, f"lots/{name}"),
                    figure(percent(float(shares[name].shares[tree]))),
                    cell(f"{times:.3g} times what it would be if the tree were cleared"),
                )
            )
            for times, name, tree in untested[:_MOST]
        ),
        note=f"{whole(more)} more weigh less." if more > 0 else "",
    )


def _trees(context: Context) -> Grid:
    """Trees gathered by their results: every tree with the same results has the same odds."""
    groups = Counter(
        (tree.results, tree.before, tree.after, tree.unseen) for tree in weigh_trees(context.result).values()
    )
    rows = [
        Row(
            (
                cell(", ".join(results) or "none that counts", kind="long"),
                figure(whole(count)),
                figure(percent(before)),
                figure(percent(after)),
                cell(", ".join(unseen) or "none"),
            )
        )
        for (results, before, after, unseen), count in sorted(groups.items(), key=lambda one: one[0][2])
    ]
    return Grid(
        "Trees by their results",
        (
            Head("Results"),
            Head("Trees", "number"),
            Head("Chance before", "number"),
            Head("Chance after", "number"),
            Head("Events not looked for"),
        ),
        tuple(rows),
        note="The chance that a tree of the register carries an event of concern. Repeats of one method"
        " count once; different methods are taken to fail independently of one another; a pool of n leaves is"
        " taken to find a carrier with a single leaf’s chance to the power of n (assumed).",
    )


def _assumptions(context: Context) -> Grid:
    return Grid(
        "What these figures rest on",
        (
            Head("Name under ‘practice’", share="24%"),
            Head("Figure", share="30%"),
            Head("Taken as", "number"),
            Head("Source"),
            Head("Kind"),
        ),
        tuple(
            Row(
                (
                    cell(one.key, kind="long"),
                    cell(one.title),
                    figure(f"{one.percent:g}\u00a0%"),
                    cell(one.source),
                    cell(one.mark),
                )
            )
            for one in list_assumptions(context.result)
        ),
    )
