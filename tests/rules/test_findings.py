from __future__ import annotations

import pytest

from certgen.lineage import Node
from certgen.records import Place
from certgen.rules import Finding
from certgen.rules.findings import WEIGHTS, Gap


def gap(**more):
    """A gap at bag B1."""
    given = {
        "rule": "bag-untagged", "weight": "unproven", "table": "bagging", "id": "B1", "field": ("tag",),
        "place": Place("season.yaml", ("bagging", 0)), "message": "Bag B1 has no tag.",
        "remedy": "Write it down.", "clauses": (), "lots": ("L1",),
        "starts": (Node("bagging", "B1"),),
    }  # fmt: skip
    return Gap(**{**given, **more})


@pytest.mark.parametrize(
    ("supply", "expected"),
    [("the tag of bag B1", "the tag of bag B1"), (None, "what is missing at bagging B1 (bag-untagged)")],
)
def test_a_gap_is_a_fault_of_its_lots(supply, expected) -> None:
    """It stands at the same records; where the rule names nothing to supply, the record is named."""
    fault = gap(supply=supply).fault

    assert ("unproven", (Node("bagging", "B1"),), "own", expected, ()) == (
        fault.weight,
        fault.starts,
        fault.touches,
        fault.supply,
        fault.take_out,
    )


@pytest.mark.parametrize("touches", ["own", "rest", "mixed", "missing", "whole"])
def test_which_grams_are_meant_and_what_may_be_taken_out_are_handed_on(touches) -> None:
    """Grams that no source accounts for, or a count missed, or were mixed; a source that spoils its lot."""
    fault = gap(touches=touches, take_out=(Node("batches", "X1"),)).fault

    assert (touches, (Node("batches", "X1"),)) == (fault.touches, fault.take_out)


def test_what_a_finding_leaves_out_comes_from_its_rule() -> None:
    """By itself it says only where it stands, and speaks of all grams behind it."""
    finding = Finding("bagging", "B1", 0)

    assert ((), None, None, None, "own") == (
        finding.field,
        finding.weight,
        finding.reaches,
        finding.supply,
        finding.touches,
    )


def test_weights_stand_worst_first() -> None:
    """Whatever sorts by weight relies on it."""
    assert ("rejects", "unproven", "advice") == WEIGHTS
