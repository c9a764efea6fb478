"""What screening leaves open of each tree, and what it says of all of them."""

from __future__ import annotations

import math
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.dossier.odds import (
    find_chances,
    find_floor,
    gather_evidence,
    list_assumptions,
    list_priors,
    list_used,
    take_shares,
    weigh_trees,
)
from certgen.dossier.screening_power import count_found, weigh_screening
from certgen.examination import examine, examine_season
from certgen.figures.pooled_trees import UNKNOWN

COVERS = ("certgen.dossier.screening_power",)
ON = date(2026, 10, 31)
SLOW = settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
METHODS = ("pcr", "gus", "strip")


def orchard(seasons, *samples, trees=("T1",), events=("55-1", "63-1"), practice=None, **more):
    """A season of some trees with some samples, and what is reckoned with."""
    season = seasons.season_of(
        details=(
            ("events_of_concern", list(events)),
            ("practice", practice or {}),
        ),
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree(name) for name in trees],
        screening=list(samples),
        **more,
    )
    return examine_season(season, ON)


def negatives(seasons, count, method="pcr"):
    """So many negative samples of T1."""
    return [
        seasons.sample(f"S{at}", "T1", method=method, collected=seasons.SCREENED + timedelta(at))
        for at in range(count)
    ]


def chance_of(result, tree="T1", event="55-1", prior=0.1):
    """The chance that a tree carries an event."""
    return find_chances(gather_evidence(result), prior)[event][tree]


def test_an_untested_tree_passes_whatever_it_is(seasons):
    """And keeps the chance before."""
    result = orchard(seasons)
    tree = weigh_trees(result)["T1"]

    assert {"55-1": 1.0, "63-1": 1.0} == tree.passing
    assert (("55-1", "63-1"), ()) == (tree.unseen, tree.results)
    assert 0.1 == pytest.approx(chance_of(result).low)


def test_a_carrier_passes_one_negative_as_the_method_and_the_hand_miss_it(seasons):
    """1 - 0.99·0.995, worked out beside it; Bayes then makes of 10 % what that leaves."""
    result = orchard(seasons, *negatives(seasons, 1))
    shares = take_shares(result)
    passed = 1 - shares["pcr_sensitivity_pct"] * (1 - shares["handling_error_pct"])
    left = 0.1 * passed / (0.1 * passed + 0.9 * shares["pcr_specificity_pct"])

    assert passed == pytest.approx(weigh_trees(result)["T1"].passing["55-1"])
    assert left == pytest.approx(chance_of(result).low)


def test_a_negative_pool_says_less_than_a_leaf_alone(seasons):
    """It is told as a pool; one carrier among n leaves is found with a leaf's chance to the power n."""
    result = orchard(seasons, seasons.pool("S1", "T1", "T2", "T3"), trees=("T1", "T2", "T3"))
    shares = take_shares(result)
    tree = weigh_trees(result)["T1"]

    assert ("pcr negative in a pool of 3",) == tree.results
    assert 1 - shares["pcr_sensitivity_pct"] ** 3 * (1 - shares["handling_error_pct"]) == pytest.approx(
        tree.passing["55-1"]
    )


def test_a_positive_pool_raises_each_of_its_trees(seasons):
    """Two trees: half and half, for at least one of them carries."""
    result = orchard(seasons, seasons.pool("S1", "T1", "T2", result="positive"), trees=("T1", "T2"))

    assert ("pcr positive in a pool of 2",) == weigh_trees(result)["T1"].results
    assert chance_of(result) == chance_of(result, "T2")
    assert 0.50 < chance_of(result).low < 0.51
    assert {"55-1": 1.0, "63-1": 1.0} == weigh_trees(result)["T1"].passing


def test_a_pool_too_large_clears_nobody_and_still_finds(seasons):
    """Forty leaves by a method that bears twenty: negative it is left out, positive it counts."""
    trees = tuple(f"T{at}" for at in range(1, 41))
    no, yes = (
        orchard(seasons, seasons.pool("S1", *trees, result=result), trees=trees)
        for result in ("negative", "positive")
    )

    assert () == weigh_trees(no)["T1"].results
    assert 0.1 == pytest.approx(chance_of(no).low)
    assert chance_of(yes).low > 0.1


def test_a_negative_pool_that_held_a_carrier_is_left_out(seasons):
    """One of its trees is known to carry, so the pool missed it."""
    result = orchard(
        seasons,
        seasons.pool("S1", "T1", "T2"),
        seasons.sample("S2", "T2", method="gus", result="positive"),
        trees=("T1", "T2"),
    )

    assert () == weigh_trees(result)["T1"].results
    assert 0.1 == pytest.approx(chance_of(result).low)


def test_void_controls_leave_a_positive_pool_out(seasons):
    """It says nothing either way."""
    result = orchard(
        seasons, seasons.pool("S1", "T1", "T2", result="positive", controls="failed"), trees=("T1", "T2")
    )

    assert 0.1 == pytest.approx(chance_of(result).low)


def test_repeats_of_one_method_count_once(seasons):
    """They share its blind spots: singly, in a pool beside, and in two pools."""
    one, three = (weigh_trees(orchard(seasons, *negatives(seasons, n)))["T1"].passing for n in (1, 3))
    beside = orchard(
        seasons, *negatives(seasons, 1), seasons.pool("P", "T1", "T2", "T3"), trees=("T1", "T2", "T3")
    )
    pools = orchard(
        seasons, seasons.pool("P", "T1", "T2", "T3"), seasons.pool("Q", "T1", "T4"),
        trees=("T1", "T2", "T3", "T4"),
    )  # fmt: skip
    shares = take_shares(pools)

    assert one == three == weigh_trees(beside)["T1"].passing
    assert chance_of(orchard(seasons, *negatives(seasons, 1))).low == pytest.approx(chance_of(beside).low)
    # Of two pools the smaller.
    assert 1 - shares["pcr_sensitivity_pct"] ** 2 * (1 - shares["handling_error_pct"]) == pytest.approx(
        weigh_trees(pools)["T1"].passing["55-1"]
    )


def test_one_positive_pool_done_twice_counts_once(seasons):
    """The same trees by the same method."""
    once, twice = (
        orchard(
            seasons,
            *[seasons.pool(f"S{at}", "T1", "T2", result="positive") for at in range(number)],
            trees=("T1", "T2"),
        )
        for number in (1, 2)
    )

    assert chance_of(once) == chance_of(twice)


def test_a_negative_takes_no_positive_of_its_method_back(seasons):
    """Positive, then negative by the same method: as if positive alone."""
    positive = seasons.sample("S9", "T1", result="positive")
    both = orchard(seasons, positive, *negatives(seasons, 1))

    assert chance_of(orchard(seasons, positive)) == chance_of(both)
    assert chance_of(both).low > 0.9


def test_results_beyond_doubt_that_clash_tell_nothing(seasons):
    """Two methods, each said to be perfect, that say opposite things."""
    perfect = {"usual": 100, "reason": "said to be"}
    practice = {f"{name}_pct": perfect for name in ("pcr_sensitivity", "gus_specificity")} | {
        "handling_error_pct": {"low": 0.01, "usual": 0.01, "reason": "ours"}
    }
    clash = orchard(
        seasons,
        *negatives(seasons, 1),
        seasons.sample("S9", "T1", method="gus", result="positive"),
        practice=practice | {"gus_sensitivity_pct": {"usual": 0, "reason": "none"}},
    )

    assert UNKNOWN == chance_of(clash)


def test_an_event_that_no_method_sees_keeps_its_chance(seasons):
    """PCR for nothing that the event holds."""
    unseen = orchard(seasons, *[{**one, "targets": ()} for one in negatives(seasons, 1)])
    tree = weigh_trees(unseen)["T1"]

    assert ("55-1", "63-1") == tree.unseen
    assert {"55-1": 1.0, "63-1": 1.0} == tree.passing
    assert 0.1 == pytest.approx(chance_of(unseen).low)


def test_listing_another_event_changes_no_answer(seasons):
    """A GUS stain cannot see X17-2: that keeps its own chance, and 55-1 has the one it had."""
    few = orchard(seasons, *negatives(seasons, 1, "gus"), events=("55-1",))
    many = orchard(seasons, *negatives(seasons, 1, "gus"), events=("55-1", "63-1", "X17-2"))

    assert chance_of(few) == chance_of(many)
    assert 0.1 == pytest.approx(chance_of(many, event="X17-2").low)
    assert ("X17-2",) == weigh_trees(many)["T1"].unseen
    assert 1.0 == weigh_trees(many)["T1"].passing["X17-2"]


@SLOW
@given(data=st.data())
def test_more_negatives_never_raise_a_trees_chance(seasons, data):
    """Any negatives by any methods, one more each time."""
    methods = data.draw(st.lists(st.sampled_from(METHODS), min_size=1, max_size=4))
    samples = [
        seasons.sample(f"S{at}", "T1", method=method, collected=seasons.SCREENED + timedelta(at))
        for at, method in enumerate(methods)
    ]
    results = [orchard(seasons, *samples[:count]) for count in range(len(samples) + 1)]

    assert all(later.low <= earlier.low + 1e-12 for earlier, later in pairwise(map(chance_of, results)))
    assert all(
        later <= earlier + 1e-12
        for earlier, later in pairwise(weigh_trees(one)["T1"].passing["55-1"] for one in results)
    )


def test_a_season_sets_its_own_figures(seasons):
    """Prior, sensitivity and handling in the season, with a reason, stand in place of the crop's."""
    practice = {
        "prior_transgene_pct": {"usual": 40, "reason": "neighbours grow it"},
        "pcr_sensitivity_pct": {"usual": 50, "reason": "old reagents"},
        "handling_error_pct": {"low": 0.05, "usual": 2, "reason": "labels got wet"},
    }
    result = orchard(seasons, *negatives(seasons, 1), practice=practice)
    told = {one.key: one for one in list_assumptions(result)}

    assert () == result.errors
    assert (40, "neighbours grow it", "set by the operation") == (
        told["prior_transgene_pct"].percent,
        told["prior_transgene_pct"].source,
        told["prior_transgene_pct"].mark,
    )
    assert (0.01, 0.4, 0.7) == list_priors(result)
    assert 0.0005 == find_floor(result)
    assert 1 - 0.5 * 0.98 == pytest.approx(weigh_trees(result)["T1"].passing["55-1"])


@pytest.mark.parametrize("change", [{"usual": 0}, {"low": 0, "usual": 0.1}, {"low": 0.001}])
def test_nobody_handles_without_error(seasons, change):
    """Below what the crop's figure calls possible it stays the crop's."""
    result = orchard(seasons, practice={"handling_error_pct": {**change, "reason": "we are careful"}})

    assert (0.001, 0.005) == (find_floor(result), take_shares(result)["handling_error_pct"])


def test_another_crop_has_its_handling_too(seasons):
    """Squash: the same starting value."""
    result = examine_season(seasons.season_of(details=(("crop", "squash"),)), ON)

    assert (0.001, 0.005) == (find_floor(result), take_shares(result)["handling_error_pct"])
    assert (0.001, 0.01, 0.2) == list_priors(result)


def test_figures_of_methods_that_nobody_used_are_no_assumption(seasons):
    """A stain alone, a pool beside it, and a test of seed, which is one of DNA."""
    always = {"prior_transgene_pct", "handling_error_pct", "selfed_share_pct"}
    gus, pcr, strip = (
        {f"{method}_{name}_pct" for name in ("sensitivity", "specificity")}
        for method in ("gus", "pcr", "strip")
    )
    test = {
        "test": "X1", "lot": "L1", "date": date(2026, 8, 1), "kind": "transgene", "pools": 1,
        "seeds_per_pool": 9, "positive_pools": 0, "targets": ("35S",),
    }  # fmt: skip

    def used(*samples, **more):
        result = orchard(seasons, *samples, trees=("T1", "T2"), **more)
        return {one.key for one in list_used(result, gather_evidence(result))}

    assert always == used()
    assert always | gus == used(*negatives(seasons, 1, "gus"))
    assert always | strip == used(seasons.pool("S1", "T1", "T2", method="strip"))
    assert always | pcr == used(tests=[test])


def test_the_power_of_the_whole_screening(seasons):
    """Three cleared trees, one of them by two methods; a fourth that nothing clears is no part of it."""
    samples = [seasons.sample(f"S{at}", f"T{at}") for at in (1, 2, 3)]
    samples.append(seasons.sample("S9", "T1", method="gus"))
    result = orchard(seasons, *samples, trees=("T1", "T2", "T3", "T4"))
    passing = [weigh_trees(result)[f"T{at}"].passing["55-1"] for at in (1, 2, 3)]
    (power,) = weigh_screening(result, gather_evidence(result), ["T1", "T2", "T3", "T4", "T1"])
    pairs = passing[0] * passing[1] + passing[0] * passing[2] + passing[1] * passing[2]

    assert (("55-1", "63-1"), 3, (1, 2, 3)) == (power.events, power.screened, power.carriers)
    assert (math.fsum(passing) / 3, pairs / 3, math.prod(passing)) == pytest.approx(power.chances)
    assert () == weigh_screening(result, gather_evidence(result), ["T4"])


def test_a_pool_of_cleared_trees_passes_together(seasons):
    """Two carriers among the three of a pool are found likelier than one."""
    result = orchard(seasons, seasons.pool("S1", "T1", "T2", "T3"), trees=("T1", "T2", "T3"))
    (power,) = weigh_screening(result, gather_evidence(result), ["T1", "T2", "T3"])
    error = take_shares(result)["handling_error_pct"]
    one, two = 1 - 0.99**3, 1 - 0.99**1.5

    assert error + (1 - error) * one == pytest.approx(power.chances[0])
    assert error**2 + 2 * error * (1 - error) * one + (1 - error) ** 2 * two == pytest.approx(
        power.chances[1]
    )


def test_how_common_carriers_are_by_what_was_found(seasons):
    """Two of three trees tested singly; a tree tested twice is one tree, and a pool is none."""
    samples = [
        seasons.sample("S1", "T1"), seasons.sample("S2", "T1"),
        seasons.sample("S3", "T2", result="positive"), seasons.sample("S4", "T3", result="positive"),
        seasons.pool("S5", "T1", "T4", method="gus"),
    ]  # fmt: skip
    found = count_found(gather_evidence(orchard(seasons, *samples, trees=("T1", "T2", "T3", "T4"))))

    assert [("pcr", 3, 2)] == [(one.method, one.tested, one.positive) for one in found]
    assert found[0].prevalence.apparent == pytest.approx(2 / 3)
    assert found[0].prevalence.low < 2 / 3 < found[0].prevalence.high


def test_a_method_no_better_than_a_coin_tells_no_share(seasons):
    """As an operation has set it."""
    practice = {
        f"pcr_{name}_pct": {"usual": 50, "reason": "a coin"} for name in ("sensitivity", "specificity")
    }
    found = count_found(gather_evidence(orchard(seasons, *negatives(seasons, 1), practice=practice)))

    assert [None] == [one.prevalence for one in found]


def test_the_example_says_in_a_pool_of_twelve(example_season):
    """Never as single results."""
    result = examine(example_season, date(2026, 11, 20))

    assert ("gus negative", "pcr negative in a pool of 12") == weigh_trees(result)["U-101"].results
