from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.rules.verdicts import judge_trees, list_samples
from certgen.standards import load_profile

DAY = date(2025, 12, 1)
#: Sees what the blue stain sees.
UIDA = {"targets": ("uidA",)}


def verdict(seasons, *samples, trees=("T1", "T2")):
    """(verdict, day it was cleared) of T1; samples are (method, result, days later, other fields)."""
    records = []
    for number, (method, result, later, more) in enumerate(samples):
        record = seasons.sample(f"S{number}", "T1", method=method, collected=DAY + timedelta(later))
        record = {
            key: value for key, value in record.items() if key not in {"submitted", "reported", "result"}
        }
        record |= {"result": result} if result else {}
        record |= more
        if "trees" in more:
            record = {key: value for key, value in record.items() if key not in {"tree", "mark"}}
        records.append(record)
    season = seasons.season_of(trees=[seasons.tree(name) for name in trees], screening=records)
    frame = judge_trees(list_samples(season), season.table("trees")["tree"], load_profile("papaya"))
    cleared = frame["cleared"]["T1"]
    return frame["verdict"]["T1"], (cleared.date() - DAY).days if frame["cleared"].notna()["T1"] else None


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
def test_what_samples_say_together(samples, expected, seasons):
    """Each case of the order in which results outweigh one another."""
    assert expected == verdict(seasons, *samples)


def test_a_samples_outcome_is_what_counts_of_its_result(seasons):
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
    samples = list_samples(seasons.season_of(screening=records))

    assert [
        ("S1", "T1", False, "negative"),
        ("S2", "T1", False, "pending"),
        ("S3", "T1", False, "inconclusive"),
        ("S4", "T1", True, "negative"),
        ("S4", "T2", True, "negative"),
        ("S5", "T2", True, "inconclusive"),
        ("S5", "T3", True, "inconclusive"),
        ("S6", "T3", False, "positive"),
    ] == list(samples[["sample", "tree", "pooled", "outcome"]].itertuples(index=False))
    assert list(range(8)) == samples.index.tolist()


def test_the_first_negative_clears_a_tree(seasons):
    """By its day; of trees that aren't clear no sample is named."""
    records = [
        seasons.sample("S1", "T1", collected=DAY + timedelta(4)),
        seasons.sample("S2", "T1", collected=DAY + timedelta(2)),
        seasons.sample("S3", "T2", result="positive"),
    ]
    season = seasons.season_of(trees=[seasons.tree("T1"), seasons.tree("T2")], screening=records)
    frame = judge_trees(list_samples(season), season.table("trees")["tree"], load_profile("papaya"))

    assert ["S2", None] == frame["clearing_sample"].astype("object").where(
        frame["clearing_sample"].notna(), None
    ).tolist()
    assert [True, False] == frame["cleared"].notna().tolist()
