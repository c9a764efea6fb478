"""Each test with its figure, or with the reason why there is none."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.dossier.seed_tests import Germination, Moisture, Transgene, compute_tests
from certgen.examination import examine, examine_season
from certgen.figures.pools import bound_after_none
from certgen.lineage import Node

COVERS = ("certgen.rules.seed.assays",)

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


def assay(**more):
    """A sound test of L1 in ten pools of a hundred; `more` replaces or adds fields, None leaves one out."""
    told = {
        "test": "G1", "lot": "L1", "date": ON, "kind": "transgene", "sampled": date(2026, 9, 1), "pools": 10,
        "seeds_per_pool": 100, "positive_pools": 0, "targets": ("35S",), "controls": "passed", **more,
    }  # fmt: skip
    return {field: value for field, value in told.items() if value is not None}


def test_no_positive_pool_is_a_bound(seasons):
    """None of 10 pools of 100 seeds: at most 0.3 % of the seed, one-sided."""
    (test,) = computed(seasons, assay())

    assert isinstance(test.figure, Transgene)
    assert pytest.approx(1 - 0.05 ** (1 / 1000)) == test.figure.bound
    assert () == test.figure.reasons


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"controls": "failed"}, "its controls failed"),
        ({"controls": "not run"}, "its controls were not run"),
        ({"controls": None}, "nothing is written about its controls"),
        (
            {"seeds_per_pool": 251},
            "one in a pool of 251 seeds is 0.398 %, and the assay finds 0.4 % and more",
        ),
        (
            {"seeds_per_pool": 1001, "detection_limit": "0.1 %"},
            "finds 0.1 % and more (its limit, of test G1)",
        ),
        ({"seeds_per_pool": 51, "detection_limit": "2 %"}, "one in a pool of 51 seeds is 1.96 %"),
        ({"detection_limit": "0 %"}, "a detection limit of 0 % can't be right"),
        ({"detection_limit": "101 %"}, "a detection limit of 101 % can't be right"),
        ({"targets": ("uidA-like",)}, "uidA-like is known of none of the events to be ruled out"),
        ({"targets": ("CP-YK",)}, "(55-1, 63-1 and X17-2)"),
        ({"sampled": None}, "on which day its sample was drawn isn't written"),
        ({"sampled": date(2026, 11, 1)}, "drawn on 1 November 2026, after the test"),
    ],
)
def test_a_test_that_its_own_record_speaks_against_bounds_nothing(seasons, changed, reason):
    """Nor does one whose record is silent where a word would fail."""
    (test,) = computed(seasons, assay(**changed))

    assert test.figure.bound is None
    assert any(reason in said for said in test.figure.reasons), test.figure.reasons


@pytest.mark.parametrize(
    "changed",
    [
        {"seeds_per_pool": 250}, {"seeds_per_pool": 250, "detection_limit": "0.4 %"},
        {"seeds_per_pool": 1000, "detection_limit": "0.1 %"}, {"sampled": ON},
        {"targets": ("p35S", "unheard of")}, {"targets": ("UFL-X17CP-9",)},
    ],
)  # fmt: skip
def test_a_test_on_the_edge_of_what_it_bears_is_a_bound(seasons, changed):
    """One seed in the largest pool is as much as the assay finds."""
    (test,) = computed(seasons, assay(**changed))

    assert () == test.figure.reasons
    assert test.figure.bound == bound_after_none(
        test.figure.estimate.pools, test.figure.estimate.seeds_per_pool
    )


def test_a_bound_says_which_events_it_leaves_out(seasons):
    """Without uidA event X17-2 isn't found, and a target of X17-2 alone finds no other."""
    for target, seen, unseen in (
        ("uidA", ("55-1", "63-1"), ("X17-2",)),
        ("event X17-2", ("X17-2",), ("55-1", "63-1")),
        ("nptII", ("55-1", "63-1", "X17-2"), ()),
    ):
        (test,) = computed(seasons, assay(targets=(target,)))
        assert (seen, unseen) == (test.figure.assay.seen, test.figure.assay.unseen)


def test_a_positive_test_of_the_lot_takes_the_bound_of_another(seasons):
    """The seed that was found had brothers; a void one takes none."""
    clean, found = assay(), assay(test="G2", positive_pools=1)
    first, second = computed(seasons, clean, found)

    assert (None, None) == (first.figure.bound, second.figure.bound)
    assert ("test G2 of the same lot found some",) == first.figure.reasons
    assert () == second.figure.reasons
    assert computed(seasons, clean, {**found, "controls": "failed"})[0].figure.bound is not None
    assert computed(seasons, clean, {**found, "lot": "L2"})[0].figure.bound is not None


def test_seed_that_came_in_later_is_not_bounded(seasons):
    """The sample was drawn before the batch was taken out of its fruit, or before the lot was blended."""
    tables = seasons.one_line()
    extracted = tables["batches"][0]["date"]
    for drawn, bounded in ((extracted - timedelta(1), False), (extracted, True)):
        season = seasons.season_of(**{**tables, "tests": [assay(sampled=drawn)]})
        (test,) = compute_tests(examine_season(season, ON))
        assert bounded == (test.figure.bound is not None)
    blended = seasons.lot("L2", [{"lot": "L1", "weight": "4 g"}], 4, day=5)
    for drawn, bounded in ((blended["packed"] - timedelta(1), False), (blended["packed"], True)):
        record = assay(lot="L2", sampled=drawn)
        season = seasons.season_of(**{**tables, "lots": [*tables["lots"], blended], "tests": [record]})
        (test,) = compute_tests(examine_season(season, ON))
        assert bounded == (test.figure.bound is not None)


def test_a_gap_at_the_record_takes_its_bound(seasons):
    """Whatever a rule finds there, the number of the gap is named."""
    tables = seasons.one_line()
    season = seasons.season_of(**{**tables, "tests": [assay(sampled=date(2025, 1, 1))]})
    result = examine_season(season, ON)
    (test,) = compute_tests(result)
    (number,) = [
        number
        for number in result.numbers_of(Node("tests", "G1"))
        if result.gap(number).rule == "sample-before-seed"
    ]

    assert f"gap {number} stands against it" in test.figure.reasons


@pytest.mark.parametrize(
    ("told", "sampling"),
    [
        ({}, "drawn on 1 September 2026; by whom and how isn't written"),
        ({"sampled_by": "DM"}, "drawn on 1 September 2026 by DM; how isn't written"),
        (
            {"sampled_by": "DM", "sampling": "a spoon a pouch"},
            "drawn on 1 September 2026 by DM: a spoon a pouch",
        ),
    ],
)
def test_who_drew_the_sample_and_how_is_told(seasons, told, sampling):
    """As far as it is written."""
    (test,) = computed(seasons, assay(**told))

    assert sampling == test.figure.assay.sampling


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
