from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from certgen.records.quantities import SUFFIXES
from certgen.records.record_files.validation import find_failing
from certgen.records.tables import load_tables

COVERS = ("certgen.records.record_files.validation",)
DTYPES = {
    "identifier": "str",
    "text": "str",
    "word": "str",
    "date": "datetime64[s]",
    "whole": "Int64",
    "number": "float64",
    "yes_no": "boolean",
    "list": "object",
    "mapping": "object",
    "evidence": "object",
}


@pytest.mark.parametrize("name", list(load_tables()))
def test_types_of_an_empty_table(name: str, read: Callable) -> None:
    """A table without records has the types of a full one, so that no rule meets a stranger."""
    frame = read({})[0].table(name)
    expected: list[tuple[str, str]] = []
    for column in load_tables()[name].columns:
        item = column.field.item
        expected.append((column.name, "str" if column.kind in SUFFIXES else DTYPES[column.kind]))
        if column.kind in SUFFIXES:
            expected.append((column.computed, "Int64" if column.kind == "mass" else "float64"))
        elif column.kind == "list" and item and item.kind in SUFFIXES:
            expected.append((f"{column.name}_{SUFFIXES[item.kind]}", "object"))
    assert [*expected, ("file", "category"), ("at", "int64")] == [
        (column, str(dtype)) for column, dtype in frame.dtypes.items()
    ]
    assert 0 == len(frame)


@pytest.mark.parametrize("name", list(load_tables()))
def test_a_full_table_has_the_types_of_an_empty_one(name: str, read: Callable) -> None:
    """The schema's own examples make a record of every field; its columns are typed as the empty table's."""
    table = load_tables()[name]
    full = {field.name: field.examples[0] for field in table.fields.values() if field.examples}
    bare = {key: full[key] for key in table.schema["required"]}
    # Of a test's fields, some are required by its kind.
    records = [full, full if find_failing(name, [bare]) else bare]
    text = json.dumps({name: records}, ensure_ascii=False)
    empty = read({})[0].table(name)
    season, errors = read(text)
    assert () == errors
    frame = season.table(name)
    assert empty.dtypes.drop("file").to_dict() == frame.dtypes.drop("file").to_dict()
    assert [0, 1] == frame["at"].tolist()
    assert ["records.yaml", "records.yaml"] == frame["file"].tolist()
    for column in table.columns:
        if column.kind in {"list", "evidence"}:
            assert all(isinstance(value, tuple) for value in frame[column.name])
        elif not column.required or len(column.path) > 1:
            continue
        else:
            assert not frame[column.name].isna().any()
