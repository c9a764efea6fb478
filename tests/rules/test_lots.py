from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest


@pytest.mark.parametrize(
    ("packed", "weight"), [(date(2025, 7, 18), "unproven"), (date(2026, 7, 18), "advice")]
)
def test_a_number_of_an_earlier_season_is_taken(seasons, stocked, find, packed, weight) -> None:
    """Another lot of that number, or the same lot written once more, which needs no second record."""
    before = seasons.season_of(label="2025", lots=[{**seasons.lot("L1", [], 8), "packed": packed}])
    (gap,) = find(replace(stocked(), previous=before), "lot-number-reused")

    assert ("L1", weight) == (gap.id, gap.weight)
    assert "2025" in gap.message


def test_all_earlier_seasons_count(seasons, stocked, find) -> None:
    """A number used two seasons ago is used."""
    oldest = seasons.season_of(label="2024", lots=[{**seasons.lot("L1", [], 8), "packed": date(2024, 7, 1)}])
    between = replace(seasons.season_of(label="2025"), previous=oldest)

    assert ["L1"] == [gap.id for gap in find(replace(stocked(), previous=between), "lot-number-reused")]
    assert () == find(stocked(), "lot-number-reused")
