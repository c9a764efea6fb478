"""A tree is cleared for bagging when the checks would take a bag on it for proven."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from certgen.dossier.due import list_due
from certgen.examination import Result, examine_season

TREE = ("cleared for bagging", "screening to complete")


def told(result: Result) -> list[tuple[str, str]]:
    """What is said of the trees' screening, and to what end."""
    return [(one.subject, one.about) for one in list_due(result) if one.subject in TREE]


def examined(seasons: Any, *samples: dict[str, Any], **details: Any) -> Result:
    """One tree with some samples and a bag on it, with all that follows."""
    line = {**seasons.one_line(), "screening": list(samples)}
    return examine_season(seasons.season_of(details=details, **line), seasons.COVERED)


def test_a_proven_tree_is_cleared(seasons: Any) -> None:
    """Nothing is said besides where it stands."""
    result = examined(seasons, seasons.sample("S1", "T1"))

    assert [
        ("cleared for bagging", "Amber Kestrel, block East, row 1, place T1".replace("Kestrel,", "Kestrel;"))
    ] == (told(result))
    assert "method-does-not-cover" not in {gap.rule for gap in result.gaps}


@pytest.mark.parametrize(
    ("change", "rule", "says"),
    [
        ({"method": "gus", "targets": ()}, "method-does-not-cover", "its tests can't see "),
        ({"laboratory": None}, "report-missing", "sample S1 is not shown as a bag needs it"),
        ({"condition": "seal broken"}, "sample-seal-broken", "sample S1 is not shown as a bag needs it"),
    ],
)
def test_due_and_check_agree(change: dict[str, Any], rule: str, says: str, seasons: Any) -> None:
    """What `check` calls unproven of a bag's tree, `due` doesn't call cleared, and says what is missing."""
    sample = {
        key: value for key, value in {**seasons.sample("S1", "T1"), **change}.items() if value is not None
    }
    result = examined(seasons, sample)
    ((subject, about),) = told(result)

    assert rule in {gap.rule for gap in result.gaps}
    assert ("screening to complete", True) == (subject, says in about)


def test_a_second_test_completes_the_screening(seasons: Any) -> None:
    """What one method can't see another does: from then on the tree is cleared."""
    blind = seasons.sample("S1", "T1", method="gus", targets=())
    rest = seasons.sample("S2", "T1", collected=seasons.SCREENED + timedelta(2), report="BF-2202")

    assert ["screening to complete"] == [subject for subject, _ in told(examined(seasons, blind))]
    assert ["cleared for bagging"] == [subject for subject, _ in told(examined(seasons, blind, rest))]


def test_events_of_concern_decide_for_both(seasons: Any) -> None:
    """A list of the season's own is the one that both go by."""
    blind = seasons.sample("S1", "T1", method="gus", targets=())
    wide, narrow = (
        examined(seasons, blind, **more) for more in ({}, {"events_of_concern": ["55-1", "63-1"]})
    )

    assert ["screening to complete", "cleared for bagging"] == [told(one)[0][0] for one in (wide, narrow)]
    assert [True, False] == [
        "method-does-not-cover" in {gap.rule for gap in one.gaps} for one in (wide, narrow)
    ]
