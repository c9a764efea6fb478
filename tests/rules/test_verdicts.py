from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.rules.verdicts import judge_trees, list_samples
from certgen.standards import load_profile

DAY = date(2025, 12, 1)


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
    ],
)
def test_what_samples_say_together(samples, expected, seasons):
    """Each case of the order in which results outweigh one another."""
    assert expected == verdict(seasons, *samples)
