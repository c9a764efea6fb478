"""A season's own figures in place of its crop's."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.standards import load_profile
from certgen.standards.practice import HANDLING, PRIOR, change_practice, list_assumed

COVERS = ("certgen.standards.practice",)

PAPAYA = load_profile("papaya")


def test_every_assumed_figure_is_a_share_with_a_source():
    """What the odds rest on can be looked up: a figure from 0 to 100 % that says where it is from."""
    for practice in list_assumed(PAPAYA).values():
        assert 0 <= practice.usual <= 100
        assert practice.source
        assert practice.mark


def test_every_method_brings_two_figures():
    """Sensitivity and specificity of each way of testing can be changed in the season."""
    named = {f"{method}_{kind}_pct" for method in PAPAYA.methods for kind in ("sensitivity", "specificity")}

    assert {PRIOR, HANDLING, "selfed_share_pct"} | named == set(list_assumed(PAPAYA))


@given(st.floats(0, 100, allow_nan=False))
def test_a_changed_figure_stands_and_says_whose_it_is(percent):
    """An operation's own sensitivity takes the place of the profile's."""
    changes = {"pcr_sensitivity_pct": {"usual": percent, "reason": "our laboratory's validation"}}
    found, faults = change_practice(PAPAYA, changes)

    assert {} == faults
    assert (percent, "set by the operation") == (
        found["pcr_sensitivity_pct"].usual,
        found["pcr_sensitivity_pct"].mark,
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"prior_transgene": {"usual": 5, "reason": "r"}}, "Did you mean 'prior_transgene_pct'?"),
        ({"storage_months_airtight_room": {"high": 2, "reason": "r"}}, "'storage_months_airtight_dry_room'."),
        ({"drying_c": {"reason": "r"}}, "gives no figure"),
        ({"drying_c": {"high": 70, "reason": "r"}}, "impossible above 60"),
        ({"drying_c": {"low": 41, "reason": "r"}}, "high 40"),
        ({"pcr_sensitivity_pct": {"usual": 101, "reason": "r"}}, "impossible above 100"),
        ({"drying_c": {"high": 38, "reason": " "}}, "need a reason"),
    ],
)
def test_a_change_that_does_not_fit_changes_nothing_and_is_told(change, said):
    """The crop's figure stands, and the grower reads why."""
    found, faults = change_practice(PAPAYA, change)
    unchanged, _ = change_practice(PAPAYA, {})

    assert unchanged == found
    assert [True] == [said in fault for fault in faults.values()]
