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


def farm(seasons, planting, block=None, **tables):
    """A tree of the planting, with a lot of its seed."""
    return seasons.season_of(
        **{
            "blocks": [block or seasons.block()],
            "plantings": [planting],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag("B1", "T1")],
            "harvests": [seasons.harvest("H1", ["B1"])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


def found(season, *slugs):
    """Which of the rules find something, with their weights."""
    return {slug: gap.weight for slug in slugs for gap in gaps(season, slug)}


ALL = (
    "planting-without-origin",
    "planting-search-missing",
    "supplier-certificate-missing",
    "non-gm-statement-missing",
    "planting-treated",
)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, set()),
        ({"origin": None}, {"planting-without-origin"}),
        ({"origin": {"supplier": "a neighbour"}}, {"supplier-certificate-missing"}),
        ({"origin": {"supplier": "a neighbour"}, "evidence": ("letter.txt",)}, set()),
        ({"origin": {"lot": "L1"}}, set()),
        (
            {"material_status": "untreated non-organic"},
            {"planting-search-missing", "non-gm-statement-missing"},
        ),
        (
            {"material_status": "treated", "search_log": ("a.txt",), "non_gm_statement": ("b.txt",)},
            {"planting-treated"},
        ),
        (
            {
                "material_status": "untreated non-organic",
                "search_log": ("a.txt",),
                "non_gm_statement": ("b.txt",),
            },
            set(),
        ),
    ],
)
def test_what_a_planting_must_show(seasons, change, expected):
    """Where it came from, and if it wasn't organic, why and what it is."""
    planting = {key: value for key, value in {**seasons.planting(), **change}.items() if value is not None}

    assert dict.fromkeys(expected, "unproven") == found(farm(seasons, planting), *ALL)


def test_land_outside_the_claim_is_asked_nothing(seasons):
    """What grows along the lane may come from anywhere."""
    planting = {**seasons.planting(), "material_status": "untreated non-organic"}
    del planting["origin"]

    assert {} == found(farm(seasons, planting, seasons.block(status="conventional")), *ALL)


@pytest.mark.parametrize(
    ("planted", "since", "weight"),
    [
        (date(2024, 6, 8), date(2020, 5, 1), None),
        (date(2024, 6, 9), date(2020, 5, 1), "unproven"),
        (date(2025, 6, 8), date(2020, 5, 1), "unproven"),
        (date(2025, 6, 9), date(2020, 5, 1), "rejects"),
        (date(2021, 3, 1), date(2025, 7, 1), "rejects"),
    ],
)
def test_a_mother_plant_needs_its_growing_seasons(seasons, planted, since, weight):
    """Counted from planting or certification, whichever came later; the picking is of 8 June 2026."""
    season = farm(
        seasons, seasons.planting(planted=planted), seasons.block(organic_since=since), standards=("eu",)
    )

    assert ([weight] if weight else []) == [gap.weight for gap in gaps(season, "mother-plant-too-young")]


def test_a_standard_that_asks_no_growing_seasons_finds_none_missing(seasons):
    """One rulebook asks nothing of the kind."""
    season = farm(seasons, seasons.planting(planted=date(2025, 9, 1)))

    assert () == gaps(season, "mother-plant-too-young")
