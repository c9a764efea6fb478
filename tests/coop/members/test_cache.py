"""Examined members are found again only for the same records, day and code, and only whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from certgen.coop.members import cache as module
from certgen.coop.members.cache import SummaryCache
from certgen.coop.members.facts import MemberSummary

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult

ON = date(2026, 11, 25)
Make = Callable[..., MemberSummary]


def test_what_was_stored_comes_back_whole(tmp_path: Path, example_result: CoopResult) -> None:
    """Every read member of the example comes back equal, fact for fact."""
    cache = SummaryCache(tmp_path, ON)
    read = [view.summary for view in example_result.members if view.summary.state == "read"]
    for one in read:
        cache.store(one, "folder")
    assert read == [cache.load(one.member, one.fingerprint, "folder") for one in read]


def test_it_is_named_after_whoever_asks(tmp_path: Path, summary: Make) -> None:
    """Two members with the same records share an entry, and each gets it under its own key."""
    cache = SummaryCache(tmp_path, ON)
    cache.store(summary("A"), "folder")
    found = cache.load("B", "seal of A", "folder")
    assert found is not None
    assert "B" == found.member


def test_another_day_source_or_code_finds_nothing(
    tmp_path: Path, summary: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the result depends on is part of its name."""
    SummaryCache(tmp_path, ON).store(summary("A"), "folder")
    assert SummaryCache(tmp_path, date(2026, 11, 26)).load("A", "seal of A", "folder") is None
    assert SummaryCache(tmp_path, ON).load("A", "seal of A", "archive") is None
    assert SummaryCache(tmp_path, ON).load("A", "another seal", "folder") is None
    monkeypatch.setattr(module, "edition", lambda: "another release")
    assert SummaryCache(tmp_path, ON).load("A", "seal of A", "folder") is None


def test_another_form_is_passed_over(tmp_path: Path, summary: Make) -> None:
    """Even sealed content must have the form of a summary: types are looked at, nothing is run."""
    cache = SummaryCache(tmp_path, ON)
    cache.store(replace(summary("A"), state="dreamt"), "folder")  # type: ignore[arg-type]
    cache.store(replace(summary("A"), error_count="0"), "folder")  # type: ignore[arg-type]
    assert cache.load("A", "seal of A", "folder") is None


@pytest.mark.parametrize("state", ["failed", "lost", "refused"])
def test_what_may_go_better_next_time_is_not_kept(tmp_path: Path, summary: Make, state: str) -> None:
    """A fault of certgen or of the machine is no property of the records."""
    SummaryCache(tmp_path, ON).store(replace(summary("A"), state=state), "folder")
    assert [] == list(tmp_path.rglob("*.member"))
