"""A lot's bags and pickings, as tables of its dossier."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.chapters.lot.parents import MOST_SHOWN
from certgen.report.tables import Column, as_amount, table
from certgen.report.wording import (
    count_of,
    days,
    key,
    linked,
    linked_gaps,
    linked_spans,
    plain,
    whole,
    write,
)
from certgen.typeset.parts import Cell, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

#: More pickings than this name only their first bags.
_PICKINGS: Final = 12

_Bags = tuple[str, list[dict[str, Any]]]


def show_bags(context: Context, line: set[Node]) -> list[Part]:
    """Bags by the tree they hung on; many trees are gathered."""
    rows = context.rows_of("bagging", line)
    if not rows:
        return [Prose(("No bag stands behind this lot in the records.",))]
    by_tree: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by_tree[row["tree"] or "no tree"].append(row)
    caption = f"{count_of('bagging', len(rows))} on {count_of('trees', len(by_tree))}"
    if len(by_tree) > MOST_SHOWN:
        return [_show_alike(context, caption, rows)]
    order = context.order["bagging"]
    trees = context.order["trees"]
    columns: tuple[Column[_Bags], ...] = (
        Column("Tree", "key", lambda row: key(row[0], f"trees/{row[0]}" if row[0] in trees else "")),
        Column("Bags", "number", lambda row: len(row[1])),
        Column("Covered", "text", lambda row: _days_covered(row[1])),
        Column("Stage", "text", lambda row: _say_counts(row[1], "stage")),
        Column("Outcome", "text", lambda row: _say_counts(row[1], "outcome")),
        Column("Tags", "text", lambda row: Cell(linked_spans("bagging", _names(row[1]), order))),
        Column("Gaps", "text", lambda row: Cell(linked_gaps(_gaps(context, row[1])))),
    )
    ranked = sorted(by_tree.items(), key=lambda item: (trees.get(item[0], len(trees)), item[0]))
    return [table(caption, columns, ranked)]


def _names(bags: Sequence[Mapping[str, Any]]) -> list[str]:
    return [row["bag"] for row in bags if row["bag"]]


def _days_covered(bags: Sequence[Mapping[str, Any]]) -> str:
    return days([row["covered"] for row in bags if row["covered"]])


def _gaps(context: Context, bags: Sequence[Mapping[str, Any]]) -> list[int]:
    """The numbers of the gaps that stand at some bags."""
    numbers = (context.result.numbers_of(Node("bagging", name)) for name in _names(bags))
    return sorted({number for listed in numbers for number in listed})


def _say_counts(bags: Sequence[Mapping[str, Any]], field: str) -> str:
    """`12 ripe, 1 torn`; a word alone where it stands for all."""
    counts: Counter[str] = Counter(row[field] or "not recorded" for row in bags)
    if len(counts) == 1:
        return next(iter(counts))
    return ", ".join(f"{whole(count)} {word}" for word, count in counts.most_common())


def _show_alike(context: Context, caption: str, rows: Sequence[dict[str, Any]]) -> Grid:
    """Many bags, those alike in one row."""
    groups: defaultdict[tuple[str, str, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        gap = "with a gap" if context.result.numbers_of(Node("bagging", row["bag"] or "")) else ""
        groups[row["stage"] or "not recorded", row["outcome"] or "not recorded", gap].append(row)
    order = context.order["bagging"]

    def say_gap(group: tuple[tuple[str, str, str], list[dict[str, Any]]]) -> Cell:
        (_, _, gap), bags = group
        names = linked_spans("bagging", _names(bags)[:24], order)
        return Cell((Run(f"{gap}: "), *names) if gap else plain(""))

    return table(
        caption,
        (
            Column("Bags", "number", lambda group: len(group[1])),
            Column("Stage", "text", lambda group: group[0][0]),
            Column("Outcome", "text", lambda group: group[0][1]),
            Column("Covered", "text", lambda group: _days_covered(group[1])),
            Column("Gaps", "text", say_gap),
        ),
        sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])),
        note="Bags that are alike share a row. The pickings below name them.",
        tone=lambda group: "faulty" if group[0][2] else "plain",
    )


def show_pickings(context: Context, line: set[Node]) -> list[Part]:
    """Pickings with the bags whose fruit they hold."""
    rows = context.rows_of("harvests", line)
    if not rows:
        return []
    # With dozens of pickings the register is the better list.
    most = 40 if len(rows) <= _PICKINGS else 3
    return [
        table(
            count_of("harvests", len(rows)).capitalize(),
            (
                Column("Picking", "key", lambda row: key(row["harvest"], f"harvests/{row['harvest']}")),
                Column("Date", "date", lambda row: write(row["date"])),
                Column("Bags", "text", lambda row: _say_bags(context, row, most), "38%"),
                Column("Fruit", "number", lambda row: write(row["fruits"])),
                Column("Weight", "number", lambda row: as_amount(write(row["weight"])) or None),
                Column("Stage", "text", lambda row: row["stage"]),
                Column("Status", "text", lambda row: row["status"]),
            ),
            rows,
        )
    ]


def _say_bags(context: Context, picking: Mapping[str, Any], most: int) -> Cell:
    """The bags that a picking names, and the trees whose fruit no bag stands for."""
    runs = linked_spans("bagging", list(picking["bags"] or ()), context.order["bagging"], most)
    trees = list(picking["trees"] or ())
    if trees:
        words = (Run("; " if runs else ""), Run("fruit of trees "))
        runs = (*runs, *words, *linked("trees", trees), Run(" that no bag stands for"))
    return Cell(runs or plain("none named"))
