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


@pytest.mark.parametrize(
    ("missing", "field"),
    [
        (("temperature", "substrate"), ("temperature",)),
        (("substrate",), ("substrate",)),
        (("counts",), ("counts",)),
    ],
)
def test_what_is_missing_is_told_at_its_first_field(seasons, stocked, find, missing, field) -> None:
    """A whole test lacks nothing, and another kind of test none of this."""
    test = {name: value for name, value in seasons.germination("G1", "L1").items() if name not in missing}
    moist = {"test": "G2", "lot": "L1", "date": date(2026, 8, 1), "kind": "moisture", "moisture": "9 %"}
    (gap,) = find(stocked(tests=[test, moist]), "germination-method-missing")

    assert ("G1", field) == (gap.id, gap.field)
    assert () == find(stocked(), "germination-method-missing")


@pytest.mark.parametrize(("counts", "found"), [((15, 22), 0), ((22,), 1)])
def test_a_test_is_counted_twice(seasons, stocked, find, counts, found) -> None:
    """A first count and a last one."""
    test = seasons.germination("G1", "L1", counts=counts)

    assert found == len(find(stocked(tests=[test]), "germination-method-missing"))


@pytest.mark.parametrize(("seeds", "found"), [(25, 0), (24, 1)])
def test_a_hundred_seeds_are_enough(seasons, stocked, find, crop, seeds, found) -> None:
    """By practice, which a crop may lack."""
    test = {**seasons.germination("G1", "L1"), "per_replicate": seeds, "replicates": (20, 20, 20, 20)}
    season = stocked(tests=[test], movements=[seasons.sale("M1", "L1", 1)])
    gaps = find(season, "germination-few-seeds")

    assert ["advice"] * found == [gap.weight for gap in gaps]
    assert all(f"was made with {4 * seeds} seeds," in gap.message for gap in gaps)
    assert () == find(season, "germination-few-seeds", profile=crop(germination_seeds=None))


@pytest.mark.parametrize("missing", ["counts", "sampled"])
def test_without_its_days_no_test_is_too_quick(seasons, stocked, find, missing) -> None:
    """Its last count, or the day of sampling, isn't known."""
    test = seasons.germination("G1", "L1", sampled=date(2026, 8, 7))
    whole = find(stocked(tests=[test]), "germination-too-quick", "seed-law")
    del test[missing]

    assert [("unproven", "counted until day 22.")] == [(gap.weight, gap.message[-21:]) for gap in whole]
    assert () == find(stocked(tests=[test]), "germination-too-quick", "seed-law")
