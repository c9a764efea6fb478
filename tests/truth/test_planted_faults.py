"""Each rule finds the fault that is its own, at the right record and line; no rule finds anything else.

Three faults are planted in a season at a time, of rules that stand far apart: a third of the seasons to
examine, and none may hide another. `run.py --faults` plants them one by one.
"""

from __future__ import annotations

from functools import cache

import pytest
from judging import judge
from planted import FAULTS

from certgen.rules import RULES
from certgen.rules.obligations import OF_PACKETS

COVERS = ("certgen.rules",)

#: Rules without a planted fault, each with its reason.
UNPLANTED: dict[str, str] = {
    "record-unread": "What couldn't be read has no place among the records, and such a season isn't clean of "
    "reading errors; tests/records, the rule's example and the frauds of silence hold it.",
    **dict.fromkeys(
        (
            "sample-without-submission",
            "sample-on-two-sheets",
            "custody-dates-contradict",
            "seal-used-twice",
            "seal-differs",
            "split-sample-unreceipted",
        ),
        "A season that keeps one sheet is asked for those of all its letters, so no sheet can be planted "
        "alone; the rules' examples and tests/rules/samples/test_custody.py hold them.",
    ),
    **dict.fromkeys(
        OF_PACKETS,
        "What a supplier's packet shows is no record of the season's, so nothing in it can be planted; the "
        "rules' examples, tests/rules/seed/test_purchases.py and the frauds with packets hold it.",
    ),
}
PLANTED = [slug for slug in RULES if slug not in UNPLANTED]
GROUPS = (len(PLANTED) + 2) // 3


@cache
def judgement_of(group):
    """The faults of every so many-th rule, in one season."""
    return judge(PLANTED[group::GROUPS], 40_000)


@pytest.mark.parametrize("slug", PLANTED)
def test_a_planted_fault_is_found_where_it_stands_and_nothing_else(slug):
    """Nothing is missed, and nothing is found that wasn't planted."""
    judgement = judgement_of(PLANTED.index(slug) % GROUPS)

    assert slug in {place.rule for place in judgement.expected}
    assert judgement.expected == judgement.found


def test_every_planted_fault_belongs_to_a_rule_and_every_rule_has_one():
    """A fault whose rule is gone would be planted for nothing."""
    assert set(RULES) == set(FAULTS) | set(UNPLANTED)
    assert set() == set(FAULTS) & set(UNPLANTED)
