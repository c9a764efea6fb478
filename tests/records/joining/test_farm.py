"""All seasons joined into one: what each record is called, and what two years tell differently."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from seasons import record_of

from certgen.records import read_season
from certgen.records.joining.farm import join_seasons, seasons_of
from certgen.records.places import Place

COVERS = ("certgen.records.places", "certgen.records.joining.folders")
DAY = date(2025, 8, 1)


def unnamed(season):
    """The season without a label."""
    return replace(season, details=replace(season.details, label=""))


def years(seasons, *, before=None, older=None, **tables):
    """The farm of a season and of the one or two before it, each given as its tables."""
    at = None
    for label, one in (("2024", older), ("2025", before), ("2026", tables)):
        if one is not None:
            at = seasons.season_of(label=label, previous=at, **one)
    return join_seasons(at)


def names(farm, table):
    """What the records of a table are called, with the season that each stands in."""
    key = farm.table(table).columns[0]
    return list(zip(farm.table(table)[key].tolist(), farm.labels(table).tolist(), strict=True))


def told(farm):
    """What is told differently."""
    return [(one.table, one.field, one.here, one.there, one.says) for one in farm.contradicted]


# The chain


def test_seasons_are_told_apart_by_label(seasons):
    """Those of one label are counted from two, without a label it is the earlier one, this one needs none."""
    at = None
    for label in ("2025", "2024", "2025", "2025"):
        at = seasons.season_of(label=label, previous=at)
    chain = list(seasons_of(unnamed(seasons.season_of(previous=unnamed(replace(at, previous=at))))))

    assert ["", "earlier", "2025", "2025 (2)", "2024", "2025 (3)"] == [label for label, _ in chain]
    assert ["2025", "2025", "2024", "2025"] == [season.details.label for _, season in chain[2:]]


def test_seasons_without_labels_are_counted_too(seasons):
    """The earlier one, and the one before it."""
    oldest = unnamed(seasons.season_of())
    chain = seasons_of(seasons.season_of(previous=unnamed(seasons.season_of(previous=oldest))))

    assert ["", "earlier", "earlier (2)"] == [label for label, _ in chain]


def test_a_chain_that_bites_its_tail_ends(seasons):
    """Each season is joined once."""
    one, other = (seasons.season_of(label="2026", lots=[seasons.lot("L1", [], 1)]) for _ in range(2))
    object.__setattr__(one, "previous", other)
    object.__setattr__(other, "previous", one)

    assert [("L1", "")] == names(join_seasons(one), "lots")


def test_a_season_alone_is_a_farm(seasons):
    """All records are its own."""
    farm = years(seasons, trees=[seasons.tree("T1"), seasons.tree("T2")])

    assert (2, 0) == (farm.own("trees"), farm.own("lots"))
    assert [("T1", ""), ("T2", "")] == names(farm, "trees")
    assert ("", "2026", "") == (
        farm.stretches[0].label,
        farm.stretch_of("trees", 1).details.label,
        farm.stretches[0].path,
    )


def test_own_records_stand_first(seasons):
    """Then those of the season before, then of the one before that; each knows its season."""
    farm = years(
        seasons, bagging=[seasons.bag("B3", "T1")],
        before={"bagging": [seasons.bag("B1", "T1", covered=DAY), seasons.bag("B2", "T1", covered=DAY)]},
        older={"bagging": [seasons.bag("B0", "T1", covered=DAY)]},
    )  # fmt: skip

    assert [("B3", ""), ("B1", "2025"), ("B2", "2025"), ("B0", "2024")] == names(farm, "bagging")
    assert (1, 0) == (farm.own("bagging"), farm.own("lots"))
    assert ["2026", "2025", "2025", "2024"] == [
        farm.stretch_of("bagging", row).details.label for row in range(4)
    ]
    assert [0, 1, 2, 3] == farm.table("bagging").index.tolist()


def test_columns_keep_their_types(seasons):
    """Also where a season has none of them, or only absent values."""
    farm = years(
        seasons, lots=[seasons.lot("L1", [], 2)],
        before={"bagging": [seasons.bag("B1", "T1")], "lots": [seasons.lot("K1", [], 3)]},
    )  # fmt: skip
    alone = years(seasons, bagging=[seasons.bag("B1", "T1")], lots=[seasons.lot("K1", [], 3)])

    for table in ("bagging", "lots", "trees", "movements"):
        kinds = {name: str(kind) for name, kind in alone.table(table).dtypes.items() if name != "file"}
        assert kinds == {name: str(kind) for name, kind in farm.table(table).dtypes.items() if name != "file"}


# One number in two years


def test_a_number_of_another_record_is_told_apart_by_its_season(seasons):
    """Another bag of the same number, put on on another day, a year before."""
    farm = years(
        seasons, bagging=[seasons.bag("B-1", "T1")],
        before={"bagging": [seasons.bag("B-1", "T1", covered=DAY), seasons.bag("B-2", "T1", covered=DAY)]},
        older={"bagging": [seasons.bag("B-1", "T1", covered=DAY - timedelta(365))]},
    )  # fmt: skip

    assert [("B-1", ""), ("B-1 (2025)", "2025"), ("B-2", "2025"), ("B-1 (2024)", "2024")] == names(
        farm, "bagging"
    )
    assert () == farm.contradicted


TWICE = {
    "screening": ("sample", "collected"), "bagging": ("bag", "covered"), "harvests": ("harvest", "date"),
    "batches": ("batch", "date"), "lots": ("lot", "packed"), "tests": ("test", "date"),
    "movements": ("movement", "date"),
}  # fmt: skip


@pytest.mark.parametrize("table", TWICE)
def test_the_same_number_on_the_same_day_is_one_record_told_twice(seasons, table):
    """It stands once; on another day, or on no known day, it is another one."""
    one = record_of(table, "N1")
    same = years(seasons, **{table: [one]}, before={table: [dict(one)]})
    other = years(seasons, **{table: [one]}, before={table: [{**one, TWICE[table][1]: DAY}]})

    assert ([("N1", "")], ()) == (names(same, table), same.contradicted)
    assert ([("N1", ""), ("N1 (2025)", "2025")], ()) == (names(other, table), other.contradicted)


def test_without_a_day_nobody_knows_that_it_is_the_same(seasons):
    """Two bags, told apart."""
    bag = {key: value for key, value in seasons.bag("B1", "T1").items() if key != "covered"}
    farm = years(seasons, bagging=[bag], before={"bagging": [bag]})

    assert [("B1", ""), ("B1 (2025)", "2025")] == names(farm, "bagging")


@pytest.mark.parametrize("table", ["blocks", "plantings", "trees"])
def test_land_plantings_and_trees_live_on(seasons, table):
    """One number is one of them, as the latest season tells it."""
    one = {"blocks": seasons.block("N"), "plantings": seasons.planting("N"), "trees": seasons.tree("N")}[
        table
    ]
    farm = years(seasons, **{table: [one]}, before={table: [one]}, older={table: [one]})

    assert ([("N", "")], ()) == (names(farm, table), farm.contradicted)


def test_a_record_that_only_an_earlier_year_has_stands_in_the_farm(seasons):
    """Last year's register says what stood where."""
    farm = years(seasons, trees=[seasons.tree("T1")], before={"trees": [seasons.tree("T2")]},
                 older={"trees": [seasons.tree("T2"), seasons.tree("T3")]})  # fmt: skip

    assert [("T1", ""), ("T2", "2025"), ("T3", "2024")] == names(farm, "trees")


def test_a_tree_number_may_pass_to_another_planting_once_the_tree_is_gone(seasons):
    """Then it is another tree; while the first one stands, the two years tell it differently."""
    now = seasons.tree("T1", planting="P2")
    gone = years(seasons, trees=[now], before={"trees": [seasons.tree("T1", removed=DAY)]})
    stands = years(seasons, trees=[now], before={"trees": [seasons.tree("T1")]})

    assert ([("T1", ""), ("T1 (2025)", "2025")], []) == (names(gone, "trees"), told(gone))
    assert [("T1", "")] == names(stands, "trees")
    assert [("trees", "planting", "P2", "season 2025", "P1")] == told(stands)


def test_a_number_that_two_records_of_one_season_bear_is_left_alone(seasons):
    """The rule on numbers tells it; both stay in the table under their number."""
    twins = [seasons.bag("B1", "T1"), seasons.bag("B1", "T2")]

    assert [("B1", ""), ("B1", "")] == names(years(seasons, bagging=twins, before={}), "bagging")
    assert [("B1", "2025"), ("B1", "2025")] == names(years(seasons, before={"bagging": twins}), "bagging")
    reused = years(seasons, bagging=[seasons.bag("B1", "T1", covered=DAY)], before={"bagging": twins})
    assert [("B1", ""), ("B1 (2025)", "2025"), ("B1 (2025)", "2025")] == names(reused, "bagging")


def test_explanations_are_of_one_season(seasons):
    """An earlier one's speak of its own gaps."""
    one = {
        "rule": "report-missing",
        "about": ["S1"],
        "reason": "the letter is lost",
        "by": "Ann",
        "date": DAY,
    }
    farm = years(seasons, explanations=[one], before={"explanations": [{**one, "about": ["S0"]}]})

    assert [("S1",)] == farm.table("explanations")["about"].tolist()


# Told differently


def test_what_only_an_earlier_year_tells_of_it_is_taken_over(seasons):
    """With its converted quantity; what this year's record says is kept."""
    short = {key: value for key, value in seasons.block(boundary="wall").items() if key != "buffer"}
    farm = years(seasons, blocks=[short], before={"blocks": [seasons.block(boundary="wall")]})
    frame = farm.table("blocks")

    assert ("wall", "12 m", 12_000.0) == tuple(
        frame[name].iat[0] for name in ("boundary", "buffer", "buffer_mm")
    )
    assert 1 == len(frame)


def test_of_three_years_each_is_held_against_the_latest(seasons):
    """And the row is the farm's."""
    farm = years(
        seasons, trees=[seasons.tree("T0"), seasons.tree("T1", sex="female")],
        before={"trees": [seasons.tree("T2"), seasons.tree("T1", sex="male"), seasons.tree("T3")]},
        older={"trees": [seasons.tree("T1"), seasons.tree("T3", sex="female")]},
    )  # fmt: skip

    assert [("T0", ""), ("T1", ""), ("T2", "2025"), ("T3", "2025")] == names(farm, "trees")
    assert [
        ("sex", "female", "season 2025", "male"), ("sex", "female", "season 2024", "hermaphrodite"),
        ("sex", "hermaphrodite", "season 2024", "female"),
    ] == [part[1:] for part in told(farm)]  # fmt: skip
    assert ["T1", "T1", "T3"] == [farm.table("trees")["tree"].iat[one.row] for one in farm.contradicted]


# References


def test_a_reference_means_the_record_of_its_own_season_first(seasons):
    """Then an earlier one's, the latest first, then a later one's."""
    farm = years(
        seasons,
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B4", "T1")],
        harvests=[seasons.harvest("H1", ["B1", "B2", "B3"])],
        before={
            "bagging": [seasons.bag("B1", "T1", covered=DAY), seasons.bag("B2", "T1", covered=DAY)],
            "harvests": [seasons.harvest("H0", ["B1", "B2", "B3", "B4", "B5"], date=DAY)],
        },
        older={
            "bagging": [
                seasons.bag(f"B{at}", "T1", covered=DAY - timedelta(365)) for at in (1, 2, 3)
            ],
            "harvests": [seasons.harvest("H9", ["B1", "B2", "B4"], date=DAY - timedelta(300))],
        },
    )  # fmt: skip
    picked = dict(zip(farm.table("harvests")["harvest"], farm.table("harvests")["bags"], strict=True))

    assert [
        "B1", "B4", "B1 (2025)", "B2", "B1 (2024)", "B2 (2024)", "B3"
    ] == farm.table("bagging")["bag"].tolist()  # fmt: skip
    assert {
        "H1": ("B1", "B2", "B3"),
        "H0": ("B1 (2025)", "B2", "B3", "B4", "B5"),
        "H9": ("B1 (2024)", "B2 (2024)", "B4"),
    } == picked


def test_every_kind_of_reference_is_renamed(seasons):
    """In columns, in lists, in sources, in inner mappings."""
    old = DAY - timedelta(30)
    before = {
        "trees": [seasons.tree("T1", removed=DAY)],
        "screening": [seasons.sample("S1", "T1", collected=old)],
        "bagging": [seasons.bag("B1", "T1", covered=old, pollen_parent="T1")],
        "harvests": [seasons.harvest("H1", ["B1"], date=old, trees=["T1"])],
        "batches": [seasons.batch("X1", ["H1"], date=old)],
        "cleaning": [{"cleaning": "C1", "date": old, "method": "water", "before": "X1"}],
        "lots": [
            seasons.lot("L1", [{"batch": "X1", "weight": "1 g"}], 1, packed=old),
            seasons.lot("L2", [{"lot": "L1", "weight": "1 g"}], 1, packed=old),
        ],
        "tests": [seasons.germination("G1", "L1", date=old)],
        "movements": [seasons.movement("M1", "L1", "sold", 1, date=old)],
        "incidents": [
            {"incident": "I1", "date": old, "kind": "other", "about": ["L1", "B1", "T9"], "action": "swept"}
        ],
    }  # fmt: skip
    now = {
        "trees": [seasons.tree("T1", planting="P2")],
        "screening": [seasons.sample("S1", "T1")],
        "bagging": [seasons.bag("B1", "T1")],
        "harvests": [seasons.harvest("H1", ["B1"])],
        "batches": [seasons.batch("X1", ["H1"])],
        "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "1 g"}], 1)],
    }
    farm = years(seasons, before=before, **now)

    def last(table, *columns):
        return tuple(farm.table(table)[column].iat[len(farm.table(table)) - 1] for column in columns)

    assert ("T1 (2025)", "2025") == names(farm, "trees")[1]
    assert ("S1 (2025)", "T1 (2025)") == last("screening", "sample", "tree")
    assert ("B1 (2025)", "T1 (2025)", "T1 (2025)") == last("bagging", "bag", "tree", "pollen_parent")
    assert (("B1 (2025)",), ("T1 (2025)",)) == last("harvests", "bags", "trees")
    assert ("X1 (2025)", ("H1 (2025)",)) == last("batches", "batch", "harvests")
    assert ("C1", "X1 (2025)") == last("cleaning", "cleaning", "before")
    assert {"L1 (2025)": "X1 (2025)", "L2": "L1 (2025)"} == {
        lot: part.get("batch") or part["lot"]
        for lot, (part, *_) in list(
            zip(farm.table("lots")["lot"], farm.table("lots")["sources"], strict=True)
        )[1:]
    }
    assert ("L1 (2025)",) == last("tests", "lot")
    assert ("L1 (2025)",) == last("movements", "lot")
    assert (("L1 (2025)", "B1 (2025)", "T9"),) == last("incidents", "about")
    # What was written on tag and stalk stays as it was written.
    assert ("T1", "T1") == (*last("bagging", "tag.tree"), *last("screening", "mark"))
    assert ["T1"] == farm.table("bagging")["tree"].iloc[:1].tolist()


# Files and places


@pytest.fixture
def chained(tmp_path: Path):
    """Three seasons' folders, each naming the one before: 2026, 2025 beside it, 2024 in an archive."""
    places = {"2026": "now", "2025": "then", "2024": "kept/older"}
    named = {"2026": "../then", "2025": "../kept/older", "2024": None}
    for at, (label, place) in enumerate(places.items()):
        folder = tmp_path / place
        (folder / "evidence").mkdir(parents=True)
        (folder / "evidence" / "tag.txt").write_text("T1")
        (folder / "evidence" / "empty.txt").write_text("")
        previous = f"  previous: {named[label]}\n" if named[label] else ""
        (folder / "season.yaml").write_text(
            f"season:\n  label: {label}\n  from: {label}-01-01\n  to: {label}-12-31\n  crop: papaya\n"
            f"  standards: [us-nop]\n  operation: {{name: Two Streams}}\n{previous}"
        )
        (folder / "bags.yaml").write_text(
            f"bagging:\n- {{bag: B{at}, tree: T1, covered: {label}-02-01, evidence: [tag.txt]}}\n"
            f"- {{bag: X{at}, tree: T1, secured: perhaps}}\n"
        )
    season, errors = read_season(tmp_path / "now", within=tmp_path)

    assert season is not None
    assert 3 == len(errors)
    return join_seasons(season)


def test_an_earlier_seasons_record_keeps_the_place_where_it_stands(chained):
    """Its file as seen from this season's folder, with its text, line and column."""
    assert ["bags.yaml", "../then/bags.yaml", "../kept/older/bags.yaml"] == chained.table("bagging")[
        "file"
    ].tolist()
    assert ["", "../then", "../kept/older"] == [stretch.path for stretch in chained.stretches]
    place = chained.place("bagging", 2, "covered")
    assert Place("../kept/older/bags.yaml", ("bagging", 0, "covered")) == place
    assert {place: (2, 23)} == chained.locate([place])
    assert "B1" in chained.sources["../then/bags.yaml"].text


def test_an_earlier_seasons_evidence_is_looked_for_in_its_own_folder(chained):
    """Written as seen from this season's evidence folder; an empty file is known to be empty."""
    assert [("tag.txt",), ("../../then/evidence/tag.txt",), ("../../kept/older/evidence/tag.txt",)] == (
        chained.table("bagging")["evidence"].tolist()
    )
    assert {"tag.txt", "../../then/evidence/tag.txt", "../../kept/older/evidence/tag.txt"} <= set(
        chained.evidence_files
    )
    assert "../../then/evidence/empty.txt" in chained.empty_evidence


def test_papers_are_found_however_far_the_seasons_lie_apart(tmp_path: Path, monkeypatch) -> None:
    """Also where the way leads up through more folders than lie above the one that one works in."""
    far = tmp_path / "/".join("abcdefgh") / "now"
    operation = "crop: papaya, standards: [us-nop], operation: {name: Two Streams}"
    for folder, year, more in (
        (tmp_path / "then", 2025, ", evidence: [map.txt]"), (far, 2026, ""),
    ):  # fmt: skip
        folder.mkdir(parents=True)
        previous = f", previous: {'../' * 9}then" if folder == far else ""
        (folder / "season.yaml").write_text(
            f"season: {{label: '{year}', from: {year}-01-01, to: {year}-12-31, {operation}{previous}}}\n"
            f"blocks: [{{block: East, status: organic{more}}}]\n"
        )
    (tmp_path / "then" / "evidence").mkdir()
    (tmp_path / "then" / "evidence" / "map.txt").write_text("a map")
    monkeypatch.chdir("/")
    season, errors = read_season(far)
    assert ((), False) == (errors, season is None)
    farm = join_seasons(season)

    assert (
        farm.evidence_files
        == farm.table("blocks")["evidence"].iat[0]
        == (f"{'../' * 10}then/evidence/map.txt",)
    )


def test_what_could_not_be_read_of_any_season_is_unread(chained):
    """Each with its own place."""
    files = ["bags.yaml", "../then/bags.yaml", "../kept/older/bags.yaml"]

    assert files == [error.file for error in chained.left_out]
    assert files == [unread.error.file for unread in chained.unread]
    assert ["X0", "X1", "X2"] == [unread.names[0][1] for unread in chained.unread]


def test_who_says_it_goes_along_row_for_row(seasons):
    """A round of either year, and a routine; a record's own word needs nobody."""
    silent = {"bag": "B1", "tree": "T1"}
    walk = {"round": "R1", "kind": "bagging", "by": "Ann", "date": DAY, "bags": ["B1"], "secured": True}
    farm = years(
        seasons, bagging=[seasons.bag("B2", "T1"), {**silent, "bag": "B3"}],
        rounds=[{**walk, "round": "R2", "date": seasons.COVERED, "bags": ["B3"]}],
        before={"bagging": [silent], "rounds": [walk]},
    )  # fmt: skip

    assert ["B2", "B3", "B1"] == farm.table("bagging")["bag"].tolist()
    assert ["", "round R2", "round R1"] == list(farm.attested["bagging", "secured"])
    assert [pd.Timestamp(seasons.COVERED)] * 2 + [pd.Timestamp(DAY)] == farm.table("bagging")[
        "covered"
    ].tolist()


def test_a_contradiction_within_an_earlier_season_is_told_at_its_row(seasons):
    """A letter of that year denies the sample's own result."""
    letter = {"letter": "L1", "laboratory": "Bracken Ford", "result": "positive", "samples": ["S1"]}
    farm = years(
        seasons, screening=[seasons.sample("S2", "T1"), seasons.sample("S3", "T1")],
        before={"screening": [seasons.sample("S1", "T1", collected=DAY, report="L1")], "letters": [letter]},
    )  # fmt: skip

    assert [("screening", "result", "negative", "letter L1", "positive")] == [
        one for one in told(farm) if one[1] == "result"
    ]
    assert {"S1"} == {farm.table("screening")["sample"].iat[one.row] for one in farm.contradicted}
