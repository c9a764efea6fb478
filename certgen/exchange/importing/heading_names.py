"""What a column may be called: how alike a heading is to each field's names, and the unit that it bears."""

from __future__ import annotations

import difflib
import re
from functools import cache, lru_cache
from typing import Final

from certgen.exchange.importing.heading_words import OTHER_WORDS, TABLE_WORDS
from certgen.exchange.spreadsheets.rows import is_child
from certgen.records.quantities import QuantityError, parse_quantity
from certgen.records.tables import Column, Table, load_tables

#: A heading that is less like a field's name than this is not taken for it: slips of the pen only.
_ALIKE: Final = 0.84


def is_known_heading(text: str, table: str = "") -> bool:
    """Whether a text is what a heading of the table, or of any, is called."""
    bare, unit = part_unit(text)
    names = [table] if table else list(load_tables())
    whole = plain_words(text)
    return any(
        whole in known or (unit and bare in known)
        for name in names
        for _, known in named_columns(name)
    )  # fmt: skip


def list_candidates(heading: str, table: str) -> list[tuple[float, Column, str, str]]:
    """The columns that a heading may mean: how alike, the unit that it names, and why."""
    found = []
    bare, unit = part_unit(heading)
    for text, named in dict.fromkeys(((plain_words(heading), ""), (bare, unit))):
        for likeness, column in _alike(text, table):
            if named and not fits_unit(named, column):
                continue
            why = "named like it" if likeness == 1 else f"spelled almost like '{column.field.title}'"
            found.append((likeness, column, named, why))
    return found


@cache
def named_columns(table: str) -> tuple[tuple[Column, frozenset[str]], ...]:
    """The columns of a table, each with what a heading may call it."""
    declared = load_tables()[table]
    return tuple((column, _names(column, declared)) for column in declared.columns if not is_child(column))


@lru_cache(maxsize=4096)
def _alike(heading: str, table: str) -> tuple[tuple[float, Column], ...]:
    """The columns of a table that a heading is like enough to, each with how alike, from 0 to 1."""
    scored = (
        (max(_likeness(heading, name) for name in names), column) for column, names in named_columns(table)
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
    names = {plain_words(column.name), plain_words(column.field.title)}
    for called in {column.name, column.path[-1]}:
        names |= {plain_words(word) for word in OTHER_WORDS.get(called, ())}
    names |= {plain_words(word) for word in TABLE_WORDS.get(table.name, {}).get(column.name, ())}
    if column.name == table.key:
        names |= {plain_words(word) for word in OTHER_WORDS["id"]}
    if column.name == table.key or column.kind == "identifier":
        names |= {f"{plain_words(column.name)} {plain_words(word)}" for word in OTHER_WORDS["id"]}
    return frozenset(names - {""})


def plain_words(text: str) -> str:
    """A heading as it is compared: small letters and digits, everything else a blank."""
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
        return plain_words(text[: unit.start()]), unit[1].strip()
    if text.casefold() in {"g", "gram", "grams", "kg", "kilograms"}:
        return "weight", text.casefold()
    *rest, last = re.split(r"[\s,]+", text)
    if rest and last.casefold() in _UNITS:
        return plain_words(" ".join(rest)), last.upper() if last.casefold() in {"c", "f"} else last
    return plain_words(text), ""


def fits_unit(unit: str, column: Column) -> bool:
    """Whether a column's numbers can be in that unit."""
    kind = column.field.item.kind if column.field.item else column.kind
    try:
        parse_quantity(f"1 {unit}", kind)
    except (QuantityError, KeyError):
        return False
    return True
