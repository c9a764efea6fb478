"""Which column of somebody's sheet is which field of the records.

Headings of our own workbook are known. Anybody else's are guessed where there is a reason that can be shown,
the guess is shown with its reasons, and only a map that the grower has looked over is used: a guess that puts
weights into the wrong column would pass every other check.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.column_evidence import Column as Cells
from certgen.exchange.importing.column_evidence import count_fitting, dress, holds_ranges
from certgen.exchange.importing.column_maps import OPEN, MapError, SheetMap, Target
from certgen.exchange.importing.further_tables import guess_further
from certgen.exchange.importing.heading_names import fits_unit, list_candidates, part_unit, plain_words
from certgen.exchange.importing.heading_words import SHEET_WORDS
from certgen.exchange.importing.nested_guesses import guess_cuts, guess_entries, repeat_rows
from certgen.exchange.spreadsheets.rows import child_fields, is_child
from certgen.records.tables import Column, Table, load_tables

if TYPE_CHECKING:
    from certgen.exchange.importing.grids import Sheet

#: A column of which fewer cells than this can be the field's is not it, whatever it is called.
_FITTING: Final = 0.5
_NAMED: Final = 1.5
#: A map can't name a longer heading.
_LONGEST: Final = 300
_AHEAD: Final = 0.5


@dataclass(frozen=True)
class Known:
    """What the season knows of itself: its crop's words by list, and the identifiers of each table.

    `named` are those that the sheets themselves name first, such as a tree in the sheet of trees. `order` and
    `decimal` are how other sheets of the file write days and commas, where that leaves no doubt.
    """

    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    identifiers: Mapping[str, Collection[str]] = field(default_factory=dict)
    named: Mapping[str, Collection[str]] = field(default_factory=dict)
    order: str = ""
    decimal: str = ""

    @cached_property
    def all_identifiers(self) -> Mapping[str, Collection[str]]:
        """Those of the season and of the sheets, by table."""
        tables = dict.fromkeys((*self.identifiers, *self.named))
        return {
            name: dict.fromkeys((*self.identifiers.get(name, ()), *self.named.get(name, ())))
            for name in tables
        }


NOTHING: Final = Known()


@dataclass(frozen=True, slots=True)
class Guess:
    """A guessed map, and by heading why each column is what it is, or why it is none."""

    sheet_map: SheetMap
    reasons: Mapping[str, str]
    strength: float = 0.0


def match_own(sheet: Sheet) -> SheetMap | None:
    """The map of a sheet of our own workbook (name and headings as we write them), or None."""
    tables = load_tables()
    name, _, child = sheet.name.partition(".")
    if name not in tables:
        return None
    headings = [str(cell.value).strip() for cell in sheet.headings.values()]
    try:
        known = (
            set(child_fields(tables[name], child))
            if child
            else {column.name for column in tables[name].columns if not is_child(column)}
        )
    except KeyError:
        return None
    if not set(headings) <= known or len(set(headings)) < len(headings):
        return None
    return SheetMap(sheet.name, name, {heading: Target(heading) for heading in headings}, child)


def guess(sheet: Sheet, table: str, known: Known) -> Guess:
    """The likeliest map with its reasons; its table is `?` where several fit, or none.

    Raises `MapError` where two columns have one heading.
    """
    headings = _list_headings(sheet)
    cells = {str(cell.value).strip(): Cells.of(sheet, index) for index, cell in sheet.headings.items()}
    rows = len(sheet.rows)
    if table:
        return _enrich(_guess_for(sheet.name, cells, load_tables()[table], known), cells, rows, known)
    guesses = [_guess_for(sheet.name, cells, one, known) for one in load_tables().values()]
    guesses.sort(key=lambda one: -one.strength)
    best, second = guesses[:2]
    if best.strength >= _NAMED and best.strength - second.strength >= _AHEAD:
        return _enrich(best, cells, rows, known)
    likely = [one.sheet_map.table for one in guesses[:3] if one.strength >= 1]
    columns: dict[str, Target | None] = {heading: Target(OPEN) for heading in headings}
    said = f"{' or '.join(likely)}?" if likely else f"one of: {', '.join(load_tables())}; or leave it out"
    return Guess(SheetMap(sheet.name, OPEN, columns), {"": said})


def _list_headings(sheet: Sheet) -> list[str]:
    for cell in sheet.headings.values():
        if len(str(cell.value)) > _LONGEST:
            raise MapError(
                f"sheet '{sheet.name}', cell {cell.address}: a heading of over {_LONGEST} signs; shorten it"
            )
    headings = [str(cell.value).strip() for cell in sheet.headings.values()]
    if len(set(headings)) < len(headings):
        twice = next(heading for heading in headings if headings.count(heading) > 1)
        raise MapError(
            f"sheet '{sheet.name}': the heading '{twice[:60]}' stands twice; name each column differently"
        )
    return headings


def guess_open_columns(sheet: Sheet, sheet_map: SheetMap, known: Known) -> Guess:
    """The map with those columns guessed that nobody has said anything of."""
    found = guess(sheet, sheet_map.table, known)
    taken = {name for target in sheet_map.columns.values() if target for name in target.names}
    columns = dict(sheet_map.columns)
    for heading, target in columns.items():
        if target is not None and target.field == OPEN:
            fresh = found.sheet_map.columns.get(heading)
            columns[heading] = None if fresh is None or fresh.field in taken else fresh
    return Guess(replace(sheet_map, columns=columns), found.reasons)


def take_as(sheet: Sheet, heading: str, table: Table, name: str, known: Known) -> Target:
    """What a column is that somebody says is the field `name`: with the unit that its heading names, and what
    its cells show has to be done with them."""
    index = next(i for i, cell in sheet.headings.items() if str(cell.value).strip() == heading)
    column = next((one for one in table.columns if one.name == name), None)
    if column is None:
        return Target(name)
    _, unit = part_unit(heading)
    target = Target(name, unit if unit and fits_unit(unit, column) else "")
    cells, key = Cells.of(sheet, index), column.name == table.key
    return dress(target, cells, column, _identifiers(table, column, known), key=key)[0]


def _identifiers(table: Table, column: Column, known: Known) -> Collection[str]:
    """The identifiers that a column may name: those of the tables it refers to, or the table's own."""
    if column.name == table.key:
        return set(known.identifiers.get(table.name, ()))
    return {name for one in column.refers_to for name in known.all_identifiers.get(one, ())}


def _guess_for(sheet: str, cells: Mapping[str, Cells], table: Table, known: Known) -> Guess:
    scored = [
        (heading, *candidate) for heading in cells for candidate in list_candidates(heading, table.name)
    ]
    scored.sort(key=lambda entry: -entry[1])  # equally alike ones stay in the sheet's order
    chosen: dict[str, Target | None] = dict.fromkeys(cells)
    reasons: dict[str, str] = {}
    taken: dict[str, float] = {}
    for heading, likeness, called, unit, why in scored:
        if chosen[heading] is not None or called.name in taken:
            continue
        fitting, said = count_fitting(cells[heading], called.field, unit, known.words)
        if fitting < _FITTING:
            reasons.setdefault(heading, f"it is called like `{called.name}`, and yet {said}")
            continue
        column, several = _of_several(called, table, cells[heading], taken)
        target, dressed = dress(
            Target(column.name, unit),
            cells[heading],
            column,
            _identifiers(table, column, known),
            key=column.name == table.key,
        )
        chosen[heading], taken[column.name] = target, likeness
        reasons[heading] = "; ".join(filter(None, (why, said, several, dressed)))
    for heading in [heading for heading, target in chosen.items() if target is None]:
        reasons[heading] = "; ".join(filter(None, (reasons.get(heading), cells[heading].sample())))
    reasons[""] = "as the sheet's name says" if _is_named(sheet, table.name) else "as its headings say"
    return Guess(SheetMap(sheet, table.name, chosen), reasons, _weigh(sheet, table, taken))


def _of_several(column: Column, table: Table, cells: Cells, taken: Collection[str]) -> tuple[Column, str]:
    """The column of several (`trees`) in place of that of one (`tree`) where cells name several, and why."""
    plural = next(
        (one for one in table.columns if one.name == f"{column.name}s" and one.kind == "list"), None
    )
    if plural is None or plural.name in taken or column.name == table.key or not holds_ranges(cells):
        return column, ""
    return plural, f"some cells name several, so `{plural.name}`"


def _enrich(found: Guess, cells: Mapping[str, Cells], rows: int, known: Known) -> Guess:
    """The guess with what its open columns are that are no single field of the table."""
    table = load_tables()[found.sheet_map.table]
    columns, reasons = dict(found.sheet_map.columns), dict(found.reasons)
    left = [heading for heading, target in columns.items() if target is None and cells[heading].cells]
    filled = {name for target in columns.values() if target is not None for name in target.names}
    for more in (
        guess_cuts(cells, left, filled, table.name),
        guess_entries(cells, left, table, known),
    ):
        columns |= more.columns
        reasons |= more.reasons
        left = [heading for heading in left if heading not in more.columns]
    sheet_map, said = repeat_rows(replace(found.sheet_map, columns=columns), table.key, cells, rows)
    reasons[""] = "; ".join(filter(None, (reasons.get("", ""), said)))
    also, more_reasons = guess_further(cells, sheet_map, left, known)
    return Guess(replace(sheet_map, also=also), reasons | more_reasons, found.strength)


def _weigh(sheet: str, table: Table, taken: Mapping[str, float]) -> float:
    """How much speaks for a table: the fields that were found, those that it needs above all, and the sheet's
    name; 0 where no field was found."""
    needed = {column.name for column in table.columns if column.required}
    strength = sum(taken.values()) + len(taken.keys() & needed) / max(len(needed), 1) / 2
    return strength + _NAMED * _is_named(sheet, table.name) if taken else 0.0


def _is_named(sheet: str, table: str) -> bool:
    words = set(plain_words(sheet).split())
    return bool(words & {table, *SHEET_WORDS.get(table, ())})
