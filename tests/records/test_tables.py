from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

import pytest

from certgen.records import tables
from certgen.records.quantities import SUFFIXES
from certgen.records.tables import EVIDENCE, TABLE_NAMES, Field, load_form, load_season_table, load_tables
from certgen.resources import schemas_dir

KINDS = {
    "identifier",
    "text",
    "word",
    "date",
    "whole",
    "number",
    "yes_no",
    "evidence",
    "mapping",
    "list",
    *SUFFIXES,
}


def test_every_schema_is_a_table() -> None:
    """A schema file and a table's name, one to one, in the order that a whole file's schema gives."""
    assert [] == [name for name in TABLE_NAMES if not (schemas_dir() / f"{name}.json").is_file()]
    whole = json.loads((schemas_dir() / "records.json").read_text("utf-8"))
    assert list(whole["properties"]) == ["season", *TABLE_NAMES]
    assert tables.TABLES is load_tables()


@pytest.mark.parametrize("name", TABLE_NAMES)
def test_columns_are_the_schemas_fields_in_order(name: str) -> None:
    """Columns follow the schema, nested mappings flattened with dots; reading knows every kind."""
    table = load_tables()[name]
    assert list(table.fields) == list(dict.fromkeys(column.path[0] for column in table.columns))
    assert {column.kind for column in table.columns} <= KINDS
    assert {"note", "recorded_by", "evidence"} <= set(table.fields)
    for column in table.columns:
        assert ".".join(column.path) == column.name
        assert table.column(column.name) is column


def test_what_a_column_knows() -> None:
    """References, words, converted columns and dates are read off the schema."""
    bagging, lots = load_tables()["bagging"], load_tables()["lots"]
    assert ("bag", "bagging") == (bagging.key, bagging.name)
    assert ("trees",) == bagging.column("tree").refers_to
    assert ("trees",) == load_tables()["screening"].column("trees").refers_to
    assert "flower_stages" == bagging.column("stage").field.words
    assert ("new", "re-used") == bagging.column("bag_use").field.enum
    assert ("weight_mg", "") == (lots.column("weight").computed, lots.column("lot").computed)
    assert bagging.column("tag.date").field.dated
    assert load_tables()["blocks"].column("last_prohibited_substance").field.dated
    assert not bagging.column("bag").field.dated
    assert bagging.column("tree").required
    assert not bagging.column("covered").required
    with pytest.raises(KeyError):
        bagging.column("colour")


def fields_within(fields: Mapping[str, Field]) -> Iterator[Field]:
    """Every field, and those within it."""
    for field in fields.values():
        yield field
        yield from fields_within(field.fields)
        if field.item is not None:
            yield field.item
            yield from fields_within(field.item.fields)


@pytest.mark.parametrize("table", [*TABLE_NAMES, "season"])
def test_every_field_says_what_it_can_do_to_the_claim(table: str) -> None:
    """Nested ones too; a list's elements can do what the list can."""
    chosen = load_season_table() if table == "season" else load_tables()[table]

    assert set(EVIDENCE) >= {field.evidence for field in fields_within(chosen.fields)}
    assert {""} == {field.evidence for field in fields_within(load_form("coop").fields)}


def test_what_some_fields_can_do_to_the_claim() -> None:
    """A removed tree and other seed only hurt, a routine only helps, a note does nothing."""
    tables = load_tables()

    assert "against" == tables["trees"].column("removed").field.evidence
    assert "against" == tables["batches"].column("other_seed").field.evidence
    assert "either" == tables["bagging"].column("stage").field.evidence
    assert "supports" == load_season_table().fields["routine"].evidence
    looks = tables["bagging"].fields["checks"].item
    assert looks is not None
    assert "either" == looks.fields["condition"].evidence
    assert {"describes"} == {table.column("note").field.evidence for table in tables.values()}


def test_references_name_tables() -> None:
    """No field points at a table that isn't there."""
    for table in load_tables().values():
        for column in table.columns:
            assert set(column.refers_to) <= set(TABLE_NAMES)


def test_the_season_table() -> None:
    """The season's own mapping is declared like a table, with mappings whose names are the grower's."""
    season = load_season_table()
    assert "" == season.key
    triggers = season.fields["review_triggers"]
    assert (0, "percent") == (len(triggers.fields), triggers.item.kind)
    assert {"low", "high", "reason"} <= set(season.fields["practice"].item.fields)
