"""Entries that only look like one."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from certgen.records.joining.placeholders import mask_placeholders, says_nothing


@pytest.mark.parametrize(
    "text", ["?", "-", "--", "n/a", "N/A", " unknown ", "TBD", ".", "x", "None", "no", "–"]
)
def test_what_says_nothing(text):
    """Whatever its letter case and the spaces round it."""
    assert says_nothing(text)


@pytest.mark.parametrize(
    "text", ["Bracken Ford Plant Diagnostics", "BF-2201", "none known", "x-ray film", "7"]
)
def test_what_says_something(text):
    """A word that only begins so is a word."""
    assert not says_nothing(text)


SAYING = {
    "screening": ("sample: S1", ("laboratory", "report")),
    "letters": ("letter: L1", ("laboratory", "report")),
    "blocks": ("block: East, status: organic", ("boundary",)),
    "lots": (
        "lot: L1, variety: Amber Kestrel, packed: 2026-07-01, weight: 8 g, status: organic", ("packaging",)
    ),
    "tests": (
        "test: G1, lot: L1, date: 2026-08-01, kind: germination, replicates: [44], per_replicate: 50",
        ("laboratory", "report"),
    ),
    "movements": (
        "movement: M1, date: 2026-08-01, lot: L1, kind: sold, weight: 1 g",
        ("party", "document", "last_certified_operation"),
    ),
    "inputs": (
        "input: I1, date: 2026-02-01, block: East, material: compost",
        ("allowed_by", "condition_met"),
    ),
    "materials": ("material: M-1, name: compost", ("approved_by", "condition")),
    "batches": ("batch: X1, date: 2026-06-20, status: organic", ("other_seed",)),
    "incidents": ("incident: I1, date: 2026-03-01, kind: other, about: [B1]", ("action",)),
}  # fmt: skip


@pytest.mark.parametrize(
    ("table", "column"), [(table, column) for table, (_, columns) in SAYING.items() for column in columns]
)
@pytest.mark.parametrize("text", ["'--'", "n/a", "'-'", "none"])
def test_a_placeholder_is_taken_for_absent_where_words_show_something(read: Callable, table, column, text):
    """The record is as if nothing stood there; what somebody wrote is kept beside it."""
    season, errors = read(f"{table}:\n- {{{SAYING[table][0]}, {column}: {text}}}\n")
    masked = mask_placeholders(season)

    assert [] == [error.text() for error in errors]
    assert pd.isna(masked.table(table)[column].iat[0])
    assert text.strip("'") == season.table(table)[column].iat[0]


def test_a_word_is_kept(read: Callable):
    """A season in which every entry says something is handed on as it is."""
    season, _ = read("screening:\n- {sample: S1, laboratory: Bracken Ford, report: BF-1, mark: '?'}\n")

    assert mask_placeholders(season) is season


@pytest.mark.parametrize(("text", "kept"), [("none", True), ("no", True), ("'?'", False), ("unknown", False)])
def test_what_a_used_container_held_may_have_been_nothing(read: Callable, text, kept):
    """Who writes none says something of it; who writes a question mark doesn't."""
    season, _ = read(f"bagging:\n- {{bag: B1, tree: T1, bag_use: re-used, previous_contents: {text}}}\n")

    assert kept == bool(mask_placeholders(season).table("bagging")["previous_contents"].notna().iat[0])


def test_one_placeholder_leaves_the_others_rows_alone(read: Callable):
    """Row for row, and no other column."""
    season, _ = read(
        "screening:\n- {sample: S1, laboratory: Bracken Ford, report: '?'}\n"
        "- {sample: S2, laboratory: '?', report: BF-2}\n"
    )
    frame = mask_placeholders(season).table("screening")[["laboratory", "report"]]

    assert [["Bracken Ford", ""], ["", "BF-2"]] == frame.fillna("").to_numpy().tolist()


@pytest.mark.parametrize(
    ("text", "kept"), [("none", False), ("'-'", False), ("'?'", True), ("various", True)]
)
def test_other_seed_that_nobody_can_name_was_other_seed(read: Callable, text, kept):
    """Only a word that says there was none is taken for silence: any other speaks against the run."""
    season, _ = read(f"batches:\n- {{batch: X1, date: 2026-06-20, status: organic, other_seed: {text}}}\n")

    assert kept == bool(mask_placeholders(season).table("batches")["other_seed"].notna().iat[0])
