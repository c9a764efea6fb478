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
        ([{"mark": "T7"}, NEGATIVE], "unproven"),
    ],
)
def test_the_mark_on_the_stalk_is_the_trees_number(seasons, stocked, find, more, weight) -> None:
    """Where another sample clears the tree, it is a loose end."""
    found = find(stocked(screening=samples(seasons, *more)), "sample-mark-differs")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all("is entered for tree T1, but its leaf stalk is marked T7" in gap.message for gap in found)


def test_a_pool_bears_no_single_mark(seasons, stocked, find) -> None:
    """Its stalks are of many trees."""
    pool = {**seasons.sample("S1", "T1", mark="bundle 4"), "trees": ("T1", "T2")}
    del pool["tree"]

    assert () == find(stocked(screening=[pool]), "sample-mark-differs")
