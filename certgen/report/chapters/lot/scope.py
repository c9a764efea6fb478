"""What the negative results behind a lot rule out, by lot, by parent and by method, and what they do not."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.lot.parents import samples_of
from certgen.report.wording import cell, figure, linked_spans, whole
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

LIMITS: Final = (
    "A negative speaks of the leaf that was sampled and of the events its method sees. It is no statement"
    " that the seed is free of transgenes: pollen, mixing and events that nobody looked for stay outside it."
)


def show_scope(context: Context, name: str, line: set[Node]) -> list[Part]:
    """What the methods used on the parents can see, and which events of concern they cannot."""
    profile = context.profile
    parents = [*context.lineage.seed_parents(name), *context.lineage.pollen_parents(name)]
    trees = sorted(node.id for node in line if node.table == "trees")
    used: dict[tuple[str, tuple[str, ...]], int] = {}
    for tree in trees:
        for row in samples_of(context, tree):
            if row["result"] == "negative":
                used_key = (row["method"], tuple(row["targets"] or ()))
                used[used_key] = used.get(used_key, 0) + 1
    parts: list[Part] = [
        Prose((context.result.scopes.of_lot(name).sentence,)),
        *_by_parent(context, parents),
    ]
    rows_: list[Row] = []
    for (way, targets), count in used.items():
        method = profile.methods.get(way)
        if method is None:
            continue
        sees = method.sees(targets)
        rows_.append(
            Row(
                (
                    cell(method.title + (f", {', '.join(targets)}" if targets else "")),
                    figure(whole(count)),
                    cell(", ".join(sorted(sees)) or "nothing that the records name"),
                    cell(method.cannot_see),
                )
            )
        )
    if rows_:
        parts.append(
            Grid(
                "What the negative results cover",
                (
                    Head("Method, targets", share="22%"),
                    Head("Results", "number", "8%"),
                    Head("Sees", share="18%"),
                    Head("Cannot see"),
                ),
                tuple(rows_),
                note=LIMITS,
            )
        )
    else:
        parts.append(Prose((LIMITS,)))
    return parts


def _by_parent(context: Context, parents: Sequence[Node]) -> list[Part]:
    """What the negatives on each parent speak to; parents of which the same can be said share a row."""
    groups: defaultdict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = defaultdict(list)
    for node in dict.fromkeys(parents):
        scope = context.result.scopes.of_tree(node.id)
        groups[scope.seen, scope.unseen].append(node.id)
    if len(groups) < 2:
        # The lot's sentence says it already.
        return []
    rows = [
        Row(
            (
                Cell(linked_spans("trees", names, context.order["trees"], 12), "long"),
                figure(whole(len(names))),
                cell(", ".join(seen) or "nothing"),
                cell(", ".join(unseen) or "–"),
            )
        )
        for (seen, unseen), names in groups.items()
    ]
    return [
        Grid(
            "By parent: the events that its negatives would have shown, and those that they could not",
            (
                Head("Parents"),
                Head("Trees", "number"),
                Head("Shown"),
                Head("Not shown"),
            ),
            tuple(rows),
        )
    ]
