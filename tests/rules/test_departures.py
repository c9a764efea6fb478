from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from certgen.rules.departures import departures, known_lots, left_lots
from certgen.rules.departures import tests_of as list_tests


@pytest.fixture
def season(seasons, stocked):
    """L1 stands in both seasons, K1 in the one before; each has a germination test in each."""

    def trial(name, of, when, **more):
        return seasons.germination(name, of, **{"date": when, **more})

    old = [
        {**seasons.lot(name, [], 8), "packed": date(2025, 7, 1), "status": "transitional"}
        for name in ("K1", "L1")
    ]
    before = seasons.season_of(
        label="2025",
        lots=old,
        tests=[trial("G8", "K1", date(2025, 9, 1)), trial("G9", "L1", date(2025, 9, 1))],
    )
    purity = {"test": "G3", "lot": "L1", "date": date(2026, 8, 1), "kind": "moisture", "moisture": "9 %"}
    moves = [
        seasons.movement(f"M{number}", of, kind, 1)
        for number, (of, kind) in enumerate(
            [("L1", "sold"), ("K1", "transferred"), ("L1", "sown"), ("K1", "counted")]
        )
    ]
    tests = [trial("G2", "L1", date(2026, 9, 1)), trial("G1", "K1", date(2026, 2, 1)), purity]
    return replace(stocked(tests=tests, movements=moves), previous=before)


def test_this_seasons_lot_comes_before_an_earlier_one_of_its_number(season, stocked, case_of) -> None:
    """L1 is this season's; K1 is the earlier season's; without a season before, there is L1 only."""
    lots = known_lots(case_of(season))

    assert ["L1", "K1"] == lots.index.tolist()
    assert ["organic", "transitional"] == lots["status"].tolist()
    assert ["L1"] == known_lots(case_of(stocked())).index.tolist()


@pytest.mark.parametrize(("also", "expected"), [((), ["M0", "M1"]), (("sown",), ["M0", "M1", "M2"])])
def test_seed_leaves_by_sale_and_by_hand_over(season, case_of, also, expected) -> None:
    """Other kinds on demand; each with what is known of its lot."""
    frame = departures(case_of(season), *also)

    assert expected == frame["movement"].tolist()
    assert ["organic", "transitional"] == frame["lot_status"].tolist()[:2]


def test_lots_that_left_are_those_sold_or_handed_over(season, seasons, stocked, case_of) -> None:
    """Sown and counted seed is still the farm's."""
    kept = stocked(movements=[seasons.movement("M1", "L1", "sown", 1)])

    assert {"L1", "K1"} == left_lots(case_of(season))
    assert set() == left_lots(case_of(kept))


def test_an_earlier_test_of_a_number_given_anew_speaks_of_another_lot(season, stocked, case_of) -> None:
    """The tests of one kind, the earliest first."""
    assert ["G8", "G1", "G2"] == list_tests(case_of(season), "germination")["test"].tolist()
    assert ["G3"] == list_tests(case_of(season), "moisture")["test"].tolist()
    assert ["G1"] == list_tests(case_of(stocked()), "germination")["test"].tolist()
