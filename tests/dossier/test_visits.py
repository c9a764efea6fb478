from __future__ import annotations

from datetime import date

import pytest
from seasons import write_season

from certgen.dossier.due import list_due
from certgen.dossier.visit_papers import gather_papers
from certgen.dossier.visits import list_open, mentions_of
from certgen.examination import examine
from certgen.lineage import Node

COVERS = ("certgen.dossier.visit_papers",)

ON = date(2026, 10, 31)
VISIT = {"visit": "V1", "kind": "yearly", "from": "2026-09-15"}
FINDING = {"finding": "NC-1", "kind": "paper", "about": ["X1"], "deadline": "2026-10-15"}


@pytest.fixture
def season_with(seasons, tmp_path):
    """The result of one line to lot L1 with visits."""

    def build(*visits, on=ON, **tables):
        write_season(tmp_path, **{**seasons.one_line(), **tables}, visits=list(visits))
        return examine(tmp_path, on)

    return build


def due_of(result):
    """What `certgen due` says of inspections."""
    found = [one for one in list_due(result) if one.subject == "inspection"]
    return [(one.identifier, one.state, one.last) for one in found]


@pytest.mark.parametrize(
    ("told", "state"),
    [
        ({"deadline": "2026-12-15"}, "due"),
        ({}, "overdue"),
        # Answered in time it waits for the certifier; answered late it stays late.
        ({"done": "2026-10-01"}, "due"),
        ({"done": "2026-10-20"}, "overdue"),
    ],
)
def test_an_open_finding_is_due_by_its_deadline(season_with, told, state):
    """Whoever keeps the records sees it in the diary until a letter closes it."""
    finding = {**FINDING, **told}
    result = season_with({**VISIT, "findings": [finding]})

    assert [("V1", state, date.fromisoformat(finding["deadline"]))] == due_of(result)


def test_an_announced_visit_is_due_on_its_day(season_with):
    """It stands in the diary from its notice to its day, and not after it."""
    visit = {**VISIT, "from": "2026-11-10", "notice": {"given": "2026-10-20", "how": "by letter"}}

    assert [("V1", "due", date(2026, 11, 10))] == due_of(season_with(visit))
    assert [] == due_of(season_with(visit, on=date(2026, 11, 11)))


def test_what_is_open_stands_with_the_oldest_first(season_with):
    """Findings, requests and differences of all visits, each once; what agrees isn't open."""
    exercises = [
        {"kind": "labels", "about": ["L1"], "outcome": "agrees"},
        {"kind": "mass balance", "about": ["L1"], "outcome": "differs"},
    ]
    old = {**VISIT, "visit": "V0", "from": "2025-06-01", "requests": [{"asked": "a map"}]}
    result = season_with({**VISIT, "findings": [FINDING], "exercises": exercises}, old)

    assert [("request", True), ("finding", False), ("exercise", False)] == [
        (one.kind, one.earlier) for one in list_open(result.case)
    ]


def test_what_was_tried_about_a_lot_is_named_with_its_outcome(season_with):
    """About the lot itself, or anything that is asked for with it."""
    tried = {"kind": "count of stock", "about": ["L1"], "outcome": "not done"}
    result = season_with({**VISIT, "exercises": [tried], "findings": [FINDING]})

    def told(*nodes):
        return [(one.kind, one.outcome) for one in mentions_of(result, nodes)]

    assert [("exercise", "not done")] == told(Node("lots", "L1"))
    assert [("exercise", "not done"), ("finding", "open")] == told(Node("lots", "L1"), Node("batches", "X1"))
    assert [] == told(Node("trees", "T1"))


def test_the_papers_draw_as_the_packet_does_unless_a_text_is_told(season_with):
    """One draw in every output; with the inspector's text another, under the records' fingerprint."""
    result = season_with()
    own, told = gather_papers(result), gather_papers(result, "rain at noon", "0" * 64)

    assert ["lots", "trees", "bags"] == [check.kind for check in own.draws] == [c.kind for c in told.draws]
    assert {""} == {check.key.fingerprint for check in own.draws}
    assert 3 == len({check.key.fingerprint for check in told.draws})
    assert {False} == {check.key.noted for check in told.draws}


@pytest.mark.parametrize("text", ["", "…", "   "])
def test_a_text_that_decides_nothing_is_refused(season_with, text):
    """Whatever there is to draw from."""
    result = season_with()
    with pytest.raises(ValueError, match="text"):
        gather_papers(result, text, "0" * 64)


def test_only_lots_that_the_book_holds_are_counted(season_with):
    """A lot that is gone by the book is still among those to check."""
    gone = {"movement": "M1", "date": "2026-08-01", "lot": "L1", "kind": "discarded", "weight": "8 g"}
    papers = gather_papers(season_with(movements=[gone]))

    assert (["L1"], []) == ([one.lot for one in papers.lots], [one.lot for one in papers.in_store])
