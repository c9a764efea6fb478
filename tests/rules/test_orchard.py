from __future__ import annotations

from datetime import date

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)


def gaps(season, slug, *standards, on=ON):
    """What one rule finds."""
    rulebooks = tuple(load_rulebook(key) for key in standards or season.details.standards)
    case = Case(season, build_lineage(season), load_profile(season.details.crop), rulebooks, on)
    found, crashed = run_rules(case, {slug: RULES[slug]})
    assert () == crashed
    return found


def farm(seasons, block=None, **tables):
    """A tree on one block, with a lot of its seed."""
    return seasons.season_of(
        **{
            "blocks": [block or seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag("B1", "T1")],
            "harvests": [seasons.harvest("H1", ["B1"])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


@pytest.mark.parametrize(("last", "expected"), [("2023-06-09", 1), ("2023-06-08", 0), ("none known", 0)])
def test_three_years_to_the_day(seasons, last, expected):
    """The picking is of 8 June 2026."""
    found = gaps(farm(seasons, seasons.block(last_prohibited_substance=last)), "land-too-recent")

    assert ["rejects"] * expected == [gap.weight for gap in found]
    assert [("L1",)] * expected == [gap.lots for gap in found]


def test_two_standards_on_one_block_are_one_gap(seasons):
    """It cites both."""
    block = seasons.block(last_prohibited_substance="2024-06-09")
    (gap,) = gaps(farm(seasons, block, standards=("us-nop", "eu")), "land-too-recent")

    assert ("us-nop:205.202(b)", "eu:2018/848 annex II 1.7.1") == gap.clauses


def test_fruit_that_claims_nothing_is_asked_nothing(seasons):
    """Fruit that is called transitional may come of such land."""
    season = farm(
        seasons,
        seasons.block(last_prohibited_substance="2025-06-09", status="transitional"),
        harvests=[seasons.harvest("H1", ["B1"], status="transitional")],
    )

    assert () == gaps(season, "land-too-recent")


@pytest.mark.parametrize(
    ("lost", "expected"),
    [
        (("last_prohibited_substance",), 0),
        (("organic_since",), 0),
        (("last_prohibited_substance", "organic_since"), 1),
    ],
)
def test_either_history_or_certificate_will_do(seasons, lost, expected):
    """A certificate was given on a history."""
    block = {key: value for key, value in seasons.block().items() if key not in lost}

    assert expected == len(gaps(farm(seasons, block), "land-history-missing"))


def test_the_boundary_is_asked_for_where_a_standard_asks(seasons):
    """One standard asks for both, one for neither."""
    block = {key: value for key, value in seasons.block().items() if key not in ("boundary", "buffer")}
    (gap,) = gaps(farm(seasons, block), "boundary-undescribed")

    assert "no entry of its boundary or buffer" in gap.message
    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)
    assert () == gaps(farm(seasons, block, standards=("eu",)), "boundary-undescribed")


@pytest.mark.parametrize(("buffer", "expected"), [("25 ft", 1), ("8 m", 0)])
def test_a_width_is_asked_by_one_standard_only(seasons, buffer, expected):
    """25 feet are 7.62 m."""
    block = seasons.block(buffer=buffer)

    assert expected == len(gaps(farm(seasons, block, standards=("us-nop", "canada")), "buffer-narrow"))
    assert () == gaps(farm(seasons, block), "buffer-narrow")


def split(seasons, picked, standards=("us-nop",)):
    """The same variety on organic and on other land; the other fruit is on record or not."""
    rest = [seasons.harvest("H2", ["B2"], status="conventional")] if picked else []
    return farm(
        seasons,
        standards=standards,
        blocks=[seasons.block(), seasons.block("West", status="conventional")],
        plantings=[seasons.planting(), seasons.planting("P2", block="West", variety="amber  kestrel")],
        trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1"]), *rest],
    )


@pytest.mark.parametrize(
    ("picked", "standards", "weight"),
    [
        (True, ("us-nop",), "advice"),
        (False, ("us-nop",), "unproven"),
        (True, ("us-nop", "eu"), "unproven"),
    ],
)
def test_one_variety_on_both_kinds_of_land(seasons, picked, standards, weight):
    """Records of both will do for one standard; another asks for varieties that can be told apart."""
    (gap,) = gaps(split(seasons, picked, standards), "split-operation-unseparated")

    assert ("P2", weight, ("L1",)) == (gap.id, gap.weight, gap.lots)
