from __future__ import annotations

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
