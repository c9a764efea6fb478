from __future__ import annotations

from datetime import date

import pytest

from certgen.records.tables import load_tables
from certgen.rules.wording import NOUNS, capital, count, day, join, name, noun


def test_every_table_has_its_words() -> None:
    """What a grower calls one record of it, and several."""
    assert set(load_tables()) <= set(NOUNS)


@pytest.mark.parametrize(
    ("number", "one", "counted"),
    [(0, "pickings", "0 pickings"), (1, "picking", "1 picking"), (2, "pickings", "2 pickings")],
)
def test_one_is_singular(number, one, counted) -> None:
    """None and several are plural."""
    assert (one, counted) == (noun("harvests", number), count(number, "harvests"))


@pytest.mark.parametrize(
    ("parts", "expected"), [("", ""), ("a", "a"), ("ab", "a or b"), ("abc", "a, b or c")]
)
def test_parts_are_joined_as_in_speech(parts, expected) -> None:
    """The last by a word."""
    assert expected == join(parts, "or")


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (1, "tree 0"),
        (2, "trees 0 and 1"),
        (6, "trees 0, 1, 2, 3, 4 and 5"),
        (7, "trees 0, 1, 2, 3, 4 and 2 more"),
    ],
)
def test_many_names_are_counted(number, expected) -> None:
    """One more than the most is still named, for a count would be no shorter."""
    assert expected == name("trees", [str(at) for at in range(number)])


def test_a_day_is_written_out() -> None:
    """Whatever the machine's language."""
    assert ("1 January 2026", "31 December 2026") == (day(date(2026, 1, 1)), day(date(2026, 12, 31)))


def test_a_sentence_begins_with_a_capital() -> None:
    """And identifiers keep their case."""
    assert ("Bags B1 and B2", "") == (capital("bags B1 and B2"), capital(""))
