"""Sexes against an expectation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.sex_ratio import EXPECTED, compare_counts, expect_sexes


@pytest.mark.parametrize("parents", EXPECTED)
def test_expected_shares_make_one(parents):
    """Each cross accounts for all its seedlings."""
    assert 1 == pytest.approx(sum(expect_sexes(*parents).values()))


@given(st.integers(1, 300))
def test_a_perfect_fit(third):
    """Exactly 2 : 1 has chi-square nothing and chance one."""
    fit = compare_counts({"hermaphrodite": 2 * third, "female": third}, expect_sexes(*["hermaphrodite"] * 2))

    assert (0.0, 1, 1.0) == (
        pytest.approx(fit.statistic, abs=1e-9),
        fit.freedom,
        pytest.approx(fit.chance, abs=1e-4),
    )
    assert fit.small == (third < 5)


def test_a_sex_that_was_not_counted_stands_at_nothing():
    """Ten hermaphrodites and no female stray from 2 : 1."""
    fit = compare_counts({"hermaphrodite": 10}, expect_sexes("hermaphrodite", "hermaphrodite"))

    assert 5.0 == pytest.approx(fit.statistic)


def test_nonsense_is_refused():
    """A cross without seed, nothing counted, an unexpected sex, shares that do not add up."""
    with pytest.raises(ValueError, match="sets no seed"):
        expect_sexes("male", "female")
    with pytest.raises(ValueError, match="nothing to compare"):
        compare_counts({"female": 0}, expect_sexes("female", "male"))
    with pytest.raises(ValueError, match="No male plant"):
        compare_counts({"male": 1, "female": 2}, expect_sexes("hermaphrodite", "hermaphrodite"))
    with pytest.raises(ValueError, match="add up to 1"):
        compare_counts({"female": 2}, {"female": 0.5, "male": 0.4})
