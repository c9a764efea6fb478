"""The filled-in sheet of a round on its way back: one round with its exceptions, and the records it began.

What every row states alike stands in the round, what a row states otherwise in an exception. A row that
states nothing was not walked: the round doesn't name it. So nothing is recorded that no row states.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from certgen.exchange.importing.column_maps import MapError, SheetMap, Target
from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.spreadsheets.round_forms import ABOUT, ANSWERS, PLACE, WALK, form_headings
from certgen.exchange.spreadsheets.rows import join_list, owner_heading
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

Part = tuple[Sheet, SheetMap]
#: The list of a round that names what a row is about.
_LISTS = {"bag": "bags", "sample": "samples"}
_TABLES = {"bag": "bagging", "sample": "screening"}
#: The walks that begin the records they speak of.
_BEGINNING = frozenset({"sampling", "bagging"})


class _Line(NamedTuple):
    """A row that says something: its cells by heading, those of the walk filled in from above."""

    cells: dict[str, Cell]

    def text(self, name: str) -> str:
        """What stands under a heading, as typed."""
        cell = self.cells.get(name)
        return "" if cell is None else str(cell.value).strip()

    @property
    def home(self) -> str:
        """The address of its first cell."""
        return next(iter(self.cells.values())).address


@dataclass(slots=True)
class _Walk:
    """The rows of one round."""

    kind: str
    lines: list[_Line] = field(default_factory=list)

    @property
    def about(self) -> str:
        return ABOUT[self.kind][0]

    def met(self) -> list[_Line]:
        """The rows of what the walk met: a new number, or an answer beside one that was printed."""
        if self.kind in _BEGINNING:
            return [line for line in self.lines if self.about in line.cells]
        return [line for line in self.lines if any(name in line.cells for name in ANSWERS[self.kind])]

    def left_out(self) -> list[_Line]:
        """The rows of which there is only a remark."""
        seen = {id(line) for line in self.met()}
        return [line for line in self.lines if id(line) not in seen and "note" in line.cells]


def read_form(sheet: Sheet) -> list[Part] | None:
    """The parts that a round's form comes to, as our own workbook has them; None if it is no such form.

    Raises `MapError` where one round has two days, two walkers or two kinds, or a row says too little.
    """
    headings = {index: str(cell.value).strip() for index, cell in sheet.headings.items()}
    if not any(_is_form(set(headings.values()), kind) for kind in ANSWERS):
        return None
    walks: dict[str, _Walk] = {}
    for line in _filled(sheet, headings):
        kind = line.text("kind").casefold()
        if kind not in ANSWERS:
            raise MapError(
                f"sheet '{sheet.name}', cell {line.home}: no form is for a round of kind "
                f"'{line.text('kind')}'; there are forms for {', '.join(ANSWERS)}"
            )
        if not line.text("round"):
            raise MapError(f"sheet '{sheet.name}', cell {line.home}: give the round a number under `round`")
        walks.setdefault(line.text("round"), _Walk(kind)).lines.append(line)
    walks = {name: walk for name, walk in walks.items() if walk.met() or walk.left_out()}
    if not walks:
        raise MapError(f"sheet '{sheet.name}': no row of the form is filled in")
    for name, walk in walks.items():
        _hold_together(sheet.name, name, walk)
    return list(_parts(sheet.name, walks))


def _is_form(headings: set[str], kind: str) -> bool:
    """Whether a sheet has the form's columns: those of the walk, what it is about, and one answer or more."""
    known = set(form_headings(kind))
    needed = {*WALK, ABOUT[kind][0]}
    return needed <= headings <= known and bool(headings & set(ANSWERS[kind]))


def _filled(sheet: Sheet, headings: Mapping[int, str]) -> Iterator[_Line]:
    """The rows, with what stands once for a walk carried down from the row above."""
    above: dict[str, Cell] = {}
    for row in sheet.rows:
        cells = {headings[index]: cell for index, cell in row.items() if index in headings and not cell.empty}
        before, now = above.get("round"), cells.get("round")
        if before and now and _folded(before) != _folded(now):
            above = {}
        above |= {name: cells[name] for name in WALK if name in cells}
        yield _Line(cells | above)


def _hold_together(sheet: str, name: str, walk: _Walk) -> None:
    """Refuses a round whose rows tell of two walks, or whose rows don't say what they are about."""
    lines = [*walk.met(), *walk.left_out()]
    for column in ("kind", "date", "by"):
        first = lines[0].text(column)
        for line in lines:
            if not line.text(column):
                raise MapError(f"sheet '{sheet}', cell {line.home}: round {name} needs its `{column}`")
            if line.text(column) != first:
                raise MapError(
                    f"sheet '{sheet}', cell {line.cells[column].address}: round {name} has `{column}` "
                    f"{first} and {line.text(column)}; give the second walk a number of its own"
                )
    for line in lines:
        if not (line.text(walk.about) or line.text("tree")):
            raise MapError(
                f"sheet '{sheet}', cell {line.home}: say which {walk.about} or tree this row is of"
            )
    for line in walk.met():
        if not line.text(walk.about):
            raise MapError(f"sheet '{sheet}', cell {line.home}: say which {walk.about} this row is of")


def _parts(sheet: str, walks: Mapping[str, _Walk]) -> Iterator[Part]:
    yield _part(sheet, "rounds", "", [_say_round(walk) for walk in walks.values()])
    exceptions = [row for walk in walks.values() for row in _say_exceptions(walk)]
    if exceptions:
        yield _part(sheet, "rounds", "exceptions", exceptions)
    for about, table in _TABLES.items():
        begun = [
            _say_record(walk, line)
            for walk in walks.values()
            if walk.about == about and walk.kind in _BEGINNING
            for line in walk.met()
        ]
        if begun:
            yield _part(sheet, table, "", begun)


def _part(sheet: str, table: str, child: str, rows: Sequence[Mapping[str, Cell]]) -> Part:
    """Rows by heading as a sheet of our own workbook."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    headings = {at: Cell(name, rows[0][next(iter(rows[0]))].address) for at, name in enumerate(names)}
    placed = tuple({at: row[name] for at, name in enumerate(names) if name in row} for row in rows)
    columns = {name: Target(name) for name in names}
    return Sheet(sheet, headings, placed), SheetMap(sheet, table, columns, child)


def _listed(lines: Iterable[_Line], about: str) -> Cell:
    """The numbers of some rows in one cell, where the first of them stands; a tree's if a row has none."""
    cells = [line.cells.get(about) or line.cells["tree"] for line in lines]
    return Cell(join_list([str(cell.value).strip() for cell in cells]), cells[0].address)


def _held(walk: _Walk) -> dict[str, Cell]:
    """What held for the walk: where every row that it met says something, what most of them say."""
    met = walk.met()
    held = {}
    for name in ANSWERS[walk.kind]:
        told = [line for line in met if name in line.cells]
        if told and len(told) == len(met):
            most = Counter(line.text(name).casefold() for line in told).most_common(1)[0][0]
            held[name] = next(line.cells[name] for line in told if line.text(name).casefold() == most)
    return held


def _say_round(walk: _Walk) -> dict[str, Cell]:
    lines = walk.met()
    first = (lines or walk.left_out())[0]
    said = {name: first.cells[name] for name in WALK}
    if lines:
        said[_LISTS[walk.about]] = _listed(lines, walk.about)
    return said | _held(walk)


def _say_otherwise(walk: _Walk, held: Mapping[str, Cell], line: _Line) -> dict[str, Cell]:
    """What a row says that doesn't hold for the walk; a remark alone would leave open what was otherwise."""
    noted = {"note": line.cells["note"]} if "note" in line.cells else {}
    told = {name: line.cells[name] for name in ANSWERS[walk.kind] if name in line.cells}
    otherwise = {
        name: cell for name, cell in told.items() if name not in held or _folded(cell) != _folded(held[name])
    }
    return (told if noted else otherwise) | noted


def _say_exceptions(walk: _Walk) -> Iterator[dict[str, Cell]]:
    """What single rows say otherwise, those that say the same together."""
    held = _held(walk)
    groups: dict[tuple[tuple[str, str], ...], list[_Line]] = {}
    for line in walk.met():
        otherwise = _say_otherwise(walk, held, line)
        groups.setdefault(tuple((name, _folded(cell)) for name, cell in otherwise.items()), []).append(line)
    heading = owner_heading(load_tables()["rounds"])
    for lines in (lines for said, lines in groups.items() if said):
        about = {heading: lines[0].cells["round"], "about": _listed(lines, walk.about)}
        yield about | _say_otherwise(walk, held, lines[0])
    for line in walk.left_out():
        note = line.cells["note"]
        yield {
            heading: line.cells["round"],
            "about": _listed([line], walk.about),
            "left_out": Cell("yes", note.address),
            "note": note,
        }


def _say_record(walk: _Walk, line: _Line) -> dict[str, Cell]:
    about, own = ABOUT[walk.kind]
    return {name: line.cells[name] for name in (about, PLACE[-1], *own) if name in line.cells}


def _folded(cell: Cell) -> str:
    return str(cell.value).strip().casefold()
