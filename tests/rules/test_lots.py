from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.lineage import LotStanding, Node
from certgen.rules import RULES, run_rules


@pytest.mark.parametrize(
    ("packed", "weight"), [(date(2025, 7, 18), "unproven"), (date(2026, 7, 18), "advice")]
)
def test_a_number_of_an_earlier_season_is_taken(seasons, stocked, find, packed, weight) -> None:
    """Another lot of that number, or the same lot written once more, which needs no second record."""
    before = seasons.season_of(label="2025", lots=[{**seasons.lot("L1", [], 8), "packed": packed}])
    (gap,) = find(replace(stocked(), previous=before), "lot-number-reused")

    assert ("L1", weight) == (gap.id, gap.weight)
    assert "2025" in gap.message


def test_all_earlier_seasons_count(seasons, stocked, find) -> None:
    """A number used two seasons ago is used."""
    oldest = seasons.season_of(label="2024", lots=[{**seasons.lot("L1", [], 8), "packed": date(2024, 7, 1)}])
    between = replace(seasons.season_of(label="2025"), previous=oldest)

    assert ["L1"] == [gap.id for gap in find(replace(stocked(), previous=between), "lot-number-reused")]
    assert () == find(stocked(), "lot-number-reused")


def two_sorts(seasons, stocked, *sources, before=None, **more):
    """Lot L1 of the sources; X2 is another variety, X3 transitional, X4 of two varieties."""
    trees = [seasons.tree("T1"), seasons.tree("T2", planting="P2")]
    bags = [
        seasons.bag("B1", "T1"),
        seasons.bag("B2", "T2"),
        seasons.bag("B3", "T1"),
        seasons.bag("B4", "T2"),
    ]
    batches = [
        seasons.batch("X1", ["H1"]),
        seasons.batch("X2", ["H2"]),
        seasons.batch("X3", ["H3"], status="transitional"),
        seasons.batch("X4", ["H1", "H2"]),
    ]
    season = stocked(
        plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
        trees=trees,
        bagging=bags,
        harvests=[seasons.harvest(f"H{number}", [f"B{number}"]) for number in (1, 2, 3, 4)],
        batches=batches,
        lots=[
            seasons.lot("L0", [{"batch": "X1", "weight": "1 g"}], 1, variety="Amber kestrel"),
            seasons.lot("L1", [{**one, "weight": "2 g"} for one in sources], 2 * len(sources), **more),
        ],
    )
    return replace(season, previous=before)


@pytest.fixture
def before(seasons):
    """A season with a transitional lot K1, and a lot L0 of another sort and status than this season's."""
    made = [
        seasons.lot("K1", [], 8, status="transitional"),
        seasons.lot("L0", [], 8, status="conventional", variety="Moth Lantern"),
        seasons.lot("K2", [], 8, variety="Moth Lantern"),
    ]
    return seasons.season_of(label="2025", lots=[{**one, "packed": date(2025, 7, 1)} for one in made])


@pytest.mark.parametrize(
    ("sources", "more", "told"),
    [
        (({"batch": "X1"},), {}, None),
        (({"batch": "X1"}, {"batch": "X2"}), {}, (1, "batch X2 is Moth Lantern.")),
        (({"batch": "X3"},), {}, (0, "batch X3 is transitional.")),
        (({"batch": "X3"},), {"status": "transitional"}, None),
        (({"batch": "X2"},), {"variety": "moth  LANTERN"}, None),
        (({"batch": "X4"},), {}, None),
        (({"batch": "X9"},), {}, None),
        (({"lot": "L0"},), {}, None),
        (({"lot": "K1"},), {}, (0, "lot K1 is transitional.")),
        (({"lot": "K2"}, {"batch": "X3"}), {}, (0, "lot K2 is Moth Lantern and batch X3 is transitional.")),
    ],
)
def test_every_part_is_what_the_lot_is_called(seasons, stocked, find, before, sources, more, told) -> None:
    """Batches, lots of this season and of earlier ones; what is unknown or mixed itself is told elsewhere."""
    found = find(two_sorts(seasons, stocked, *sources, before=before, **more), "lot-mixed")

    assert ([(("sources", told[0]), "rejects")] if told else []) == [(gap.field, gap.weight) for gap in found]
    assert all(gap.message == f"Lot L1 is called Amber Kestrel, organic, but {told[1]}" for gap in found)


def test_what_spoils_a_lot_may_be_taken_out(seasons, stocked, find, before) -> None:
    """Each part by its own node, an earlier lot by its season."""
    sources = ({"lot": "K1"}, {"batch": "X2"}, {"batch": "X1"})
    (gap,) = find(two_sorts(seasons, stocked, *sources, before=before), "lot-mixed")

    assert (Node("lots", "K1", "2025"), Node("batches", "X2")) == gap.take_out


@pytest.mark.parametrize(
    ("weight", "parts", "said"),
    [
        ("8 g", ("8 g",), None),
        ("8.001 g", ("8 g",), "Lot L1 weighs 8.001 g; its sources account for 8 g."),
        ("8 g", ("4 g", "3 g"), "Lot L1 weighs 8 g; its sources account for 7 g."),
        ("8 g", ("8.001 g",), None),
        ("8 g", (), "Nothing says where the 8 g of lot L1 came from."),
    ],
)
def test_every_gram_of_a_lot_has_a_source(seasons, stocked, find, weight, parts, said) -> None:
    """To the milligram; only the rest is in doubt."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": part} for part in parts], 8)
    found = find(stocked(lots=[{**lot, "weight": weight}]), "lot-without-source")

    assert ([said] if said else []) == [gap.message.replace("\N{NO-BREAK SPACE}", " ") for gap in found]
    assert all(gap.only_rest and gap.weight == "unproven" for gap in found)


def test_a_lot_that_nobody_weighed_lacks_no_gram(stocked, find) -> None:
    """Its weight is asked for by the reader."""
    season = stocked()
    lots = season.table("lots")
    season = season.with_tables({"lots": lots.assign(weight_mg=lots["weight_mg"].mask(lots["lot"] == "L1"))})

    assert () == find(season, "lot-without-source")


@pytest.mark.parametrize(
    ("traced", "rejected", "weight"),
    [(8000, 0, None), (3000, 0, "unproven"), (3000, 1, "rejects"), (0, 0, "unproven")],
)
def test_seed_hands_on_the_standing_it_came_with(
    seasons, stocked, case_of, before, traced, rejected, weight
) -> None:
    """What was proved of K1, and whether any of it was rejected."""
    node = Node("lots", "K1", "2025")
    standing = "traced" if weight is None else "partly traced"
    earlier = LotStanding("K1", "Amber Kestrel", standing, 8000, traced, 8000 - traced - rejected, rejected)
    case = case_of(two_sorts(seasons, stocked, {"batch": "X1"}, {"lot": "K1"}, before=before))
    found, crashed = run_rules(
        replace(case, earlier={node: earlier}), {"blended-lot-unproven": RULES["blended-lot-unproven"]}
    )

    assert () == crashed
    assert ([(("sources", 1), weight, (node,))] if weight else []) == [
        (gap.field, gap.weight, gap.starts) for gap in found
    ]


@pytest.mark.parametrize(("days", "weight"), [(0, "advice"), (1, "unproven"), (-1, "unproven")])
def test_the_same_lot_is_one_packed_on_the_same_day(seasons, stocked, find, days, weight) -> None:
    """Another day makes it another lot, which needs a number of its own."""
    packed = seasons.lot("L1", [], 8)["packed"] + timedelta(days)
    old = seasons.season_of(label="2025", lots=[{**seasons.lot("L1", [], 8), "packed": packed}])
    (gap,) = find(replace(stocked(), previous=old), "lot-number-reused")

    assert weight == gap.weight
    assert (weight == "advice") == ("`opening stock`" in gap.remedy)
    assert (weight == "advice") == (gap.supply is None)
