from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.examination import examine_season

ON = date(2026, 10, 31)


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


def found(find, season, *slugs):
    """Which of the rules find something, with their weights."""
    return {slug: gap.weight for slug in slugs for gap in find(season, slug)}


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
def test_what_a_planting_must_show(seasons, change, expected, find):
    """Where it came from, and if it wasn't organic, why and what it is."""
    planting = {key: value for key, value in {**seasons.planting(), **change}.items() if value is not None}

    assert dict.fromkeys(expected, "unproven") == found(find, farm(seasons, planting), *ALL)


def test_land_outside_the_claim_is_asked_nothing(seasons, find):
    """What grows along the lane may come from anywhere."""
    planting = {**seasons.planting(), "material_status": "untreated non-organic"}
    del planting["origin"]

    assert {} == found(find, farm(seasons, planting, seasons.block(status="conventional")), *ALL)


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
def test_a_mother_plant_needs_its_growing_seasons(seasons, planted, since, weight, find):
    """Counted from planting or certification, whichever came later; the picking is of 8 June 2026."""
    season = farm(
        seasons, seasons.planting(planted=planted), seasons.block(organic_since=since), standards=("eu",)
    )

    assert ([weight] if weight else []) == [gap.weight for gap in find(season, "mother-plant-too-young")]


def test_a_standard_that_asks_no_growing_seasons_finds_none_missing(seasons, find):
    """One rulebook asks nothing of the kind."""
    season = farm(seasons, seasons.planting(planted=date(2025, 9, 1)))

    assert () == find(season, "mother-plant-too-young")


@pytest.mark.parametrize(
    ("planting", "lot", "said"),
    [
        ({}, {}, None),
        ({"variety": "amber  KESTREL"}, {}, None),
        ({"variety": "Moth Lantern"}, {}, "Planting P1 is called Moth Lantern, and lot K1 is Amber Kestrel."),
        ({}, {"status": "transitional"},
         "Planting P1 is called organic material, and lot K1 is transitional."),
        ({"variety": "Moth Lantern"}, {"status": "conventional"},
         ("Planting P1 is called Moth Lantern, and lot K1 is Amber Kestrel and is called organic material, "
          "and lot K1 is conventional.")),
        ({"material_status": "untreated non-organic"}, {"status": "transitional"}, None),
        ({"material_status": "untreated non-organic"}, {}, None),
        ({"origin": {"lot": "K9"}}, {"status": "conventional"}, None),
    ],
)  # fmt: skip
def test_trees_are_what_was_sown(seasons, planting, lot, said, find):
    """Of the lot's variety and status; less than the lot is may be claimed, and an unknown lot is told
    elsewhere."""
    own = {**seasons.lot("K1", [], 8, **lot), "packed": date(2025, 2, 1)}
    sown = seasons.planting(**{"origin": {"lot": "K1"}, **planting})
    trees = {"lots": [own, seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)]}
    season = farm(seasons, sown, **trees)
    found = find(season, "planting-differs-from-lot")

    assert ([said] if said else []) == [gap.message for gap in found]
    assert all(("unproven", ("L1",), ("origin", "lot")) == (gap.weight, gap.lots, gap.field) for gap in found)


def generations(seasons, number, **first):
    """Lots L1 and so on, each of trees that were sown from the one before, a year apart, in one season.

    `first` takes the place of the first year's tables.
    """
    tables = {
        name: [] for name in ("plantings", "trees", "screening", "bagging", "harvests", "batches", "lots")
    }

    def shift(value, days):
        if isinstance(value, dict):
            return {name: shift(part, days) for name, part in value.items()}
        if isinstance(value, (list, tuple)):
            return [shift(part, days) for part in value]
        return value + timedelta(days) if isinstance(value, date) else value

    for at in range(1, number + 1):
        days = 540 * (at - number)
        origin = (
            {"lot": f"L{at - 1}"}
            if at > 1
            else {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"}
        )
        made = {
            "plantings": [seasons.planting(f"P{at}", origin=origin)],
            "trees": [seasons.tree(f"T{at}", planting=f"P{at}")],
            "screening": [seasons.sample(f"S{at}", f"T{at}")],
            "bagging": [seasons.bag(f"B{at}", f"T{at}")],
            "harvests": [seasons.harvest(f"H{at}", [f"B{at}"])],
            "batches": [seasons.batch(f"X{at}", [f"H{at}"])],
            "lots": [seasons.lot(f"L{at}", [{"batch": f"X{at}", "weight": "8 g"}], 8)],
        }
        for name, records in {**made, **(first if at == 1 else {})}.items():
            tables[name] += [shift(record, days) for record in records]
    return {"blocks": [seasons.block(organic_since=date(2015, 5, 1))], **tables}


def standings(seasons, tables):
    """Each lot's standing, and the plantings that aren't proved."""
    season = seasons.season_of(**tables)
    years = {"start": date(2019, 1, 1), "end": date(2026, 10, 31)}
    season = replace(season, details=replace(season.details, **years))
    result = examine_season(season, ON)
    found = [(gap.id, gap.weight) for gap in result.gaps if gap.rule == "planting-seed-unproven"]
    return {name: lot.standing for name, lot in result.lots.items()}, found


def test_seed_of_proved_trees_of_proved_seed_is_proved(seasons):
    """Through three generations."""
    assert (dict.fromkeys(("L1", "L2", "L3"), "traced"), []) == standings(seasons, generations(seasons, 3))


@pytest.mark.parametrize(
    ("first", "standing"),
    [
        ({"screening": []}, "unproven"),
        ({"bagging": []}, "unproven"),
    ],
)
def test_a_planting_inherits_what_its_seed_lacks_through_all_generations(seasons, first, standing):
    """A clean leaf says that a tree carries nothing, and not what the tree is."""
    lots, found = standings(seasons, generations(seasons, 3, **first))

    assert {"L1": standing, "L2": "unproven", "L3": "unproven"} == lots
    assert [("P2", "unproven"), ("P3", "unproven")] == found


def test_trees_of_refused_seed_are_unproven_and_no_worse(seasons):
    """Their own leaves speak for them; what they are nobody can say."""
    tables = generations(seasons, 2, screening=[seasons.sample("S1", "T1", result="positive")])
    lots, found = standings(seasons, tables)

    assert {"L1": "rejected", "L2": "unproven"} == lots
    assert [("P2", "unproven")] == found


@pytest.mark.parametrize(("days", "standing"), [(-1, "unproven"), (0, "unproven"), (1, "traced")])
def test_what_was_in_the_lot_when_it_was_sown_counts(seasons, days, standing):
    """Seed from elsewhere that came into it later went into no ground; that day it may have."""
    tables = generations(seasons, 2)
    sown = tables["plantings"][1]["planted"]
    came = {"movement": "M1", "date": sown + timedelta(days), "lot": "L1", "kind": "received",
            "weight": "5 g", "party": "Hollin Nursery", "document": "D-1"}  # fmt: skip
    lots, found = standings(seasons, {**tables, "movements": [came]})

    assert {"L1": "unproven", "L2": standing} == lots
    assert bool(found) == (standing == "unproven")


@pytest.mark.parametrize(("first", "standing"), [("sown", "traced"), ("received", "unproven")])
def test_a_sowing_of_its_own_in_the_ledger_says_what_went_into_the_ground(seasons, first, standing):
    """It names the planting; of two entries of one day what came in is taken to have come first."""
    tables = generations(seasons, 2)
    sown = tables["plantings"][1]["planted"]
    days = {"sown": (0, 0), "received": (0, 1)}[first]
    moves = [
        {"movement": "M1", "date": sown - timedelta(2) + timedelta(days[1]), "lot": "L1", "kind": "sown",
         "weight": "1 g", "planting": "P2"},
        {"movement": "M2", "date": sown - timedelta(1), "lot": "L1", "kind": "received", "weight": "5 g",
         "party": "Hollin Nursery", "document": "D-1"},
    ]  # fmt: skip
    lots, _ = standings(seasons, {**tables, "movements": moves})

    assert {"L1": "unproven", "L2": standing} == lots


def test_a_lot_with_grams_that_are_nowhere_hands_on_no_doubt_to_its_trees(seasons):
    """A count below the book leaves what was counted, and what was sown, as it was."""
    tables = generations(seasons, 2)
    count = {"movement": "M1", "date": tables["lots"][0]["packed"] + timedelta(3), "lot": "L1",
             "kind": "counted", "weight": "7 g"}  # fmt: skip
    lots, found = standings(seasons, {**tables, "movements": [count]})

    assert ({"L1": "unproven", "L2": "traced"}, []) == (lots, found)
