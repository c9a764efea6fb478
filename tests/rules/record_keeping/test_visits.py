from __future__ import annotations

from datetime import date

import pytest
from seasons import lot, movement, write_season

from certgen.examination import examine
from certgen.lineage import Node
from certgen.rules.record_keeping.visit_entries import list_entries, list_visits, nodes_meant

COVERS = ("certgen.rules.record_keeping.visit_entries",)

ON = date(2026, 10, 31)
PAPER = "letters/word.txt"
EXERCISE = {"kind": "count of stock", "about": ["L1"], "outcome": "differs"}
FINDING = {"finding": "NC-1", "kind": "other seed", "about": ["X1"]}
PLAN = {"finding": "1", "kind": "plan"}
ASKED = {"asked": "a map", "by": "2026-10-01"}
EARLY = ["request-unanswered", "visit-dates-contradict"]
AHEAD = {"from": "2026-11-20", "exercises": [{**EXERCISE, "outcome": "agrees"}]}
CLOSED = {"closed": "2026-09-25", "closed_by": "P. Ash", "letter": PAPER}


@pytest.fixture
def visited(seasons, tmp_path):
    """The result of one line from tree T1 to lot L1 and of a visit on 15 September 2026."""

    def build(on=ON, tables=None, **told):
        visit = {"visit": "V1", "kind": "yearly", "from": "2026-09-15", "evidence": [PAPER], **told}
        write_season(tmp_path, **{**seasons.one_line(), **(tables or {}), "visits": [visit]})
        path = tmp_path / "evidence" / PAPER
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("Settled.\n", encoding="utf-8")
        result = examine(tmp_path, on)
        assert () == tuple(result.errors)
        return result

    return build


def slugs_of(result):
    """The rules of the gaps that stand at a visit."""
    return sorted(gap.rule for gap in result.gaps if gap.table == "visits")


@pytest.mark.parametrize(
    ("ends", "standing"),
    [
        ({}, "unproven"),
        ({"settled": "2026-09-20"}, "unproven"),
        ({"paper": PAPER}, "unproven"),
        ({"settled": "2026-09-20", "paper": PAPER}, "traced"),
        # Before the visit, after today, a file that the visit doesn't name, one that isn't there.
        ({"settled": "2026-09-14", "paper": PAPER}, "unproven"),
        ({"settled": "2026-11-01", "paper": PAPER}, "unproven"),
        ({"settled": "2026-09-20", "paper": "letters/other.txt"}, "unproven"),
        ({"outcome": "agrees"}, "traced"),
        ({"outcome": "not done"}, "traced"),
    ],
)
def test_a_difference_stands_until_a_filed_paper_settles_it(visited, ends, standing):
    """What was counted on the spot weighs more than the book."""
    result = visited(exercises=[{**EXERCISE, **ends}])

    assert standing == result.lots["L1"].standing


@pytest.mark.parametrize(
    ("told", "standing"),
    [
        ({}, "unproven"),
        ({"done": "2026-09-20", "paper": PAPER, "action": "cleaned"}, "unproven"),
        (CLOSED, "traced"),
        ({**CLOSED, "closed_by": "?"}, "unproven"),
        ({**CLOSED, "letter": "letters/none.txt"}, "unproven"),
        ({**CLOSED, "closed": "2026-09-01"}, "unproven"),
        ({"kind": "paper"}, "traced"),
        ({"kind": "label"}, "traced"),
        ({"kind": "plan", "about": []}, None),
        ({"kind": "origin", "about": ["T1"]}, "unproven"),
        ({"kind": "substance", "about": ["East"]}, "unproven"),
        ({"kind": "quantity", "about": ["M1"]}, "unproven"),
    ],
)
def test_a_finding_against_seed_stands_until_the_certifiers_letter(visited, told, standing):
    """An answer doesn't close it, nor does anybody's word without the letter."""
    finding = {**FINDING, **told}
    if not finding["about"]:
        del finding["about"]
    moves = {"movements": [movement("M1", "L1", "retained", 1)]}
    result = visited(findings=[finding], tables=moves)

    assert (standing or "traced") == result.lots["L1"].standing


def test_a_closed_finding_lifts_nothing(visited):
    """With a letter that closes it the lot is what its other records say: here nobody screened the tree."""
    told = [{**FINDING, **CLOSED}]
    result = visited(findings=told, tables={"screening": []})

    assert "traced" != result.lots["L1"].standing


@pytest.mark.parametrize("on", [date(2026, 10, 15), date(2026, 10, 16)])
def test_a_deadline_passes_on_the_day_after_it(visited, on):
    """Until the end of its last day it isn't late."""
    result = visited(on, findings=[{**FINDING, "kind": "paper", "deadline": "2026-10-15"}])

    assert (["finding-overdue"] if on.day == 16 else []) == slugs_of(result)


@pytest.mark.parametrize(
    ("told", "rules"),
    [
        ({"findings": [{**PLAN, "done": "2026-09-20"}]}, ["answer-without-paper"]),
        (
            {"findings": [{**PLAN, "closed": "2026-09-20"}]},
            ["finding-closed-unshown"],
        ),
        ({"findings": [{**PLAN, **CLOSED, "deadline": "2026-09-20"}]}, []),
        ({"requests": [ASKED]}, ["request-unanswered"]),
        (
            {"requests": [{**ASKED, "answered": "2026-09-30", "paper": PAPER}]},
            [],
        ),
        (
            {"requests": [{"asked": "a map", "by": "2026-09-01"}]},
            ["request-unanswered", "visit-dates-contradict"],
        ),
        ({"to": "2026-09-14"}, ["visit-dates-contradict"]),
        ({"notice": {"given": "2026-09-16"}}, ["visit-dates-contradict"]),
        ({"from": "2026-11-20"}, []),
        (
            {"from": "2026-11-20", "exercises": [{**EXERCISE, "outcome": "agrees"}]},
            ["visit-dates-contradict"],
        ),
        (
            {"findings": [{**PLAN, **CLOSED, "done": "2026-09-28", "paper": PAPER}]},
            ["visit-dates-contradict"],
        ),
    ],
)
def test_what_a_visit_left_open_or_tells_wrongly_is_said(visited, told, rules):
    """Late answers, missing papers and days that can't be are each told once, at their place."""
    assert rules == slugs_of(visited(**told))


def test_a_number_that_no_record_bears_is_told_at_its_place(visited):
    """It may have been any lot; the gap names the entry."""
    result = visited(findings=[{**FINDING, "kind": "paper", "about": ["X1", "L9"]}])
    found = [gap for gap in result.gaps if gap.rule == "reference-unknown"]

    assert [("visits", ("findings", 0, "about", 1), "unproven")] == [
        (gap.table, gap.field, gap.weight) for gap in found
    ]


def test_last_years_open_finding_opens_this_year(seasons, tmp_path):
    """It stands in last year's folder and is told in this year's season, at its own place."""
    visit = {"visit": "V1", "kind": "yearly", "from": "2025-06-02"}
    told = {"finding": "NC-9", "kind": "plan", "deadline": "2025-12-31"}
    for year in ("2025", "2026"):
        (tmp_path / year).mkdir()
    write_season(tmp_path / "2025", label="2025", visits=[{**visit, "findings": [told]}])
    write_season(tmp_path / "2026", **seasons.one_line(), details={"previous": "../2025"})
    result = examine(tmp_path / "2026", ON)
    (gap,) = (gap for gap in result.gaps if gap.table == "visits")

    assert ("finding-left-open", "advice", "NC-9" in gap.message) == (gap.rule, gap.weight, True)
    assert gap.place.file.startswith("../2025/")
    assert ("visits", 0, "findings", 0, "finding") == gap.place.path


def test_last_years_papers_and_numbers_are_seen_from_here(seasons, tmp_path):
    """A lot's number that was given away again is told apart, and a letter in last year's folder closes."""
    visit = {"visit": "V1", "kind": "yearly", "from": "2026-06-02", "evidence": [PAPER]}
    told = {**FINDING, "about": ["L1"], **CLOSED}
    before = {**seasons.one_line(), "visits": [{**visit, "findings": [told]}]}
    (tmp_path / "2025").mkdir()
    (tmp_path / "2026").mkdir()
    write_season(tmp_path / "2025", label="2025", **before)
    letter = tmp_path / "2025" / "evidence" / PAPER
    letter.parent.mkdir(parents=True, exist_ok=True)
    letter.write_text("Closed.\n", encoding="utf-8")
    now = {**seasons.one_line(), "lots": [lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=3)]}
    write_season(tmp_path / "2026", **now, details={"previous": "../2025"})
    case = examine(tmp_path / "2026", ON).case
    (one,) = list_entries(case, "findings")

    assert {"paper": False, "letter": True} == dict(one.shown)
    assert [False] == [visit.own for visit in list_visits(case)]
    assert ("L1 (2025)",) == one.about
    assert (Node("lots", "L1 (2025)"),) == nodes_meant(case, one.about)


@pytest.mark.parametrize(
    ("visit", "stated", "expected"),
    [
        ({"from": "2024-09-15"}, None, "visits"),
        ({"from": "2024-09-15"}, "2025-01-02", None),
        ({"from": "2024-09-15"}, "2023-01-02", "visits"),
        ({"from": "2023-09-15"}, "2024-01-02", "season"),
        ({"from": "2025-09-15"}, "2023-01-02", None),
        # A co-op's own and one that lies ahead are no inspection yet.
        ({"from": "2025-09-15", "kind": "internal"}, "2024-01-02", "season"),
        ({"from": "2026-12-15"}, "2024-01-02", "season"),
    ],
)
def test_the_visits_on_record_count_as_inspections(seasons, tmp_path, visit, stated, expected):
    """The latest of them and of the operation's own word is the last inspection."""
    visits = [{"visit": "V1", "kind": "yearly", **visit}]
    operation = {"name": "Larkfold Seed Orchard", **({"inspected": stated} if stated else {})}
    write_season(tmp_path, visits=visits, details={"operation": operation}, **seasons.one_line())
    gaps = [gap.table for gap in examine(tmp_path, ON).gaps if gap.rule == "inspection-overdue"]

    assert ([expected] if expected else []) == gaps


def test_a_visits_number_given_twice_hides_nothing(seasons, tmp_path):
    """What the second of them found stands against the lot all the same."""
    one = {"visit": "V1", "kind": "yearly", "from": "2026-09-15"}
    visits = [one, {**one, "exercises": [EXERCISE], "findings": [FINDING]}]
    write_season(tmp_path, visits=visits, **seasons.one_line())
    result = examine(tmp_path, ON)

    assert "unproven" == result.lots["L1"].standing
    assert {"exercise-differs", "finding-against-seed", "identifier-repeated"} == set(slugs_of(result))


@pytest.mark.parametrize("again", [{}, {"findings": [{**PLAN, "finding": "NC-2"}]}])
def test_telling_a_visit_again_closes_nothing(seasons, tmp_path, again):
    """A visit that two years' folders tell of keeps what either of them says was found."""
    visit = {"visit": "V1", "kind": "yearly", "from": "2026-06-02"}
    for year in ("2025", "2026"):
        (tmp_path / year).mkdir()
    before = {"visits": [{**visit, "findings": [{**FINDING, "about": ["X1"]}]}]}
    write_season(tmp_path / "2025", label="2025", **{**seasons.one_line(), **before})
    now = {**seasons.one_line(), "visits": [{**visit, **again}]}
    write_season(tmp_path / "2026", **now, details={"previous": "../2025"})
    result = examine(tmp_path / "2026", ON)

    assert "unproven" == result.lots["L1"].standing
    assert "finding-against-seed" in {gap.rule for gap in result.gaps}


def test_a_sample_without_its_sheet_is_told(visited):
    """The sheet that went with an inspector's sample is a submission on record; it touches no lot."""
    result = visited(samples=[{"sample": "Q-1", "sheet": "SP-9"}])
    found = [(gap.field, gap.weight) for gap in result.gaps if gap.rule == "reference-unknown"]

    assert [(("samples", 0, "sheet"), "advice")] == found
    assert "traced" == result.lots["L1"].standing
