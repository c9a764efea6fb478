"""A lot's trees, bags and pickings in one table: a row a parent, a column a picking, the bags in cells."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.dossier.trace_matrix import BAG_WORDS, MatrixParent
from certgen.report.chapters.lot.parents import say_screening, show_role
from certgen.report.context import href_of
from certgen.report.tables import Column, lay_out
from certgen.report.wording import (
    count_of,
    linked_gaps,
    linked_spans,
    say_days,
    whole,
)
from certgen.rules.wording import capital, join, noun
from certgen.typeset.parts import Cell, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.dossier.trace_matrix import MatrixBag, Open, TraceMatrix
    from certgen.lineage import Node
    from certgen.report.chapters.lot.parents import ParentBook
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.typeset.parts import Grid, Part

#: As many pickings stand side by side.
_SIDE_BY_SIDE: Final = 5
#: More rows than this in all are gathered: parents that are alike share one.
_SINGLY: Final = 170
#: More bags of one tree than this stand in stretches.
_IN_A_CELL: Final = 6
#: Stretches of tags that a cell names, where parents are gathered.
_STRETCHES: Final = 12
_STANDINGS: Final = ("traced", "unproven", "rejected")


class _Row(NamedTuple):
    """Parents that share a row: one, or of very many those that are alike."""

    parents: tuple[MatrixParent, ...]

    @property
    def first(self) -> MatrixParent:
        """The one that stands for all."""
        return self.parents[0]

    def bags(self, harvest: str) -> list[MatrixBag]:
        """The bags that a picking took from these parents."""
        return [bag for parent in self.parents for bag in parent.bags.get(harvest, ())]


def show_matrix(context: Context, matrix: TraceMatrix, book: ParentBook) -> list[Part]:
    """The matrix in as many tables as its pickings need; a lot without one says what is missing."""
    if not matrix.parents:
        return [
            Prose(
                ("No parent tree stands behind this lot in the records, and no bag.",)
                if not matrix.pickings
                else ("The pickings of this lot name neither a bag nor a tree.",)
            )
        ]
    stretches = [
        matrix.pickings[at : at + _SIDE_BY_SIDE]
        for at in range(0, max(len(matrix.pickings), 1), _SIDE_BY_SIDE)
    ]
    rows = _gather_rows(matrix, book, singly=len(matrix.parents) * len(stretches) <= _SINGLY)
    parts: list[Part] = []
    for number, pickings in enumerate(stretches):
        names = [picking.harvest for picking in pickings]
        shown = [row for row in rows if len(stretches) == 1 or _stands_in(row, names)]
        last = number == len(stretches) - 1
        parts.append(_show_stretch(context, matrix, book, shown, names, last=last))
    return parts


def _stands_in(row: _Row, names: Iterable[str]) -> bool:
    """Whether parents gave a bag or loose fruit to any of some pickings, or stand in none at all."""
    first = row.first
    return not (first.bags or first.loose) or any(name in first.bags or name in first.loose for name in names)


def _gather_rows(matrix: TraceMatrix, book: ParentBook, *, singly: bool) -> list[_Row]:
    if singly:
        return [_Row((parent,)) for parent in matrix.parents]
    alike: defaultdict[Any, list[MatrixParent]] = defaultdict(list)
    for parent in matrix.parents:
        # What is open is never gathered with what isn't, nor with what is open for another reason.
        bags = tuple(
            (harvest, tuple(sorted({bag.open.numbers for bag in bags})), all(bag.known for bag in bags))
            for harvest, bags in parent.bags.items()
        )
        said = (parent.role, parent.verdict, parent.open, book.series.get(parent.tree), parent.loose)
        alike[bool(parent.tree), said, bags].append(parent)
    return [_Row(tuple(parents)) for parents in alike.values()]


def _show_stretch(
    context: Context,
    matrix: TraceMatrix,
    book: ParentBook,
    rows: Sequence[_Row],
    names: Sequence[str],
    *,
    last: bool,
) -> Grid:
    """The matrix of some of the pickings, with what each comes to below."""
    columns: list[Column[_Row]] = [
        Column("Parent", "key", lambda row: _say_parent(context, row)),
        Column("Screening", "text", lambda row: say_screening(row.first, book.name_results(row.first.tree))),
        *(_column_of(context, name) for name in names),
        Column("Its bags", "text", lambda row: _count_bags(_bags_in(row, names))),
    ]
    shown: list[list[Shown]] = [[column.shown(row) for row in rows] for column in columns]
    below = [list(_total(matrix, rows, names)), list(_covered(context, rows, names))]
    for node, found in matrix.ground if last else ():
        below.append([_say_ground(context, node), _say_open(found), *[""] * (len(names) + 1)])
    for values, more in zip(shown, zip(*below, strict=True), strict=True):
        values.extend(more)
    tones = [*(_tone(row) for row in rows), "total", *["plain"] * (len(below) - 1)]
    note = _say_bags(context, matrix) if last else ""
    return lay_out(_say_size(rows, names), columns, shown, tones, note=note, close=True)


def _say_ground(context: Context, node: Node) -> Cell:
    """A planting or a block, leading to its record."""
    return Cell((Run(f"{capital(noun(node.table))} {node.id}", href_of(context, node)),))


def _say_open(found: Open) -> Cell:
    return Cell((Run(found.word, mark=found.standing), Run(", gap "), *linked_gaps(found.numbers)))


def _say_size(rows: Sequence[_Row], names: Sequence[str]) -> str:
    trees = sum(len(row.parents) for row in rows if row.first.tree)
    bags = {bag for row in rows for bag in _bags_in(row, names)}
    said = f"{count_of('trees', trees)}, {count_of('bagging', len(bags))}"
    return f"{said}, {count_of('harvests', len(names))}: {join(names)}" if names else said


def _column_of(context: Context, name: str) -> Column[_Row]:
    return Column(name, "text", lambda row: _say_cell(context, row, name))


def _tone(row: _Row) -> str:
    standings = {bag.open.standing for parent in row.parents for bag in parent.all_bags}
    failed = "rejected" in standings or row.first.open.standing == "rejected"
    return "faulty" if failed or row.first.verdict == "positive" else "plain"


def _bags_in(row: _Row, names: Iterable[str]) -> list[MatrixBag]:
    return list(dict.fromkeys(bag for name in names for bag in row.bags(name)))


def _say_parent(context: Context, row: _Row) -> Cell:
    if len(row.parents) == 1:
        return show_role(row.first)
    trees = [parent.tree for parent in row.parents if parent.tree]
    if not trees:
        return show_role(row.first)
    said = (Run(f" ({whole(len(trees))}{', pollen' if row.first.role == 'pollen' else ''})"),)
    return Cell((*linked_spans("trees", trees, context.order["trees"], _STRETCHES), *said), "long")


def _say_cell(context: Context, row: _Row, harvest: str) -> Cell | str:
    """The bags of a picking that hung on these trees, each with its shape; a fault with its word."""
    bags = row.bags(harvest)
    runs: list[Run] = []
    if len(row.parents) > 1 or len(bags) > _IN_A_CELL:
        runs += _say_many(context, bags)
    else:
        for bag in bags:
            runs += [Run(", ")] if runs else []
            runs += _say_bag(context, bag)
    if harvest in row.first.loose:
        runs += [Run("; ")] if runs else []
        runs.append(Run("fruit that no bag stands for", mark="unproven"))
    return Cell(tuple(runs)) if runs else ""


def _say_bag(context: Context, bag: MatrixBag) -> Iterator[Run]:
    href = f"bagging/{bag.bag}" if bag.known else ""
    record = context.rows_by("bagging", "bag").get(bag.bag, ({},))[0]
    standing = bag.open.standing if bag.known else "unproven"
    yield Run(bag.bag, href, mark=standing)
    if not bag.known:
        yield Run(", not in the register")
    if bag.open.numbers:
        yield Run(f", {bag.open.word}, gap ")
        yield from linked_gaps(bag.open.numbers)
    if paper := context.paper_of(record):
        yield Run(" ")
        yield Run("tag", paper)


def _say_many(context: Context, bags: Sequence[MatrixBag]) -> Iterator[Run]:
    """Bags by what they are worth: clean ones in stretches, others by name as far as there is room."""
    alike: defaultdict[tuple[str, str], list[MatrixBag]] = defaultdict(list)
    for bag in bags:
        standing = bag.open.standing if bag.known else "unproven"
        alike[standing, bag.open.word if bag.known else "not in the register"].append(bag)
    order = context.order["bagging"]
    for (standing, word), group in sorted(alike.items()):
        yield Run(f"{whole(len(group))} {word}: ", mark=standing)
        yield from linked_spans("bagging", [bag.bag for bag in group], order, _STRETCHES)
        numbers = sorted({number for bag in group for number in bag.open.numbers})
        if numbers:
            yield Run(", gap ")
            yield from linked_gaps(numbers)
        yield Run(". ")


def _count_bags(bags: Sequence[MatrixBag]) -> str:
    """`2 clean`, `1 clean, 1 failed`."""
    counts = Counter(bag.open.standing if bag.known else "unproven" for bag in bags)
    said = [f"{whole(counts[standing])} {BAG_WORDS[standing]}" for standing in _STANDINGS if counts[standing]]
    return ", ".join(said) or "none"


def _total(matrix: TraceMatrix, rows: Sequence[_Row], names: Sequence[str]) -> Iterator[Shown]:
    """What all parents and each picking come to."""
    yield "All"
    counts = Counter(_word_of(parent) for row in rows for parent in row.parents if parent.tree)
    yield ", ".join(f"{whole(number)} {word}" for word, number in counts.most_common())
    opened = {picking.harvest: picking.open for picking in matrix.pickings}
    for name in names:
        bags = [bag for row in rows for bag in row.bags(name)]
        runs = [Run(name, f"harvests/{name}"), Run(f": {_count_bags(bags)}")]
        if opened[name].numbers:
            word = Run(opened[name].word, mark=opened[name].standing)
            runs += [Run("; picking "), word, Run(", gap "), *linked_gaps(opened[name].numbers)]
        yield Cell(tuple(runs))
    yield _count_bags(list(dict.fromkeys(bag for row in rows for bag in _bags_in(row, names))))


def _word_of(parent: MatrixParent) -> str:
    """A parent's screening in a word, or what is open at it."""
    return parent.verdict if parent.open.standing == "traced" else parent.open.standing


def _covered(context: Context, rows: Sequence[_Row], names: Sequence[str]) -> Iterator[Shown]:
    """When the bags of each picking were put on."""
    yield Cell((Run("Covered"),))
    yield ""
    by_bag = context.rows_by("bagging", "bag")

    def days_of(bags: Iterable[MatrixBag]) -> str:
        found = [by_bag[bag.bag][0]["covered"] for bag in bags if by_bag.get(bag.bag)]
        return say_days([when for when in found if when]) if any(found) else "–"

    for name in names:
        yield days_of(bag for row in rows for bag in row.bags(name))
    yield ""


def _say_bags(context: Context, matrix: TraceMatrix) -> str:
    """At which stage flowers were covered and what came of the bags: all alike, or the exceptions by name."""
    by_bag = context.rows_by("bagging", "bag")
    records = [by_bag[bag.bag][0] for bag in matrix.bags if by_bag.get(bag.bag)]
    if not records:
        return ""
    stages = _say_field(records, "stage", "Covered at the stage")
    return f"{stages}; {_say_field(records, 'outcome', 'outcome')}."


def _say_field(records: Sequence[Mapping[str, Any]], field: str, title: str) -> str:
    by_word: defaultdict[str, list[str]] = defaultdict(list)
    for record in records:
        by_word[record[field] or "not recorded"].append(record["bag"])
    ranked = sorted(by_word.items(), key=lambda item: (-len(item[1]), item[0]))
    if len(ranked) == 1:
        return f"{title}: {ranked[0][0]}, all"
    said = [f"{ranked[0][0]}, {whole(len(ranked[0][1]))}"]
    for word, bags in ranked[1:]:
        named = f" ({join(bags)})" if len(bags) <= _STRETCHES else ""
        said.append(f"{word}, {whole(len(bags))}{named}")
    return f"{title}: {'; '.join(said)}"
