"""Column maps as files: written for a person to look over, and read again.

What a map may say is told at `SheetMap` and `Target`. A file is bounded: in size, in depth, and it refers to
nothing twice.
"""

from __future__ import annotations

import datetime as dt
import difflib
import errno
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.editing.yaml_text import quote
from certgen.exchange.importing.column_maps import (
    IGNORED,
    OPEN,
    MapError,
    SheetMap,
    Target,
    find_field,
    known_fields,
)
from certgen.exchange.importing.map_bounds import hold_keys_once, hold_shape, hold_words
from certgen.records.tables import Table, load_tables
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

Remarks = Mapping[tuple[str, str], str]

_MAP_BYTES: Final = 1_000_000
_DIGITS: Final = 12
_PARTS: Final = 20
_REMARK: Final = 200
_HEAD: Final = (
    "Which column of the sheet is which field of the records.",
    "Look it over, mend it, and import with --map.",
    "A column that is not to be taken over says: ignore",
    'What says "?" wants an answer.',
    "Instead of a field's name a column may say more, in braces or on lines of its own:",
    "  field: sex, words: {herm: hermaphrodite, '-': ignore}    unit: g    digits: 2 (7 is 07)",
    "  drop_prefix: 'tree '    add_prefix: T    ranges: yes (1-18 is each of them)",
    "  down: yes (an empty cell means the one above)    join: ', ' (several columns, one text)",
    "  cut: ' / ', fields: [bag, tag.date]    field: sources.1.batch (the first of a lot's sources)",
    "  field: sources, entries: ';', cut: ' ', fields: [batch, weight] (R1 20 g; R2 30 g)",
    "A sheet may say: constants (what holds for every row; {Heading} puts in its cell), repeats: yes",
    "(several rows tell of one record), where: HEADING (rows without it say nothing), decimal: comma (3,5",
    "is three and a half; or thousands: 1,250), and also: a list of further tables that its rows fill.",
)


def map_text(maps: Sequence[SheetMap], remarks: Remarks | None = None) -> str:
    """A map as YAML for a person to look over and `--map` to read.

    `remarks` stand behind their line, by sheet and heading (or field, or the sheet's word behind a slash).
    """
    lines = [*(f"# {line}" for line in _HEAD), "sheets:"]
    for sheet_map in maps:
        lines += sheet_lines(sheet_map, remarks or {})
    return "\n".join(lines) + "\n"


def sheet_lines(sheet_map: SheetMap, remarks: Remarks) -> list[str]:
    """The lines of one sheet in a map."""
    lines = [f"  {quote(sheet_map.sheet)}:"]
    said = {name: text for (sheet, name), text in remarks.items() if sheet == sheet_map.sheet}
    lines += _part_lines(replace(sheet_map, also=()), 4, said)
    if sheet_map.also:
        lines.append("    also:")
    for part in sheet_map.also:
        taken = {heading: target for heading, target in part.columns.items() if target is not None}
        first, *rest = _part_lines(replace(part, columns=taken), 8, said)
        lines += [f"      - {first.strip()}", *rest]
    return lines


def _part_lines(part: SheetMap, indent: int, said: Mapping[str, str]) -> list[str]:
    space = " " * indent
    lines = [f"{space}table: {write_word(part.table)}{_remark(said, '')}"]
    if part.child:
        lines.append(f"{space}list: {part.child}")
    order = "# dates: dmy   (or mdy; only needed when both would fit)"
    lines.append(
        f"{space}dates: {write_word(part.dates)}{_remark(said, 'dates')}" if part.dates else space + order
    )
    if part.decimal:
        lines.append(f"{space}decimal: {write_word(part.decimal)}{_remark(said, 'decimal')}")
    if part.where:
        lines.append(f"{space}where: {quote(part.where)}")
    if part.repeats:
        lines.append(f"{space}repeats: yes")
    if part.constants:
        lines.append(f"{space}constants:")
        lines += [
            f"{space}  {name}: {write_word(value)}{_remark(said, name)}"
            for name, value in part.constants.items()
        ]
    lines.append(f"{space}columns:")
    for heading, target in part.columns.items():
        lines += column_lines(heading, target, indent + 2, said)
    return lines


def column_lines(heading: str, target: Target | None, indent: int, said: Mapping[str, str]) -> Iterator[str]:
    """What a map says of one column, a line at a time."""
    start, remark = f"{' ' * indent}{quote(heading)}:", _remark(said, heading)
    if target is None:
        yield f"{start} {IGNORED}{remark}"
        return
    settings = _settings(target)
    if not settings and not target.words:
        yield f"{start} {write_word(target.field)}{remark}"
        return
    if not target.words:
        yield f"{start} {{{', '.join([f'field: {write_word(target.field)}', *settings])}}}{remark}"
        return
    yield f"{start}{remark}"
    space = " " * (indent + 2)
    yield from (f"{space}{line}" for line in [f"field: {write_word(target.field)}", *settings, "words:"])
    for typed, word in target.words.items():
        yield f"{space}  {quote(typed)}: {write_word(word)}{_remark(said, f'{heading}/{typed}')}"


def _settings(target: Target) -> list[str]:
    texts = ("unit", "drop_prefix", "add_prefix", "join", "cut", "entries")
    lines = [f"{name}: {quote(getattr(target, name))}" for name in texts if getattr(target, name)]
    lines += [f"digits: {target.digits}"] if target.digits else []
    lines += [f"{name}: yes" for name in ("ranges", "down") if getattr(target, name)]
    return lines + ([f"fields: [{', '.join(target.fields)}]"] if target.fields else [])


def write_word(text: str) -> str:
    """A word as YAML takes it for text: bare where that is safe, else in quotes."""
    plain = text.replace("_", "").replace(".", "")
    bare = plain.isascii() and plain.isalpha() and plain.casefold() not in _SPOKEN
    return text if bare else quote(text)


#: What YAML takes for something else than a word.
_SPOKEN: Final = frozenset({"yes", "no", "y", "n", "on", "off", "true", "false", "null"})


def _remark(said: Mapping[str, str], name: str) -> str:
    text = " ".join("".join(sign if sign.isprintable() else " " for sign in said.get(name, "")).split())
    return f"  # {text[:_REMARK]}" if text else ""


def read_map(path: Path) -> dict[str, SheetMap]:
    """A saved map by sheet name. Raises `MapError`."""
    try:
        text = read_ordinary(path, _MAP_BYTES).decode()
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise MapError(f"{path.name}: too large to be a column map") from fault
        raise MapError(f"{path}: cannot be read ({fault.strerror})") from fault
    except ValueError as fault:
        raise MapError(f"{path.name}: its letters are not UTF-8; save it so") from fault
    return parse_map(path.name, text)


def parse_map(name: str, text: str) -> dict[str, SheetMap]:
    """The map in a text, by sheet name; `name` is the file's. Raises `MapError`."""
    import yaml

    try:
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        hold_shape(name, yaml.scan(text, loader))
        hold_keys_once(name, yaml.compose(text, loader))
        content = yaml.load(text, loader)  # noqa: S506 (both loaders are safe ones)
    except MapError:
        raise
    # Days that no calendar has are ValueErrors, brackets without end RecursionErrors.
    except (ValueError, RecursionError, yaml.YAMLError) as fault:
        where = getattr(fault, "problem_mark", None)
        line = f"line {where.line + 1}: " if where is not None else ""
        raise MapError(f"{name}: {line}this is no column map that can be read") from fault
    sheets = content.get("sheets") if isinstance(content, dict) else None
    if not isinstance(sheets, dict) or not sheets:
        raise MapError(f"{name}: has no `sheets:`; begin from the guess that import shows")
    return {str(sheet): _read_sheet_map(name, str(sheet), part) for sheet, part in sheets.items()}


def _read_sheet_map(file: str, name: str, part: Any) -> SheetMap:  # parsed YAML
    where = f"{file}: sheet '{name[:60]}'"
    first = _read_part(where, name, part)
    further = part.get("also") or []
    if not isinstance(further, list) or len(further) > _PARTS:
        raise MapError(f"{where}: `also` is a list of at most {_PARTS} further tables")
    return replace(first, also=tuple(_read_further(f"{where}, `also`", name, one) for one in further))


def _read_further(where: str, name: str, part: Any) -> SheetMap:  # parsed YAML
    found = _read_part(where, name, part)
    if part.get("also") or found.table not in load_tables():
        raise MapError(f"{where}: each entry names a table of its own, and none inside it")
    return found


_KEYS: Final = frozenset(
    {"table", "list", "dates", "constants", "where", "repeats", "decimal", "columns", "also"}
)


def _read_part(where: str, name: str, part: Any) -> SheetMap:  # parsed YAML
    if not isinstance(part, dict) or not isinstance(part.get("columns"), dict):
        raise MapError(f"{where}: needs `table:` and `columns:`")
    _hold_keys(where, part)
    dates = str(part.get("dates") or "")
    if dates not in {"", "dmy", "mdy", OPEN}:
        raise MapError(f"{where}: `dates` is '{dates[:40]}'; write dmy or mdy")
    decimal = str(part.get("decimal") or "")
    if decimal not in {"", "comma", "thousands", OPEN}:
        raise MapError(f"{where}: `decimal` is '{decimal[:40]}'; write comma (3,5) or thousands (1,250)")
    result = SheetMap(
        name,
        str(part.get("table")),
        _read_columns(where, part["columns"]),
        str(part.get("list") or ""),
        dates,
        _read_words(f"{where}, `constants`", part.get("constants")),
        str(part.get("where") or ""),
        part.get("repeats") is True,
        decimal,
    )
    table = load_tables().get(result.table)
    if table is not None:
        _check_fields(where, result, table)
    elif result.table not in {OPEN, IGNORED}:
        names = ", ".join(load_tables())
        raise MapError(f"{where}: there is no table '{result.table[:40]}'; the tables are: {names}")
    return result


def _hold_keys(where: str, part: Mapping[Any, Any]) -> None:  # parsed YAML
    """Refuses a setting that no map has, which would be passed over in silence, and headings no sheet has."""
    if any(isinstance(heading, bool) for heading in part["columns"]):
        raise MapError(f'{where}: YAML takes a heading such as No for an answer; put it in quotes: "No"')
    unknown = sorted(str(key) for key in part if key not in _KEYS)
    if unknown:
        close = difflib.get_close_matches(unknown[0][:40], sorted(_KEYS), 1)
        hint = f"did you mean `{close[0]}`?" if close else f"there are {', '.join(sorted(_KEYS))}"
        raise MapError(f"{where}: `{unknown[0][:40]}` is nothing that a map says; {hint}")


def _read_columns(where: str, part: Mapping[Any, Any]) -> dict[str, Target | None]:  # parsed YAML
    columns = {str(heading): _read_target(where, str(heading), target) for heading, target in part.items()}
    fields = Counter(
        (name, target.join)
        for target in columns.values()
        if target is not None and target.field != OPEN
        for name in target.names
    )
    for (name, join), number in fields.items():
        alone = (number == 1 or join) and not any(other == name and sign != join for other, sign in fields)
        if not alone:
            raise MapError(
                f"{where}: two columns are mapped to `{name[:60]}`; to put them together give each the same "
                "`join`"
            )
    return columns


_TEXTS: Final = ("unit", "drop_prefix", "add_prefix", "join", "cut", "entries")
_TARGET_KEYS: Final = frozenset({"field", "words", "digits", "ranges", "down", "fields", *_TEXTS})


def _read_target(where: str, heading: str, target: Any) -> Target | None:  # parsed YAML
    if target is None or target == IGNORED:
        return None
    if isinstance(target, str):
        return Target(target)
    wrong = f"{where}: '{heading[:60]}'"
    if isinstance(target, dict) and set(target) <= _TARGET_KEYS:
        return _read_settings(wrong, target)
    raise MapError(f"{wrong} is mapped to something that is no field; write a field's name, or ignore")


def _read_settings(wrong: str, target: Mapping[str, Any]) -> Target:  # parsed YAML
    fields = _read_pieces(wrong, target)
    named = target.get("field") or ("" if target.get("entries") else next(iter(fields), ""))
    if not isinstance(named, str) or not named:
        raise MapError(f"{wrong} is mapped to something that is no field; name its `field`")
    digits = target.get("digits") or 0
    if isinstance(digits, bool) or not isinstance(digits, int) or not 0 <= digits <= _DIGITS:
        raise MapError(f"{wrong}: `digits` is a whole number up to {_DIGITS}")
    return Target(
        named,
        **{name: _text(target.get(name)) for name in _TEXTS},
        words=_read_words(f"{wrong}, `words`", target.get("words")),
        digits=digits,
        ranges=target.get("ranges") is True,
        down=target.get("down") is True,
        fields=fields,
    )


def _read_pieces(wrong: str, target: Mapping[Any, Any]) -> tuple[str, ...]:  # parsed YAML
    """The fields that a cell is cut into."""
    fields = target.get("fields") or []
    if not isinstance(fields, list) or len(fields) > _PARTS:
        raise MapError(f"{wrong}: `fields` is a list of at most {_PARTS} fields")
    if bool(fields) != bool(target.get("cut")):
        raise MapError(f"{wrong}: `cut` and `fields` go together: where to cut, and what the pieces are")
    if target.get("entries") and not fields:
        raise MapError(f"{wrong}: `entries` needs `cut` and `fields`: what an entry consists of")
    return tuple(map(str, fields))


def _read_words(where: str, part: Any) -> dict[str, str]:  # parsed YAML
    if part is None:
        return {}
    if not isinstance(part, dict):
        raise MapError(f"{where}: write what is in the sheet, a colon, and the word that is meant")
    for value in part.values():
        if isinstance(value, dict | list):
            raise MapError(f"{where}: a word stands here, no list")
    words = {_text(typed): _text(word) for typed, word in part.items()}
    hold_words(where, words)
    return words


def _text(value: Any) -> str:  # parsed YAML
    """A scalar as it is typed in a sheet."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _check_fields(where: str, sheet_map: SheetMap, table: Table) -> None:
    try:
        known = list(known_fields(table, sheet_map.child))
    except KeyError:
        raise MapError(f"{where}: `{sheet_map.child}` is no list of records inside `{table.name}`") from None
    named = [name for target in sheet_map.columns.values() if target for name in target.names]
    for name in (*named, *sheet_map.constants):
        if name != OPEN and find_field(table, sheet_map.child, name) is None:
            close = difflib.get_close_matches(name, known, 1)
            hint = f"did you mean `{close[0]}`?" if close else f"the fields are: {', '.join(known)}"
            raise MapError(f"{where}: `{table.name}` has no field `{name[:60]}`; {hint}")
    if sheet_map.where and sheet_map.where not in sheet_map.columns:
        raise MapError(
            f"{where}: `where` names '{sheet_map.where[:60]}', which is none of its columns; add it, "
            "or: ignore"
        )
