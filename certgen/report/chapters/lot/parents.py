"""The parents of all lots with their results, told once for the dossiers: by variety, row and laboratory's
letter."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.report.tables import Column, fold, table
from certgen.report.wording import (
    cell,
    count_of,
    key,
    linked_gaps,
    linked_spans,
    plain,
    say_fields,
    say_most,
    spans,
    whole,
    write,
)
from certgen.rules.wording import count, day
from certgen.typeset.parts import Cell, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.dossier.trace_matrix import MatrixParent, Open
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

#: Where the shared tables stand.
ANCHOR: Final = "lots#parents"
VERDICT_MARKS: Final = {
    "negative": "traced",
    "positive": "rejected",
    "inconclusive": "unproven",
    "not screened": "unproven",
}
_WORST: Final = {"traced": 0, "unproven": 1, "rejected": 2}
#: Stretches of places past this are counted; the map of the orchard has each.
_PLACES: Final = 24
NO_REPORT: Final = "no report"
#: Rows of the shared tables past these are left to the registers, which name each.
_ROWS: Final = 400


@dataclass(frozen=True, slots=True)
class Series:
    """What samples alike share: all that a result says except which tree gave the leaf."""

    day: str
    method: str
    pool: str
    controls: str
    result: str
    report: str


@dataclass(frozen=True)
class ParentBook:
    """The parents of some lots: each with its place in the matrices, its results, the letter that stands for
    results alike, and what leads to their paper."""

    parents: Mapping[str, MatrixParent]
    series: Mapping[str, tuple[Series, ...]]
    letters: Mapping[Series, str]
    papers: Mapping[Series, str]

    def name_results(self, tree: str) -> tuple[Run, ...]:
        """The letters of a tree's results, each leading to what it stands for."""
        runs: list[Run] = []
        for one in self.series.get(tree, ()):
            letter = self.letters[one]
            runs += [Run(", ")] if runs else []
            runs.append(Run(letter, f"result/{letter}"))
        return tuple(runs)


class _Group(NamedTuple):
    """Trees of one row of the orchard of which the same is to be said."""

    place: str
    sex: str
    verdict: str
    open: Open
    series: tuple[Series, ...]
    pollen: bool


def gather_parents(context: Context, lots: Sequence[str]) -> ParentBook:
    """The parents of some lots, in the order of their register, results lettered as they come."""
    found: dict[str, MatrixParent] = {}
    for lot in lots:
        found |= {parent.tree: parent for parent in context.matrices.of_lot(lot).parents if parent.tree}
    order = context.order["trees"]
    trees = sorted(found, key=lambda tree: (order.get(tree, len(order)), tree))
    series: dict[str, tuple[Series, ...]] = {}
    papers: dict[Series, str] = {}
    for tree in trees:
        samples = samples_of(context, tree)
        alike = [_series_of(context, row) for row in samples]
        series[tree] = tuple(dict.fromkeys(alike))
        for one, row in zip(alike, samples, strict=True):
            papers[one] = papers.get(one) or context.paper_of(row)
    every = dict.fromkeys(one for listed in series.values() for one in listed)
    letters = {one: letters_of(number) for number, one in enumerate(every)}
    return ParentBook({tree: found[tree] for tree in trees}, series, letters, papers)


def say_screening(parent: MatrixParent, results: tuple[Run, ...] = ()) -> Cell:
    """A tree's screening: what its samples say, what is open at it, and the letters of its results.

    A negative at which something is open is never shown as plainly negative.
    """
    if not parent.tree:
        return cell("no tree is named", mark="unproven")
    verdict = VERDICT_MARKS[parent.verdict]
    worst = max(verdict, parent.open.standing, key=_WORST.__getitem__)
    runs = [Run(parent.verdict, mark=worst)]
    if parent.open.numbers:
        runs += [
            Run(f", {parent.open.word}, gap " if verdict != parent.open.standing else ", gap "),
            *linked_gaps(parent.open.numbers),
        ]
    if results:
        runs += [Run(" · "), *results]
    return Cell(tuple(runs))


def show_parents(context: Context, book: ParentBook) -> list[Part]:
    """Each variety's parents in a table, and what the letters of their results stand for."""
    if not book.parents:
        return []
    by_variety: defaultdict[str, list[str]] = defaultdict(list)
    for tree in book.parents:
        by_variety[_variety_of(context, tree)].append(tree)
    parts: list[Part] = [
        _show_variety(context, book, variety, trees) for variety, trees in by_variety.items()
    ]
    if book.letters:
        parts.append(_show_letters(context, book))
    return parts


def build_parents(context: Context, book: ParentBook, level: int) -> list[Section]:
    """The section of the parents, if there are any."""
    parts = show_parents(context, book)
    if not parts:
        return []
    words = (
        "Trees of one row of which the same is to be said share a line; their samples stand in that order."
        " A letter stands for results alike: the dossiers name it beside each tree."
    )
    return [Section(ANCHOR, "Parents and their results", level, (Prose((words,)), *parts), style="minor")]


def _variety_of(context: Context, tree: str) -> str:
    planting = next((row["planting"] for row in context.rows_by("trees", "tree").get(tree, ())), None)
    rows = context.rows_by("plantings", "planting").get(planting, ()) if planting else ()
    return rows[0]["variety"] or "" if rows else ""


def _show_variety(context: Context, book: ParentBook, variety: str, trees: Sequence[str]) -> Grid:
    groups: defaultdict[_Group, list[str]] = defaultdict(list)
    for tree in trees:
        groups[_group_of(context, book, tree)].append(tree)
    order, samples = context.order["trees"], context.order["screening"]
    columns: tuple[Column[tuple[_Group, list[str]]], ...] = (
        Column("Trees", "long", lambda row: Cell(linked_spans("trees", row[1], order), "long")),
        Column("Stand in", "text", lambda row: _say_stands(context, *row)),
        Column("Sex", "text", lambda row: row[0].sex),
        Column("Screening", "text", lambda row: say_screening(book.parents[row[1][0]])),
        Column("Results", "text", lambda row: Cell(book.name_results(row[1][0]) or plain("none"))),
        Column(
            "Samples",
            "text",
            lambda row: Cell(
                linked_spans("screening", _samples_in(context, row[1]), samples) or plain("no sample")
            ),
        ),
    )
    shown = list(groups.items())
    kept, note = fold(columns, shown[:_ROWS])
    if len(shown) > _ROWS:
        note = f"And {whole(len(shown) - _ROWS)} more lines; the registers have each tree. {note}".strip()
    pollen = sum(book.parents[tree].role == "pollen" for tree in trees)
    caption = f"Parents of {variety or 'no recorded variety'}: {count_of('trees', len(trees))}"
    if pollen:
        caption += f", of which {whole(pollen)} gave pollen alone"
    return table(caption, kept, shown[:_ROWS], note=note, tone=_tone)


def _tone(row: tuple[_Group, list[str]]) -> str:
    faulty = row[0].verdict == "positive" or row[0].open.standing == "rejected"
    return "faulty" if faulty else "plain"


def _group_of(context: Context, book: ParentBook, tree: str) -> _Group:
    parent = book.parents[tree]
    records = context.rows_by("trees", "tree").get(tree, ())
    if not records:
        place, sex = "not in the register", "not recorded"
    else:
        record = records[0]
        plantings = context.rows_by("plantings", "planting").get(record["planting"], ())
        block = plantings[0]["block"] if plantings else None
        place = " · ".join(filter(None, (block, f"row {record['row']}" if record["row"] else None)))
        sex = record["sex"] or "not recorded"
    return _Group(place, sex, parent.verdict, parent.open, book.series[tree], parent.role == "pollen")


def _say_stands(context: Context, group: _Group, trees: Sequence[str]) -> str | None:
    """`TERRACE · row 1, places 1, 2, 6 to 8`."""
    records = [context.rows_by("trees", "tree").get(tree, ()) for tree in trees]
    places = [found[0]["position"] for found in records if found and found[0]["position"]]
    if not places or places == list(trees):
        # Where a place is called after its tree, the tree says it.
        return group.place or None
    known = {str(number): number for number in range(1, 1 + max(map(_as_number, places)))}
    stretches = [" to ".join(stretch) for stretch in spans(places, known)]
    return f"{group.place}, {'place' if len(places) == 1 else 'places'} {say_most(stretches, _PLACES)}"


def _as_number(place: str) -> int:
    """A place's number where it is a plain one that an orchard can have, else 0."""
    return int(place) if place.isascii() and place.isdecimal() and len(place) < 5 else 0


def _samples_in(context: Context, trees: Sequence[str]) -> list[str]:
    listed = (row["sample"] for tree in trees for row in samples_of(context, tree))
    return list(dict.fromkeys(name for name in listed if name))


def samples_of(context: Context, tree: str) -> list[dict[str, Any]]:
    """The samples of a tree, its own and those it shared, in the order of the register."""
    own = context.rows_by("screening", "tree").get(tree, [])
    pooled = context.rows_by("screening", "trees").get(tree, [])
    order = context.order["screening"]
    return sorted([*own, *pooled], key=lambda row: order.get(row["sample"], 0)) if pooled else own


def _series_of(context: Context, row: Mapping[str, Any]) -> Series:
    pool = len(row["trees"] or ())
    method = context.profile.methods.get(row["method"])
    named = method.title if method else row["method"]
    return Series(
        day(row["collected"]) if row["collected"] else "not recorded",
        ", ".join(filter(None, (named, write(row["targets"])))) or "not recorded",
        count(pool, "tree") if pool > 1 else "one tree",
        row["controls"] or "not recorded",
        row["result"] or "none",
        row["report"] or NO_REPORT,
    )


def letters_of(number: int) -> str:
    """A, B … Z, AA, AB …: the name of a series, counted from 0."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _show_letters(context: Context, book: ParentBook) -> Grid:
    counts = Counter(one for listed in book.series.values() for one in listed)
    columns: tuple[Column[Series], ...] = (
        Column("Result", "key", lambda series: book.letters[series]),
        Column("Leaves taken", "text", lambda series: series.day),
        Column("Method, targets", "text", lambda series: series.method),
        Column("A sample held", "text", lambda series: series.pool),
        Column("Controls", "text", lambda series: series.controls),
        Column("Says", "text", lambda series: series.result),
        Column("Laboratory’s report", "text", lambda series: _say_report(context, book, series)),
        Column("Trees", "number", lambda series: counts[series]),
    )
    shown = list(book.letters)[:_ROWS]
    kept, note = fold(columns, shown)
    grid = table("What the letters stand for", kept, shown, note=note)
    rows = zip(grid.rows, shown, strict=True)
    return replace(
        grid, rows=tuple(replace(row, anchor=f"result/{book.letters[series]}") for row, series in rows)
    )


def _say_report(context: Context, book: ParentBook, series: Series) -> Cell:
    """The report's number, leading to its paper, else to its letter's record, and the laboratory."""
    letters = (context.rows_by("letters", field).get(series.report) for field in ("report", "letter"))
    rows = next(filter(None, letters), [])
    laboratory = say_fields(rows[0], "laboratory") if rows else None
    own = context.href_in(("letters",), rows[0]["letter"]) if rows else ""
    missing = series.report == NO_REPORT
    runs = [Run(series.report, book.papers.get(series) or own, mark="unproven" if missing else "")]
    return Cell((*runs, *([Run(f", {laboratory}")] if laboratory else [])))


def show_role(parent: MatrixParent) -> Cell:
    """The tree, leading to its record, and that it gave pollen alone."""
    if not parent.tree:
        return key("no tree")
    said = (Run(", pollen"),) if parent.role == "pollen" else ()
    return Cell((Run(parent.tree, f"trees/{parent.tree}"), *said), "key")
