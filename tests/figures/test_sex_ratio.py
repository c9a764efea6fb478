"""Sexes against an expectation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.inheritance import EXPECTED, compare_counts, expect_sexes

COVERS = ("certgen.figures.inheritance",)


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


@pytest.mark.parametrize(
    ("parents", "thirds"),
    [
        (("hermaphrodite", "hermaphrodite"), {"hermaphrodite": 4, "female": 2}),
        (("female", "hermaphrodite"), {"hermaphrodite": 3, "female": 3}),
        (("female", "male"), {"female": 3, "male": 3}),
        (("hermaphrodite", "male"), {"female": 2, "hermaphrodite": 2, "male": 2}),
    ],
)
def test_shares_of_each_cross(parents, thirds):
    """In sixths: one locus, two dominant alleles that are lethal together."""
    assert {sex: part / 6 for sex, part in thirds.items()} == pytest.approx(dict(expect_sexes(*parents)))


def test_a_count_by_hand():
    """30, 20 and 10 against a third each: 100/20 + 0 + 100/20, two degrees of freedom, exp(-5)."""
    fit = compare_counts(
        {"female": 30, "hermaphrodite": 20, "male": 10}, expect_sexes("hermaphrodite", "male")
    )

    assert (pytest.approx(10), 2, pytest.approx(0.006738, abs=1e-6), False) == (
        fit.statistic, fit.freedom, fit.chance, fit.small,
    )  # fmt: skip


def test_a_sex_that_cannot_come_is_no_class():
    """Its share is nothing: it takes no part, and nothing may be counted of it."""
    expected = {"female": 0.5, "hermaphrodite": 0.5, "male": 0.0}
    fit = compare_counts({"female": 6, "hermaphrodite": 4, "male": 0}, expected)

    assert (pytest.approx(0.4), 1, False) == (fit.statistic, fit.freedom, fit.small)
    assert compare_counts({"female": 5, "hermaphrodite": 4}, expected).small
    with pytest.raises(ValueError, match="No male plant"):
        compare_counts({"female": 6, "male": 1}, expected)


@pytest.mark.parametrize("expected", [{"female": 1.0}, {"female": 0.5, "male": 0.5 + 2e-9}])
def test_expected_shares_are_of_two_sexes_and_whole(expected):
    """A part in a thousand million is let pass."""
    assert compare_counts({"female": 5, "male": 5}, {"female": 0.5, "male": 0.5 + 5e-10}).freedom
    with pytest.raises(ValueError, match="of two sexes or more"):
        compare_counts({"female": 2}, expected)
    with pytest.raises(ValueError, match="An expected share"):
        compare_counts({"female": 2}, {"female": 1.5, "male": -0.5})
    with pytest.raises(ValueError, match="The count of female"):
        compare_counts({"female": -2, "male": 4}, {"female": 0.5, "male": 0.5})
