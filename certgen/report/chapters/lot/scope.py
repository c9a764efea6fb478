"""What the negative results behind a lot rule out, by lot, by parent and by method, and what they do not."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.lot.parents import samples_of
from certgen.report.tables import Column, table
from certgen.report.wording import linked_spans
from certgen.typeset.parts import Cell, Prose

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
    parents = [*context.lineage.seed_parents(name), *context.lineage.pollen_parents(name)]
    return [
        Prose((context.result.scopes.of_lot(name).sentence,)),
        *_show_parents(context, parents),
        _show_methods(context, line),
    ]


def _show_methods(context: Context, line: set[Node]) -> Part:
    """The methods and targets of the negative results, with what each sees."""
    trees = sorted(node.id for node in line if node.table == "trees")
    negatives = Counter(
        (row["method"], tuple(row["targets"] or ()))
        for tree in trees
        for row in samples_of(context, tree)
        if row["result"] == "negative"
    )
    methods = context.profile.methods
    used = [
        (methods[method], targets, count)
        for (method, targets), count in negatives.items()
        if method in methods
    ]
    if not used:
        return Prose((LIMITS,))
    return table(
        "What the negative results cover",
        (
            Column("Method, targets", "text", lambda row: ", ".join((row[0].title, *row[1])), "22%"),
            Column("Results", "number", lambda row: row[2], "8%"),
            Column(
                "Sees",
                "text",
                lambda row: ", ".join(sorted(row[0].sees(row[1]))) or "nothing that the records name",
                "18%",
            ),
            Column("Cannot see", "text", lambda row: row[0].cannot_see),
        ),
        used,
        note=LIMITS,
    )


def _show_parents(context: Context, parents: Sequence[Node]) -> list[Part]:
    """What the negatives on each parent speak to; parents of which the same can be said share a row."""
    groups: defaultdict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = defaultdict(list)
    for node in dict.fromkeys(parents):
        scope = context.result.scopes.of_tree(node.id)
        groups[scope.seen, scope.unseen].append(node.id)
    if len(groups) < 2:
        # The lot's sentence says it already.
        return []
    order = context.order["trees"]
    return [
        table(
            "By parent: the events that its negatives would have shown, and those that they could not",
            (
                Column("Parents", "text", lambda row: Cell(linked_spans("trees", row[1], order, 12), "long")),
                Column("Trees", "number", lambda row: len(row[1])),
                Column("Shown", "text", lambda row: ", ".join(row[0][0]) or "nothing"),
                Column("Not shown", "text", lambda row: ", ".join(row[0][1]) or None),
            ),
            list(groups.items()),
        )
    ]
