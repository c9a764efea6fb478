"""Acceptance plans: published plans and their operating points, and scipy as a second engine."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from certgen.figures.sampling import accept_chance, quality_at

COVERS = ("certgen.figures.sampling",)

# Plans of ISO 2859-1 (partly confirmed by a journal figure); chances computed, verified with scipy.
PLANS = [
    (20, 0, 0.8179, 0.6676, 0.3585, 0.2561, 10.8749),
    (80, 1, 0.8092, 0.5230, 0.0861, 0.4460, 4.7752),
    (50, 2, 0.9862, 0.9216, 0.5405, 1.6552, 10.2959),
    (80, 2, 0.9534, 0.7844, 0.2306, 1.0298, 6.5160),
    (125, 3, 0.9626, 0.7587, 0.1238, 1.1003, 5.2663),
    (299, 0, 0.0495, 0.0024, 0.0000, 0.0172, 0.7671),
]


@pytest.mark.parametrize(("units", "allowed", "at_1", "at_2", "at_5", "grower", "buyer"), PLANS)
def test_plans(units, allowed, at_1, at_2, at_5, grower, buyer):
    """Chances of acceptance at 1, 2 and 5 %, and the shares accepted with 95 % and 10 %."""
    assert [at_1, at_2, at_5] == [round(accept_chance(units, allowed, p), 4) for p in (0.01, 0.02, 0.05)]
    assert [grower, buyer] == [round(100 * quality_at(units, allowed, chance), 4) for chance in (0.95, 0.10)]


def test_the_standards_own_curve_is_poisson():
    """ISO 2859-1, plan 125 with 3: 1.093 and 5.345 % (from memory) are Poisson; ours is binomial, near it."""
    mean = [optimize.brentq(lambda m, c=c: stats.poisson.cdf(3, m) - c, 0.01, 50) for c in (0.95, 0.10)]

    assert [1.093, 5.345] == [round(100 * m / 125, 3) for m in mean]
    assert all(
        abs(100 * m / 125 - 100 * quality_at(125, 3, c)) < 0.09
        for m, c in zip(mean, (0.95, 0.10), strict=True)
    )


# Computed; verified with scipy: 10 pools of 300, true share 0.1 %.
@pytest.mark.parametrize(("allowed", "chance"), [(0, 0.0497), (1, 0.2237), (2, 0.4979), (3, 0.7538)])
def test_pooled_acceptance(allowed, chance):
    """Acceptance by the count of positive pools."""
    assert chance == round(accept_chance(10, allowed, 0.001, seeds_per_unit=300), 4)


@given(st.integers(1, 500), st.floats(0.0001, 0.9), st.integers(1, 50), st.data())
def test_scipy_agrees(units, proportion, seeds, data):
    """The chance of acceptance equals scipy's binomial."""
    allowed = data.draw(st.integers(0, units))
    sensitivity, specificity = data.draw(st.floats(0.1, 1)), data.draw(st.floats(0.5, 1))
    carrying = 1 - (1 - proportion) ** seeds
    found = sensitivity * carrying + (1 - specificity) * (1 - carrying)

    ours = accept_chance(
        units, allowed, proportion, seeds_per_unit=seeds, sensitivity=sensitivity, specificity=specificity
    )

    assert math.isclose(stats.binom.cdf(allowed, units, found), ours, rel_tol=1e-6, abs_tol=1e-11)
