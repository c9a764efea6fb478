from __future__ import annotations

from datetime import timedelta

import pytest

POSITIVE, NEGATIVE = {"result": "positive"}, {}
UNSURE = "S1 (gus): negative, controls failed; S2 (pcr): no result yet"


def samples(seasons, *changes):
    """Samples S1, S2 and so on of T1, each taken a day after the last."""
    made = []
    for number, more in enumerate(changes):
        when = seasons.SCREENED + timedelta(number)
        dated = {"collected": when, "submitted": when, "reported": when + timedelta(7)}
        record = {**seasons.sample(f"S{number + 1}", "T1"), **dated, **more}
        made.append({name: value for name, value in record.items() if value is not None})
    return made


@pytest.mark.parametrize(
    ("changes", "slug", "weight"),
    [
        ([], "parent-unscreened", "unproven"),
        ([POSITIVE], "parent-positive", "rejects"),
        ([{"controls": "failed"}], "parent-inconclusive", "unproven"),
        ([{"result": None}], "parent-inconclusive", "unproven"),
        ([POSITIVE, NEGATIVE], "parent-conflicting", "unproven"),
        ([NEGATIVE], None, None),
    ],
)
def test_each_verdict_on_a_parent_has_one_rule(seasons, stocked, find, changes, slug, weight) -> None:
    """The lot rests on the tree; a clear parent has none."""
    season = stocked(screening=samples(seasons, *changes))
    slugs = ("parent-unscreened", "parent-positive", "parent-inconclusive", "parent-conflicting")
    found = [(gap.rule, gap.id, gap.weight) for one in slugs for gap in find(season, one)]

    assert ([(slug, "T1", weight)] if slug else []) == found


@pytest.mark.parametrize(
    ("changes", "slug", "message", "supply"),
    [
        ([], "parent-unscreened", "Tree T1 has no screening result.", "a screening result for tree T1"),
        (
            [{"controls": "failed", "method": "gus", "targets": None}, {"result": None}],
            "parent-inconclusive",
            f"Tree T1 has no result that counts ({UNSURE}).",
            "a screening result for tree T1",
        ),
        ([POSITIVE], "parent-positive", "Tree T1 tested positive (S1 (pcr): positive).",
         None),
        (
            [POSITIVE, NEGATIVE],
            "parent-conflicting",
            "The results for tree T1 contradict each other (S1 (pcr): positive; S2 (pcr): negative).",
            "a confirming test for tree T1 by another method",
        ),
    ],
)  # fmt: skip
def test_the_samples_are_told_oldest_first(seasons, stocked, find, changes, slug, message, supply) -> None:
    """With what is wrong with each; a positive can't be mended by an entry, and another tree's isn't told."""
    of_other = seasons.sample("S9", "T2")
    made = [*samples(seasons, *changes)[::-1], of_other]
    (gap,) = find(stocked(screening=made, trees=[seasons.tree("T1"), seasons.tree("T2")]), slug)

    for number in (1, 2):
        message = message.replace(f"S{number}", f"sample S{number} of {7 + number} December 2025")
    assert f"{message} It stands behind 1 bag and 1 lot." == gap.message
    assert (f"what is missing at trees T1 ({slug})" if supply is None else supply) == gap.fault.supply


def test_parents_bear_bags_give_pollen_or_were_picked(seasons, stocked, find) -> None:
    """T4 only stands there; the first record of a repeated number is told, and once."""
    trees = [seasons.tree(f"T{number}") for number in (1, 2, 3, 4)]
    season = stocked(
        trees=[*trees, seasons.tree("T1", row="9")],
        screening=[],
        bagging=[seasons.bag("B1", "T1", pollen_parent="T2")],
        harvests=[seasons.harvest("H1", ["B1"], trees=("T3",))],
    )
    found = find(season, "parent-unscreened")

    assert [("T1", 0), ("T2", 1), ("T3", 2)] == [(gap.id, gap.place.path[1]) for gap in found]


@pytest.mark.parametrize(("days", "found"), [(-1, 1), (0, 0), (1, 0)])
def test_flowers_are_covered_once_their_tree_is_cleared(seasons, stocked, find, days, found) -> None:
    """The day of the sample will do."""
    bag = seasons.bag("B1", "T1", covered=seasons.SCREENED + timedelta(days))
    gaps = find(stocked(bagging=[bag]), "screened-after-covering")

    assert [("B1", ("covered",), "unproven")] * found == [(gap.id, gap.field, gap.weight) for gap in gaps]


def test_early_bags_of_one_tree_are_one_gap(seasons, stocked, find) -> None:
    """Each tree has its own; of a tree that was never cleared another rule tells."""
    covered = seasons.SCREENED - timedelta(1)
    bags = [
        seasons.bag(name, of, covered=covered)
        for name, of in (("B1", "T2"), ("B2", "T1"), ("B3", "T2"), ("B4", "T3"))
    ]
    season = stocked(
        trees=[seasons.tree(f"T{number}") for number in (1, 2, 3)],
        screening=[seasons.sample(f"S{number}", f"T{number}") for number in (1, 2)]
        + [seasons.sample("S3", "T3", result="positive")],
        bagging=bags,
    )
    found = find(season, "screened-after-covering")

    assert [("B1", "B3"), ("B2",)] == [gap.ids for gap in found]
    assert found[0].message.startswith("Bags B1 and B3 on tree T2 were put on before sample S2")
    assert found[1].message.startswith("Bag B2 on tree T1 was put on before sample S1")


@pytest.mark.parametrize(
    ("more", "weight"),
    [
        ([{"mark": "T7"}], "unproven"),
        ([{"mark": "T1"}], None),
        ([{"mark": None}], None),
        ([{"mark": "T7", "result": "positive"}], "unproven"),
        ([NEGATIVE, {"mark": "T7"}], "advice"),
        ([{"mark": "T7"}, NEGATIVE], "advice"),
        ([{"mark": "T7"}, {"result": "inconclusive"}], "unproven"),
        ([{"mark": "T7"}, {"laboratory": None}], "unproven"),
        ([{"mark": "tree T1"}], None),
        ([{"mark": "no. T1"}], None),
        ([{"mark": "Nr T1"}], None),
        ([{"mark": "# T1 "}], None),
        ([{"mark": "T01"}], "unproven"),
        ([{"mark": "t1"}], "unproven"),
    ],
)
def test_the_mark_on_the_stalk_is_the_trees_number(seasons, stocked, find, more, weight) -> None:
    """Where another sample clears the tree, taken before or since, it is advice. What people write
    before a number is no part of it; its digits and letters are."""
    found = find(stocked(screening=samples(seasons, *more)), "sample-mark-differs")
    mark = more[-1].get("mark") or more[0].get("mark")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all(
        f"is entered for tree T1, but its leaf stalk is marked {mark}." in gap.message for gap in found
    )


def test_a_pool_bears_no_single_mark(seasons, stocked, find) -> None:
    """Its stalks are of many trees."""
    pool = {**seasons.sample("S1", "T1", mark="bundle 4"), "trees": ("T1", "T2")}
    del pool["tree"]

    assert () == find(stocked(screening=[pool]), "sample-mark-differs")


@pytest.mark.parametrize(
    ("more", "weight"),
    [
        ([{}], None),
        ([{"mark": None}], "unproven"),
        ([{"mark": None, "result": None, "controls": None}], None),
        ([{"mark": None, "result": "positive"}], "unproven"),
        ([{"mark": None}, NEGATIVE], "advice"),
        ([NEGATIVE, {"mark": None}], "advice"),
        ([{"mark": "T7"}], None),
    ],
)
def test_a_leaf_bears_its_trees_number(seasons, stocked, find, more, weight) -> None:
    """Once its result counts for anything; where a marked leaf clears the tree, it is advice."""
    found = find(stocked(screening=samples(seasons, *more)), "sample-unmarked")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all(("mark",) == gap.field and "entered for tree T1" in gap.message for gap in found)


def test_a_walk_says_of_all_its_leaves_that_they_were_marked(seasons, stocked, find) -> None:
    """But for those that it excepts; and a pool bears no single mark."""
    trees = [seasons.tree(f"T{number}") for number in (1, 2)]
    bare = [
        {name: value for name, value in seasons.sample(f"S{at}", f"T{at}").items() if name != "mark"}
        for at in (1, 2)
    ]
    walk = {"round": "R1", "kind": "sampling", "date": seasons.SCREENED, "by": "R. Alder",
            "trees": ["T1", "T2"], "marked": True}  # fmt: skip
    but = {**walk, "exceptions": [{"about": ["T2"], "marked": False}]}
    pool = {**bare[0], "sample": "S3", "trees": ("T1", "T2")}
    del pool["tree"]

    assert ["S1", "S2"] == [gap.id for gap in find(stocked(trees=trees, screening=bare), "sample-unmarked")]
    assert () == find(stocked(trees=trees, screening=bare, rounds=[walk]), "sample-unmarked")
    excepted = find(stocked(trees=trees, screening=bare, rounds=[but]), "sample-unmarked")
    assert ["S2"] == [gap.id for gap in excepted]
    assert () == find(stocked(trees=trees, screening=[pool]), "sample-unmarked")


@pytest.mark.parametrize(
    ("results", "about", "slug"),
    [
        ([NEGATIVE], "T1", "parent-conflicting"),
        ([NEGATIVE], "S1", "parent-conflicting"),
        ([NEGATIVE], "B1", "parent-conflicting"),
        ([NEGATIVE], "B2", None),
        ([NEGATIVE], "T2", None),
        ([NEGATIVE], "L1", None),
        ([], "T1", "parent-positive"),
        ([{"result": "inconclusive"}], "T1", "parent-positive"),
        ([POSITIVE], "T1", "parent-positive"),
    ],
)
def test_an_incident_that_calls_a_tree_positive_speaks_against_it(
    seasons, stocked, find, results, about, slug
) -> None:
    """By the tree, one of its samples, or a bag that it bore or gave the pollen for; closed or not. What the
    samples say to the contrary makes it a contradiction, and no more."""
    incident = {"incident": "I1", "date": seasons.COVERED, "kind": "positive screening", "about": [about],
                "action": "felled it", "closed": seasons.PICKED}  # fmt: skip
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    season = stocked(trees=trees, bagging=bags, incidents=[incident], screening=samples(seasons, *results))
    slugs = ("parent-positive", "parent-conflicting", "parent-inconclusive", "parent-unscreened")
    found = [gap for one in slugs for gap in find(season, one) if gap.id == "T1"]

    assert ([slug] if slug else []) == [gap.rule for gap in found]
    assert all("incident I1: positive" in gap.message for gap in found)


@pytest.mark.parametrize(
    ("result", "resolved", "expected"),
    [("negative", False, ["T1", "T2"]), ("negative", True, ["T1", "T2"]), ("positive", True, [])],
)
def test_an_incident_about_a_pool_means_all_its_trees(
    seasons, stocked, find, result, resolved, expected
) -> None:
    """Where the pool's own record says the same, what its trees' samples say counts."""
    pool = {**seasons.sample("S0", "", result=result), "trees": ("T1", "T2")}
    del pool["tree"], pool["mark"]
    later = seasons.SCREENED + timedelta(2)
    singles = [seasons.sample(f"S{at}", f"T{at}", collected=later, submitted=later) for at in (1, 2)]
    incident = {"incident": "I1", "date": later, "kind": "positive screening", "about": ["S0"]}
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        screening=[pool, *(singles if resolved else [])],
        incidents=[incident],
    )

    assert expected == [gap.id for gap in find(season, "parent-conflicting")]


@pytest.mark.parametrize(
    ("mother", "father", "expected"),
    [
        (0, 0, []),
        (1, 0, []),
        (0, -1, ["that got the pollen of tree T2"]),
        (-1, 0, ["on tree T1"]),
        (-1, -1, ["on tree T1", "that got the pollen of tree T2"]),
    ],
)
def test_a_father_is_cleared_before_the_flower_is_covered_as_the_mother_is(
    seasons, stocked, find, mother, father, expected
) -> None:
    """Days from each one's sample to the covering; each parent is a gap of its own."""
    taken = {"T1": seasons.COVERED - timedelta(mother), "T2": seasons.COVERED - timedelta(father)}
    made = [seasons.sample(f"S-{tree}", tree, collected=when, submitted=when) for tree, when in taken.items()]
    bag = seasons.bag("B1", "T1", flower="female", pollen_parent="T2")
    trees = [seasons.tree("T1", sex="female"), seasons.tree("T2")]
    found = find(stocked(trees=trees, screening=made, bagging=[bag]), "screened-after-covering")

    assert ["B1"] * len(expected) == [gap.id for gap in found]
    assert all(said in gap.message for gap, said in zip(found, expected, strict=True))


def test_the_last_event_to_be_ruled_out_sets_the_day(seasons, stocked, find) -> None:
    """A stain sees two of the three events in time; the test that sees the third came after the covering."""
    late = seasons.COVERED + timedelta(1)
    stain = {name: value for name, value in seasons.sample(
        "S1", "T1", method="gus", incubation="12 h").items() if name != "targets"}  # fmt: skip
    test = seasons.sample("S2", "T1", collected=late, submitted=late)
    (gap,) = find(stocked(screening=[stain, test]), "screened-after-covering")

    assert "put on before sample S2, which clears the tree, was taken on 13 January 2026." in gap.message


def test_a_sample_of_no_day_clears_no_flower(seasons, stocked, find) -> None:
    """Nobody knows whether it was cut before."""
    bare = {name: value for name, value in seasons.sample("S1", "T1").items()
            if name not in {"collected", "submitted"}}  # fmt: skip
    (gap,) = find(stocked(screening=[bare]), "screened-after-covering")

    assert "was taken on a day that nothing tells." in gap.message
