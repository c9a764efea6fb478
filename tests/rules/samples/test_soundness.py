from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from seasons import pool, without

from certgen.rules.samples.soundness import answers_for_itself, find_sound, has_letter, names_tree

OWN = "our own bench"


@pytest.fixture
def sound(seasons, stocked, case_of):
    """`sound(*samples, **tables)`: the samples and trees that are sound, in the order of the samples."""

    def sound(*samples, **tables):
        trees = [seasons.tree("T1"), seasons.tree("T2")]
        case = case_of(stocked(**{"screening": list(samples), "trees": trees, **tables}))
        found = case.joined("samples").rows("sample", "tree", where=find_sound(case))
        return [(sample, tree) for _, sample, tree in found]

    return sound


def test_a_whole_sample_is_sound(seasons, sound):
    """It names its tree, its day, its method, its laboratory and its letter, and its leaf was marked."""
    assert [("S1", "T1")] == sound(seasons.sample("S1", "T1"))


@pytest.mark.parametrize(
    ("lost", "expected"),
    [
        (("collected", "submitted"), False),
        (("method",), False),
        (("targets",), True),
        (("laboratory",), False),
        (("report",), True),
        (("evidence",), True),
        (("report", "evidence"), False),
        (("controls",), True),
        (("mark",), False),
        (("result",), False),
        (("reported",), True),
        (("petiole", "submitted"), True),
    ],
)
def test_what_a_sample_needs_to_prove_anything(seasons, sound, lost, expected):
    """Each by itself. What its method sees, and when it was reported, is asked elsewhere."""
    assert expected == bool(sound(without(seasons.sample("S1", "T1"), *lost)))


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"result": "positive"}, False),
        ({"result": "inconclusive"}, False),
        ({"controls": "failed"}, False),
        ({"controls": "not run"}, False),
        ({"mark": "T2"}, False),
        ({"mark": "tree T1"}, True),
        ({"mark": "No. T1"}, True),
        ({"laboratory": "?"}, False),
        ({"tree": "T9", "mark": "T9"}, True),
    ],
)
def test_what_speaks_against_a_sample(seasons, sound, more, expected):
    """A tree that isn't in the register is told elsewhere."""
    assert expected == bool(sound({**seasons.sample("S1", "T1"), **more}))


@pytest.mark.parametrize(("days", "expected"), [(-1, False), (0, True), (1, True)])
def test_a_leaf_is_of_the_tree_that_stands_there_now(seasons, sound, days, expected):
    """Cut on the day of planting at the soonest."""
    when = seasons.planting()["planted"] + timedelta(days)
    sample = seasons.sample("S1", "T1", collected=when, submitted=when, reported=when)

    assert expected == bool(sound(sample))


def test_two_samples_of_one_number_are_both_in_doubt(seasons, sound):
    """Nobody knows which one the letter means."""
    pair = [seasons.sample("S1", "T1"), seasons.sample("S1", "T2")]

    assert [("S2", "T1")] == sound(*pair, seasons.sample("S2", "T1"))


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (("T1", "T2"), [("S9", "T1"), ("S9", "T2")]),
        # A pool of one tree is that tree's own sample, and its leaf must bear the number.
        (("T1",), []),
    ],
)
def test_a_pool_is_sound_for_each_of_its_trees(sound, made, expected):
    """It bears no single mark."""
    assert expected == sound(pool("S9", *made))


@pytest.mark.parametrize("trees", [("T1", "T2"), ("T2",), ("T1",)])
def test_a_sample_that_names_a_tree_and_a_pool_is_of_neither(seasons, sound, trees):
    """One of the two is wrong, and nobody knows which."""
    assert [] == sound({**seasons.sample("S1", "T1"), "trees": trees})


@pytest.mark.parametrize(
    ("laboratory", "lost", "expected"),
    [
        ("Bracken Ford Plant Diagnostics", (), True),
        ("Bracken Ford Plant Diagnostics", ("controls",), True),
        ("Bracken Ford Plant Diagnostics", ("controls", "incubation"), True),
        ("Bracken Ford Plant Diagnostics", ("controls", "report"), True),
        ("Bracken Ford Plant Diagnostics", ("controls", "report", "evidence"), False),
        (OWN, (), True),
        (OWN, ("controls",), False),
        (OWN, ("incubation",), False),
        (OWN, ("report", "evidence"), True),
    ],
)
def test_who_answers_for_the_controls_and_the_protocol(seasons, stocked, case_of, laboratory, lost, expected):
    """A laboratory by a letter of its own; on the own bench, or without a letter, they must be written."""
    stain = seasons.sample("S1", "T1", method="gus", incubation="12 h", laboratory=laboratory)
    case = case_of(stocked(screening=[without(stain, "targets", *lost)]))

    assert [expected] == answers_for_itself(case).tolist()


def test_what_is_no_stain_stands_in_none(seasons, stocked, case_of):
    """Of a DNA test on the own bench the controls are asked, and no hours."""
    made = [
        seasons.sample("S1", "T1", laboratory=OWN),
        without(seasons.sample("S2", "T1", laboratory=OWN), "controls"),
    ]

    assert [True, False] == answers_for_itself(case_of(stocked(screening=made))).tolist()


def test_a_number_or_a_file_is_a_letter(seasons, stocked):
    """As it stands in the record."""
    made = [seasons.sample(f"S{at}", "T1") for at in range(3)]
    made += [without(made[0], "report"), without(made[0], "evidence"), without(made[0], "report", "evidence")]
    season = stocked(screening=[{**one, "sample": f"S{at}"} for at, one in enumerate(made)])

    assert [True, True, True, True, True, False] == has_letter(season.columns("screening")).tolist()


@pytest.mark.parametrize(
    ("mark", "tree", "expected"),
    [
        ("T1", "T1", True),
        (" T1 ", "T1", True),
        ("tree T1", "T1", True),
        ("Tree 001", "001", True),
        ("tree001", "001", True),
        ("no. 001", "001", True),
        ("No.001", "001", True),
        ("No 001", "001", True),
        ("no001", "001", True),
        ("nr. 001", "001", True),
        ("Nr 1", "1", True),
        ("num 4", "4", True),
        ("number 4", "4", True),
        ("# 4", "4", True),
        ("#4", "4", True),
        # The digits are the number, noughts and all, and so are its letters.
        ("no. 1", "001", False),
        ("001", "1", False),
        ("t1", "T1", False),
        ("T 1", "T1", False),
        # A tree may be called what others write before its number.
        ("tree 4", "tree 4", True),
        ("NO-14", "NO-14", True),
        ("north1", "north1", True),
        ("north1", "rth1", False),
        ("tree", "tree", True),
        ("no.", "", False),
        (None, "T1", False),
        ("T1", None, False),
    ],
)
def test_what_people_write_before_a_number_is_no_part_of_it(stocked, case_of, mark, tree, expected):
    """With a full stop, a space or the digits after it."""
    marks, trees = np.array([mark], dtype=object), np.array([tree], dtype=object)

    assert [expected] == names_tree(case_of(stocked()), marks, trees).tolist()


def test_a_leaf_bears_the_number_that_its_tree_had_in_its_year(carried, case_of):
    """Also where another tree took the number over since."""
    marks = np.array(["T1", "no. T1", "T2", "T1 (2025)"], dtype=object)
    trees = np.array(["T1 (2025)"] * 4, dtype=object)

    assert [True, True, False, True] == names_tree(case_of(carried()), marks, trees).tolist()
