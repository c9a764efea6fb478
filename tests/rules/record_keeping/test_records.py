from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from certgen.examination import examine_season
from certgen.lineage import Node
from certgen.standards.season_reading import read_case

ON = date(2026, 10, 31)


def two_lines(seasons):
    """Two lines that share nothing but the land: trees T1 and T2, runs X1 and X2, lots L1 and L2."""
    return {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting()],
        "trees": [seasons.tree("T1"), seasons.tree("T2")],
        "screening": [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")],
        "bagging": [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        "harvests": [seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        "batches": [seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H2"])],
        "lots": [seasons.lot(f"L{n}", [{"batch": f"X{n}", "weight": "8 g"}], 8) for n in (1, 2)],
    }


@pytest.fixture
def beside(seasons, tmp_path):
    """`beside(text)`: what comes of two clean lines with something else beside them in the folder."""

    def beside(text, name="more.yaml"):
        seasons.write_season(tmp_path, **two_lines(seasons))
        (tmp_path / name).write_text(text, encoding="utf-8")
        season, errors = read_case(tmp_path)
        assert errors
        return examine_season(season, ON, errors)

    return beside


def unread(result):
    """The gaps of what couldn't be read, and the lots that aren't traced."""
    gaps = [gap for gap in result.gaps if gap.rule == "record-unread"]
    return gaps, [name for name, lot in result.lots.items() if lot.standing != "traced"]


def test_what_is_read_speaks_for_itself(stocked, find):
    """Nothing is left out of a sound season."""
    assert () == find(stocked(), "record-unread")


@pytest.mark.parametrize(
    ("text", "lots"),
    [
        # It names a tree, a sample's own number, a bag, a run, a lot: what rests on that is in doubt.
        ("screening:\n- sample: S9\n  tree: T1\n  collected: 2025-12-09\n  result: posittive\n", ["L1"]),
        ("screening:\n- sample: S9\n  trees: [T2]\n  result: posittive\n", ["L2"]),
        ("bagging:\n- bag: B1\n  tree: T1\n  covered: someday\n", ["L1"]),
        ("batches:\n- batch: X9\n  harvests: [H1, H2]\n  date: someday\n  status: organic\n", ["L1", "L2"]),
        ("movements:\n- movement: M1\n  lot: L2\n  kind: received\n  date: someday\n  weight: 5 g\n", ["L2"]),
        ("incidents:\n- incident: I1\n  date: someday\n  kind: mixing\n  about: [L1, X2]\n", ["L1", "L2"]),
        ("tests:\n- test: G9\n  lot: L1\n  kind: transgene\n  date: someday\n", ["L1"]),
        # It names what no record bears, or nothing: it may be any.
        (
            "screening:\n- sample: S9\n  tree: T01\n  collected: 2025-12-09\n  result: posittive\n",
            ["L1", "L2"],
        ),
        ("incidents:\n- incident: I1\n  date: someday\n  kind: mixing\n", ["L1", "L2"]),
        ("rounds:\n- round: R1\n  date: someday\n  kind: check\n  condition: torn\n", ["L1", "L2"]),
        # An unknown table, and a file that is no YAML.
        ("poisonings:\n- tree: T1\n", ["L1", "L2"]),
        ("screening: [\n", ["L1", "L2"]),
    ],
)
def test_what_could_not_be_read_may_speak_against_what_it_names(beside, text, lots):
    """And against all where that can't be told."""
    gaps, doubtful = unread(beside(text))

    assert lots == doubtful
    assert {"unproven"} == {gap.weight for gap in gaps}
    assert set(lots) == {lot for gap in gaps for lot in gap.lots}


def test_a_record_that_was_left_out_is_told_where_it_stands(beside):
    """By its number, with what it names, and what would mend it."""
    (gap,), _ = unread(
        beside("screening:\n- sample: S9\n  tree: T1\n  collected: 2025-12-09\n  result: posittive\n")
    )

    assert "Sample S9 could not be read, and may say anything. It names tree T1." == gap.message
    assert "sample S9 in a form that can be read" == gap.supply
    assert ("more.yaml", "screening") == (gap.place.file, gap.table)


def test_a_file_that_was_not_read_is_told_by_its_name(beside):
    """Nothing says what stands in it."""
    gaps, _ = unread(beside("screening: [\n"))

    assert gaps[0].message.startswith("Something in more.yaml could not be read, and may say anything.")


def test_a_cleaning_that_was_not_read_names_what_it_names(beside):
    """It can speak of runs alone, and speaks for them; nothing rests on it that isn't shown otherwise."""
    text = "cleaning:\n- cleaning: C1\n  date: someday\n  equipment: [mixer]\n  method: hot water\n"
    _, doubtful = unread(beside(text))

    assert [] == doubtful


@pytest.mark.parametrize(("most", "alone"), [(8, 4), (7, 3), (4, 2), (3, 1), (1, 0)])
def test_of_very_many_that_may_speak_of_any_lot_the_rest_are_one_gap(beside, monkeypatch, most, alone):
    """Which says how many they are and where each stands, and leaves every lot in doubt."""
    monkeypatch.setattr("certgen.rules.record_keeping.records.MOST_REACHED", most)
    text = "".join(f"- {{round: R{at}, date: someday, kind: check, condition: torn}}\n" for at in range(4))
    gaps, doubtful = unread(beside(f"rounds:\n{text}"))
    rest = [gap for gap in gaps if "more record" in gap.message]

    assert ["L1", "L2"] == doubtful
    assert {("L1", "L2")} == {gap.lots for gap in gaps}
    # One that would stand by itself is no list.
    left = 4 - alone if 4 - alone > 1 else 0
    assert (4 - left, bool(left)) == (len(gaps) - len(rest), bool(rest))
    for gap in rest:
        assert f"Round R{alone} and {left - 1} more record" in gap.message
        assert ([f"rounds R{at}" for at in range(alone, 4)], left - 1) == (list(gap.ids), len(gap.others))


def walk(seasons, kind="bagging", **more):
    """A walk on the day of covering."""
    return {"round": "R1", "kind": kind, "date": seasons.COVERED, "by": "R. Alder", **more}


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"secured": False}, []),
        ({"exceptions": [{"about": ["B1"], "secured": False}]}, ["'yes'", "round R1 says 'no'"]),
        ({"exceptions": [{"about": ["T1"], "stage": "open"}]}, ["'closed bud'", "round R1 says 'open'"]),
        ({"exceptions": [{"about": ["B1"], "secured": True}]}, []),
        ({"exceptions": [{"about": ["B1"], "left_out": True}]}, []),
    ],
)
def test_a_record_and_a_round_that_names_it_agree(seasons, stocked, find, more, expected):
    """What held for most gives way to the record; an exception is about this very bag."""
    found = find(stocked(rounds=[walk(seasons, bags=["B1"], **more)]), "records-disagree")

    assert [("B1", "unproven", ("L1",))] * bool(expected) == [(gap.id, gap.weight, gap.lots) for gap in found]
    assert all(said in gap.message for gap in found for said in expected)


@pytest.mark.parametrize(("days", "expected"), [(0, 0), (1, 1), (-1, 1)])
def test_a_bag_that_a_round_names_was_put_on_that_day(seasons, stocked, find, days, expected):
    """By its own record and by the round's."""
    walked = {**walk(seasons, bags=["B1"]), "date": seasons.COVERED + timedelta(days)}

    assert expected == len(find(stocked(rounds=[walked]), "records-disagree"))


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ({"secured": True}, {"secured": True}, 0),
        ({"secured": True}, {"secured": False}, 1),
        ({"secured": True}, {}, 0),
        # An exception was seen on that bag; what held for the rest gives way to it.
        ({"secured": True}, {"exceptions": [{"about": ["B1"], "secured": False}]}, 0),
        (
            {"exceptions": [{"about": ["B1"], "secured": True}]},
            {"exceptions": [{"about": ["B1"], "secured": False}]},
            1,
        ),
    ],
)
def test_two_rounds_that_differ_on_one_bag(seasons, stocked, find, first, second, expected):
    """Where the record itself is silent."""
    bag = {key: value for key, value in seasons.bag("B1", "T1").items() if key != "secured"}
    rounds = [walk(seasons, bags=["B1"], **first), {**walk(seasons, bags=["B1"], **second), "round": "R2"}]

    assert expected == len(find(stocked(bagging=[bag], rounds=rounds), "records-disagree"))


def test_of_very_many_disagreements_a_record_tells_the_first_and_counts_the_rest(
    seasons, stocked, find, monkeypatch
):
    """Thousands of letters may each tell of thousands of samples; none of these is left without its gap."""
    monkeypatch.setattr("certgen.records.joining.sayings.MOST_DISAGREEMENTS", 3)
    samples = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")]
    letters = [{"letter": f"L{at}", "samples": ["S1 to S2"], "result": "positive"} for at in range(3)]
    season = stocked(trees=[seasons.tree("T1"), seasons.tree("T2")], screening=samples, letters=letters)
    found = [gap for gap in find(season, "records-disagree") if gap.field == ("result",)]

    says = "says 'negative' under result, and letter L0 says 'positive'. It is told otherwise 2 more times."

    assert [f"Sample {name} {says}" for name in ("S1", "S2")] == [gap.message for gap in found]


@pytest.mark.parametrize(
    ("letter", "expected"),
    [
        ({"result": "negative"}, None),
        ({"result": "positive"}, "letter BF-2201 says 'positive'"),
        ({"result": "negative", "exceptions": [{"samples": ["S1"], "result": "positive"}]},
         "letter BF-2201 says 'positive'"),
        ({"result": "positive", "exceptions": [{"samples": ["S1"], "result": "negative"}]}, None),
        ({"result": "positive", "exceptions": [{"samples": ["S1"]}]}, None),
        ({"controls": "failed"}, None),
        ({"samples": ["S2"], "result": "negative"}, "letter BF-2201 says 'not listed'"),
    ],
)  # fmt: skip
def test_a_letter_and_its_samples_agree(seasons, stocked, find, letter, expected):
    """A result always; a letter that lists its samples doesn't speak of others that name it."""
    told = {"letter": "BF-2201", "samples": ["S1"], **letter}
    samples = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2", report="BF-9")]
    season = stocked(trees=[seasons.tree("T1"), seasons.tree("T2")], screening=samples, letters=[told])
    found = [gap for gap in find(season, "records-disagree") if gap.id == "S1"]

    assert [("unproven", ("L1",))] * bool(expected) == [(gap.weight, gap.lots) for gap in found]
    assert all(expected in gap.message for gap in found)


@pytest.mark.parametrize(
    ("table", "change", "expected"),
    [
        ("blocks", {}, None),
        ("blocks", {"buffer": "30 m", "boundary": "a new fence"}, None),
        ("blocks", {"organic_since": date(2019, 5, 1)}, "2020-05-01"),
        ("blocks", {"status": "transitional"}, "transitional"),
        ("blocks", {"last_prohibited_substance": "2016-04-01"}, "2016-04-01"),
        ("plantings", {"variety": "Moth Lantern"}, "Moth Lantern"),
        ("plantings", {"variety": "AMBER  kestrel"}, None),
        ("plantings", {"planted": date(2025, 2, 11)}, "2025-02-11"),
        ("trees", {"sex": "female"}, "female"),
        ("trees", {"sex": "unknown"}, None),
        ("trees", {"row": "9", "position": "4"}, None),
    ],
)
def test_two_years_agree_on_what_lives_on(seasons, stocked, last_year, find, table, change, expected):
    """Land, plantings and trees of one number are one thing; what may change from year to year may."""
    made = {"blocks": seasons.block(), "plantings": seasons.planting(), "trees": seasons.tree("T1")}
    before = {name: [{**record, **(change if name == table else {})}] for name, record in made.items()}
    now = {name: [record] for name, record in made.items()}
    season = stocked(**now)
    found = find(replace(season, previous=last_year(**EMPTY, **before)), "records-disagree")

    assert bool(expected) == bool(found)
    assert all("unproven" == gap.weight and ("L1",) == gap.lots for gap in found)
    assert all(expected in gap.message and "season 2025 says" in gap.message for gap in found)


EMPTY = {name: [] for name in ("screening", "bagging", "harvests", "batches", "lots", "tests")}


@pytest.mark.parametrize(
    ("before", "now", "expected"),
    [
        ({"lot": "K1"}, {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"},
         "'Brackwen Seed Exchange' under supplier, and season 2025 says 'K1'"),
        ({"supplier": "Hollin Seeds", "certificate": "C-0912"},
         {"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"}, "season 2025 says 'Hollin Seeds'"),
        ({"supplier": "Brackwen Seed Exchange", "certificate": "C-0912"}, None, None),
    ],
)  # fmt: skip
def test_a_planting_came_from_one_place_in_all_years(
    seasons, stocked, last_year, find, before, now, expected
):
    """Own seed or bought, from one supplier; what only one of the years says is taken over."""
    planting = seasons.planting(origin=now) if now else {
        key: value for key, value in seasons.planting().items() if key != "origin"
    }  # fmt: skip
    old = last_year(**EMPTY, trees=[], plantings=[seasons.planting(origin=before)])
    season = replace(stocked(plantings=[planting]), previous=old)
    found = find(season, "records-disagree")

    assert (1 if expected else 0) == len(found)
    assert all(expected in gap.message for gap in found)
    assert now is not None or () == find(season, "planting-without-origin")


def test_one_record_in_two_folders_is_one_record(seasons, stocked, last_year, find):
    """Bag B1 stands in both, put on on one day: what the two tell differently is a gap. Put on on another
    day it is another bag, and nobody asks."""
    tables = {**EMPTY, "trees": [seasons.tree("T1")], "plantings": [seasons.planting()]}
    same = seasons.bag("B1", "T1", stage="open")
    other = seasons.bag("B1", "T1", stage="open", covered=seasons.COVERED - timedelta(365), uncovered=None)
    other = {key: value for key, value in other.items() if value is not None}

    (gap,) = find(replace(stocked(), previous=last_year(**{**tables, "bagging": [same]})), "records-disagree")
    assert "Bag B1 says 'closed bud' under stage, and season 2025 says 'open'." == gap.message
    assert ("unproven", ("L1",), ("stage",)) == (gap.weight, gap.lots, gap.field)
    season = replace(stocked(), previous=last_year(**{**tables, "bagging": [other]}))
    assert () == find(season, "records-disagree")


@pytest.mark.parametrize(
    ("kind", "names", "expected"),
    [
        ("check", {"bags": ["B1"]}, []),
        ("check", {"bags": ["B1", "B9"]}, [(("bags", 1), "'B9'")]),
        ("check", {"bags": ["B7 to B9"]}, [(("bags", 0), "'B7 to B9'")]),
        ("check", {"bags": ["B1 to C2"]}, [(("bags", 0), "'B1 to C2'")]),
        ("check", {"bags": ["B2 to B1"]}, [(("bags", 0), "'B2 to B1'")]),
        ("check", {"trees": ["T9"]}, [(("trees", 0), "'T9'")]),
        ("check", {"blocks": ["EATS"]}, [(("blocks", 0), "'EATS'")]),
        ("sampling", {"samples": ["S1", "S9"]}, [(("samples", 1), "'S9'")]),
        ("picking", {"harvests": ["H9"]}, [(("harvests", 0), "'H9'")]),
    ],
)
def test_what_a_round_names_has_a_record(seasons, stocked, find, kind, names, expected):
    """It holds for nothing else, so no lot rests on the slip."""
    found = find(stocked(rounds=[walk(seasons, kind, **names)]), "round-names-unknown")

    assert [("R1", field, "advice") for field, _ in expected] == [
        (gap.id, gap.field, gap.weight) for gap in found
    ]
    assert all(said in gap.message for gap, (_, said) in zip(found, expected, strict=True))


@pytest.mark.parametrize("about", ["B9", "b1", "B2 to B1", "T9"])
def test_an_exception_that_means_nothing_may_be_about_any(seasons, stocked, find, about):
    """Of all that the round speaks of one was otherwise, and nobody knows which."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1")]
    told = walk(seasons, bags=["B1"], exceptions=[{"about": [about], "secured": False}])
    (gap,) = find(stocked(bagging=bags, rounds=[told]), "round-names-unknown")

    assert ("unproven", ("L1",), (Node("bagging", "B1"),)) == (gap.weight, gap.lots, gap.starts)
    assert ("exceptions", 0, "about", 0) == gap.field


def test_an_exception_may_name_the_trees_of_its_bags(seasons, stocked, find):
    """Which is no unknown number."""
    told = walk(seasons, bags=["B1"], exceptions=[{"about": ["T1"], "secured": False}])

    assert () == find(stocked(rounds=[told]), "round-names-unknown")


@pytest.mark.parametrize(
    ("letter", "expected"),
    [
        ({"samples": ["S1"]}, []),
        ({"samples": ["S1", "S9"]}, [(("samples", 1), "advice")]),
        ({"samples": ["S1"], "exceptions": [{"samples": ["S9"], "result": "positive"}]},
         [(("exceptions", 0, "samples", 0), "unproven")]),
    ],
)  # fmt: skip
def test_what_a_letter_names_has_a_record(stocked, find, letter, expected):
    """A positive of which nobody knows the leaf may be of any that the letter reports on."""
    told = {"letter": "BF-2201", "result": "negative", **letter}
    found = find(stocked(letters=[told]), "round-names-unknown")

    assert expected == [(gap.field, gap.weight) for gap in found]


def test_a_round_of_last_year_was_asked_last_year(seasons, carried, find):
    """Its slips are that year's."""
    old = {**walk(seasons, bags=["B77"]), "date": seasons.COVERED - timedelta(365)}

    assert () == find(carried(before={"rounds": [old]}), "round-names-unknown")


@pytest.mark.parametrize(
    ("by", "expected"), [("R. Alder", 0), ("RA", 0), ("?", 1), ("-", 1), ("unknown", 1), (" N/A ", 1)]
)
def test_somebody_answers_for_a_round(seasons, stocked, find, by, expected):
    """Whoever walked it; otherwise what it speaks of is in doubt."""
    found = find(stocked(rounds=[{**walk(seasons, bags=["B1"]), "by": by}]), "round-unattested")

    assert [("R1", ("by",), "unproven", ("L1",))] * expected == [
        (gap.id, gap.field, gap.weight, gap.lots) for gap in found
    ]


@pytest.mark.parametrize(
    ("kind", "names", "expected"),
    [
        ("check", {"bags": ["B1"]}, [Node("bagging", "B1")]),
        ("check", {"trees": ["T1"]}, [Node("bagging", "B1")]),
        ("check", {"blocks": ["East"]}, [Node("bagging", "B1")]),
        ("check", {"bags": ["B9"]}, []),
        ("storm", {"blocks": ["East"]}, [Node("bagging", "B1")]),
        ("sampling", {"samples": ["S1"]}, [Node("screening", "S1")]),
        ("picking", {"harvests": ["H1"]}, [Node("harvests", "H1")]),
    ],
)
def test_a_round_that_nobody_answers_for_leaves_in_doubt_what_it_speaks_of(
    seasons, stocked, find, kind, names, expected
):
    """And what rests on it."""
    (gap,) = find(stocked(rounds=[walk(seasons, kind, by="?", **names)]), "round-unattested")

    assert tuple(expected) == gap.starts
