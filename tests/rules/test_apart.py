from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine_season
from certgen.rules import RULES
from certgen.rules.runner import counts_under

COVERS = ("certgen.rules.runner",)

ON = date(2026, 10, 31)


def views(season):
    """Rules and standings by rulebook."""
    result = examine_season(season, ON)
    return result, {
        key: ({gap.rule: gap.weight for gap in view.gaps}, view.lots["L1"].standing)
        for key, view in result.by_standard.items()
    }


@pytest.fixture
def under(seasons):
    """`under(standards, **tables)`: the stocked season under some standards."""

    def build(standards, **tables):
        return seasons.season_of(standards=standards, **{**seasons.one_line(), **tables})

    return build


def test_a_young_mother_plant_parts_two_standards(under) -> None:
    """Two growing seasons are asked by one of the two only, so the lot stands under the other."""
    result, seen = views(under(("us-nop", "eu")))

    assert "traced" == seen["us-nop"][1]
    assert "traced" != seen["eu"][1]
    assert "mother-plant-too-young" in seen["eu"][0]
    assert "mother-plant-too-young" not in seen["us-nop"][0]
    assert ("L1",) == result.standards_part_on


def test_what_each_subject_asks_counts_under_every_standard_that_has_it(under) -> None:
    """An unscreened parent is everybody's matter, though each rulebook's clause is another."""
    _, seen = views(under(("us-nop", "codex", "canada"), screening=[]))

    assert {"unproven"} == {gaps["parent-unscreened"] for gaps, _ in seen.values()}


def test_a_gap_has_the_weight_that_the_one_standard_gives_it(seasons, under) -> None:
    """The weight of fruit is asked by one of the two, and practice in the other."""
    picking = {name: value for name, value in seasons.harvest("H1", ["B1"]).items() if name != "weight"}
    _, seen = views(under(("us-nop", "eu"), harvests=[picking]))

    assert ("advice", "unproven") == tuple(seen[key][0]["record-incomplete"] for key in ("us-nop", "eu"))


def test_clauses_are_those_of_the_one_standard(under) -> None:
    """No page of one standard cites another's clause."""
    result, _ = views(under(("us-nop", "eu"), screening=[]))

    for key, view in result.by_standard.items():
        assert key in {clause.partition(":")[0] for gap in view.gaps for clause in gap.clauses}
        assert {key, "practice"} >= {clause.partition(":")[0] for gap in view.gaps for clause in gap.clauses}


def test_under_one_standard_alone_it_is_the_season(under) -> None:
    """Nothing is left out where nothing is to be compared."""
    result = examine_season(under(("codex",), screening=[]), ON)

    assert (result.gaps, result.lots) == (result.by_standard["codex"].gaps, result.by_standard["codex"].lots)
    assert () == result.standards_part_on


@pytest.mark.parametrize(
    ("slug", "standard", "counts"),
    [
        ("mother-plant-too-young", "us-nop", False),
        ("mother-plant-too-young", "codex", True),
        ("dispatch-status-missing", "canada", False),
        ("bag-untagged", "eu", True),
        ("bag-untagged", "seed-law", False),
        ("moisture-out-of-range", "seed-law", True),
        ("germination-expired", "us-nop", False),
    ],
)
def test_which_standard_a_rule_counts_under(slug, standard, counts) -> None:
    """By subject; what rests on practice alone counts everywhere."""

    class Gap:
        rule = slug

    assert slug in RULES
    assert counts == counts_under(Gap, standard)
