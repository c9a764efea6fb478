from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from certgen.rules.harvest.picked_since import PickedSince

DAY = date(2026, 6, 25)


@pytest.fixture
def case(seasons: Any, stocked: Any, case_of: Any) -> Any:
    """Four pickings on three days, of trees on one block."""
    days = {"H9": 0, "H2": 1, "H5": 1, "H7": 2}
    return case_of(
        stocked(
            bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1")],
            harvests=[
                {**seasons.harvest(number, ["B1", "B2"]), "date": DAY + timedelta(later)}
                for number, later in days.items()
            ],
        )
    )


@pytest.mark.parametrize(
    ("later", "expected"),
    [
        (-1, ["H9", "H2", "H5", "H7"]),
        (0, ["H9", "H2", "H5", "H7"]),
        (1, ["H2", "H5", "H7"]),
        (2, ["H7"]),
        (3, []),
    ],
)
def test_pickings_on_a_day_and_after(case: Any, later: int, expected: list[str]) -> None:
    """Each once, in the order of the records, however many bags it took."""
    block = case.columns("blocks")["block"][0]
    found = PickedSince(case).find([block], DAY + timedelta(later))

    assert [("harvests", number) for number in expected] == [tuple(node) for node in found]


def test_other_land_has_none(case: Any) -> None:
    """Nor has a block that no record bears."""
    assert not PickedSince(case).find(["another"], DAY)
    assert not PickedSince(case).find([], DAY)


def test_what_was_found_is_shared(case: Any) -> None:
    """Thousands of inputs of one day stand at the same pickings."""
    since, block = PickedSince(case), case.columns("blocks")["block"][0]

    assert since.find([block], DAY) is since.find([block], DAY)
