"""What screening leaves of the chance that a parent is transgenic, for trees and lots."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.dossier.odds import list_assumptions, weigh_lots, weigh_trees
from certgen.examination import examine, examine_season
from certgen.figures.odds import weigh_untested

ON = date(2026, 10, 31)
SLOW = settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
METHODS = ("pcr", "gus", "strip")


def one_tree(seasons, *samples, events=("55-1", "63-1"), practice=None):
    """A season of one tree with some samples, and what is reckoned with."""
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        screening=list(samples),
    )
    details = season.details.__class__(
        **{
            **{name: getattr(season.details, name) for name in season.details.__dataclass_fields__},
            "events_of_concern": events,
            "practice": practice or {},
        }
    )
    object.__setattr__(season, "details", details)
    return examine_season(season, ON)


def negatives(seasons, count, method="pcr"):
    """So many negative samples of T1."""
    return [
        seasons.sample(f"S{at}", "T1", method=method, collected=seasons.SCREENED + timedelta(at))
        for at in range(count)
    ]


def test_an_untested_tree_keeps_the_chance_before(seasons):
    """Ten in a hundred, as the crop's figure says."""
    tree = weigh_trees(one_tree(seasons))["T1"]

    assert (0.1, pytest.approx(0.1)) == (tree.before, tree.after)
    assert ("55-1", "63-1") == tree.unseen


def test_a_negative_lowers_the_chance_by_bayes(seasons):
    """π(1-Se) / (π(1-Se) + (1-π)Sp), worked out beside it for one method that sees every event."""
    result = one_tree(seasons, *negatives(seasons, 1))
    assumed = {one.key: one.percent / 100 for one in list_assumptions(result)}
    prior, finds, spares = 0.1, assumed["pcr_sensitivity_pct"], assumed["pcr_specificity_pct"]
    left = prior * (1 - finds) / (prior * (1 - finds) + (1 - prior) * spares)

    assert pytest.approx(left) == weigh_trees(result)["T1"].after


def test_a_negative_pool_says_less_than_a_leaf_alone(seasons):
    """The chance to find one carrier among n leaves is that of a single leaf to the power of n."""
    sample = {key: value for key, value in seasons.sample("S1", "T1").items() if key not in {"tree", "mark"}}
    result = one_tree(seasons, sample | {"trees": ("T1", "T2", "T3")})
    assumed = {one.key: one.percent / 100 for one in list_assumptions(result)}
    missed, spares = 1 - assumed["pcr_sensitivity_pct"] ** 3, assumed["pcr_specificity_pct"]
    tree = weigh_trees(result)["T1"]

    assert ("pcr negative in a pool of 3",) == tree.results
    assert pytest.approx(0.1 * missed / (0.1 * missed + 0.9 * spares)) == tree.after


def test_repeats_of_one_method_count_once(seasons):
    """They share its blind spots."""
    one, three = (weigh_trees(one_tree(seasons, *negatives(seasons, n)))["T1"].after for n in (1, 3))

    assert one == three


def test_an_event_that_no_method_sees_keeps_its_chance_or_more(seasons):
    """PCR for nothing that the event holds: the event's half of the prior stays, if anything it grows."""
    unseen = one_tree(seasons, *[{**one, "targets": ()} for one in negatives(seasons, 1)])
    tree = weigh_trees(unseen)["T1"]

    assert ("55-1", "63-1") == tree.unseen
    assert pytest.approx(tree.before) == tree.after


def test_an_event_that_only_one_method_sees_is_not_ruled_out_by_another(seasons):
    """A GUS stain cannot see an event without that gene: what is left is at least the event's own prior."""
    result = one_tree(seasons, *negatives(seasons, 1, "gus"), events=("55-1", "63-1", "X17-2"))
    tree = weigh_trees(result)["T1"]

    assert "X17-2" in tree.unseen
    assert tree.after >= 0.1 / 3


@SLOW
@given(data=st.data())
def test_more_negatives_never_raise_a_trees_chance(seasons, data):
    """Any negatives by any methods, one more each time."""
    methods = data.draw(st.lists(st.sampled_from(METHODS), min_size=1, max_size=4))
    samples = [
        seasons.sample(f"S{at}", "T1", method=method, collected=seasons.SCREENED + timedelta(at))
        for at, method in enumerate(methods)
    ]
    chances = [
        weigh_trees(one_tree(seasons, *samples[:count]))["T1"].after for count in range(len(samples) + 1)
    ]

    assert all(later <= earlier + 1e-12 for earlier, later in pairwise(chances))


def test_a_season_sets_its_own_figures(seasons):
    """Prior and sensitivity in the season, with a reason, stand in place of the crop's."""
    practice = {
        "prior_transgene_pct": {"usual": 40, "reason": "neighbours grow it"},
        "pcr_sensitivity_pct": {"usual": 50, "reason": "old reagents"},
    }
    result = one_tree(seasons, *negatives(seasons, 1), practice=practice)
    told = {one.key: one for one in list_assumptions(result)}

    assert () == result.errors
    assert (40, "neighbours grow it", "set by the operation") == (
        told["prior_transgene_pct"].percent,
        told["prior_transgene_pct"].source,
        told["prior_transgene_pct"].mark,
    )
    assert weigh_trees(result)["T1"].after > 0.2


def test_a_lots_odds_lie_between_nothing_and_its_worst(example_season):
    """Expected share below the chance of any, and an untested parent weighs more than a tested one."""
    for lot in weigh_lots(examine(example_season, date(2026, 11, 20))).values():
        assert 0 <= lot.odds.expected <= lot.odds.any_parent <= 1
        assert 0 <= lot.odds.uncleared <= 1
        assert all(times > 1 for times in lot.untested.values())
        for name, times in lot.untested.items():
            cleared = next(iter(p.chance for p in lot.parents if p.cleared), None)
            if cleared is not None:
                assert weigh_untested(lot.parents, name, cleared) == pytest.approx(times, rel=0.5)
