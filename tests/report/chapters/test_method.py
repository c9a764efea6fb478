"""The method chapter says of each target what a positive may mean, and of each figure where it comes from."""

from __future__ import annotations

from datetime import date

import pytest
from printed import cell_text, plain

from certgen.examination import examine
from certgen.report.chapters.method import build_method
from certgen.report.context import Context
from certgen.typeset.parts import Grid


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, date(2026, 11, 25)))


@pytest.fixture(scope="module")
def grids(context):
    """The chapter's tables by their captions."""
    parts = [part for chapter in build_method(context) for one in chapter.sections for part in one.parts]
    return {part.caption: part for part in parts if isinstance(part, Grid)}


def test_every_target_says_what_a_positive_may_mean(context, grids) -> None:
    """Those of an event itself need no line: they mean the event."""
    told = {
        cell_text(row.cells[0]): cell_text(row.cells[1]) for row in grids["What a positive may mean"].rows
    }
    profile = context.profile

    assert {
        target.title: target.positive_means
        for key, target in profile.targets.items()
        if key not in profile.events
    } == told


def test_every_figure_of_practice_says_where_it_comes_from(context, grids) -> None:
    """What was recalled says so in its own column."""
    rows = grids["Ranges that records are checked against"].rows
    told = {cell_text(row.cells[0]): cell_text(row.cells[-1]) for row in rows}

    for key in context.profile.practice:
        figure = context.result.case.practice(key)
        assert figure.mark == plain(told[figure.title]), key
    assert "from memory" in told.values()
