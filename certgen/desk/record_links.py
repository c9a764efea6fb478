"""Where a record leads: what names it (a tree's bags and samples), and what is entered next about it."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.desk.answering import address
from certgen.desk.entry_kinds import KINDS
from certgen.exchange.spreadsheets.rows import is_child
from certgen.records.nouns import noun
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.records import Season
    from certgen.records.tables import Column


#: What is entered next about a record of a table: the kind, and the field there that takes its number.
_NEXT: Final[Mapping[str, tuple[tuple[str, str], ...]]] = MappingProxyType(
    {
        "trees": (("bag-on", "tree"), ("sampled", "tree")),
        "screening": (("results", "samples"),),
        "bagging": (("check", "bags"), ("bag-off", "bags"), ("picked", "bags")),
        "harvests": (("run", "harvests"),),
        "lots": (("sold", "lot"), ("counted", "lot")),
    }
)
#: New records of another table that name this one, and the field that does.
_BEGINS: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {"blocks": ("plantings", "block"), "plantings": ("trees", "planting"), "lots": ("tests", "lot")}
)


def list_next(table: str, name: str) -> list[tuple[str, str]]:
    """What may be entered next about a record: the words to press, and the address."""
    found = [("Standing, line, balance", address("lots", name))] if table == "lots" else []
    found += [
        (KINDS[slug].title, address("enter", slug, **{field: name})) for slug, field in _NEXT.get(table, ())
    ]
    if table in _BEGINS:
        other, field = _BEGINS[table]
        found.append((f"New {noun(other)}", address("tables", other, "new", **{field: name})))
    if "evidence" in load_tables()[table].fields:
        found.append(("Add a paper", address("papers", table=table, records=name)))
    return found


def list_naming(season: Season, table: str, name: str) -> dict[str, list[str]]:
    """By table the numbers of the season's records that name this one, in the order of the files."""
    found: dict[str, list[str]] = {}
    for other in load_tables().values():
        if not other.key:
            continue
        rows = sorted(
            {row for column in other.columns for row in _rows_naming(season, other.name, column, table, name)}
        )
        if rows:
            keys = plain_values(season.tables[other.name][other.key])
            found[other.name] = [str(keys[row]) for row in rows]
    return found


def _rows_naming(season: Season, owner: str, column: Column, table: str, name: str) -> Iterator[int]:
    values = plain_values(season.tables[owner][column.name])
    if is_child(column):
        fields = column.field.item.fields if column.field.item else {}
        inside = [key for key, one in fields.items() if table in one.refers_to]
        named: list[Collection[Any]] = (
            [_named_inside(entries, inside) for entries in values] if inside else []
        )
    elif table in column.refers_to:
        named = [value if isinstance(value, tuple) else (value,) for value in values]
    else:
        return
    yield from (row for row, names in enumerate(named) if name in names)


def _named_inside(entries: Iterable[Mapping[str, Any]] | None, inside: Sequence[str]) -> set[Any]:
    return {entry.get(key) for entry in entries or () for key in inside}
