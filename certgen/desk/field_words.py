"""The fields that a rule's words name between backticks, called as the desk's forms call them."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Final

from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.records.tables import Column

_MARKED: Final = re.compile(r"`([^`\n]{1,60})`")


def label_column(column: Column) -> str:
    """What a form calls a column: its title, after what a nested one stands in unless the title says it."""
    label = column.field.title or column.name
    if len(column.path) < 2:
        return label
    owner = column.path[0].replace("_", " ")
    if owner in label.casefold():
        return label
    return f"{owner.capitalize()}: {label[:1].lower()}{label[1:]}"


def say_fields(text: str, table: str) -> str:
    """Words in which `allowed_by` is “Allowed by”: the field's label in that table, else in the first table
    that has it; a table's title; anything else as it stands.
    """
    return _MARKED.sub(lambda found: f"“{_name(found[1], table)}”", text)


def _name(marked: str, table: str) -> str:
    tables = load_tables()
    own = _label_fields(table) if table in tables else {}
    if marked in own:
        return own[marked]
    if marked in tables:
        return tables[marked].title
    first, _, rest = marked.partition(".")
    if rest and first in tables and rest in _label_fields(first):
        return _label_fields(first)[rest]
    return next((labels[marked] for labels in map(_label_fields, tables) if marked in labels), marked)


@cache
def _label_fields(table: str) -> Mapping[str, str]:
    return {column.name: label_column(column) for column in load_tables()[table].columns}
