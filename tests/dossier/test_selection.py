"""Some of a result: its gaps, lots and mends as they were asked for."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from certgen.dossier.search import select
from certgen.examination import Result, examine

COVERS = ("certgen.dossier.search",)


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, date(2026, 11, 20))


def test_who_asks_for_nothing_gets_everything(result: Result) -> None:
    """The whole result, with its own exit code."""
    whole = select(result)

    assert result.gaps == whole.gaps
    assert tuple(result.lots.values()) == whole.lots
    assert result.mend == whole.mend
    assert result.exit_code == whole.exit_code


def test_a_rules_gaps_keep_their_numbers(result: Result) -> None:
    """A gap has one number, however few are shown."""
    rule = result.gaps[-1].rule
    some = select(result, rules=[rule])

    assert {rule} == {gap.rule for gap in some.gaps}
    assert list(some.gaps) == [result.gap(number) for number in some.numbers]


def test_a_lots_gaps_are_those_that_reach_it(result: Result) -> None:
    """And what mends it is what mends one of them."""
    lot = next(gap.lots[0] for gap in result.gaps if gap.lots)
    some = select(result, lots=[lot])

    assert [lot] == [standing.lot for standing in some.lots]
    assert result.numbers_by_lot[lot] == some.numbers
    assert all(lot in mend.lots for mend in some.mend)


def test_only_what_is_shown_counts(result: Result) -> None:
    """A rule without a gap is clean, whatever else the season lacks."""
    assert 0 == select(result, rules=["no-such-rule"]).exit_code
