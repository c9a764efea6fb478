from __future__ import annotations

from datetime import timedelta

import pytest

from certgen.lineage import SuppositionError, suppose


def orchard(seasons):
    """Two trees, one sampled alone, both in a pool; one bag."""
    pool = {key: value for key, value in seasons.sample("S2", "").items() if key not in {"tree", "mark"}}
    return seasons.season_of(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1"), {**pool, "trees": ("T1", "T2")}],
        bagging=[seasons.bag("B1", "T1")],
    )


def samples(season):
    """(tree, trees, result) of each sample."""
    frame = season.table("screening")
    return list(
        zip(frame["tree"].fillna("").tolist(), frame["trees"].tolist(), frame["result"].tolist(), strict=True)
    )


def test_a_tree_whose_result_is_supposed_has_that_result_alone(seasons):
    """Its own samples and its place in pools are set aside; the season itself stays as it is."""
    season = orchard(seasons)
    changed = suppose(season, "tree:T1=positive")

    assert [("", (), "negative"), ("", ("T2",), "negative"), ("T1", (), "positive")] == samples(changed)
    assert [("T1", (), "negative"), ("", ("T1", "T2"), "negative")] == samples(season)
    taken = changed.table("screening")["collected"].iloc[-1]
    assert taken < season.table("bagging")["covered"].iloc[0]
    kinds = {name: kind for name, kind in season.table("screening").dtypes.items() if name != "file"}
    assert kinds == {name: kind for name, kind in changed.table("screening").dtypes.items() if name != "file"}


def test_a_supposed_sample_can_be_shown(seasons):
    """It stands in no file, so it is shown at the top of the season's."""
    changed = suppose(orchard(seasons), "tree:T1=positive")
    place = changed.place("screening", 2)

    assert {place: (1, 1)} == changed.locate([place])


def test_a_season_without_any_sample_can_have_one_supposed(seasons):
    """Nothing to be like: what isn't known stays empty."""
    season = seasons.season_of(trees=[seasons.tree("T1")])

    assert [("T1", (), "negative")] == samples(suppose(season, "tree:T1=negative"))


def test_unscreened_takes_a_trees_samples_away(seasons):
    """As if its leaf had never been cut."""
    assert [("", (), "negative"), ("", ("T2",), "negative")] == samples(
        suppose(orchard(seasons), "tree:T1=unscreened")
    )


def test_a_sample_and_a_bag_can_be_supposed_otherwise(seasons):
    """Another result; a bag that was torn from the first day, or put over an open flower."""
    season = orchard(seasons)

    assert "inconclusive" == suppose(season, "sample:S1=inconclusive").table("screening")["result"].iloc[0]
    checks = suppose(season, "bag:B1=torn").table("bagging")["checks"].iloc[0]
    assert {"condition": "torn", "date": seasons.COVERED} == checks[-1]
    assert "open" == suppose(season, "bag:B1=open").table("bagging")["stage"].iloc[0]


@pytest.mark.parametrize("wrong", ["", "T1", "tree:T1", "tree=positive", "tree:T9=positive", "bag:B1=blue"])
def test_what_makes_no_sense_is_refused(wrong, seasons):
    """With what would."""
    with pytest.raises(SuppositionError):
        suppose(orchard(seasons), wrong)


def test_a_supposed_sample_stands_at_no_other_ones_place(seasons):
    """However many samples the file holds, it is shown at the top."""
    season = seasons.season_of(
        trees=[seasons.tree("T1")], screening=[seasons.sample(f"S{number}", "T1") for number in range(80)]
    )
    changed = suppose(season, "tree:T1=positive")
    row = changed.table("screening").index[-1]

    assert [(1, 1)] == list(changed.locate([changed.place("screening", row)]).values())


def test_a_supposed_sample_is_like_the_others_and_taken_in_time(seasons):
    """By the same method and laboratory, the day before the tree's first flower was covered."""
    season = orchard(seasons)
    later = seasons.bag("B2", "T1", covered=seasons.COVERED + timedelta(9))
    other = seasons.bag("B3", "T2", covered=seasons.COVERED - timedelta(9))
    season = seasons.season_of(
        trees=[seasons.tree("T1"), seasons.tree("T2"), seasons.tree("T3")],
        screening=[
            seasons.sample("S1", "T1", method="strip", result="inconclusive"),
            seasons.sample("S2", "T2"),
        ],
        bagging=[later, seasons.bag("B1", "T1"), other],
    )
    row = suppose(season, "tree:T1=positive").table("screening").iloc[-1]

    assert ("supposed:T1", "T1", (), "T1", "strip", "positive", "passed") == (
        row["sample"], row["tree"], row["trees"], row["mark"], row["method"], row["result"], row["controls"],
    )  # fmt: skip
    assert [seasons.COVERED - timedelta(1)] * 3 == [
        row[name].date() for name in ("collected", "submitted", "reported")
    ]
    assert ("35S", "nptII", "NOS") == tuple(row["targets"])
    # A tree whose flowers were never covered is sampled when the season starts.
    bare = suppose(season, "tree:T3=negative").table("screening").iloc[-1]
    assert season.details.start == bare["collected"].date()


def test_a_sample_without_a_result_is_no_example(seasons):
    """The first one that has a result is; without any, what isn't known stays empty."""
    samples = [seasons.sample("S1", "T1", method="strip"), seasons.sample("S2", "T1", method="pcr")]
    season = seasons.season_of(trees=[seasons.tree("T1")], screening=samples)
    frame = season.table("screening")
    waiting = season.with_tables({"screening": frame.assign(result=frame["result"].mask(frame.index == 0))})
    row = suppose(waiting, "tree:T1=positive").table("screening").iloc[-1]

    assert ("pcr", ("35S", "nptII", "NOS")) == (row["method"], tuple(row["targets"]))
    bare = (
        suppose(seasons.season_of(trees=[seasons.tree("T1")]), "tree:T1=positive").table("screening").iloc[-1]
    )
    assert ((), (), "", "positive") == (
        bare["targets"], bare["evidence"], "" if bare.isna()["method"] else bare["method"], bare["result"],
    )  # fmt: skip


def test_only_the_record_that_is_named_is_supposed_otherwise(seasons):
    """The other sample and the other bag stay; checks that were made stay before the supposed one."""
    season = seasons.season_of(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1"), seasons.sample("S2", "T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
    )
    before = season.table("bagging")["checks"].tolist()
    torn = suppose(season, " bag : B2 = torn ").table("bagging")
    opened = suppose(season, "bag:B2=open").table("bagging")

    assert ["negative", "positive"] == suppose(season, "sample:S2=positive").table("screening")[
        "result"
    ].tolist()
    assert [before[0], (*before[1], {"condition": "torn", "date": seasons.COVERED})] == torn[
        "checks"
    ].tolist()
    assert ["closed bud", "open"] == opened["stage"].tolist()
    assert ["closed bud", "closed bud"] == torn["stage"].tolist()
    assert before == opened["checks"].tolist()


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ("tree:T1", "isn't something that can be supposed"),
        ("T1=positive", "isn't something that can be supposed"),
        ("lot:L1=positive", "isn't something that can be supposed"),
        ("tree:T9=positive", "No record bears the tree number 'T9'"),
        ("tree:T1=torn", "A tree can't be supposed 'torn'"),
        ("sample:S1=unscreened", "A sample can't be supposed 'unscreened'"),
        ("sample:S9=positive", "No record bears the sample number 'S9'"),
        ("bag:B1=positive", "A bag can't be supposed 'positive'"),
    ],
)
def test_what_is_refused_is_named(wrong, message, seasons):
    """The form, the record, or the word."""
    with pytest.raises(SuppositionError, match=message):
        suppose(orchard(seasons), wrong)
