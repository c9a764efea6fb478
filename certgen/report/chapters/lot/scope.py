"""What the negatives on a lot's parents rule out and what they do not; what each method sees is told once."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Final

from certgen.report.chapters.lot.parents import samples_of
from certgen.report.tables import Column, table
from certgen.report.wording import linked_spans, whole
from certgen.rules.wording import count, join
from certgen.typeset.parts import Cell, Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.lineage import Node
    from certgen.report.chapters.lot.parents import ParentBook
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

LIMITS: Final = (
    "A negative speaks of the leaf that was sampled and of the events its method sees. It is no statement"
    " that the seed is free of transgenes: pollen, mixing and events that nobody looked for stay outside it."
)


def build_methods(context: Context, book: ParentBook, level: int) -> list[Section]:
    """What each method that spoke of these parents sees, and what it can't."""
    methods = context.profile.methods
    counts: defaultdict[tuple[str, tuple[str, ...]], list[str]] = defaultdict(list)
    for (method, targets, leaves), number in sorted(_count_negatives(context, book.parents).items()):
        counts[method, targets].append(_say_results(number, leaves))
    used = [(methods[method], targets, join(said)) for (method, targets), said in counts.items()]
    if not used:
        part: Part = Prose((LIMITS,))
    else:
        part = table(
            "By method and target, of all negative results on these parents",
            (
                Column("Method, targets", "text", lambda row: ", ".join((row[0].title, *row[1])), "22%"),
                Column("Results", "text", lambda row: row[2], "11%"),
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
    return [Section("lots#methods", "What a negative result covers", level, (part,), style="minor")]


def _count_negatives(context: Context, trees: Iterable[str]) -> Counter[tuple[str, tuple[str, ...], int]]:
    """Negative samples of some trees by method, targets and leaves in one: a pool is one result.

    What a method sees that nobody wrote down, or that the crop's profile doesn't know, can't be told.
    """
    samples = {row["sample"]: row for tree in trees for row in samples_of(context, tree)}
    return Counter(
        (row["method"], tuple(row["targets"] or ()), max(1, len(row["trees"] or ())))
        for row in samples.values()
        if row["result"] == "negative" and row["method"] in context.profile.methods
    )


def _say_results(number: int, leaves: int) -> str:
    """Leaves tested singly are counted, pools by what they hold."""
    return whole(number) if leaves == 1 else f"{count(number, 'pool')} of {whole(leaves)}"


def show_scope(context: Context, name: str, odds: Iterable[tuple[Run, ...]]) -> list[Part]:
    """What the methods used on a lot's parents can see, which events of concern they cannot, and the `odds`
    that this leaves."""
    parents = [*context.lineage.seed_parents(name), *context.lineage.pollen_parents(name)]
    said = (Run(context.result.scopes.of_lot(name).sentence),)
    return [Listing((said, *odds)), *_show_parents(context, parents)]


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
