"""Yields a screened tree: the far ones are asked about."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.yields import ask_about, compare_yields, score
from certgen.coop.members.facts import MemberSummary, YieldFact

FIGURES = st.lists(st.floats(0.1, 1000), min_size=3, max_size=30)


def test_the_score_is_the_robust_one_worked_by_hand() -> None:
    """On logarithms: 1, 2, 4, 8, 1024 have median ln 4 and deviations (2, 1, 0, 1, 8) × ln 2, median ln 2."""
    found = score([1, 2, 4, 8, 1024])
    expected = [-2 / 1.4826, -1 / 1.4826, 0, 1 / 1.4826, 8 / 1.4826]
    assert expected == pytest.approx(found)


def test_the_factor_makes_the_spread_of_a_bell_curve() -> None:
    """1.4826 is 1 / Φ⁻¹(3/4), from the standard library's normal distribution."""
    assert 1.4826 == pytest.approx(1 / statistics.NormalDist().inv_cdf(0.75), abs=5e-5)


@given(FIGURES, st.floats(0.01, 100))
def test_a_unit_changes_nothing(figures: list[float], factor: float) -> None:
    """Grams or ounces: who lies how far from the rest stays the same."""
    one, other = score(figures), score([figure * factor for figure in figures])
    for first, second in zip(one, other, strict=True):
        assert first is not None
        assert second is not None
        assert math.isclose(first, second, rel_tol=1e-4, abs_tol=1e-3) or min(abs(first), abs(second)) > 1e6


@given(st.lists(st.floats(0.1, 1000), max_size=2))
def test_two_members_are_too_few(figures: list[float]) -> None:
    """Of two nobody can say which is the odd one."""
    assert [None] * len(figures) == score(figures)


@pytest.mark.parametrize(
    ("grams", "asked"),
    [
        ([8, 8, 24], ["C"]),
        ([8, 8, 2], ["C"]),
        ([8, 8, 11], []),
        ([8, 8.1, 8.2], []),
        ([8, 24], []),
        ([4, 8, 16], []),
    ],
)
def test_only_far_ones_are_asked(
    summary: Callable[..., MemberSummary], grams: list[float], asked: list[str]
) -> None:
    """Close agreement doesn't make a trifle a question, a wide spread makes none either."""
    summaries = {
        key: summary(key, yields=(YieldFact("Amber Kestrel", round(gram * 3000), 3),))
        for key, gram in zip("ABC", grams, strict=False)
    }
    assert asked == [one.members[0] for one in ask_about(compare_yields(summaries))]
