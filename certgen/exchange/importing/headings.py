"""Which column of somebody's sheet is which field of the records.

Headings of our own workbook are known. Anybody else's are guessed where there is a reason that can be shown,
the guess is shown with its reasons, and only a map that the grower has looked over is used: a guess that puts
weights into the wrong column would pass every other check.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.column_evidence import Column as Cells
from certgen.exchange.importing.column_evidence import count_fitting, dress
from certgen.exchange.importing.column_maps import OPEN, MapError, SheetMap, Target
from certgen.exchange.spreadsheets.rows import child_fields, is_child
from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.tables import Column, Table, load_tables

if TYPE_CHECKING:
    from certgen.exchange.importing.grids import Sheet

#: Words in growers' headings (common practice) that no field's own name or title holds. Who stands under
#: "who" or "by" is the buyer on one sheet and the writer on another, so neither is here.
_OTHER_WORDS: Mapping[str, Sequence[str]] = {
    "id": ("no", "no.", "nr", "number", "#", "id", "code"),
    "note": ("remarks", "remark", "comment", "comments", "notes"),
    "recorded_by": ("initials", "entered by"),
    "covered": ("date bagged", "bagged", "bagged on", "date covered", "bagging date", "bag on"),
    "uncovered": ("bag off", "date uncovered", "unbagged"),
    "collected": ("sampled", "date sampled", "sample date"),
    "reported": ("result came", "result date", "date of result", "date reported"),
    "packed": ("pack date", "date packed", "packed on"),
    "planted": ("date planted", "planting date", "planted on"),
    "fruits": ("fruit count", "number of fruit", "fruit"),
    "party": ("buyer", "customer", "sold to"),
    "document": ("invoice", "invoice no", "invoice number"),
    "weight": ("net weight", "mass"),
    "wet_weight": ("wet", "wet mass", "wet seed"),
    "dry_weight": ("dry", "dry mass", "dry seed"),
    "report": ("report no", "report number", "lab number", "lab letter", "letter no"),
    "laboratory": ("lab",),
    "variety": ("cultivar",),
    "date": ("day",),
    "harvests": ("harvest", "picking", "pickings"),
    "drying.method": ("drying", "dried by"),
    "drying.from": ("dried from", "drying from", "drying began"),
    "drying.to": ("dried to", "dried until", "drying ended"),
}
#: Words in sheets' names (common practice), besides a table's own name.
_SHEET_WORDS: Mapping[str, Collection[str]] = {
    "trees": ("tree", "orchard"),
    "plantings": ("planting",),
    "blocks": ("block", "land"),
    "screening": ("samples", "screen", "screenings"),
    "bagging": ("bag", "bags"),
    "harvests": ("harvest", "picking", "pickings", "picked"),
    "batches": ("batch", "extraction", "extractions", "runs"),
    "lots": ("lot", "packing"),
    "tests": ("test", "germination", "moisture"),
    "movements": ("sales", "sale", "sold", "stock", "deliveries", "movement"),
    "observations": ("observation",),
    "inputs": ("input", "sprays", "spraying"),
}

#: A heading that is less like a field's name than this is not taken for it: slips of the pen only.
_ALIKE: Final = 0.84
#: A column of which fewer cells than this can be the field's is not it, whatever it is called.
_FITTING: Final = 0.5
_NAMED: Final = 1.5
#: A map can't name a longer heading.
_LONGEST: Final = 300
_AHEAD: Final = 0.5


@dataclass(frozen=True, slots=True)
class Known:
    """What the season knows of itself: its crop's words by list, and the identifiers of each table."""

    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    identifiers: Mapping[str, Collection[str]] = field(default_factory=dict)


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


def is_known_heading(text: str, table: str = "") -> bool:
    """Whether a text is what a heading of the table, or of any, is called."""
    bare, unit = part_unit(text)
    names = [table] if table else list(load_tables())
    whole = _plain(text)
    return any(
        whole in known or (unit and bare in known)
        for name in names
        for _, known in _named_columns(name)
    )  # fmt: skip


def guess_map(sheet: Sheet, table: str | None = None) -> SheetMap:
    """The likeliest map of a sheet with headings of its own. Raises `MapError` for two equal headings."""
    return guess(sheet, table or "", NOTHING).sheet_map


def guess(sheet: Sheet, table: str, known: Known) -> Guess:
    """The likeliest map with its reasons; its table is `?` where several fit, or none.

    Raises `MapError` where two columns have one heading.
    """
    headings = _list_headings(sheet)
    cells = {str(cell.value).strip(): Cells.of(sheet, index) for index, cell in sheet.headings.items()}
    if table:
        return _guess_for(sheet.name, cells, load_tables()[table], known)
    guesses = [_guess_for(sheet.name, cells, one, known) for one in load_tables().values()]
    guesses.sort(key=lambda one: -one.strength)
    best, second = guesses[:2]
    if best.strength >= _NAMED and best.strength - second.strength >= _AHEAD:
        return best
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
    return dress(target, Cells.of(sheet, index), column, known.identifiers)[0]


def _guess_for(sheet: str, cells: Mapping[str, Cells], table: Table, known: Known) -> Guess:
    scored = [(heading, *candidate) for heading in cells for candidate in _candidates(heading, table.name)]
    scored.sort(key=lambda entry: -entry[1])  # equally alike ones stay in the sheet's order
    chosen: dict[str, Target | None] = dict.fromkeys(cells)
    reasons: dict[str, str] = {}
    taken: dict[str, float] = {}
    for heading, likeness, column, unit, why in scored:
        if chosen[heading] is not None or column.name in taken:
            continue
        fitting, said = count_fitting(cells[heading], column.field, unit, known.words)
        if fitting < _FITTING:
            reasons.setdefault(heading, f"it is called like `{column.name}`, and yet {said}")
            continue
        target, dressed = dress(Target(column.name, unit), cells[heading], column, known.identifiers)
        chosen[heading], taken[column.name] = target, likeness
        reasons[heading] = "; ".join(filter(None, (why, said, dressed)))
    for heading in [heading for heading, target in chosen.items() if target is None]:
        reasons[heading] = "; ".join(filter(None, (reasons.get(heading), cells[heading].sample())))
    reasons[""] = "as the sheet's name says" if _is_named(sheet, table.name) else "as its headings say"
    return Guess(SheetMap(sheet, table.name, chosen), reasons, _weigh(sheet, table, taken))


def _weigh(sheet: str, table: Table, taken: Mapping[str, float]) -> float:
    """How much speaks for a table: the fields that were found, those that it needs above all, and the sheet's
    name; 0 where no field was found."""
    needed = {column.name for column in table.columns if column.required}
    strength = sum(taken.values()) + len(taken.keys() & needed) / max(len(needed), 1) / 2
    return strength + _NAMED * _is_named(sheet, table.name) if taken else 0.0


def _is_named(sheet: str, table: str) -> bool:
    words = set(_plain(sheet).split())
    return bool(words & {table, *_SHEET_WORDS.get(table, ())})


def _candidates(heading: str, table: str) -> list[tuple[float, Column, str, str]]:
    """The columns that a heading may mean: how alike, the unit that it names, and why."""
    found = []
    bare, unit = part_unit(heading)
    for text, named in dict.fromkeys(((_plain(heading), ""), (bare, unit))):
        for likeness, column in _alike(text, table):
            if named and not fits_unit(named, column):
                continue
            why = "named like it" if likeness == 1 else f"spelled almost like '{column.field.title}'"
            found.append((likeness, column, named, why))
    return found


@cache
def _named_columns(table: str) -> tuple[tuple[Column, frozenset[str]], ...]:
    """The columns of a table, each with what a heading may call it."""
    declared = load_tables()[table]
    return tuple((column, _names(column, declared)) for column in declared.columns if not is_child(column))


@lru_cache(maxsize=4096)
def _alike(heading: str, table: str) -> tuple[tuple[float, Column], ...]:
    """The columns of a table that a heading is like enough to, each with how alike, from 0 to 1."""
    scored = (
        (max(_likeness(heading, name) for name in names), column) for column, names in _named_columns(table)
    )
    return tuple((likeness, column) for likeness, column in scored if likeness)


def _likeness(heading: str, name: str) -> float:
    """How alike two texts are; 0 for all that are not alike enough, which of most is seen at once."""
    if heading == name:
        return 1.0
    matcher = _matcher(name)
    matcher.set_seq1(heading)
    if matcher.real_quick_ratio() < _ALIKE or matcher.quick_ratio() < _ALIKE:
        return 0.0
    ratio = matcher.ratio()
    return ratio if ratio >= _ALIKE else 0.0


@cache
def _matcher(name: str) -> difflib.SequenceMatcher[str]:
    """What compares texts with a name; it looks into the name once."""
    return difflib.SequenceMatcher(None, "", name)


def _names(column: Column, table: Table) -> frozenset[str]:
    names = {_plain(column.name), _plain(column.field.title)}
    for called in {column.name, column.path[-1]}:
        names |= {_plain(word) for word in _OTHER_WORDS.get(called, ())}
    if column.name == table.key or column.kind == "identifier":
        names |= {f"{_plain(column.name)} {_plain(word)}" for word in _OTHER_WORDS["id"]}
    return frozenset(names - {""})


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9#]+", " ", text[:200].casefold()).strip()


_UNITS: Final = frozenset(
    {"mg", "g", "kg", "oz", "lb", "lbs", "gram", "grams", "kilograms", "mm", "cm", "m", "km", "in", "ft",
     "h", "hours", "min", "minutes", "d", "days", "%", "percent", "ha", "ac", "acres", "c", "f", "°c", "°f"}
)  # fmt: skip


def part_unit(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit: `Weight (g)`, `Temp [°F]`, `wet g`, `Grams`."""
    text = heading[:200].strip()
    unit = re.search(r"[(\[]\s*([^()\[\]]{1,12})\s*[)\]]$", text)
    if unit:
        return _plain(text[: unit.start()]), unit[1].strip()
    if text.casefold() in {"g", "gram", "grams", "kg", "kilograms"}:
        return "weight", text.casefold()
    *rest, last = re.split(r"[\s,]+", text)
    if rest and last.casefold() in _UNITS:
        return _plain(" ".join(rest)), last.upper() if last.casefold() in {"c", "f"} else last
    return _plain(text), ""


def fits_unit(unit: str, column: Column) -> bool:
    """Whether a column's numbers can be in that unit."""
    kind = column.field.item.kind if column.field.item else column.kind
    try:
        parse_quantity(f"1 {unit}", kind)
    except (QuantityError, KeyError):
        return False
    return True
