"""A cell becomes what a record writes, by the kind of its field."""

from __future__ import annotations

import datetime as dt

import pytest

from certgen.exchange.importing.cells import CellError, read_cell
from certgen.exchange.importing.grids import Cell
from certgen.records.tables import Field


def field(kind: str, **more: object) -> Field:
    """A field of a kind."""
    return Field("x", kind, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "kind", "expected"),
    [
        ("010", "identifier", "010"),
        (" 010 ", "identifier", "010"),
        (10, "identifier", "10"),
        (10.0, "text", "10"),
        (0.5, "text", "0.5"),
        (dt.time(12, 30), "text", "12:30"),
        (dt.datetime.fromisoformat("2026-04-03"), "date", dt.date(2026, 4, 3)),
        ("2026-04-03", "date", dt.date(2026, 4, 3)),
        (3, "whole", 3),
        ("3", "whole", 3),
        ("96.50", "number", 96.5),
        ("many", "whole", "many"),
        ("Yes", "yes_no", True),
        (False, "yes_no", False),
        ("2.10 kg", "mass", "2.10 kg"),
        (8.5, "percent", "8.5 %"),
    ],
)
def test_values_by_kind(value: object, kind: str, expected: object) -> None:
    """Text stays as typed, numbers lose a fraction of nothing, dates become dates."""
    assert expected == read_cell(Cell(value, "A2"), field(kind), None)  # type: ignore[arg-type]


def test_units_come_from_the_heading_or_the_format() -> None:
    """A bare number takes the heading's unit; a cell shown as a percentage is one."""
    assert ("412 g", "412.5 g", "412 g") == tuple(
        read_cell(Cell(value, "A2"), field("mass"), None, "g") for value in (412, 412.5, "412")
    )
    assert "8.5 %" == read_cell(Cell(0.085, "A2", percent=True), field("percent"), None)
    assert "2 kg" == read_cell(Cell("2 kg", "A2"), field("mass"), None, "g")


def test_words_are_known_in_any_case() -> None:
    """`Closed  Bud` is the word `closed bud`; another word is left for the reader to object to."""
    words = ("closed bud", "open")

    assert ("closed bud", "bud") == tuple(
        read_cell(Cell(value, "A2"), field("word"), None, words=words) for value in ("Closed  Bud", "bud")
    )


@pytest.mark.parametrize(
    ("cell", "kind", "said"),
    [
        (Cell("=1", "A2", formula=True), "text", "formula"),
        (Cell(412, "A2"), "mass", "without a unit"),
        (Cell(46000, "A2"), "date", "where a date belongs"),
        (Cell(dt.datetime.fromisoformat("2026-04-03T08:15"), "A2"), "date", "time of day"),
        (Cell("perhaps", "A2"), "yes_no", "yes or no"),
    ],
)
def test_what_does_not_fit_says_so(cell: Cell, kind: str, said: str) -> None:
    """Each refusal says what to write."""
    with pytest.raises(CellError, match=said):
        read_cell(cell, field(kind), None)


def test_commas_are_read_as_the_map_says() -> None:
    """Decimals or thousands; a point among decimal commas is refused, as it may part thousands."""
    weight = field("mass")

    assert "3.5 g" == read_cell(Cell("3,5", "A1"), weight, None, "g", decimal="comma")
    assert "1250 g" == read_cell(Cell("1,250", "A1"), weight, None, "g", decimal="thousands")
    with pytest.raises(CellError, match="with a point"):
        read_cell(Cell("1.250", "A1"), weight, None, "g", decimal="comma")


def test_an_error_of_a_spreadsheet_is_no_value() -> None:
    """It is named, and so is a formula."""
    note = field("text")

    with pytest.raises(CellError, match="an error, #REF!"):
        read_cell(Cell("#REF!", "A1", formula=True), note, None)
    with pytest.raises(CellError, match=r"a formula \(=A1\+B1\)"):
        read_cell(Cell("=A1+B1", "A1", formula=True), note, None)
