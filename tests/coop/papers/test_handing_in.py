"""What each member has to send: papers and records, by when, how, and what it types."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from certgen.coop.between.comparison import compare_members
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.handing_in import say_handing_in, tell_handing_in
from certgen.coop.papers.member_letters import write_letters

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.between.result import CoopResult


def test_papers_that_are_missing_are_named(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """Those that records name and that weren't there, and records that name none, with what to type."""
    folder = write_coop("A", "B", coop="  answer_days: 10\n")
    for letter in (folder / "members" / "A" / "evidence" / "letters").iterdir():
        letter.unlink()
    result = examine(folder)
    told = tell_handing_in(result, result.members[0])
    assert told is not None
    text = " ".join(say_handing_in(told))
    assert told.absent_count == len(told.absent) > 0
    parts = (
        f"Papers that your records name and that were not with them: {told.absent[0]}",
        "By 5 December 2026.",
        "certgen check",
        "certgen evidence",
    )
    assert [] == [part for part in parts if part not in text]
    assert tell_handing_in(result, result.members[1]) is None


def test_each_way_of_handing_in_is_told_as_it_is(example_result: CoopResult) -> None:
    """A folder whole, a zip without a password, a workbook that carries no papers; each to its own place."""
    steps = {}
    for view in example_result.members:
        told = tell_handing_in(example_result, view)
        assert (view.readiness == "ready") == (told is None)
        if told is None:
            continue
        steps[view.member.key] = " ".join(told.steps)
        assert view.member.path in steps[view.member.key]
    assert "zip without a password" in steps["HOLLOW"]
    assert "A workbook carries no papers" in steps["MARROW"]
    assert "certgen evidence 2026 --add FILE --to report:BF-2201" in steps["ALDER"]
    assert "certgen new" in steps["THISTLE"]


def test_letters_and_json_say_the_same(example_result: CoopResult) -> None:
    """The steps stand in the letter and in the member's entry."""
    letters = write_letters(example_result)
    for entry in as_json(example_result)["members"]:
        if entry["readiness"] == "ready":
            assert entry["to_send"] is None
            continue
        said = " ".join(letters[f"{entry['member']}.txt"].split())
        assert [] == [step for step in entry["to_send"]["steps"] if step not in said]
        assert "2026-12-16" == entry["to_send"]["by"]


def test_whoever_is_ready_has_nothing_to_send(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """No list stands in its letter."""
    result = examine(write_coop("A", "B"))
    ready = [view for view in result.members if view.readiness == "ready"]
    assert ready
    assert {None} == {tell_handing_in(result, view) for view in ready}
    assert "What to send us" not in write_letters(result)[f"{ready[0].member.key}.txt"]


@pytest.mark.parametrize(("days", "expected"), [(None, None), (21, date(2026, 12, 16)), (10**9, None)])
def test_the_day_to_answer_by(example_result: CoopResult, days: int | None, expected: date | None) -> None:
    """As the office gives it; a day beyond all calendars is none."""
    coop = replace(example_result.coop, answer_days=days)
    summaries = {view.member.key: view.summary for view in example_result.members}
    assert expected == compare_members(coop, example_result.on, summaries).answer_by


def test_letters_ask_by_the_day_that_is_given(example_result: CoopResult) -> None:
    """It stands at the head of each letter, and in the list of what to send."""
    result = replace(example_result, answer_by=date(2027, 1, 8))
    letters = write_letters(result)
    assert {True} == {
        "Please answer by 8 January 2027" in " ".join(text.split()) for text in letters.values()
    }
