from __future__ import annotations

import pytest

from certgen.standards import StandardError
from certgen.standards.coverage import asked_by, parse_subjects, subjects
from certgen.standards.reading import Section

COVERS = ("certgen.standards.coverage",)


def test_clauses_of_one_subject_bring_their_rulebooks_along() -> None:
    """Land years are asked by all four organic rulebooks, whichever of them is cited."""
    assert {"us-nop", "eu", "codex", "canada"} == asked_by(["us-nop:205.202(b)"])
    assert {"us-nop", "eu", "codex", "canada"} == asked_by(["codex:annex 1 A conversion"])


def test_what_stands_under_no_subject_is_its_own_rulebooks() -> None:
    """The last certified operation and the ship-by term are one rulebook's each."""
    assert {"us-nop"} == asked_by(["us-nop:205.307(b)"])
    assert {"seed-law"} == asked_by(["seed-law:201.30a", "practice:germination_test_age_months"])


def test_practice_is_asked_by_nobody() -> None:
    """No rulebook, no answer."""
    assert frozenset() == asked_by(["practice:storage_c"])
    assert frozenset() == asked_by([])


def test_a_subject_does_not_drag_in_another_that_shares_a_clause() -> None:
    """Keeping time shares a clause with the records; citing time doesn't ask for Codex's accounts, nor for
    those of a standard that sets no years.
    """
    assert {"us-nop", "canada", "seed-law"} == asked_by(["us-nop:205.103(b)(4)"])


def test_every_subject_is_shared() -> None:
    """One rulebook alone shares nothing."""
    assert all(len({clause.partition(":")[0] for clause in clauses}) > 1 for clauses in subjects().values())


@pytest.mark.parametrize(
    ("clauses", "message"),
    [
        (["us-nop:205.999", "eu:2018/848 11"], "no rulebook has us-nop:205.999"),
        (["us-nop:205.103(a)", "us-nop:205.272(a)"], "two rulebooks"),
    ],
)
def test_a_subject_that_means_nothing_is_refused(clauses, message) -> None:
    """Misspelt clauses would quietly count nothing."""
    with pytest.raises(StandardError, match=message):
        parse_subjects(Section({"subjects": {"one": clauses}}, "subjects.yaml"))
