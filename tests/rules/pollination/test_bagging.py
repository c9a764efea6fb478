from __future__ import annotations

from datetime import timedelta

import pytest
from seasons import look, without


@pytest.mark.parametrize(
    ("left", "said"),
    [
        ((), "has no tag"),
        (("variety",), "doesn't say its date or tree"),
        (("date", "tree"), "doesn't say its variety"),
    ],
)
def test_a_tag_is_told_apart_from_half_a_tag(seasons, stocked, find, left, said) -> None:
    """No tag at all, or what is missing on it."""
    bag = seasons.bag("B1", "T1")
    bag = {**bag, "tag": {key: value for key, value in bag["tag"].items() if key in left}}
    (gap,) = find(stocked(bagging=[bag]), "bag-untagged")

    assert said in gap.message


def test_a_whole_tag_is_no_gap(stocked, find) -> None:
    """Date, variety and tree stand on it."""
    assert () == find(stocked(), "bag-untagged")


@pytest.mark.parametrize(
    ("tag", "field", "said"),
    [
        ({}, None, ""),
        ({"variety": "AMBER  kestrel"}, None, ""),
        ({"variety": None}, None, ""),
        ({"date": None}, None, ""),
        ({"tree": None}, None, ""),
        ({"tree": "T2"}, ("tag", "tree"), "says tree T2 where the log says T1."),
        ({"variety": "Moth Lantern"}, ("tag", "variety"),
         "says variety Moth Lantern where tree T1 is Amber Kestrel."),
        ({"date": "2026-01-13"}, ("tag", "date"), "says 13 January 2026 where the log says 12 January 2026."),
        ({"date": "2026-01-13", "tree": "T2"}, ("tag", "tree"),
         "says tree T2 where the log says T1 and 13 January 2026 where the log says 12 January 2026."),
    ],
)  # fmt: skip
def test_a_tag_says_what_the_log_says(seasons, stocked, find, tag, field, said) -> None:
    """As far as it says anything, and whatever the letter case."""
    bag = seasons.bag("B1", "T1")
    words = {key: value for key, value in {**bag["tag"], **tag}.items() if value is not None}
    found = find(stocked(bagging=[{**bag, "tag": words}]), "bag-tag-differs")

    assert ([f"The tag of bag B1 {said}"] if said else []) == [gap.message for gap in found]
    assert all(".".join(field) == ".".join(map(str, gap.field)) for gap in found)


def test_a_tag_on_an_unknown_tree_differs_from_no_variety(seasons, stocked, find) -> None:
    """That the tree is unknown is told elsewhere."""
    bag = seasons.bag("B1", "T9")

    assert () == find(stocked(bagging=[bag]), "bag-tag-differs")


@pytest.mark.parametrize(("stage", "found"), [("open", 1), ("closed bud", 0), (None, 0)])
def test_a_bag_goes_over_a_closed_bud(seasons, stocked, find, stage, found) -> None:
    """A stage that nobody wrote down is no open flower."""
    bag = {key: value for key, value in seasons.bag("B1", "T1", stage=stage).items() if value is not None}

    assert ["rejects"] * found == [gap.weight for gap in find(stocked(bagging=[bag]), "bag-over-open-flower")]


def failed(seasons, days, condition="torn"):
    """A bag that a look found so after some days; None for a look without a day."""
    look = {"date": seasons.COVERED + timedelta(days), "condition": condition}
    return seasons.bag("B1", "T1", checks=[look])


@pytest.mark.parametrize(
    ("days", "condition", "expected"),
    [
        (0, "torn", ["rejects"]),
        (6, "loose", ["rejects"]),
        (7, "gone", ["rejects"]),
        (8, "torn", ["unproven"]),
        (12, "torn", ["unproven"]),
        (13, "torn", []),
        (3, "intact", []),
    ],
)
def test_a_cover_must_hold_while_the_stigma_takes_pollen(
    seasons, stocked, find, days, condition, expected
) -> None:
    """Seven days by the profile, the seventh among them. What is found later, and was seen by nobody before,
    may have been so since then; a look after the bag came off says nothing."""
    gaps = find(stocked(bagging=[failed(seasons, days, condition)]), "bag-failed")

    assert expected == [gap.weight for gap in gaps]
    assert all(f"was found {condition} on" in gap.message for gap in gaps)
    assert all(f", {days} days after it was put on." in gap.message for gap in gaps)
    assert all("Nobody is known to have looked at it before." in gap.message for gap in gaps)


@pytest.mark.parametrize(("looked", "expected"), [(6, ["unproven"]), (7, []), (8, ["unproven"])])
def test_a_failure_reaches_back_to_the_look_before_it(seasons, stocked, find, looked, expected) -> None:
    """Whole on the seventh day, it did what it was there for; a look of the same day is none before."""
    checks = [
        {"date": seasons.COVERED + timedelta(looked), "condition": "intact"},
        {"date": seasons.COVERED + timedelta(8), "condition": "torn"},
    ]
    gaps = find(stocked(bagging=[seasons.bag("B1", "T1", checks=checks)]), "bag-failed")

    assert expected == [gap.weight for gap in gaps]
    assert all((looked == 6) == ("found it whole was on 18 January 2026" in gap.message) for gap in gaps)
    assert all("an earlier look at bag B1" == gap.supply for gap in gaps)


@pytest.mark.parametrize(("fallen", "expected"), [(4, []), (5, ["unproven"]), (6, ["rejects"])])
def test_a_day_without_petals_ends_the_need(seasons, stocked, find, fallen, expected) -> None:
    """Whole on the fourth day and torn on the sixth: the petals had fallen before, between, or that day."""
    checks = [
        {"date": seasons.COVERED + timedelta(days), "condition": condition}
        for days, condition in ((4, "intact"), (6, "torn"))
    ]
    bag = seasons.bag("B1", "T1", checks=checks, petal_fall=seasons.COVERED + timedelta(fallen))

    assert expected == [gap.weight for gap in find(stocked(bagging=[bag]), "bag-failed")]


@pytest.mark.parametrize("figure", [None, {"low": None, "high": 30}])
def test_a_crop_whose_flowers_nobody_knows_needs_its_cover_for_good(
    seasons, stocked, find, crop, figure
) -> None:
    """Its profile doesn't say when it may come off: only petals that were seen to have fallen do."""
    checks = [
        {"date": seasons.COVERED + timedelta(days), "condition": condition}
        for days, condition in ((7, "intact"), (11, "torn"))
    ]
    bag = seasons.bag("B1", "T1", checks=checks)
    fallen = {**bag, "petal_fall": seasons.COVERED + timedelta(7)}
    profile = crop(days_covered=figure)

    assert () == find(stocked(bagging=[bag]), "bag-failed")
    (gap,) = find(stocked(bagging=[bag]), "bag-failed", profile=profile)
    assert "rejects" == gap.weight
    assert () == find(stocked(bagging=[fallen]), "bag-failed", profile=profile)


def test_a_failed_bag_that_nobody_picked_is_told_as_such(seasons, stocked, find) -> None:
    """No lot rests on it, so it is advice."""
    (gap,) = find(stocked(bagging=[failed(seasons, 2)], harvests=[], batches=[], lots=[]), "bag-failed")

    assert "advice" == gap.weight
    assert gap.message.endswith("No picking took its fruit.")


@pytest.mark.parametrize(
    ("checks", "expected", "said"),
    [
        ([], 1, "was looked at by nobody"),
        ([0], 1, "was last seen whole on 12 January 2026"),
        ([2, 6], 1, "was last seen whole on 18 January 2026"),
        ([7], 0, ""),
        ([9], 0, ""),
    ],
)
def test_a_bag_that_nobody_took_off_must_have_been_seen_whole(
    seasons, stocked, find, checks, expected, said
) -> None:
    """By the seventh day at the latest; that its fruit was picked shows nothing of those days."""
    bag = seasons.bag("B1", "T1", checks=[look(days) for days in checks])
    found = find(stocked(bagging=[without(bag, "uncovered")]), "bag-unwatched")

    assert ["unproven"] * expected == [gap.weight for gap in found]
    assert all(said in gap.message and ("B1",) == gap.ids for gap in found)


def test_a_bag_that_came_off_in_time_held_unless_a_look_says_otherwise(seasons, stocked, find) -> None:
    """The day on which it came off speaks where nobody looked."""
    assert () == find(stocked(bagging=[seasons.bag("B1", "T1", checks=[])]), "bag-unwatched")


def test_a_bag_of_which_no_fruit_was_picked_needs_no_looks(seasons, stocked, find) -> None:
    """Nothing rests on it."""
    bag = without(seasons.bag("B1", "T1", checks=[]), "uncovered")

    assert () == find(stocked(bagging=[bag], harvests=[], batches=[], lots=[]), "bag-unwatched")


def storm(seasons, days, **where):
    """The walk after a storm, or a record of it."""
    entry = {"round": "R1", "kind": "storm", "date": seasons.COVERED + timedelta(days), "by": "R. Alder"}
    return {**entry, **(where or {"blocks": ["East"]})}


@pytest.mark.parametrize(
    ("days", "looks", "expected"),
    [
        (-1, [], 0),
        (0, [], 1),
        (6, [], 1),
        (7, [], 0),
        (4, [4], 1),
        (4, [5], 0),
        (4, [3], 1),
        (4, [12], 0),
        (4, [13], 1),
    ],
)
def test_a_storm_leaves_a_bag_in_doubt_until_the_next_look(
    seasons, stocked, find, days, looks, expected
) -> None:
    """While it hangs and its flower takes pollen; a look of that day was before it, and one after the bag
    came off (on the twelfth day) is none."""
    bag = seasons.bag("B1", "T1", checks=[look(one) for one in looks])
    found = find(stocked(bagging=[bag], rounds=[storm(seasons, days)]), "bag-in-storm")

    assert ["unproven"] * expected == [gap.weight for gap in found]
    assert all("(round R1), and no look at it" in gap.message for gap in found)


@pytest.mark.parametrize(
    ("where", "expected"),
    [
        ({"blocks": ["East"]}, ["B1"]),
        ({"blocks": ["West"]}, []),
        ({"trees": ["T1"]}, ["B1"]),
        ({"trees": ["T2"]}, []),
        ({"bags": ["B1"]}, ["B1"]),
        ({"bags": ["B0 to B4"]}, ["B1"]),
        ({"bags": ["B2"]}, []),
    ],
)
def test_a_storm_is_where_its_round_says(seasons, stocked, find, where, expected) -> None:
    """Over a block, a tree, or some bags by number or range."""
    bag = seasons.bag("B1", "T1", checks=[])
    season = stocked(bagging=[bag, seasons.bag("B0", "T2"), seasons.bag("B4", "T2")],
                     rounds=[storm(seasons, 4, **where)])  # fmt: skip

    assert expected == [gap.id for gap in find(season, "bag-in-storm") if gap.id == "B1"]


@pytest.mark.parametrize(
    ("kind", "about", "slugs"),
    [
        ("storm", ["East"], ["bag-in-storm"]),
        ("storm", ["T1"], ["bag-in-storm"]),
        ("storm", ["P1"], ["bag-in-storm"]),
        ("storm", ["B1"], ["bag-in-storm"]),
        ("torn bags", ["East"], ["bag-in-storm"]),
        ("torn bags", ["B1"], ["bag-failed"]),
        ("other", ["B1"], []),
    ],
)
def test_an_incident_tells_of_a_storm_or_of_a_torn_bag(seasons, stocked, find, kind, about, slugs) -> None:
    """Torn bags on a block may be any; a bag that is named was found torn, whether the incident is closed."""
    day = seasons.COVERED + timedelta(4)
    incident = {"incident": "I1", "date": day, "kind": kind, "about": about, "closed": day, "action": "tied"}
    season = stocked(bagging=[seasons.bag("B1", "T1", checks=[])], incidents=[incident])

    assert slugs == [slug for slug in ("bag-in-storm", "bag-failed") if find(season, slug)]


@pytest.mark.parametrize(
    ("other", "weights"),
    [
        ({}, []),
        ({"secured": False}, ["unproven"]),
        ({"secured": None}, ["unproven"]),
        ({"stage": "open"}, ["rejects"]),
        ({"stage": None}, ["unproven"]),
        ({"flower": "male"}, ["rejects"]),
        ({"checks": [(4, "torn")]}, ["rejects"]),
        ({"checks": [(9, "torn")]}, ["unproven"]),
        ({"checks": [], "uncovered": None}, ["unproven"]),
        ({"outcome": "dropped", "fruit_marked": None}, []),
    ],
)
def test_bags_with_one_tag_share_the_worse_fate(seasons, stocked, find, other, weights) -> None:
    """What is wrong with the cover of the one is wrong with the other; that its flower dropped is not."""
    if "checks" in other:
        other = {**other, "checks": [look(*one) for one in other["checks"]]}
    twin = {key: value for key, value in seasons.bag("B2", "T1", **other).items() if value is not None}
    found = find(stocked(bagging=[seasons.bag("B1", "T1"), twin]), "bag-tag-shared")

    assert weights == [gap.weight for gap in found]
    assert all("Bag B1 bears the same tag as bag B2, which was not whole" in gap.message for gap in found)


@pytest.mark.parametrize(("said", "weights"), [("tagged: yes", ["unproven"]), ("numbered: yes", [])])
def test_a_round_writes_tags_alike_unless_it_numbers_them(seasons, stocked, find, said, weights) -> None:
    """Two bags of one walk on one tree bear one tag, so the untied one takes the other with it."""
    day = seasons.COVERED
    bags = [without(seasons.bag(name, "T1"), "tag", "secured", "covered") for name in ("B1", "B2")]
    walk = {
        "round": "R1", "kind": "bagging", "date": day, "by": "Ann", "bags": ["B1 to B2"], "secured": True,
        "tagged": True, "exceptions": [{"about": ["B2"], "secured": False}],
        said.partition(":")[0]: True,
    }  # fmt: skip

    found = find(stocked(bagging=bags, rounds=[walk]), "bag-tag-shared")
    assert weights == [gap.weight for gap in found]


@pytest.mark.parametrize("difference", ["tree", "date", "variety", "bag"])
def test_tags_that_differ_in_anything_share_nothing(seasons, stocked, find, difference) -> None:
    """Not even where one of the two lies."""
    words = {"tree": "T2", "date": "2026-01-13", "variety": "Moth Lantern", "bag": "B2"}
    twin = seasons.bag("B2", "T1", secured=False)
    twin = {**twin, "tag": {**twin["tag"], difference: words[difference]}}

    assert () == find(stocked(bagging=[seasons.bag("B1", "T1"), twin]), "bag-tag-shared")


def test_half_a_tag_is_the_same_as_no_other(seasons, stocked, find) -> None:
    """It is told as half a tag."""
    bags = [seasons.bag(name, "T1", tag={"tree": "T1"}, secured=name == "B1") for name in ("B1", "B2")]

    assert () == find(stocked(bagging=bags), "bag-tag-shared")


def test_several_failed_bags_of_one_tag_are_named_together(seasons, stocked, find) -> None:
    """And where nothing was picked of the sound one, it is advice."""
    bags = [seasons.bag(name, "T1", secured=name == "B1") for name in ("B1", "B2", "B3")]
    season = stocked(bagging=bags)
    (gap,) = find(season, "bag-tag-shared")

    assert "bags B2 and B3, which were not whole" in gap.message
    (gap,) = find(stocked(bagging=bags, batches=[], lots=[]), "bag-tag-shared")
    assert "advice" == gap.weight
    assert () == find(stocked(bagging=bags, harvests=[], batches=[], lots=[]), "bag-tag-shared")


@pytest.mark.parametrize(("number", "expected"), [("B1", 0), ("B7", 1)])
def test_a_number_on_the_tag_is_the_bags(seasons, stocked, find, number, expected) -> None:
    """Where the tag bears one at all."""
    bag = seasons.bag("B1", "T1")
    bag = {**bag, "tag": {**bag["tag"], "bag": number}}
    found = find(stocked(bagging=[bag]), "bag-tag-differs")

    assert expected == len(found)
    assert all("says bag B7 where the log says B1" in gap.message for gap in found)


def test_a_short_name_on_a_tag_is_what_the_planting_declares(seasons, stocked, find) -> None:
    """`short: AK` in the register; undeclared it is another variety."""
    bag = seasons.bag("B1", "T1", variety="ak")
    declared = stocked(bagging=[bag], plantings=[seasons.planting(short="AK")])

    assert () == find(declared, "bag-tag-differs")
    assert 1 == len(find(stocked(bagging=[bag]), "bag-tag-differs"))
