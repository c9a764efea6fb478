from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from seasons import without

from certgen.standards import load_profile

ON = date(2026, 10, 31)


def farm(seasons, bag, trees=(), **tables):
    """One bag behind a lot, and the trees that it needs."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block()],
            "plantings": [seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
            "trees": [seasons.tree("T1"), seasons.tree("T2"), *trees],
            "bagging": [bag],
            "harvests": [seasons.harvest("H1", [bag["bag"]])],
            "batches": [seasons.batch("X1", ["H1"])],
            "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)],
            **tables,
        }
    )


@pytest.mark.parametrize(
    ("sex", "flower", "weight", "said"),
    [
        ("hermaphrodite", "hermaphrodite", None, ""),
        ("hermaphrodite", None, "unproven", "Nothing says what flower"),
        ("hermaphrodite", "male", "rejects", "over a male flower, which sets no fruit"),
        ("hermaphrodite", "female", "unproven", "over a female flower, but tree T9 is hermaphrodite"),
        ("female", "hermaphrodite", "unproven", "over a hermaphrodite flower, but tree T9 is female"),
        ("female", None, "unproven", "Nothing says what flower"),
        ("male", None, "rejects", "over a male flower, which sets no fruit"),
        ("unknown", "hermaphrodite", None, ""),
        ("unknown", None, "unproven", "Nothing says what flower"),
    ],
)
def test_flower_and_tree_together_tell_what_was_covered(seasons, sex, flower, weight, said, find):
    """A flower that sets no fruit rejects; a contradiction proves nothing, and neither does silence: what
    flowers a tree bears changes with the weather, and on a male there is none that sets fruit."""
    bag = without(seasons.bag("B1", "T9"), "flower")
    bag = {**bag, "flower": flower} if flower else bag
    found = find(farm(seasons, bag, [seasons.tree("T9", sex=sex)]), "bag-on-wrong-flower")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(
    ("sex", "flower", "father", "expected"),
    [
        ("female", "female", None, 1),
        ("female", "female", "T2", 0),
        ("female", None, None, 1),
        ("female", "hermaphrodite", None, 0),
        ("hermaphrodite", None, None, 0),
        ("unknown", "female", None, 1),
    ],
)
def test_a_flower_that_needs_pollen_needs_a_father(seasons, sex, flower, father, expected, find):
    """The flower says so, or else the tree."""
    bag = without(seasons.bag("B1", "T9"), "flower")
    bag |= {"flower": flower} if flower else {}
    bag |= {"pollen_parent": father} if father else {}
    found = find(farm(seasons, bag, [seasons.tree("T9", sex=sex)]), "female-without-pollen-parent")

    assert ["unproven"] * expected == [gap.weight for gap in found]


@pytest.mark.parametrize(
    ("father", "said"),
    [
        ({"sex": "female"}, "is female and gives no pollen"),
        ({"removed": date(2026, 1, 2)}, "didn't stand there"),
        ({"removed": date(2026, 1, 11)}, "didn't stand there"),
        ({"removed": date(2026, 1, 12)}, None),
        ({"planting": "P3"}, None),
        ({"planting": "P4"}, "didn't stand there"),
        ({"planting": "P2"}, "is Moth Lantern, where the mother is Amber Kestrel"),
        ({"planting": "P9"}, None),
        ({"sex": "male"}, None),
    ],
)
def test_the_father_must_be_able_to_be_one(seasons, father, said, find):
    """Its sex, its days and its variety are looked at, as far as they are known."""
    bag = seasons.bag("B1", "T9", flower="female", pollen_parent="T8")
    trees = [seasons.tree("T9", sex="female"), seasons.tree("T8", **father)]
    plantings = [
        seasons.planting(),
        seasons.planting("P2", variety="Moth Lantern"),
        seasons.planting("P3", planted=seasons.COVERED),
        seasons.planting("P4", planted=seasons.COVERED + timedelta(1)),
    ]
    found = find(farm(seasons, bag, trees, plantings=plantings), "pollen-parent-unfit")

    assert (1 if said else 0) == len(found)
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(
    ("planted", "removed", "said"),
    [
        (date(2026, 1, 13), None, "was planted only on 13 January 2026"),
        (date(2025, 2, 10), date(2026, 1, 11), "had been removed on 11 January 2026"),
        (date(2026, 1, 12), date(2026, 1, 12), None),
        # Removed before it was planted: told at the tree, and only the planting counts here.
        (date(2025, 2, 10), date(2025, 2, 9), None),
        (date(2025, 2, 10), date(2025, 2, 10), "had been removed on 10 February 2025"),
        (date(2026, 1, 13), date(2026, 1, 11), "was planted only on 13 January 2026"),
    ],
)
def test_a_bag_hangs_on_a_tree_that_is_there(seasons, planted, removed, said, find):
    """The days of planting and of removal are days on which the tree stood."""
    gone = {"removed": removed} if removed else {}
    season = farm(
        seasons,
        seasons.bag("B1", "T9"),
        [seasons.tree("T9", planting="P3", **gone)],
        plantings=[seasons.planting(), seasons.planting("P3", planted=planted)],
    )
    found = find(season, "bag-on-absent-tree")

    assert (["rejects"] if said else []) == [gap.weight for gap in found]
    assert all(said in gap.message for gap in found)


@pytest.mark.parametrize(("days", "expected"), [(6, 1), (7, 0)])
def test_a_cover_that_outlasts_the_stigma_is_long_enough(seasons, days, expected, find):
    """The profile's figure is the least."""
    bag = seasons.bag("B1", "T1", uncovered=seasons.COVERED + timedelta(days))

    assert expected == len(find(farm(seasons, bag), "uncovered-early"))


def test_an_early_end_without_fruit_matters_to_nobody(seasons, find):
    """The flower dropped and no picking names the bag."""
    bag = seasons.bag("B1", "T1", uncovered=seasons.COVERED + timedelta(2), outcome="dropped")
    season = farm(seasons, bag, harvests=[], batches=[], lots=[])

    assert () == find(season, "uncovered-early")


def test_an_early_end_matters_where_fruit_was_picked(seasons, find):
    """Also while no lot has been packed of it."""
    bag = seasons.bag("B1", "T1", uncovered=seasons.COVERED + timedelta(2))

    assert ["advice"] == [
        gap.weight for gap in find(farm(seasons, bag, batches=[], lots=[]), "uncovered-early")
    ]


@pytest.mark.parametrize("figure", [{"low": None, "high": 30}, None])
def test_a_crop_that_asks_for_no_days_of_cover_finds_none_missing(seasons, find, crop, figure):
    """Its profile has no such figure, or only a most."""
    season = farm(seasons, seasons.bag("B1", "T1", uncovered=seasons.COVERED + timedelta(2)))

    assert () == find(season, "uncovered-early", profile=crop(days_covered=figure))


def test_a_flower_without_a_word_on_a_plant_of_both_sexes_is_unknown(seasons, find):
    """Where no flower sets seed of its own pollen, the tree can't tell which flower it was."""
    season = farm(seasons, without(seasons.bag("B1", "T1"), "flower"))
    profile = load_profile("papaya")
    crossing = replace(profile, roles={**profile.roles, "selfing_flowers": ()})
    (gap,) = find(season, "bag-on-wrong-flower", profile=crossing)

    assert "unproven" == gap.weight
    assert "Nothing says what flower bag B1" in gap.message


@pytest.mark.parametrize("flower", ["female", None])
def test_a_doubtful_flower_behind_no_lot_is_advice(seasons, flower, find):
    """A flower that sets no fruit is told in its own weight, which no lot feels either."""
    bag = {**without(seasons.bag("B1", "T9"), "flower"), **({"flower": flower} if flower else {})}
    tree = seasons.tree("T9", sex="hermaphrodite" if flower else "unknown")
    season = farm(seasons, bag, [tree], harvests=[], batches=[], lots=[])

    assert ["advice"] == [gap.weight for gap in find(season, "bag-on-wrong-flower")]


@pytest.mark.parametrize(
    ("more", "said", "field"),
    [
        ({}, "Bag B1 was used before, and nothing says what was in it before and no washing is written down.",
         ("previous_contents",)),
        ({"previous_contents": "bread"}, "Bag B1 was used before, and no washing is written down.",
         ("bag_cleaned",)),
        ({"bag_cleaned": date(2026, 1, 12)},
         "Bag B1 was used before, and nothing says what was in it before.", ("previous_contents",)),
        ({"bag_cleaned": date(2026, 1, 13), "previous_contents": "bread"},
         "Bag B1 was used before, and the washing is dated after it was put on.", ("bag_cleaned",)),
        ({"bag_cleaned": date(2026, 1, 12), "previous_contents": "bread"}, None, None),
        ({"bag_use": "new"}, None, None),
    ],
)  # fmt: skip
def test_a_bag_used_again_must_say_what_it_was(seasons, more, said, field, find):
    """What it held, and that it was washed by the day that it was put on."""
    bag = seasons.bag("B1", "T1", **{"bag_use": "re-used", **more})
    found = find(farm(seasons, bag), "bag-reused")

    assert ([(said, field, "unproven")] if said else []) == [
        (gap.message, gap.field, gap.weight) for gap in found
    ]


def test_several_bags_are_told_in_the_plural(seasons, find):
    """What was missing of each, and what would mend them all."""
    again = {"bag_use": "re-used", "bag_cleaned": seasons.COVERED + timedelta(1)}
    bags = [seasons.bag(name, "T1", **again) for name in ("B1", "B2")]
    (gap,) = find(farm(seasons, bags[0], bagging=bags), "bag-reused")

    assert (
        "Bags B1 and B2 were used before, and nothing says what was in them before and the washing is dated "
        "after they were put on."
    ) == gap.message
    assert "what bags B1 and B2 held before and when they were washed" == gap.supply


def test_bags_used_again_alike_are_one_gap(seasons, find):
    """Three bags of one sort, one question; a washing after the use is another."""
    again = {"bag_use": "re-used"}
    bags = [seasons.bag(f"B{n}", "T1", **again) for n in (1, 2, 3)]
    late = seasons.bag(
        "B4", "T1", **again, previous_contents="bread", bag_cleaned=seasons.COVERED + timedelta(1)
    )
    good = seasons.bag("B5", "T1", **again, previous_contents="bread", bag_cleaned=seasons.COVERED)
    season = farm(seasons, bags[0], bagging=[*bags, late, good])
    first, second = find(season, "bag-reused")

    assert (("B1", "B2", "B3"), ("B4",)) == (first.ids, second.ids)
    assert "the washing is dated after it was put on" in second.message


def test_only_a_written_no_is_told_of_other_buds(seasons, find):
    """A blank says nothing, and nothing rests on it."""
    no = find(farm(seasons, seasons.bag("B1", "T1", other_buds_cleared=False)), "bag-buds-not-cleared")

    assert ["advice"] == [gap.weight for gap in no]
    assert () == find(
        farm(seasons, without(seasons.bag("B1", "T1"), "other_buds_cleared")), "bag-buds-not-cleared"
    )


#: What must be said of every bag whose fruit was picked: the rule that asks, the field, and what it says.
ASKED = (
    ("bag-not-secured", "secured", "Nothing says that bag B1 was tied.", "whether bag B1 was tied"),
    ("bag-stage-unknown", "stage", "Nothing says how far open the flowers under bag B1 were.",
     "how far open the flowers under bag B1 were"),
    ("bag-undated", "covered", "Nothing says when bag B1 was put on.", "the day on which bag B1 was put on"),
    ("bag-reused", "bag_use", "Nothing says whether bag B1 was new.", "whether bag B1 was new"),
)  # fmt: skip


@pytest.mark.parametrize(("slug", "field", "said", "supply"), ASKED)
def test_what_must_be_said_of_a_bag_is_asked_where_nobody_says_it(seasons, slug, field, said, supply, find):
    """Of a bag behind a lot, or one that was picked; of others nothing rests on it."""
    silent = without(seasons.bag("B1", "T1"), field)
    (gap,) = find(farm(seasons, silent), slug)

    assert (said, supply, "unproven", (field,)) == (gap.message, gap.supply, gap.weight, gap.field)
    assert ["advice"] == [gap.weight for gap in find(farm(seasons, silent, batches=[], lots=[]), slug)]
    assert () == find(farm(seasons, silent, harvests=[], batches=[], lots=[]), slug)
    assert () == find(farm(seasons, seasons.bag("B1", "T1")), slug)


@pytest.mark.parametrize(("slug", "field", "_said", "_supply"), ASKED)
def test_silent_bags_are_one_question(seasons, slug, field, _said, _supply, find):
    """Two bags that lack the same are named in one gap."""
    bags = [without(seasons.bag(name, "T1"), field) for name in ("B1", "B2")]
    season = farm(seasons, bags[0], bagging=bags, harvests=[seasons.harvest("H1", ["B1", "B2"])])
    (gap,) = find(season, slug)

    assert ("B1", "B2") == gap.ids
    assert "bags B1 and B2" in gap.message


@pytest.mark.parametrize(("slug", "field", "_said", "_supply"), ASKED)
def test_a_round_says_it_for_all_its_bags(seasons, slug, field, _said, _supply, find):
    """And not for one that it left out."""
    bags = [without(seasons.bag(name, "T1"), field) for name in ("B1", "B2")]
    walk = {"round": "R1", "kind": "bagging", "date": seasons.COVERED, "by": "R. Alder", "bags": ["B1 to B2"],
            "secured": True, "stage": "closed bud", "bag_use": "new"}  # fmt: skip
    harvests = [seasons.harvest("H1", ["B1", "B2"])]
    whole = farm(seasons, bags[0], bagging=bags, harvests=harvests, rounds=[walk])
    but = {**walk, "exceptions": [{"about": ["B2"], "left_out": True}]}
    (gap,) = find(farm(seasons, bags[0], bagging=bags, harvests=harvests, rounds=[but]), slug)

    assert () == find(whole, slug)
    assert ("B2",) == gap.ids


def test_a_bag_that_was_not_tied_proves_nothing(seasons, find):
    """Each by itself, also where nothing was picked of it."""
    bags = [seasons.bag(name, "T1", secured=False) for name in ("B1", "B2")]
    found = find(farm(seasons, bags[0], bagging=bags), "bag-not-secured")

    assert [("B1", "unproven"), ("B2", "advice")] == [(gap.id, gap.weight) for gap in found]
    assert "Bag B1 on tree T1 was not drawn tight round the stalk." == found[0].message


@pytest.mark.parametrize(("days", "expected"), [(89, 1), (90, 0), (0, 1), (-1, 0)])
def test_a_tree_must_be_old_enough_to_flower(seasons, days, expected, find):
    """Ninety days from planting by the profile; one that was not there at all is told so by another rule."""
    planted = seasons.COVERED - timedelta(days)
    season = farm(seasons, seasons.bag("B1", "T1"), plantings=[seasons.planting(planted=planted)])
    found = find(season, "tree-too-young")

    assert ["unproven"] * expected == [gap.weight for gap in found]
    assert all(f"on tree T1 {days} days after the tree was planted" in gap.message for gap in found)


@pytest.mark.parametrize("figure", [None, {"impossible_low": 0, "low": 0}])
def test_a_crop_that_flowers_at_any_age_has_no_young_trees(seasons, find, crop, figure):
    """Its profile has no such figure, or allows every age."""
    season = farm(seasons, seasons.bag("B1", "T1"), plantings=[seasons.planting(planted=seasons.COVERED)])

    assert 1 == len(find(season, "tree-too-young"))
    assert () == find(season, "tree-too-young", profile=crop(days_planting_to_flowering=figure))


def test_of_a_tree_without_a_planting_no_age_is_told(seasons, find):
    """That it has none is told elsewhere."""
    season = farm(seasons, seasons.bag("B1", "T9"), [seasons.tree("T9", planting="P9")])

    assert () == find(season, "tree-too-young")
