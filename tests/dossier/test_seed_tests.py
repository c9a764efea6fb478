"""Each test with its figure, or with the reason why there is none."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.dossier.seed_tests import Germination, Moisture, Transgene, compute_tests
from certgen.examination import examine, examine_season

ON = date(2026, 10, 31)


def computed(seasons, *tests, standards=("us-nop",)):
    """The tests of a season with one lot."""
    season = seasons.season_of(
        standards=standards,
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)],
        tests=list(tests),
    )
    return compute_tests(examine_season(season, ON))


def test_a_germination_has_limits_and_an_age(seasons):
    """176 of 200: exact limits around 88 %, two months old on the day, no ship-by day asked for."""
    (test,) = computed(seasons, seasons.germination("G1", "L1"))

    assert isinstance(test.figure, Germination)
    assert 200 == test.figure.seeds
    assert test.figure.limits.low < 0.88 < test.figure.limits.high
    assert (2, None) == (test.figure.months, test.figure.ship_by)


def test_the_benchmark_seed_law_sets_a_ship_by_day(seasons):
    """Five calendar months after the month of the test."""
    (test,) = computed(seasons, seasons.germination("G1", "L1"), standards=("seed-law",))

    assert date(2027, 1, 31) == test.figure.ship_by


def test_more_seedlings_than_seeds_is_a_fault_and_no_figure(seasons):
    """The test stands in the list, with what is wrong with it."""
    (test,) = computed(seasons, seasons.germination("G1", "L1", replicates=(51, 44, 44, 44)))

    assert test.figure is None
    assert "cannot hold 51" in test.fault


def test_no_positive_pool_is_a_bound(seasons):
    """None of 10 pools of 100 seeds: at most 0.3 % of the seed, one-sided."""
    pools = {
        "test": "G1", "lot": "L1", "date": ON, "kind": "transgene", "pools": 10, "seeds_per_pool": 100,
        "positive_pools": 0, "targets": ("35S",), "controls": "passed",
    }  # fmt: skip
    (test,) = computed(seasons, pools)

    assert isinstance(test.figure, Transgene)
    assert pytest.approx(1 - 0.05 ** (1 / 1000)) == test.figure.bound


def test_moisture_by_its_weighings(seasons):
    """Two weighings: the mean of 10 % and 10.2 %, which agree."""
    weighings = (
        {"container": "10 g", "before": "20 g", "after": "19 g"},
        {"container": "10 g", "before": "20 g", "after": "18.98 g"},
    )
    (test,) = computed(
        seasons, {"test": "G1", "lot": "L1", "date": ON, "kind": "moisture", "weighings": weighings}
    )

    assert isinstance(test.figure, Moisture)
    assert (pytest.approx(10.1), True) == (test.figure.percent, test.figure.repeats.agrees)


def test_every_test_of_the_example_has_a_figure(example_season):
    """Nothing in the example's tests is beyond computing."""
    assert [] == [(one.test, one.fault) for one in compute_tests(examine(example_season, ON)) if one.fault]
