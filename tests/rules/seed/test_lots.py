from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from printed import plain

from certgen.examination import examine_season
from certgen.lineage import Node


@pytest.mark.parametrize(("days", "expected"), [(0, []), (1, ["L1"]), (-1, ["L1"]), (-365, ["L1"])])
def test_a_number_of_an_earlier_season_is_taken(seasons, stocked, find, days, expected) -> None:
    """Another day makes it another lot, which needs a number of its own; the same day tells one lot twice."""
    packed = seasons.lot("L1", [], 8)["packed"] + timedelta(days)
    old = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "packed": packed}
    season = replace(stocked(), previous=seasons.season_of(label="2025", lots=[old]))
    found = find(season, "lot-number-reused")

    assert expected == [gap.id for gap in found]
    assert all("unproven" == gap.weight and "2025" in gap.message for gap in found)
    assert all(
        ("L1", "L1 (2025)") == gap.lots and "a number of its own for lot L1" == gap.supply for gap in found
    )


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


#: Two organic varieties make the name false, and nothing more.
NAME = "The name isn't true of all its seed; of the organic claim it says nothing."


@pytest.mark.parametrize(
    ("sources", "more", "told"),
    [
        (({"batch": "X1"},), {}, None),
        (({"batch": "X1"}, {"batch": "X2"}), {}, (1, "batch X2 is Moth Lantern.", NAME)),
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

    weight = "unproven" if told and NAME in told else "rejects"

    assert ([(("sources", told[0]), weight)] if told else []) == [(gap.field, gap.weight) for gap in found]
    for gap in found:
        assert f"Lot L1 is called Amber Kestrel, organic, but {' '.join(told[1:])}" == gap.message
        assert ("us-nop:205.2 commingling" in gap.clauses) == (weight == "rejects")


def test_what_spoils_a_lot_may_be_taken_out(seasons, stocked, find, before) -> None:
    """Each part by its own node, an earlier season's lot as well."""
    sources = ({"lot": "K1"}, {"batch": "X2"}, {"batch": "X1"})
    (gap,) = find(two_sorts(seasons, stocked, *sources, before=before), "lot-mixed")

    assert (Node("lots", "K1"), Node("batches", "X2")) == gap.take_out


def scaled(season, step):
    """The season, weighed on a scale that shows so much."""
    return replace(season, details=replace(season.details, raw={**season.details.raw, "scale_step": step}))


@pytest.mark.parametrize(
    ("weight", "parts", "step", "said"),
    [
        ("8 g", ("8 g",), None, None),
        # A tenth of a gram is what a seed scale shows; the grower's own scale may show more, or less.
        ("8.1 g", ("8 g",), None, None),
        ("8.101 g", ("8 g",), None, "Lot L1 weighs 8.101 g; its sources account for 8 g."),
        ("8.5 g", ("8 g",), "0.5 g", None),
        ("8.501 g", ("8 g",), "0.5 g", "Lot L1 weighs 8.501 g; its sources account for 8 g."),
        ("8.01 g", ("8 g",), "0.01 g", None),
        ("8.011 g", ("8 g",), "0.01 g", "Lot L1 weighs 8.011 g; its sources account for 8 g."),
        # No scale that seed is sold by shows less than a gram.
        ("9 g", ("8 g",), "5 g", None),
        ("9.001 g", ("8 g",), "5 g", "Lot L1 weighs 9.001 g; its sources account for 8 g."),
        # Ounces are kept in whole milligrams: one for each part.
        ("8.003 g", ("4 g", "2 g", "2 g"), "0.001 g", None),
        ("8.004 g", ("4 g", "2 g", "2 g"), "0.001 g", "Lot L1 weighs 8.004 g; its sources account for 8 g."),
        ("8 g", ("4 g", "3 g"), None, "Lot L1 weighs 8 g; its sources account for 7 g."),
        ("8 g", ("8.001 g",), None, None),
        ("8 g", (), None, "Nothing says where the 8 g of lot L1 came from."),
        ("0.1 g", (), None, "Nothing says where the 0.1 g of lot L1 came from."),
    ],
)
def test_every_gram_of_a_lot_has_a_source(seasons, stocked, find, weight, parts, step, said) -> None:
    """To what the scale shows; only the rest is in doubt. Where nothing is named there is no allowance."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": part} for part in parts], 8)
    season = stocked(lots=[{**lot, "weight": weight}])
    found = find(season if step is None else scaled(season, step), "lot-without-source")

    assert ([said] if said else []) == [plain(gap.message) for gap in found]
    assert all(("rest", "unproven") == (gap.touches, gap.weight) for gap in found)


@pytest.mark.parametrize(
    ("weight", "parts", "expected"),
    [
        ("8 g", ("8 g",), None),
        ("7.9 g", ("8 g",), None),
        ("7.899 g", ("8 g",), "8 g went into lot L1, which weighs 7.899 g: 0.101 g is nowhere."),
        ("7.8 g", ("4 g", "4 g"), "8 g went into lot L1, which weighs 7.8 g: 0.2 g is nowhere."),
        ("9 g", ("8 g",), None),
        ("8 g", (), None),
    ],
)
def test_what_went_into_a_lot_is_in_it(seasons, stocked, find, weight, parts, expected) -> None:
    """Less what the scale can't show. No gram can be named, so the lot as a whole is open."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": part} for part in parts], 8)
    found = find(stocked(lots=[{**lot, "weight": weight}]), "lot-packing-differs")

    assert ([expected] if expected else []) == [plain(gap.message) for gap in found]
    assert all(("whole", "unproven", ("L1",)) == (gap.touches, gap.weight, gap.lots) for gap in found)


def test_a_lot_that_nobody_weighed_lacks_no_gram(stocked, find) -> None:
    """Its weight is asked for by the reader."""
    season = stocked()
    lots = season.table("lots")
    season = season.with_tables({"lots": lots.assign(weight_mg=lots["weight_mg"].mask(lots["lot"] == "L1"))})

    assert () == find(season, "lot-without-source")


@pytest.mark.parametrize(
    ("before", "expected"),
    [
        ({}, ("traced", 8_000, 0, 0)),
        ({"screening": []}, ("unproven", 4_000, 4_000, 0)),
        ({"trees": []}, ("unproven", 4_000, 4_000, 0)),
    ],
)
def test_seed_of_an_earlier_season_hands_on_what_is_proved_of_it(seasons, carried, before, expected) -> None:
    """A lot is half of last year's lot: what that lot's own records don't show is not shown here either."""
    parts = [{"batch": "X1", "weight": "4 g"}, {"lot": "K1", "weight": "4 g"}]
    batches = [seasons.batch("X1", ["H1"], dry_weight="4 g")]
    season = carried(before=before, batches=batches, lots=[seasons.lot("L1", parts, 8)])
    lot = examine_season(season, date(2026, 10, 31)).lots["L1"]

    assert expected == (lot.standing, lot.traced_mg, lot.unproven_mg, lot.rejected_mg)


def test_a_positive_parent_of_last_years_lot_refuses_its_share(seasons, carried) -> None:
    """Also where the sample was taken this year."""
    parts = [{"batch": "X1", "weight": "4 g"}, {"lot": "K1", "weight": "4 g"}]
    tables = {
        "batches": [seasons.batch("X1", ["H1"], dry_weight="4 g")],
        "lots": [seasons.lot("L1", parts, 8)],
        "screening": [seasons.sample("S1", "T1"), seasons.sample("S2", "T9", result="positive")],
    }
    lot = examine_season(carried(before={"screening": []}, **tables), date(2026, 10, 31)).lots["L1"]

    assert ("rejected", 4_000, 0, 4_000) == (lot.standing, lot.traced_mg, lot.unproven_mg, lot.rejected_mg)


def test_bought_seed_is_unproven_for_its_own_grams(seasons, stocked, find) -> None:
    """However much was bought, and whether a certificate is named; of a run's part nothing is said."""
    bought = {"supplier": "Brackwen Seed Exchange", "weight": "3 g"}
    parts = [{"batch": "X1", "weight": "8 g"}, bought, {**bought, "certificate": "C-0912", "weight": "2 g"}]
    season = stocked(lots=[seasons.lot("L1", parts, 13)])
    (gap,) = find(season, "bought-seed-unproven")

    assert ("rest", "unproven", ("L1",)) == (gap.touches, gap.weight, gap.lots)
    assert "3 g of lot L1 came from Brackwen Seed Exchange (no certificate named)" in plain(gap.message)
    assert ("sources", 1) == gap.field
    lot = examine_season(season, date(2026, 10, 31)).lots["L1"]
    assert (8_000, 5_000, "unproven") == (lot.traced_mg, lot.unproven_mg, lot.standing)


def test_each_supplier_of_a_lot_is_asked_by_itself(seasons, stocked, find) -> None:
    """With the certificate that is named."""
    parts = [
        {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912", "weight": "3 g"},
        {"supplier": "Hollin Seeds", "weight": "3 g"},
    ]
    first, second = find(stocked(lots=[seasons.lot("L1", parts, 6)]), "bought-seed-unproven")

    assert "Brackwen Seed Exchange (certificate C-0912)" in first.message
    assert "Hollin Seeds" in second.message


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        ({"batch": "X1"}, 0),
        ({"supplier": "Brackwen Seed Exchange"}, 0),
        ({"batch": "X1", "lot": "L0"}, 1),
        ({"batch": "X1", "supplier": "Brackwen Seed Exchange"}, 1),
        ({"batch": "X9", "lot": "L9"}, 1),
        ({"batch": "X1", "lot": "L0", "supplier": "Brackwen Seed Exchange"}, 1),
    ],
)
def test_a_part_of_a_lot_came_from_one_place(seasons, stocked, find, part, expected) -> None:
    """From a run, a lot or a supplier."""
    lots = [
        seasons.lot("L0", [{"batch": "X1", "weight": "4 g"}], 4),
        seasons.lot("L1", [{"batch": "X1", "weight": "2 g"}, {**part, "weight": "2 g"}], 4),
    ]
    found = find(stocked(lots=lots), "source-ambiguous")

    assert [(("sources", 1), "unproven", ("L1",))] * expected == [
        (gap.field, gap.weight, gap.lots) for gap in found
    ]


@pytest.mark.parametrize(
    ("blends", "expected"),
    [
        ({"L1": ["L2"], "L2": []}, None),
        ({"L1": ["L1"]}, "Lot L1 is blended into itself in a circle."),
        ({"L1": ["L2"], "L2": ["L1"]}, "Lots L1 and L2 are blended into one another in a circle."),
        ({"L1": ["L2"], "L2": ["L3"], "L3": ["L1"]}, "Lots L1, L2 and L3 are blended into one another in"),
    ],
)
def test_a_lot_cannot_have_been_packed_out_of_itself(seasons, stocked, find, blends, expected) -> None:
    """By itself or through others; all of them are without a beginning."""
    lots = [
        seasons.lot(
            name, [{"batch": "X1", "weight": "1 g"}, *({"lot": one, "weight": "1 g"} for one in of)], 2
        )
        for name, of in blends.items()
    ]
    season = stocked(lots=lots)
    found = find(season, "blend-circular")

    assert (1 if expected else 0) == len(found)
    assert all(gap.message.startswith(expected) for gap in found)
    assert all(tuple(blends) == gap.lots and "unproven" == gap.weight for gap in found)
    result = examine_season(season, date(2026, 10, 31))
    assert bool(expected) == (not any(result.lots[name].traced_mg for name in blends))
