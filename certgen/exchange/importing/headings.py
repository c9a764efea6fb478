"""Which column of somebody's sheet is which field of the records.

Headings of our own workbook are known. Anybody else's are guessed, the guess is shown, and only a map that
the grower has looked over is used: a guess that puts weights into the wrong column would pass every other
check.
"""

from __future__ import annotations

import difflib
import errno
import re
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from certgen.exchange.editing.yaml_text import quote
from certgen.exchange.spreadsheets.rows import child_fields, is_child
from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.tables import Column, Table, load_tables
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from certgen.exchange.importing.grids import Sheet

#: Words in growers' headings (common practice) that no field's own name or title holds.
_OTHER_WORDS: Mapping[str, Sequence[str]] = {
    "id": ("no", "no.", "nr", "number", "#", "id", "code"),
    "note": ("remarks", "remark", "comment", "comments", "notes"),
    "recorded_by": ("initials", "by", "entered by", "who"),
    "covered": ("date bagged", "bagged", "bagged on", "date covered", "bagging date"),
    "collected": ("sampled", "date sampled", "sample date"),
    "packed": ("pack date", "date packed"),
    "fruits": ("fruit count", "number of fruit", "fruit"),
    "party": ("buyer", "customer", "sold to"),
    "document": ("invoice", "invoice no", "invoice number"),
    "weight": ("net weight", "mass"),
    "report": ("report no", "report number", "lab number"),
    "laboratory": ("lab",),
}


#: A heading that is less like a field's name than this is not taken for it.
_ALIKE = 0.72
#: A map is three deep.
_DEEPEST = 20
_MAP_BYTES = 1_000_000


class MapError(ValueError):
    """A column map that cannot be used; the message says what to mend."""


@dataclass(frozen=True, slots=True)
class Target:
    """What a column is: a field of the table by its dotted name, and the unit its numbers are in."""

    field: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class SheetMap:
    """One sheet's part of a map: its table, `child` when it holds a list inside records (`bagging.checks`),
    the meaning of each heading (None: not taken over), and how its dates are written."""

    sheet: str
    table: str
    columns: Mapping[str, Target | None] = field(default_factory=dict)
    child: str = ""
    dates: str = ""


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


def guess_map(sheet: Sheet, table: str | None = None) -> SheetMap:
    """The likeliest map of a sheet with headings of its own. Raises `MapError` when no table fits."""
    headings = [str(cell.value).strip() for cell in sheet.headings.values()]
    if len(set(headings)) < len(headings):
        twice = next(heading for heading in headings if headings.count(heading) > 1)
        raise MapError(
            f"sheet '{sheet.name}': the heading '{twice}' stands twice; name each column differently"
        )
    names = [table] if table else list(load_tables())
    guesses = [_guess_for(sheet.name, load_tables()[name], headings) for name in names]
    best = max(guesses, key=lambda guess: (_score(guess, sheet.name), -names.index(guess.table)))
    if not any(best.columns.values()):
        raise MapError(f"sheet '{sheet.name}': no table fits its headings; name one with --table")
    return best


def _score(guess: SheetMap, sheet: str) -> float:
    table = load_tables()[guess.table]
    fields = {target.field for target in guess.columns.values() if target}
    needed = {column.name for column in table.columns if column.required}
    alike = difflib.SequenceMatcher(None, _plain(sheet), _plain(f"{table.name}")).ratio()
    return len(fields) / max(len(guess.columns), 1) + len(fields & needed) / max(len(needed), 1) + alike


def _guess_for(sheet: str, table: Table, headings: Sequence[str]) -> SheetMap:
    scored = []
    for heading in headings:
        bare, unit = _part_unit(heading)
        scored += [(likeness, heading, column, unit) for likeness, column in _alike(bare, table.name)]
    scored.sort(key=lambda entry: (-entry[0], headings.index(entry[1])))
    chosen: dict[str, Target | None] = dict.fromkeys(headings)
    taken: set[str] = set()
    for _, heading, column, unit in scored:
        if chosen[heading] is None and column.name not in taken:
            chosen[heading] = Target(column.name, unit if _fits(unit, column) else "")
            taken.add(column.name)
    return SheetMap(sheet, table.name, chosen)


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
    matcher = _matcher(name)
    matcher.set_seq1(heading)
    if matcher.real_quick_ratio() < _ALIKE or matcher.quick_ratio() < _ALIKE:
        return 0.0
    return matcher.ratio()


@cache
def _matcher(name: str) -> difflib.SequenceMatcher[str]:
    """What compares texts with a name; it looks into the name once."""
    return difflib.SequenceMatcher(None, "", name)


def _names(column: Column, table: Table) -> frozenset[str]:
    names = {_plain(column.name), _plain(column.field.title)}
    names |= {_plain(word) for word in _OTHER_WORDS.get(column.path[-1], ())}
    if column.name == table.key:
        names |= {f"{_plain(column.name)} {word}" for word in _OTHER_WORDS["id"]}
    return frozenset(names - {""})


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9#]+", " ", text.casefold()).strip()


def _part_unit(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit: `Weight (g)`, `Temp [°F]`."""
    unit = re.search(r"[(\[]\s*([^()\[\]]{1,6})\s*[)\]]\s*$", heading)
    return (_plain(heading[: unit.start()]), unit[1]) if unit else (_plain(heading), "")


def _fits(unit: str, column: Column) -> bool:
    kind = column.field.item.kind if column.field.item else column.kind
    try:
        parse_quantity(f"1 {unit}", kind)
    except (QuantityError, KeyError):
        return False
    return True


def map_text(maps: Sequence[SheetMap]) -> str:
    """A map as YAML for a person to look over and `--map` to read."""
    lines = [
        "# Which column of the sheet is which field of the records.",
        "# Look it over, mend it, and import with --map.",
        "# A column that is not to be taken over says: ignore",
        "sheets:",
    ]
    for sheet_map in maps:
        lines += [f"  {quote(sheet_map.sheet)}:", f"    table: {sheet_map.table}"]
        if sheet_map.child:
            lines.append(f"    list: {sheet_map.child}")
        lines += (
            [f"    dates: {sheet_map.dates}"]
            if sheet_map.dates
            else ["    # dates: dmy   (or mdy; only needed when both would fit)"]
        )
        lines.append("    columns:")
        for heading, target in sheet_map.columns.items():
            if target is None:
                lines.append(f"      {quote(heading)}: ignore")
            elif target.unit:
                lines.append(f"      {quote(heading)}: {{field: {target.field}, unit: {quote(target.unit)}}}")
            else:
                lines.append(f"      {quote(heading)}: {target.field}")
    return "\n".join(lines) + "\n"


def read_map(path: Path) -> dict[str, SheetMap]:
    """A saved map by sheet name. Raises `MapError`."""
    import yaml

    try:
        text = read_ordinary(path, _MAP_BYTES).decode()
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        _hold_shape(path, yaml.scan(text, loader))
        content = yaml.load(text, loader)  # noqa: S506 (both loaders are safe ones)
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise MapError(f"{path.name}: too large to be a column map") from fault
        raise MapError(f"{path}: cannot be read ({fault.strerror})") from fault
    except MapError:
        raise
    # Days that no calendar has are ValueErrors, brackets without end RecursionErrors.
    except (ValueError, RecursionError, yaml.YAMLError) as fault:
        where = getattr(fault, "problem_mark", None)
        line = f"line {where.line + 1}: " if where is not None else ""
        raise MapError(f"{path.name}: {line}this is no column map that can be read") from fault
    sheets = content.get("sheets") if isinstance(content, dict) else None
    if not isinstance(sheets, dict) or not sheets:
        raise MapError(f"{path.name}: has no `sheets:`; begin from the guess that import shows")
    return {str(name): _read_sheet_map(path, str(name), part) for name, part in sheets.items()}


def _hold_shape(path: Path, tokens: Iterable[Any]) -> None:  # PyYAML's tokens
    """Refuse what stands for more than it says: references to references, brackets without end."""
    import yaml

    deep = 0
    opening = (yaml.BlockMappingStartToken, yaml.BlockSequenceStartToken, yaml.FlowMappingStartToken,
               yaml.FlowSequenceStartToken)  # fmt: skip
    closing = (yaml.BlockEndToken, yaml.FlowMappingEndToken, yaml.FlowSequenceEndToken)
    for token in tokens:
        deep += isinstance(token, opening) - isinstance(token, closing)
        if deep > _DEEPEST:
            raise MapError(f"{path.name}: its lists lie deeper in one another than a column map's do")
        if isinstance(token, yaml.AliasToken):
            raise MapError(f"{path.name}: refers to another place with `*`; write out what is meant")


def _read_sheet_map(path: Path, name: str, part: Any) -> SheetMap:  # parsed YAML
    where = f"{path.name}: sheet '{name}'"
    if not isinstance(part, dict) or not isinstance(part.get("columns"), dict):
        raise MapError(f"{where}: needs `table:` and `columns:`")
    table = load_tables().get(str(part.get("table")))
    if table is None:
        raise MapError(
            f"{where}: there is no table '{part.get('table')}'; the tables are: {', '.join(load_tables())}"
        )
    child, dates = str(part.get("list") or ""), str(part.get("dates") or "")
    if dates not in {"", "dmy", "mdy"}:
        raise MapError(f"{where}: `dates` is '{dates}'; write dmy or mdy")
    result = SheetMap(name, table.name, _read_columns(where, part["columns"]), child, dates)
    _check_fields(where, result, table)
    return result


def _read_columns(where: str, part: Mapping[Any, Any]) -> dict[str, Target | None]:  # parsed YAML
    columns = {str(heading): _read_target(where, str(heading), target) for heading, target in part.items()}
    fields = Counter(target.field for target in columns.values() if target)
    if twice := [name for name, count in fields.items() if count > 1]:
        raise MapError(f"{where}: two columns are mapped to `{min(twice)}`")
    return columns


def _read_target(where: str, heading: str, target: Any) -> Target | None:  # parsed YAML
    if target is None or target == "ignore":
        return None
    if isinstance(target, str):
        return Target(target)
    if isinstance(target, dict) and isinstance(target.get("field"), str) and set(target) <= {"field", "unit"}:
        return Target(target["field"], str(target.get("unit") or ""))
    raise MapError(
        f"{where}: '{heading}' is mapped to something that is no field; write a field's name, or ignore"
    )


def _check_fields(where: str, sheet_map: SheetMap, table: Table) -> None:
    try:
        known = (
            list(child_fields(table, sheet_map.child))
            if sheet_map.child
            else [column.name for column in table.columns if not is_child(column)]
        )
    except KeyError:
        raise MapError(f"{where}: `{sheet_map.child}` is no list of records inside `{table.name}`") from None
    for target in sheet_map.columns.values():
        if target and target.field not in known:
            close = difflib.get_close_matches(target.field, known, 1)
            hint = f"did you mean `{close[0]}`?" if close else f"the fields are: {', '.join(known)}"
            raise MapError(f"{where}: `{table.name}` has no field `{target.field}`; {hint}")


def with_dates(sheet_map: SheetMap, dates: str) -> SheetMap:
    """The map with another order of dates, when one is given."""
    return replace(sheet_map, dates=dates) if dates else sheet_map
