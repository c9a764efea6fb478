from __future__ import annotations

from datetime import date

import pytest


@pytest.mark.parametrize(
    ("missing", "told"),
    [
        (("temperature",), "the temperature."),
        (("substrate",), "what the seed lay in."),
        (("counts",), "the count days."),
        (("temperature", "counts"), "the temperature and the count days."),
    ],
)
@pytest.mark.parametrize(("standard", "weight"), [("us-nop", "advice"), ("seed-law", "unproven")])
def test_the_conditions_are_half_of_the_figure(
    seasons, stocked, find, missing, told, standard, weight
) -> None:
    """One gap a test says all that is missing; the benchmark makes it more than advice."""
    test = {name: value for name, value in seasons.germination("G1", "L1").items() if name not in missing}
    (gap,) = find(stocked(tests=[test]), "germination-method-missing", standard)

    assert weight == gap.weight
    assert gap.message.endswith(told)


@pytest.mark.parametrize(("sampled", "found"), [(date(2026, 7, 16), False), (date(2026, 7, 17), True)])
def test_a_test_takes_as_long_as_its_last_count(seasons, stocked, find, sampled, found) -> None:
    """Finished on 7 August with a count on day 22: sampled on 16 July at the latest."""
    season = stocked(tests=[seasons.germination("G1", "L1", sampled=sampled)])

    assert found == bool(find(season, "germination-too-quick"))


def test_few_seeds_matter_where_seed_was_sold(seasons, stocked, find) -> None:
    """A farm may try twenty seeds for itself."""
    test = {**seasons.germination("G1", "L1"), "per_replicate": 5, "replicates": (4, 5, 4, 5)}

    assert () == find(stocked(tests=[test]), "germination-few-seeds")
    assert ["G1"] == [
        gap.id
        for gap in find(
            stocked(tests=[test], movements=[seasons.sale("M1", "L1", 1)]), "germination-few-seeds"
        )
    ]
