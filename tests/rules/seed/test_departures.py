from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from certgen.rules.seed.departures import is_of_kind, left_lots, tell_movement
from certgen.rules.seed.departures import tests_of as list_tests


@pytest.fixture
def season(seasons, stocked):
    """L1 was packed this season, K1 in the one before; each has germination tests in either."""

    def trial(name, of, when, **more):
        return seasons.germination(name, of, **{"date": when, **more})

    old = {**seasons.lot("K1", [], 8), "packed": date(2025, 7, 1), "status": "transitional"}
    sold = {**seasons.movement("M9", "K1", "sold", 1), "date": date(2025, 9, 9)}
    before = seasons.season_of(
        label="2025",
        lots=[old],
        tests=[trial("G8", "K1", date(2025, 9, 1)), trial("G9", "K1", date(2025, 8, 1))],
        movements=[sold],
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


def test_movements_know_their_lot_and_whether_seed_left_by_them(season, case_of) -> None:
    """Row for row, of all years, whichever year packed the lot."""
    moves = case_of(season).moves

    assert ["M0", "M1", "M9"] == moves.values("movement", moves["left"])
    assert ["M2", "M3"] == moves.values("movement", is_of_kind(moves, "sown", "counted"))
    assert ["organic", "transitional"] == moves.values("lot_status")[:2]
    assert [date(2026, 7, 18), date(2025, 7, 1)] == moves.values("packed")[:2]


def test_a_movement_is_told_by_its_number(season, case_of) -> None:
    """As plain values; what isn't entered is None, and a number that none bears is an error."""
    case = case_of(season)

    expected = ("K1", date(2025, 9, 9), 1000, "transitional", None)
    assert expected == tell_movement(case, "M9", "lot", "date", "weight_mg", "lot_status", "note")
    with pytest.raises(KeyError):
        tell_movement(case, "M8", "lot")


def test_lots_that_left_are_those_sold_or_handed_over(season, seasons, stocked, case_of) -> None:
    """Sown and counted seed is still the farm's."""
    kept = stocked(movements=[seasons.movement("M1", "L1", "sown", 1)])

    assert {"L1", "K1"} == left_lots(case_of(season))
    assert set() == left_lots(case_of(kept))


def test_the_tests_of_a_kind_are_those_of_all_years(season, stocked, case_of) -> None:
    """The earliest first."""
    assert ["G9", "G8", "G1", "G2"] == list_tests(case_of(season), "germination")["test"].tolist()
    assert ["G3"] == list_tests(case_of(season), "moisture")["test"].tolist()
    assert ["G1"] == list_tests(case_of(stocked()), "germination")["test"].tolist()
