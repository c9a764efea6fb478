from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest


def spanning(season, start, end):
    """The season with other first and last days."""
    return replace(season, details=replace(season.details, start=start, end=end))


def test_work_belongs_into_its_season(seasons, stocked, find) -> None:
    """The first and the last day still count; trees and samples may be older."""
    moves = [
        {**seasons.movement(f"M{number}", "L1", "sampled", 1), "date": when}
        for number, when in enumerate(
            (date(2025, 10, 31), date(2025, 11, 1), date(2026, 10, 31), date(2026, 11, 1))
        )
    ]
    old = seasons.sample("S1", "T1", collected=date(2025, 3, 1), submitted=date(2025, 3, 2))
    season = stocked(movements=moves, screening=[old])

    assert ["M0", "M3"] == [gap.id for gap in find(season, "date-outside-season")]


@pytest.mark.parametrize(("standards", "weight"), [(("us-nop",), "advice"), (("us-nop", "eu"), "unproven")])
def test_the_weight_of_fruit_is_asked_by_one_standard(seasons, stocked, find, standards, weight) -> None:
    """Where the amounts picked are asked for, the lot isn't proved without them."""
    picking = {name: value for name, value in seasons.harvest("H1", ["B1"]).items() if name != "weight"}

    assert [weight] == [
        gap.weight for gap in find(stocked(harvests=[picking]), "record-incomplete", *standards)
    ]


def test_what_is_missing_everywhere_is_one_gap(seasons, stocked, find) -> None:
    """One cause, one gap; and of what claims nothing nothing is asked."""
    batches = [seasons.batch(f"X{number}", ["H1"]) for number in (1, 2, 3)]
    batches[2]["status"] = "conventional"
    bare = [{name: value for name, value in one.items() if name != "wet_weight"} for one in batches]
    (gap,) = find(stocked(batches=bare), "record-incomplete")

    assert (("X1", "X2"), "advice") == (gap.ids, gap.weight)


def test_one_missing_file_is_one_gap(seasons, stocked, find) -> None:
    """Two samples name the letter that isn't there."""
    samples = [seasons.sample(name, "T1", evidence=("letter.txt",)) for name in ("S1", "S2")]
    (gap,) = find(stocked(screening=samples), "evidence-absent")

    assert (("S1", "S2"), ("evidence", 0)) == (gap.ids, gap.field)


def test_a_file_may_be_named_anywhere(seasons, stocked, find) -> None:
    """By a list of evidence or by a field of its own; what nobody names is told at the file itself."""
    season = stocked(
        screening=[seasons.sample("S1", "T1", evidence=("letter.txt",))],
        plantings=[seasons.planting(non_gm_statement="statement.txt")],
    )
    season = replace(season, evidence_files=("letter.txt", "photo.png", "statement.txt"))
    (gap,) = find(season, "evidence-unnamed")

    assert ("evidence/photo.png", "advice", ()) == (gap.place.file, gap.weight, gap.lots)
    assert () == find(season, "evidence-absent")


@pytest.mark.parametrize(
    ("ended", "standard", "found"),
    [
        (date(2025, 10, 31), "us-nop", 0),
        (date(2025, 10, 1), "us-nop", 0),
        (date(2024, 10, 31), "us-nop", 1),
        (date(2024, 10, 31), "codex", 0),
    ],
)
def test_a_year_between_two_seasons_is_missed(seasons, stocked, find, ended, standard, found) -> None:
    """Where a standard says how long records are kept; a few weeks between seasons are no season."""
    before = spanning(seasons.season_of(label="before"), date(2023, 11, 1), ended)

    assert found == len(find(replace(stocked(), previous=before), "records-missing-past-seasons", standard))


@pytest.mark.parametrize(("year", "found"), [(2025, 1), (2022, 1), (2021, 0)])
def test_the_oldest_season_that_goes_on_from_an_older_one(seasons, stocked, find, year, found) -> None:
    """Its opening stock came from somewhere; beyond the five years nobody asks."""
    opening = {**seasons.movement("M1", "K0", "opening stock", 5), "date": date(year - 1, 11, 2)}
    first = spanning(
        seasons.season_of(label="old", movements=[opening]), date(year - 1, 11, 1), date(2025, 10, 31)
    )
    season = replace(stocked(), previous=first)

    assert found == len(find(season, "records-missing-past-seasons"))
