"""Sections of the plan, and who cites them."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.rules.record_keeping.plan import cited_section

FOUR = {"section": "4", "title": "What goes onto the land", "date": "2025-12-01", "until": "2026-10-31"}
USED = {"input": "I1", "date": date(2026, 3, 2), "block": "East", "material": "shell"}


@pytest.mark.parametrize(
    ("text", "section"),
    [
        ("plan 4", "4"), ("Plan  4, input list no. 2", "4"), ("plan section 4b", "4b"),
        ("plan 2.1.", "2.1"),
        ("plan B", "B"), ("plan, page 4", None), ("plan page four", None), ("the plan 4", None),
        ("plan", None),
        ("organic system plan 2026, list 1", None), ("planned", None), ("", None),
    ],
)  # fmt: skip
def test_a_citation_begins_with_the_plan_and_its_section(text, section):
    """A page, or words in which a plan is only mentioned, cite none."""
    assert section == cited_section(text)


@pytest.mark.parametrize(
    ("words", "when", "plan", "said"),
    [
        ("plan 4", "2026-03-02", [FOUR], None),
        ("plan 4", "2026-10-31", [FOUR], None),
        ("plan 5", "2026-03-02", [FOUR], "section 5 of the plan, and the season names no such section"),
        ("plan 5", "2026-03-02", [], None),
        ("plan 4", "2025-11-30", [FOUR], "which is only of 1 December 2025"),
        ("plan 4", "2026-03-02", [{**FOUR, "until": "2026-03-01"}], "which held until 1 March 2026 only"),
        ("our plan", "2026-03-02", [FOUR], None),
    ],
)
def test_a_section_that_is_cited_is_there_and_held_that_day(seasons, find, words, when, plan, said):
    """Where the season names any."""
    used = {**USED, "date": date.fromisoformat(when), "allowed_by": words}
    details = {"plan": plan} if plan else {}
    season = seasons.season_of(details=details, blocks=[seasons.block()], inputs=[used])
    found = find(season, "plan-section-unfit")

    assert bool(said) == bool(found)
    assert all(said in gap.message and gap.weight == "advice" for gap in found)


def test_cleaning_agents_and_approvals_cite_sections_too(seasons, find):
    """Each by its own field."""
    tables = {
        "cleaning": [{"cleaning": "C1", "date": date(2026, 3, 2), "equipment": ["mixer"],
                      "method": "wiped", "agent": "vinegar",
                      "agent_allowed_by": "plan 9"}],
        "materials": [{"material": "M-1", "name": "shell", "paper": "plan 8"}],
    }  # fmt: skip
    found = find(seasons.season_of(details={"plan": [FOUR]}, **tables), "plan-section-unfit")

    assert [("cleaning", "C1"), ("materials", "M-1")] == [(gap.table, gap.id) for gap in found]


@pytest.mark.parametrize(
    ("day", "found"),
    [("2025-10-31", 0), ("2025-10-30", 1), ("2024-02-29", 1), ("2026-10-31", 0)],
)
def test_a_plan_is_looked_over_every_year(seasons, find, day, found):
    """Counted to the season's end, or to today where that is earlier."""
    season = seasons.season_of(details={"plan": [{**FOUR, "date": day}, {"section": "5"}]})
    told = find(season, "plan-outdated")

    assert found == len(told)
    assert all(
        "Section 4 of the plan is more than a year old by 31 October 2026" in gap.message for gap in told
    )
    assert () == find(season, "plan-outdated", "codex")
    assert () == find(season, "plan-outdated", on=date(2024, 3, 1))
