"""Each rule finds the fault that is its own, at the right record and line; no rule finds anything else."""

from __future__ import annotations

import pytest
from judging import judge
from planted import FAULTS

from certgen.rules import RULES

#: Rules without a planted fault, each with its reason. There is none today.
UNPLANTED: dict[str, str] = {}


@pytest.mark.parametrize("slug", RULES)
def test_a_planted_fault_is_found_where_it_stands_and_nothing_else(slug):
    """Recall and precision of one on a season that was clean before."""
    if slug in UNPLANTED:
        pytest.skip(UNPLANTED[slug])
    judgement = judge([slug], 40_000)

    assert judgement.expected
    assert judgement.expected == judgement.found


def test_every_planted_fault_belongs_to_a_rule():
    """A fault whose rule is gone would be planted for nothing."""
    assert set(RULES) == set(FAULTS) | set(UNPLANTED)


@pytest.mark.parametrize(
    "pair",
    [
        ("parent-unscreened", "ledger-does-not-close"),
        ("bag-failed", "label-differs"),
        ("equipment-not-cleaned", "date-out-of-order"),
        ("lot-mixed", "sale-without-document"),
    ],
    ids="+".join,
)
def test_one_fault_hides_no_other(pair):
    """Two at once are both found, and nothing besides."""
    judgement = judge(pair, 41_000)

    assert judgement.expected == judgement.found
