from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.rules.samples.verdicts import find_clearing, judge_trees, list_samples
from certgen.standards import load_profile

DAY = date(2025, 12, 1)
#: Sees what the blue stain sees.
UIDA = {"targets": ("uidA",)}
#: Sees more than the blue stain, and misses more often.
STRIP = {"targets": ("nptII",)}


@pytest.fixture
def judged(seasons, case_of):
    """`judged(*samples, trees=…, told=…)`: (verdict, day it was cleared) of T1.

    Samples are (method, result, days later, other fields); `told` are trees that an incident calls positive.
    """

    def judged(*samples, trees=("T1", "T2", "T3"), told=(), events=()):
        records = []
        for number, (method, result, later, more) in enumerate(samples):
            record = seasons.sample(f"S{number}", "T1", method=method, collected=DAY + timedelta(later))
            left_out = {"submitted", "reported", "result", *({"tree", "mark"} if "trees" in more else ())}
            record = {key: value for key, value in record.items() if key not in left_out}
            records.append({**record, **({"result": result} if result else {}), **more})
        case = case_of(seasons.season_of(trees=[seasons.tree(name) for name in trees], screening=records))
        found = judge_trees(list_samples(case), trees, load_profile("papaya"), events, told)
        at = list(trees).index("T1")
        cleared = found.values("cleared")[at]
        return found["verdict"][at], None if cleared is None else (cleared - DAY).days

    return judged


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        ([], ("unscreened", None)),
        ([("gus", "negative", 3, {}), ("gus", "negative", 1, {})], ("clear", 1)),
        ([("gus", "positive", 0, {})], ("positive", None)),
        ([("gus", "inconclusive", 0, {})], ("inconclusive", None)),
        ([("gus", "", 0, {})], ("inconclusive", None)),
        ([("gus", "negative", 0, {"controls": "failed"})], ("inconclusive", None)),
        ([("gus", "positive", 0, {"controls": "not run"})], ("inconclusive", None)),
        ([("gus", "negative", 0, {"controls": "failed"}), ("gus", "negative", 5, {})], ("clear", 5)),
        ([("pcr", "negative", 0, {"trees": ("T1", "T2")})], ("clear", 0)),
        ([("pcr", "positive", 0, {"trees": ("T1", "T2")})], ("inconclusive", None)),
        ([("pcr", "positive", 0, {"trees": ("T1",)})], ("positive", None)),
        ([("pcr", "positive", 0, {"trees": ("T1", "T2")}), ("pcr", "negative", 4, {})], ("clear", 4)),
        # A later test by another method that sees no less settles a contradiction, either way.
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, {})], ("clear", 4)),
        ([("gus", "negative", 0, {}), ("pcr", "positive", 4, {})], ("positive", None)),
        # The same method again, or one that sees less, settles nothing in the kinder direction.
        ([("gus", "positive", 0, {}), ("gus", "negative", 4, {})], ("conflicting", None)),
        ([("gus", "negative", 0, {}), ("gus", "positive", 4, {})], ("conflicting", None)),
        ([("pcr", "positive", 0, {}), ("gus", "negative", 4, {})], ("positive", None)),
        # Taken on one day, neither is the later.
        ([("gus", "positive", 0, {}), ("pcr", "negative", 0, {})], ("conflicting", None)),
        ([("gus", "negative", 0, {}), ("pcr", "positive", 0, {})], ("positive", None)),
        # By another method that sees just the same, the later one settles it, and on one day neither does.
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, UIDA)], ("clear", 4)),
        ([("gus", "negative", 0, {}), ("pcr", "positive", 0, UIDA)], ("conflicting", None)),
        ([("pcr", "positive", 4, UIDA), ("gus", "negative", 0, {})], ("positive", None)),
        # A test that sees less is no answer, nor is the same again; a positive that sees less is doubted.
        (
            [("pcr", "positive", 0, {}), ("gus", "negative", 4, {}), ("pcr", "negative", 6, {})],
            ("conflicting", None),
        ),
        ([("gus", "positive", 4, {}), ("pcr", "negative", 0, {})], ("conflicting", None)),
        ([("pcr", "negative", 0, {}), ("pcr", "positive", 4, UIDA)], ("conflicting", None)),
        # Every positive must be answered, by one test or by several looks at the same.
        (
            [("gus", "positive", 0, {}), ("pcr", "negative", 4, {}), ("gus", "positive", 6, {})],
            ("conflicting", None),
        ),
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, {}), ("pcr", "negative", 2, {})], ("clear", 2)),
        ([("gus", "inconclusive", 0, {}), ("gus", "", 2, {})], ("inconclusive", None)),
        ([("gus", "inconclusive", 0, {}), ("gus", "positive", 2, {})], ("positive", None)),
        ([("gus", "inconclusive", 0, {}), ("gus", "inconclusive", 2, {})], ("inconclusive", None)),
    ],
)
def test_what_samples_say_together(samples, expected, judged):
    """Each case of the order in which results outweigh one another."""
    assert expected == judged(*samples)


def of(*trees):
    """That a sample is a pool of these trees."""
    return {"trees": trees}


ALONE = {"tree": "T2", "mark": "T2"}


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        # A weaker method never overturns a positive, though it sees all that the other sees and more.
        ([("gus", "positive", 0, {}), ("strip", "negative", 4, STRIP)], ("conflicting", None)),
        ([("strip", "positive", 0, STRIP), ("pcr", "negative", 4, {})], ("clear", 4)),
        ([("strip", "positive", 0, STRIP), ("gus", "negative", 4, {})], ("positive", None)),
        # A pool overturns nothing, for one leaf among many is easily missed.
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, of("T1", "T2"))], ("positive", None)),
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, of("T1"))], ("clear", 4)),
        # A clean pool that holds a carrier missed it, and so may have missed the others.
        ([("pcr", "negative", 0, of("T1", "T2")), ("pcr", "positive", 1, ALONE)], ("inconclusive", None)),
        ([("pcr", "negative", 0, of("T1", "T2")), ("pcr", "positive", 1, ALONE), ("pcr", "negative", 2, {})],
         ("clear", 2)),
        ([("pcr", "negative", 0, of("T1", "T2")), ("pcr", "positive", 1, {**ALONE, "controls": "failed"})],
         ("clear", 0)),
        # A positive pool of which each tree is clean by itself found something, unless each was tested later
        # by a method no weaker.
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 0, {}), ("pcr", "negative", 0, ALONE)],
         ("conflicting", None)),
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 3, {}), ("pcr", "negative", 4, ALONE)],
         ("conflicting", None)),
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 4, {}), ("pcr", "negative", 4, ALONE)],
         ("clear", 4)),
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 4, {}), ("gus", "negative", 4, ALONE)],
         ("conflicting", None)),
        ([("gus", "positive", 3, of("T1", "T2")), ("pcr", "negative", 4, {}), ("pcr", "negative", 4, ALONE)],
         ("clear", 4)),
        # Where one of them was never tested by itself, or was found, it may have been that one.
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 0, {})], ("clear", 0)),
        ([("pcr", "positive", 3, of("T1", "T2")), ("pcr", "negative", 0, {}), ("pcr", "positive", 4, ALONE)],
         ("clear", 0)),
        ([("pcr", "positive", 3, {**of("T1", "T2"), "controls": "failed"}), ("pcr", "negative", 0, {}),
          ("pcr", "negative", 0, ALONE)], ("clear", 0)),
        # Far outside its protocol a pale stain shows nothing, and a blue one is blue.
        ([("gus", "negative", 0, {"incubation": "59 min"})], ("inconclusive", None)),
        ([("gus", "negative", 0, {"incubation": "1 h"})], ("clear", 0)),
        ([("gus", "positive", 0, {"incubation": "59 min"})], ("positive", None)),
        ([("gus", "negative", 0, {"temperature": "51 C"})], ("inconclusive", None)),
    ],
)  # fmt: skip
def test_what_pools_and_weaker_methods_are_worth(samples, expected, judged):
    """Beside the samples of single trees."""
    assert expected == judged(*samples)


@pytest.mark.parametrize(
    ("method", "leaves", "expected"),
    [("pcr", 20, "clear"), ("pcr", 21, "inconclusive"), ("gus", 10, "clear"), ("gus", 11, "inconclusive")],
)
def test_a_negative_of_more_leaves_than_a_method_bears_proves_nothing(method, leaves, expected, judged):
    """Of any of its trees."""
    trees = tuple(f"T{number}" for number in range(1, leaves + 1))

    assert expected == judged((method, "negative", 0, of(*trees)), trees=trees)[0]


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        ([], "positive"),
        ([("pcr", "inconclusive", 0, {})], "positive"),
        ([("pcr", "negative", 0, {})], "conflicting"),
        ([("pcr", "positive", 0, {})], "positive"),
        # What a positive sample says goes before what an incident says of it.
        ([("gus", "positive", 0, {}), ("pcr", "negative", 4, {})], "clear"),
    ],
)
def test_what_an_incident_calls_positive_is_no_clear_tree(samples, expected, judged):
    """Unless a positive sample stands behind it, and a later one answers that."""
    assert expected == judged(*samples, told=("T1",))[0]
    assert expected != "conflicting" or "clear" == judged(*samples, told=("T2",))[0]


@pytest.mark.parametrize(
    ("samples", "events", "day"),
    [
        ([("gus", "negative", 1, {}), ("pcr", "negative", 5, {})], (), 1),
        ([("gus", "negative", 1, {}), ("pcr", "negative", 5, {})], ("55-1",), 1),
        ([("gus", "negative", 1, {}), ("pcr", "negative", 5, {})], ("55-1", "X17-2"), 5),
        ([("pcr", "negative", 1, {}), ("gus", "negative", 5, {})], ("55-1", "X17-2"), 1),
        # Where one event can't be seen by any of them, the first day stands; another rule tells what is open.
        ([("gus", "negative", 1, {})], ("55-1", "X17-2"), 1),
    ],
)
def test_a_tree_is_cleared_once_the_last_event_is_ruled_out(samples, events, day, judged):
    """By the first sample that could have seen it."""
    assert ("clear", day) == judged(*samples, events=events)


def test_only_what_is_ruled_out_by_good_samples_is_found_cleared(seasons, case_of):
    """A tree of which some event is left open is missing."""
    stain = {
        key: value for key, value in seasons.sample("S1", "T1", method="gus").items() if key != "targets"
    }
    late = seasons.sample("S2", "T1", collected=DAY + timedelta(40))
    season = seasons.season_of(trees=[seasons.tree("T1"), seasons.tree("T2")], screening=[stain, late])
    samples = list_samples(case_of(season))
    profile = load_profile("papaya")

    def days(samples, *events):
        return list(find_clearing(samples, ["T1", "T2"], profile, events).values())

    assert [seasons.SCREENED, None] == days(samples, "55-1")
    assert [DAY + timedelta(40), None] == days(samples, "55-1", "X17-2")
    names = ("sample", "tree", "outcome", "collected", "method", "targets")
    assert [None, None] == days(samples.where(samples["method"] == "gus", *names), "55-1", "X17-2")


def test_a_samples_outcome_is_what_counts_of_its_result(seasons, case_of):
    """A row for each tree of a pool; a pool of one tree is that tree's own sample."""
    single = seasons.sample("S1", "T1")
    pool = {name: value for name, value in single.items() if name not in {"tree", "mark", "result"}}
    waiting = {name: value for name, value in single.items() if name not in {"result", "reported"}}
    records = [
        single,
        {**waiting, "sample": "S2", "controls": "failed"},
        {**single, "sample": "S3", "controls": "not run"},
        {**pool, "sample": "S4", "trees": ("T1", "T2"), "result": "negative"},
        {**pool, "sample": "S5", "trees": ("T2", "T3"), "result": "positive"},
        {**pool, "sample": "S6", "trees": ("T3",), "result": "positive"},
    ]
    samples = list_samples(case_of(seasons.season_of(screening=records)))

    assert [
        (0, "S1", "T1", False, "negative"),
        (1, "S2", "T1", False, "pending"),
        (2, "S3", "T1", False, "inconclusive"),
        (3, "S4", "T1", True, "negative"),
        (4, "S4", "T2", True, "negative"),
        (5, "S5", "T2", True, "inconclusive"),
        (6, "S5", "T3", True, "inconclusive"),
        (7, "S6", "T3", False, "positive"),
    ] == list(samples.rows("sample", "tree", "pooled", "outcome"))


def test_why_a_result_does_not_count_is_kept(seasons, case_of):
    """Failed controls before a pool's size, and that before a stain's protocol; a carrier in a pool last."""
    stain = {
        key: value for key, value in seasons.sample("S1", "T1", method="gus").items() if key != "targets"
    }
    trees = tuple(f"T{number}" for number in range(11))
    pool = {key: value for key, value in stain.items() if key not in {"tree", "mark"}}
    records = [
        stain,
        {**stain, "sample": "S2", "incubation": "10 min"},
        {**stain, "sample": "S3", "incubation": "10 min", "controls": "failed"},
        {**pool, "sample": "S4", "trees": trees, "incubation": "10 min"},
        {**pool, "sample": "S5", "trees": trees, "controls": "not run"},
        {**pool, "sample": "S6", "trees": ("T1", "T20")},
        seasons.sample("S7", "T20", result="positive"),
    ]
    samples = list_samples(case_of(seasons.season_of(screening=records)))
    doubts = {sample: samples["doubt"][row] for sample, row in samples.first("sample").items()}

    assert {"S1": "", "S2": "protocol", "S3": "controls", "S4": "pool", "S5": "controls", "S6": "carrier",
            "S7": ""} == doubts  # fmt: skip


def test_the_first_negative_clears_a_tree(seasons, case_of):
    """By its day; of trees that aren't clear no sample is named."""
    records = [
        seasons.sample("S1", "T1", collected=DAY + timedelta(4)),
        seasons.sample("S2", "T1", collected=DAY + timedelta(2)),
        seasons.sample("S3", "T2", result="positive"),
    ]
    season = seasons.season_of(trees=[seasons.tree("T1"), seasons.tree("T2")], screening=records)
    samples = list_samples(case_of(season))
    found = judge_trees(samples, ["T1", "T2"], load_profile("papaya"))

    assert ["S2", None] == found["clearing_sample"].tolist()
    assert [DAY + timedelta(2), None] == found.values("cleared")
