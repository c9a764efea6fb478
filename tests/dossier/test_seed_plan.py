"""The plan of a seed test, and what it uses up."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.dossier.seed_tests import plan_seed_test
from certgen.examination import examine
from certgen.figures.pools import count_pools

COVERS = ("certgen.dossier.seed_tests",)

LOT = "AK-26-1"


@pytest.fixture(scope="module")
def result(example_season):
    """The example season, examined."""
    return examine(example_season, date(2026, 11, 20))


@given(detect=st.floats(0.0005, 0.2), confidence=st.floats(0.5, 0.999), sensitivity=st.floats(0.5, 1))
def test_a_plan_keeps_its_word_with_as_little_seed_as_its_pools_allow(
    result, detect, confidence, sensitivity
):
    """The chance is reached, the assay sees every pool, and one seed less a pool needs another pool."""
    plan = plan_seed_test(result, LOT, detect, confidence=confidence, sensitivity=sensitivity)

    assert plan.reached >= confidence - 1e-9
    assert 1 <= plan.seeds_per_pool <= plan.largest_pool == 250
    assert plan.bound is None or plan.bound <= detect * (1 + 1e-6)
    if plan.seeds_per_pool > 1:
        assert count_pools(detect, plan.seeds_per_pool - 1, confidence, sensitivity) > plan.pools


def test_a_smaller_share_costs_more_seed(result):
    """Ten times as rare, about ten times the seed: 3,000 seeds find one in a thousand (rule of three)."""
    rare, common = (plan_seed_test(result, LOT, share) for share in (0.001, 0.01))

    assert 2995 <= rare.seeds <= 3000
    assert 299 <= common.seeds <= 300
    assert rare.cost_g == pytest.approx(rare.seeds * rare.thousand_g / 1000)
    assert rare.share_of_stock == pytest.approx(rare.cost_g / (rare.stock_mg / 1000))


def test_figures_say_where_they_come_from(result):
    """A lot with its own tests uses them; another uses the crop's figures, and says so."""
    own, other = plan_seed_test(result, LOT, 0.01), plan_seed_test(result, "AK-26-5", 0.01)

    assert ("of test G26-05", "test G26-02") == (own.limit_source, own.weight_source)
    assert 1 / 250 == other.limit
    assert "published limit of 0.4 %" in other.limit_source


def test_what_cannot_be_planned_is_refused(result):
    """A lot that isn't known, a pool that hides a seed from the assay, a share of nothing."""
    with pytest.raises(KeyError):
        plan_seed_test(result, "AK-99", 0.01)
    with pytest.raises(ValueError, match="among 250 at most"):
        plan_seed_test(result, LOT, 0.01, pool=251)
    with pytest.raises(ValueError, match="proportion"):
        plan_seed_test(result, LOT, 0.0)
