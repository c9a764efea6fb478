"""Rounds and letters of one season that speak of another's records."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.records.joining.farm import join_seasons
from certgen.records.joining.handing_on import hand_on, search_order

DECEMBER, JANUARY = date(2025, 12, 20), date(2026, 1, 5)


def walk(kind, day, name="R1", **more):
    """A round by Ann."""
    return {"round": name, "kind": kind, "date": day, "by": "Ann", **more}


def two(seasons, now=None, then=None):
    """The farm of two years; `then` are the tables of the season before."""
    earlier = seasons.season_of(label="2025", **(then or {}))
    return join_seasons(seasons.season_of(previous=earlier, **(now or {})))


def bags(farm, column):
    """By bag a column of the farm's, empty where it is silent."""
    values = farm.table("bagging").set_index("bag")[column]
    return {
        bag: value if not hasattr(value, "date") else value.date() for bag, value in values.dropna().items()
    }


def looks(farm):
    """By bag what was found of it."""
    return {
        bag: [look["condition"] for look in found]
        for bag, found in zip(farm.table("bagging")["bag"], farm.table("bagging")["checks"], strict=True)
    }


@pytest.mark.parametrize(
    ("count", "at", "order"), [(1, 0, [0]), (3, 0, [0, 1, 2]), (3, 1, [1, 2, 0]), (4, 2, [2, 3, 1, 0])]
)
def test_the_order_in_which_a_name_is_looked_for(count, at, order):
    """In its own season, in earlier ones, the latest first, then in later ones, the earliest first."""
    assert order == search_order(count, at)


def test_a_season_alone_hands_nothing_on(seasons):
    """And where there are no rounds and letters the seasons are as they were."""
    one = seasons.season_of(rounds=[walk("check", JANUARY, bags=["B1"])])
    other = seasons.season_of()

    assert [one] == hand_on([one])
    assert [other, other] == hand_on([other, other])


@pytest.mark.parametrize("named", [{"bags": ["B1 to B2"]}, {"trees": ["T1", "T2"]}, {"blocks": ["East"]}])
@pytest.mark.parametrize("register", ["now", "then"])
def test_a_bag_of_december_is_looked_at_in_january(seasons, named, register):
    """By number, tree or block, wherever the trees stand in a register."""
    trees = {
        "plantings": [seasons.planting()], "trees": [seasons.tree("T1"), seasons.tree("T2")],
    }  # fmt: skip
    hung = [seasons.bag(f"B{at}", f"T{at}", covered=DECEMBER, uncovered=JANUARY, checks=()) for at in (1, 2)]
    tables = {
        "now": {"rounds": [walk("check", JANUARY, condition="torn", **named)]},
        "then": {"bagging": hung},
    }
    tables[register] |= trees
    farm = two(seasons, **tables)

    assert {"B1": ["torn"], "B2": ["torn"]} == looks(farm)
    assert ["round R1 of 2026"] == list({look["by"] for (look,) in farm.table("bagging")["checks"]})


def test_a_round_of_december_speaks_of_bags_that_stand_in_the_folder_of_january(seasons):
    """It put them on, and their record was opened in the new folder."""
    on = walk("bagging", DECEMBER, bags=["B1"], secured=True, stage="closed bud", tagged=True)
    farm = two(
        seasons, now={"bagging": [{"bag": "B1", "tree": "T1"}]},
        then={"rounds": [on], "plantings": [seasons.planting()], "trees": [seasons.tree("T1")]},
    )  # fmt: skip

    assert {"B1": DECEMBER} == bags(farm, "covered")
    assert {"B1": True} == bags(farm, "secured")
    assert {"B1": "Amber Kestrel"} == bags(farm, "tag.variety")
    assert ["round R1 of 2025"] == list(farm.attested["bagging", "secured"])


def test_a_number_of_the_rounds_own_season_is_meant_first(seasons):
    """Last year's bag of the same number is another bag; an exception's number, too."""
    old = {"covered": DECEMBER - timedelta(300), "uncovered": DECEMBER - timedelta(280), "checks": ()}
    check = walk(
        "check",
        JANUARY,
        bags=["B1"],
        condition="intact",
        exceptions=[{"about": ["B1", "B2"], "condition": "torn"}],
    )
    farm = two(
        seasons,
        now={"bagging": [seasons.bag("B1", "T1", covered=DECEMBER, checks=())], "rounds": [check]},
        then={
            "bagging": [seasons.bag("B1", "T1", **old), seasons.bag("B2", "T1", covered=DECEMBER, checks=())]
        },
    )  # fmt: skip

    assert {"B1": ["torn"], "B1 (2025)": [], "B2": ["torn"]} == looks(farm)


def test_what_a_walk_left_out_of_another_seasons_bags_it_left_out(seasons):
    """By the bag's number or its tree's."""
    check = walk(
        "check",
        JANUARY,
        blocks=["East"],
        condition="intact",
        exceptions=[{"about": ["T2"], "left_out": True}],
    )
    farm = two(
        seasons, now={"rounds": [check]},
        then={
            "plantings": [seasons.planting()], "trees": [seasons.tree("T1"), seasons.tree("T2")],
            "bagging": [
                seasons.bag(f"B{at}", f"T{at}", covered=DECEMBER, uncovered=JANUARY, checks=())
                for at in (1, 2)
            ],
        },
    )  # fmt: skip

    assert {"B1": ["intact"], "B2": []} == looks(farm)


def samples(farm, column="result"):
    """By sample a column of the farm's."""
    return farm.table("screening").set_index("sample")[column].dropna().to_dict()


LEAF = {"sample": "S1", "tree": "T1", "collected": DECEMBER}
LETTER = {"letter": "L1", "laboratory": "Bracken Ford", "result": "positive", "reported": JANUARY}


@pytest.mark.parametrize(
    ("leaf", "letter"),
    [
        ({}, {"samples": ["S1"]}), ({}, {"samples": ["S1 to S4"]}), ({"report": "L1"}, {}),
        ({"report": "BF-9"}, {"report": "BF-9"}), ({}, {"samples": ["S9"], "exceptions": [
            {"samples": ["S1"], "result": "positive"}]}),
    ],
)  # fmt: skip
def test_a_leaf_of_december_has_its_letter_in_january(seasons, leaf, letter):
    """Listed in it, excepted by it, or quoting it."""
    farm = two(seasons, now={"letters": [{**LETTER, **letter}]}, then={"screening": [{**LEAF, **leaf}]})

    assert {"S1": "positive"} == samples(farm)
    assert {"S1": "Bracken Ford"} == samples(farm, "laboratory")
    assert () == farm.contradicted


def test_a_letter_that_another_seasons_sample_quotes_and_that_does_not_list_it(seasons):
    """It has no word of it, and the two disagree."""
    farm = two(
        seasons,
        now={"letters": [{**LETTER, "samples": ["S9"]}]},
        then={"screening": [{**LEAF, "report": "L1"}]},
    )

    assert {} == samples(farm)
    assert [("report", "L1", "letter L1", "not listed")] == [one[2:6] for one in farm.contradicted]


def test_a_letters_number_is_of_its_own_season_first(seasons):
    """A laboratory may begin its numbers anew each year."""
    farm = two(
        seasons,
        now={"letters": [LETTER], "screening": [{"sample": "S2", "tree": "T1", "report": "L1"}]},
        then={
            "letters": [{**LETTER, "result": "negative", "reported": DECEMBER}],
            "screening": [{**LEAF, "report": "L1"}],
        },
    )

    assert {"S2": "positive", "S1": "negative"} == samples(farm)
    assert () == farm.contradicted


def test_a_sampling_round_of_the_year_before_gives_the_day(seasons):
    """Of a sample that stands in this year's folder."""
    farm = two(
        seasons, now={"screening": [{"sample": "S1", "tree": "T1"}]},
        then={"rounds": [walk("sampling", DECEMBER, samples=["S1"], marked=True)]},
    )  # fmt: skip

    assert {"S1": DECEMBER} == {name: day.date() for name, day in samples(farm, "collected").items()}
    assert {"S1": "T1"} == samples(farm, "mark")


def test_a_round_stands_once(seasons):
    """In the table of rounds of its own season; what was handed on is only heard."""
    check = walk("check", JANUARY, blocks=["East"], condition="intact")
    farm = two(
        seasons, now={"rounds": [check], "letters": [LETTER]},
        then={
            "rounds": [walk("storm", DECEMBER, "R0", blocks=["East"])],
            "screening": [{**LEAF, "report": "L1"}],
        },
    )  # fmt: skip

    assert ["R1", "R0"] == farm.table("rounds")["round"].tolist()
    assert ["L1"] == farm.table("letters")["letter"].tolist()


def test_an_earlier_rounds_names_follow_its_records(seasons):
    """Bags and leaves whose number this season gave away again are told apart; ranges are written out."""
    then = {
        "bagging": [seasons.bag(f"B{at}", "T1", covered=DECEMBER) for at in (1, 2)],
        "screening": [LEAF],
        "rounds": [
            walk("storm", DECEMBER, bags=["B1 to B2", "B9"]),
            walk(
                "check", DECEMBER, "R2", bags=["B2"],
                exceptions=[{"about": ["B1", "T1"], "condition": "torn"}],
            ),
        ],
        "letters": [{**LETTER, "samples": ["S1"], "exceptions": [{"samples": ["S1"], "result": "negative"}]}],
    }  # fmt: skip
    now = {"bagging": [seasons.bag("B1", "T1")], "screening": [seasons.sample("S1", "T1")]}
    farm = two(seasons, now=now, then=then)
    rounds, letters = farm.table("rounds"), farm.table("letters")

    assert [("B1 (2025)", "B2", "B9"), ("B2",)] == rounds["bags"].tolist()
    assert [("B1 (2025)", "T1")] == [one["about"] for one in rounds["exceptions"].iat[1]]
    assert [("S1 (2025)",)] == letters["samples"].tolist()
    assert [("S1 (2025)",)] == [one["samples"] for one in letters["exceptions"].iat[0]]
