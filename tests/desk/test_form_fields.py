"""Fields of the schemas as fields of a form, there and back."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.desk.form_fields import build_field, read_text, show_value, typed_rows
from certgen.exchange.importing.cells import CellError
from certgen.records.tables import load_tables

COVERS = ("certgen.desk.form_reading",)


def column(table, name):
    """A column of a table."""
    return load_tables()[table].column(name)


@pytest.mark.parametrize("table", load_tables())
def test_every_field_of_every_table_can_be_asked_for(table):
    """A new field needs no line here; what its schema shows as an example is read as it is shown."""
    for one in load_tables()[table].columns:
        example = one.field.examples[0] if one.field.examples else None
        made = build_field(one, {}, {}, {})
        assert made.label
        if isinstance(example, str) and one.kind != "date":
            assert example == show_value(read_text(one.field, example, "", {}))


@pytest.mark.parametrize(
    ("table", "name", "typed", "unit", "value"),
    [
        ("harvests", "weight", "412", "g", "412 g"),
        ("harvests", "weight", "4.5 kg", "g", "4.5 kg"),
        ("harvests", "bags", "B-1, B-2", "", ["B-1", "B-2"]),
        ("harvests", "bags", "B-1; B-2", "", ["B-1", "B-2"]),
        ("batches", "equipment", "no. 8 sieve, fine; pulper", "", ["no. 8 sieve, fine", "pulper"]),
        ("bagging", "covered", "2026-01-20", "", date(2026, 1, 20)),
        ("bagging", "secured", "yes", "", True),
        ("harvests", "fruits", "9", "", 9),
        ("bagging", "tree", " 01 ", "", "01"),
    ],
)
def test_what_is_typed_becomes_what_a_record_says(table, name, typed, unit, value):
    """A bare number takes the unit beside it; a comma parts a list until a semicolon does."""
    assert value == read_text(column(table, name).field, typed, unit, {})


@pytest.mark.parametrize(
    ("table", "name", "typed", "words"),
    [
        ("bagging", "covered", "3/4/2026", "two dates; write it as year-month-day"),
        ("bagging", "covered", "soon", "is no date"),
        ("bagging", "secured", "maybe", "yes or no"),
    ],
)
def test_what_can_not_be_meant_is_refused_with_the_way_out(table, name, typed, words):
    """In words that fit a form: no option of a command is named."""
    with pytest.raises(CellError, match=words) as fault:
        read_text(column(table, name).field, typed, "", {})

    assert "--" not in str(fault.value)


def test_the_rows_of_a_list_are_those_that_hold_something():
    """A unit alone is nothing; a row left out between two is no gap."""
    form = {"sources.0.batch": "X1", "sources.0.weight": "20", "sources.0.weight.unit": "g",
            "sources.1.batch": " ", "sources.1.weight.unit": "g", "sources.2.lot": "L1",
            "sourcesx.3.lot": "no"}  # fmt: skip

    rows = list(typed_rows(form, "sources"))

    assert [0, 2] == [number for number, _ in rows]
    assert "X1" == rows[0][1]["batch"]


def test_a_form_shows_a_list_with_room_for_more():
    """What is there, and a row to fill in."""
    made = build_field(column("lots", "sources"), {}, {"sources": ({"batch": "X1", "weight": "20 g"},)}, {})

    assert ("entries", 2) == (made.asks, len(made.rows))
    assert "{batch: X1, weight: 20 g}" == made.was
