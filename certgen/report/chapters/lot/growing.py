"""A lot's bags and pickings, as tables of its dossier."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.chapters.lot.parents import MOST_SHOWN
from certgen.report.wording import (
    cell,
    count_of,
    days,
    figure,
    key,
    linked,
    linked_spans,
    plain,
    whole,
    write,
)
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row, Run

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: More pickings than this name only their first bags.
_PICKINGS: Final = 12


def show_bags(context: Context, line: set[Node]) -> list[Part]:
    """Bags by the tree they hung on; many trees are gathered."""
    rows = context.rows_of("bagging", line)
    if not rows:
        return [Prose(("No bag stands behind this lot in the records.",))]
    by_tree: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by_tree[row["tree"] or "no tree"].append(row)
    if len(by_tree) > MOST_SHOWN:
        return [_bags_gathered(context, rows, len(by_tree))]
    order = context.order["bagging"]
    trees = context.order["trees"]
    grid = []
    for tree in sorted(by_tree, key=lambda one: (trees.get(one, len(trees)), one)):
        bags = by_tree[tree]
        names = [row["bag"] for row in bags if row["bag"]]
        outcomes = Counter(row["outcome"] or "not recorded" for row in bags)
        stages = Counter(row["stage"] or "not recorded" for row in bags)
        gaps = sorted(
            {number for name in names for number in context.result.numbers_of(Node("bagging", name))}
        )
        gap_runs: list[Run] = []
        for number in gaps:
            if gap_runs:
                gap_runs.append(Run(", "))
            gap_runs.append(Run(str(number), f"gap/{number}"))
        grid.append(
            Row(
                (
                    key(tree, f"trees/{tree}" if tree in trees else ""),
                    figure(whole(len(bags))),
                    cell(days([row["covered"] for row in bags if row["covered"]])),
                    cell(_say_counts(stages)),
                    cell(_say_counts(outcomes)),
                    Cell(linked_spans("bagging", names, order)),
                    Cell(tuple(gap_runs)),
                )
            )
        )
    return [
        Grid(
            f"{count_of('bagging', len(rows))} on {count_of('trees', len(by_tree))}",
            (
                Head("Tree", "key"),
                Head("Bags", "number"),
                Head("Covered"),
                Head("Stage"),
                Head("Outcome"),
                Head("Tags"),
                Head("Gaps"),
            ),
            tuple(grid),
        )
    ]


def _bags_gathered(context: Context, rows: Sequence[dict[str, Any]], trees: int) -> Grid:
    """Many bags, those alike in one row."""
    groups: defaultdict[tuple[str, str, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        gap = "with a gap" if context.result.numbers_of(Node("bagging", row["bag"] or "")) else ""
        groups[row["stage"] or "not recorded", row["outcome"] or "not recorded", gap].append(row)
    order = context.order["bagging"]
    grid = []
    for (stage, outcome, gap), bags in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        names = [row["bag"] for row in bags if row["bag"]]
        shown = names if gap else names[:0]
        grid.append(
            Row(
                (
                    figure(whole(len(bags))),
                    cell(stage),
                    cell(outcome),
                    cell(days([row["covered"] for row in bags if row["covered"]])),
                    Cell(
                        (Run(gap), *([Run(": ")] if gap else []), *linked_spans("bagging", shown[:24], order))
                    ),
                ),
                tone="faulty" if gap else "plain",
            )
        )
    return Grid(
        f"{count_of('bagging', len(rows))} on {count_of('trees', trees)}",
        (Head("Bags", "number"), Head("Stage"), Head("Outcome"), Head("Covered"), Head("Gaps")),
        tuple(grid),
        note="Bags that are alike share a row. The pickings below name them.",
    )


def _say_counts(counts: Counter[str]) -> str:
    if len(counts) == 1:
        return next(iter(counts))
    return ", ".join(f"{whole(count)} {word}" for word, count in counts.most_common())


def show_pickings(context: Context, line: set[Node]) -> list[Part]:
    """Pickings with the bags whose fruit they hold."""
    rows = context.rows_of("harvests", line)
    if not rows:
        return []
    order = context.order["bagging"]
    # With dozens of pickings the register is the better list.
    most = 40 if len(rows) <= _PICKINGS else 3
    grid = []
    for row in rows:
        bags = list(row["bags"] or ())
        loose = list(row["trees"] or ())
        runs = list(linked_spans("bagging", bags, order, most))
        if loose:
            runs += [
                Run("; " if runs else ""),
                Run("fruit of trees "),
                *linked("trees", loose),
                Run(" that no bag stands for"),
            ]
        grid.append(
            Row(
                (
                    key(row["harvest"], f"harvests/{row['harvest']}"),
                    cell(write(row["date"]), kind="date"),
                    Cell(tuple(runs) or plain("none named")),
                    figure(write(row["fruits"])),
                    figure(write(row["weight"]) or "–"),
                    cell(row["stage"] or "–"),
                    cell(row["status"] or "–"),
                )
            )
        )
    return [
        Grid(
            count_of("harvests", len(rows)).capitalize(),
            (
                Head("Picking", "key"),
                Head("Date", "date"),
                Head("Bags", share="38%"),
                Head("Fruit", "number"),
                Head("Weight", "number"),
                Head("Stage"),
                Head("Status"),
            ),
            tuple(grid),
        )
    ]
