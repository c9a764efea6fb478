from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.standards import load_profile

ON = date(2026, 10, 31)


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
def test_three_years_to_the_day(seasons, last, expected, find):
    """The picking is of 8 June 2026."""
    found = find(farm(seasons, seasons.block(last_prohibited_substance=last)), "land-too-recent")

    assert ["rejects"] * expected == [gap.weight for gap in found]
    assert [("L1",)] * expected == [gap.lots for gap in found]


@pytest.mark.parametrize(
    ("standard", "years", "word"), [("codex", 2, "sown"), ("us-nop", 3, "picked"), ("eu", 2, "sown")]
)
def test_of_an_annual_crop_some_standards_count_back_from_the_sowing(seasons, find, standard, years, word):
    """The others count from the picking, as all do for a perennial; the planting is of 10 February 2025."""
    annual = replace(load_profile("papaya"), life="annual")
    start = date(2025, 2, 10) if word == "sown" else date(2026, 6, 8)
    last = date(start.year - years, start.month, start.day)
    for days in (0, 1):
        told = (last + timedelta(days)).isoformat()
        season = farm(seasons, seasons.block(last_prohibited_substance=told))
        found = find(season, "land-too-recent", standard, profile=annual)
        assert days == len(found)
        assert all(
            f"Picking H1 was {word} as organic less than {years} years" in gap.message for gap in found
        )


def test_each_block_is_told_once_for_all_its_pickings(seasons, find):
    """With every picking that was too soon, and no other."""
    block = seasons.block(last_prohibited_substance="2023-06-09")
    bags = [seasons.bag(f"B{number}", "T1") for number in (1, 2, 3)]
    days = {"H1": seasons.PICKED, "H2": seasons.PICKED - timedelta(3), "H3": seasons.PICKED + timedelta(1)}
    harvests = [
        seasons.harvest(name, [bag["bag"]], date=when)
        for (name, when), bag in zip(days.items(), bags, strict=True)
    ]
    season = farm(seasons, block, bagging=bags, harvests=harvests)
    (gap,) = find(season, "land-too-recent")

    assert gap.message.endswith("Pickings H1 and H2 were picked as organic less than 3 years later.")
    assert {"H1", "H2"} == {node.id for node in gap.starts}


def test_two_standards_on_one_block_are_one_gap(seasons, find):
    """It cites both."""
    block = seasons.block(last_prohibited_substance="2024-06-09")
    (gap,) = find(farm(seasons, block, standards=("us-nop", "eu")), "land-too-recent")

    assert ("us-nop:205.202(b)", "eu:2018/848 annex II 1.7.1") == gap.clauses


def test_fruit_that_claims_nothing_is_asked_nothing(seasons, find):
    """Fruit that is called transitional may come of such land."""
    season = farm(
        seasons,
        seasons.block(last_prohibited_substance="2025-06-09", status="transitional"),
        harvests=[seasons.harvest("H1", ["B1"], status="transitional")],
    )

    assert () == find(season, "land-too-recent")


@pytest.mark.parametrize(
    ("lost", "field", "said"),
    [
        ((), None, ""),
        (("last_prohibited_substance",), ("last_prohibited_substance",),
         "Nothing says when a prohibited substance was last put on block East."),
        (("organic_since",), ("organic_since",), "Nothing says since when block East is organic."),
        (("last_prohibited_substance", "organic_since"), ("last_prohibited_substance",),
         "Nothing says when a prohibited substance was last put on block East or since when it is organic."),
    ],
)  # fmt: skip
def test_land_has_a_history_and_a_day_of_certification(seasons, lost, field, said, find):
    """Neither stands for the other: a certificate is given on a history, and tells nothing of it."""
    block = {key: value for key, value in seasons.block().items() if key not in lost}
    found = find(farm(seasons, block), "land-history-missing")

    assert ([(field, said, "unproven", ("L1",))] if said else []) == [
        (gap.field, gap.message, gap.weight, gap.lots) for gap in found
    ]


@pytest.mark.parametrize(
    ("boundary", "buffer", "expected"),
    [
        ("hedge", "12 m", 0),
        ("hedge", "1 m", 0),
        ("hedge", "0 m", 1),
        ("hedge", None, 1),
        ("hedge; the neighbours on all sides are organic", None, 0),
        ("organic orchards all round", None, 0),
        ("organic land of our neighbour", "0 m", 0),
        ("the neighbour isn't organic", None, 1),
        ("the neighbours are not certified organic", None, 1),
        ("the neighbours are non-organic", None, 1),
        ("one neighbour is organic, the other conventional", None, 1),
        ("our land is organic", None, 1),
    ],
)
def test_organic_neighbours_stand_for_a_strip(seasons, boundary, buffer, expected, find):
    """Told in plain words; a strip of no width is none."""
    block = {**seasons.block(boundary=boundary), "buffer": buffer}
    block = {key: value for key, value in block.items() if value is not None}

    assert expected == len(find(farm(seasons, block), "boundary-undescribed"))


def test_the_boundary_is_asked_for_where_a_standard_asks(seasons, find):
    """One standard asks for both, one for neither."""
    block = {key: value for key, value in seasons.block().items() if key not in ("boundary", "buffer")}
    (gap,) = find(farm(seasons, block), "boundary-undescribed")

    assert "no entry of its boundary or buffer" in gap.message
    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)
    assert () == find(farm(seasons, block, standards=("eu",)), "boundary-undescribed")


@pytest.mark.parametrize(("buffer", "expected"), [("25 ft", 1), ("8 m", 0)])
def test_a_width_is_asked_by_one_standard_only(seasons, buffer, expected, find):
    """25 feet are 7.62 m."""
    block = seasons.block(buffer=buffer)

    assert expected == len(find(farm(seasons, block, standards=("us-nop", "canada")), "buffer-narrow"))
    assert () == find(farm(seasons, block), "buffer-narrow")


def test_a_block_outside_the_claim_is_asked_for_no_edge(seasons, find):
    """Neither for its boundary nor for a width."""
    block = seasons.block(status="conventional", buffer="2 m")
    del block["boundary"]
    season = farm(seasons, block, standards=("us-nop", "canada"))

    assert () == find(season, "boundary-undescribed")
    assert () == find(season, "buffer-narrow")


@pytest.mark.parametrize(("lost", "told"), [("boundary", "boundary"), ("buffer", "buffer"), (None, None)])
def test_what_is_missing_of_the_edge_is_told(seasons, lost, told, find):
    """At its own field."""
    block = {key: value for key, value in seasons.block().items() if key != lost}
    found = find(farm(seasons, block), "boundary-undescribed")

    assert ([((told,), f"Block East has no entry of its {told}.")] if told else []) == [
        (gap.field, gap.message) for gap in found
    ]


@pytest.mark.parametrize(
    ("nearest", "status", "found"),
    [
        ("400 m", "organic", 0),
        ("399.9 m", "organic", 1),
        ("399 m", "conventional", 0),
        (None, "organic", 0),
    ],
)
def test_the_same_crop_grows_at_a_distance(seasons, nearest, status, found, find):
    """Of practice, for land that is organic; a distance that nobody wrote down is none."""
    block = {**seasons.block(status=status), "nearest_same_crop": nearest}
    block = {key: value for key, value in block.items() if value is not None}

    assert ["advice"] * found == [gap.weight for gap in find(farm(seasons, block), "isolation-short")]


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
        (True, ("us-nop", "eu"), "advice"),
        (False, ("us-nop", "eu"), "unproven"),
    ],
)
def test_one_variety_on_both_kinds_of_land(seasons, picked, standards, weight, find):
    """Records of both will do. A standard that asks for varieties told apart excepts growers of seed: ask."""
    (gap,) = find(split(seasons, picked, standards), "split-operation-unseparated")

    assert ("P2", weight, ("L1",)) == (gap.id, gap.weight, gap.lots)
    assert picked == ("No picking of planting P2 is on record." not in gap.message)
    assert ("eu" in standards) == ("Ask the control body" in gap.message)


def test_a_planting_without_trees_bears_no_fruit_to_be_kept_apart(seasons, find):
    """So does another variety, and land that claims nothing beside none that does."""
    season = split(seasons, picked=False)
    tables = {name: [season.record_at(name, row) for row in range(len(season.table(name)))]
              for name in ("blocks", "plantings", "trees")}  # fmt: skip
    bare = farm(seasons, **{**tables, "trees": [seasons.tree("T1")]})
    other = farm(seasons, **{**tables, "plantings": [
        seasons.planting(), seasons.planting("P2", block="West", variety="Moth Lantern")]})  # fmt: skip
    west = seasons.block("West", status="conventional")
    low = farm(seasons, **{**tables, "blocks": [seasons.block(status="conventional"), west]})

    for one in (bare, other, low):
        assert () == find(one, "split-operation-unseparated")


def test_one_variety_on_both_kinds_of_land_that_is_in_no_lot_is_advice(seasons, find):
    """Whatever the standard asks."""
    season = split(seasons, picked=False)
    tables = {name: [season.record_at(name, row) for row in range(len(season.table(name)))]
              for name in ("blocks", "plantings", "trees", "bagging", "harvests")}  # fmt: skip
    unpacked = farm(seasons, **tables, lots=[])

    assert ["advice"] == [gap.weight for gap in find(unpacked, "split-operation-unseparated", "us-nop", "eu")]
