"""The method chapter says of each target what a positive may mean, and of each figure where it comes from."""

from __future__ import annotations

from datetime import date

import pytest
from printed import plain

from certgen.examination import examine
from certgen.report.chapters.method import IS_NOT, build_method
from certgen.report.context import Context
from certgen.typeset.entries import Entries


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, date(2026, 11, 25)))


@pytest.fixture(scope="module")
def registers(context):
    """The registers of the appendix and of the clauses, by their anchors."""
    parts = [part for chapter in build_method(context) for one in chapter.sections for part in one.parts]
    entries = [part for part in parts if isinstance(part, Entries)]
    return {register.anchor: register for part in entries for register in part.registers}


def lines_of(register):
    """The entries as texts."""
    return ["".join(run.text for run in entry.runs) for group in register.groups for entry in group.entries]


def test_every_target_says_what_a_positive_may_mean(context, registers) -> None:
    """Those of an event itself need no line: they mean the event."""
    lines = lines_of(registers["methods"])

    for key, target in context.profile.targets.items():
        told = f"{target.title} A positive may mean {target.positive_means}" in lines
        assert told is (key not in context.profile.events), key


def test_every_figure_of_practice_says_where_it_comes_from(context, registers) -> None:
    """Its range with the unit, its source, and last how it was read, such as from memory."""
    lines = list(map(plain, lines_of(registers["practice"])))

    assert len(context.profile.practice) == len(lines)
    for key, line in zip(context.profile.practice, lines, strict=True):
        figure = context.result.case.practice(key)
        assert line.startswith(figure.title)
        assert plain(figure.source) in line
        assert line.endswith(figure.mark), key
    assert any(line.endswith("from memory") for line in lines)


def test_clauses_that_findings_rest_on_stand_first(context, registers) -> None:
    """Every clause is there once with how it was read, those with findings before the others."""
    register = registers["standards/us-nop"]
    first, others = register.groups
    book = next(one for one in context.result.rulebooks if one.key == "us-nop")
    names = [entry.runs[0].text for group in register.groups for entry in group.entries]

    assert sorted(key.partition(":")[2] for key in book.clauses) == sorted(names)
    assert first.head[0].text.startswith("Findings of this season rest on.")
    assert "205.103(b)(2)" in {entry.runs[0].text for entry in first.entries}
    assert others.head[0].text.startswith("No finding rests on. Unless a line says otherwise: read.")


def test_the_report_says_in_one_place_what_it_is_not(registers) -> None:
    """In plain words, among how everything was computed."""
    assert IS_NOT in lines_of(registers["computed"])
