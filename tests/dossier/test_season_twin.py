"""Two seasons side by side: the same figures of both, by what is known today, and what can't be compared."""

from __future__ import annotations

from datetime import date

import pytest
import seasons as built

from certgen.dossier.season_twin import compare_figures
from certgen.examination import examine, examine_season

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_both_seasons_are_counted_alike(example):
    """Each figure is that of the season's own records; seed blended from lot to lot is packed once."""
    twin = compare_figures(example)
    words = {pair.title: (pair.after.words, pair.before.words) for pair in twin.pairs}

    assert ("2026", "2025") == (twin.after, twin.before)
    assert {
        "Trees in the register": ("74", "24"),
        "Parents of its lots, screened negative": ("30 of 31", "6 of 6"),
        "Bags put on": ("152", "36"),
        "Fruit picked": ("121", "30"),
        "Seed packed from batches": ("811.011\N{NO-BREAK SPACE}g", "223\N{NO-BREAK SPACE}g"),
        "Of its lots traced, as known today": ("71\N{NO-BREAK SPACE}%", "100\N{NO-BREAK SPACE}%"),
        "Seed sold": ("373.787\N{NO-BREAK SPACE}g", "85.5\N{NO-BREAK SPACE}g"),
        "Tests of seed": ("14", "2"),
    } == words


def test_a_season_that_is_not_over_says_so(example, example_season):
    """Its figures are those of a day; once it is over nothing is said. Findings never stand beside."""
    running, findings = compare_figures(example).apart
    over = compare_figures(examine(example_season, date(2027, 1, 5))).apart

    assert "Season 2026 runs until 31 December 2026; its figures are those of 25 November 2026." == running
    assert findings.startswith("Findings are not set side by side")
    assert (findings,) == over


def test_without_an_earlier_season_there_is_no_twin():
    """Nothing is compared with nothing."""
    assert compare_figures(built.examine_line(ON)) is None


def test_what_nobody_recorded_is_no_nought():
    """Fruit that one picking doesn't count, and a season without lots, have no figure."""
    silent = built.blank(built.season_of(**built.one_line()), "harvests", "fruits")
    empty = built.season_of(label="2025", details={"from": "2024-11-01", "to": "2025-10-31"})
    twin = compare_figures(examine_season(built.season_of(previous=empty, **built.one_line()), ON))
    other = compare_figures(examine_season(built.season_of(previous=silent, **built.one_line()), ON))
    pairs = {pair.title: pair.before for pair in twin.pairs}

    assert (None, "no parent on record") == (
        pairs["Parents of its lots, screened negative"].value,
        pairs["Parents of its lots, screened negative"].words,
    )
    assert "no seed packed" == pairs["Of its lots traced, as known today"].words
    assert "not recorded for every picking" == next(
        pair.before.words for pair in other.pairs if pair.title == "Fruit picked"
    )


def test_seasons_of_unlike_length_say_so():
    """A season of half a year is named as such."""
    half = built.season_of(label="2025", details={"from": "2025-05-01", "to": "2025-10-31"})
    twin = compare_figures(examine_season(built.season_of(previous=half, **built.one_line()), ON))

    assert "Season 2026 has 365 days, season 2025 has 184." in twin.apart
