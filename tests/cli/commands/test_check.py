from __future__ import annotations

import csv
import io

import pytest
from printed import json_of, plain

from certgen import cli
from certgen.rules.example_seasons import load_example

COVERS = ("certgen.cli.writers.check", "certgen.cli.terminal", "certgen.exchange.interchange.check")
ON = ["--on", "2026-10-31"]


@pytest.fixture
def flawed(tmp_path):
    """The base season with one tree that has no screening result."""
    return str(load_example("parent-unscreened", "bad").write(tmp_path))


def test_a_clean_season_ends_with_zero(clean, capsys):
    """A clean season ends with zero."""
    assert 0 == cli.run(["check", clean, *ON])
    assert "No gaps found." in capsys.readouterr().out


def test_text_says_what_where_why_and_how_to_mend_it(flawed, capsys):
    """Place first, in a grower's words, with the lots it reaches and what to do first."""
    assert 1 == cli.run(["check", flawed, *ON])

    shown = capsys.readouterr().out
    assert "bad.yaml:4:5\n      Tree T3 has no screening result. It stands behind 1 bag and 1 lot." in shown
    assert "[parent-unscreened]" in shown
    assert "Affects lot L2." in shown
    assert "Supply a screening result for tree T3: proves 8 g in lot L2." in plain(shown)
    assert "\x1b" not in shown


def test_json_is_what_its_schema_says_and_agrees_with_the_season(flawed, capsys):
    """Json is what its schema says and agrees with the season."""
    assert 1 == cli.run(["check", flawed, "--format", "json", *ON])

    shown = json_of(capsys, "check")
    gap = shown["gaps"][0]
    assert ("parent-unscreened", "bad.yaml", 4, ["L2"]) == tuple(
        gap[key] for key in ("rule", "file", "line", "lots")
    )
    lot = next(lot for lot in shown["lots"] if lot["lot"] == "L2")
    assert ("unproven", 8, 0, 8, 0) == tuple(
        lot[key] for key in ("standing", "weight_g", "traced_g", "unproven_g", "rejected_g")
    )
    assert [
        {"supply": "a screening result for tree T3", "proves_g": 8, "frees_g": 0, "lots": ["L2"], "gaps": [1]}
    ] == shown["mend"]
    assert 3 == shown["records"]["trees"]
    assert "T3" in lot["scope"]["open_parents"]
    assert [] == lot["scope"]["seen"]
    assert lot["scope"]["sentence"].endswith("so nothing is ruled out for the lot.")
    (alone,) = shown["standards"]
    assert ("us-nop", {one["lot"]: one["standing"] for one in shown["lots"]}) == (
        alone["standard"],
        alone["lots"],
    )


def test_json_says_of_which_lot_not_every_stage_is_told_apart(flawed, tmp_path, capsys, monkeypatch):
    """Of a lot that thousands of entries changed; of the others nothing is said."""
    monkeypatch.setattr("certgen.lineage.custody.MOST_CELLS", 8)
    monkeypatch.setattr("certgen.lineage.custody.MOST_STAGES", 2)
    moves = [
        f"- {{movement: M9{at}, date: 2026-10-01, lot: L2, kind: received, weight: 1 g}}\n" for at in range(5)
    ]
    (tmp_path / "season" / "moves.yaml").write_text("movements:\n" + "".join(moves), encoding="utf-8")
    cli.run(["check", flawed, "--format", "json", *ON])

    assert {"L2": 3} == {
        lot["lot"]: lot["more_stages"] for lot in json_of(capsys, "check")["lots"] if "more_stages" in lot
    }


def test_csv_has_a_row_a_gap(flawed, capsys):
    """Csv has a row a gap."""
    assert 1 == cli.run(["check", flawed, "--format", "csv", *ON])

    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [("parent-unscreened", "4", "L2")] == [(row["rule"], row["line"], row["lots"]) for row in rows]


def test_only_and_lot_narrow_what_is_shown_and_what_counts(flawed, capsys):
    """A lot that no gap reaches is clean, whatever the others are."""
    assert 0 == cli.run(["check", flawed, "--lot", "L1", *ON])
    assert 1 == cli.run(["check", flawed, "--lot", "L1,L2", *ON])
    assert 0 == cli.run(["check", flawed, "--only", "bag-failed", *ON])
    assert 1 == cli.run(["check", flawed, "--only", "bag-failed", "--only", "parent-unscreened", *ON])
    capsys.readouterr()


@pytest.mark.parametrize(
    ("option", "hint"), [("--only", "parent-unscreened"), ("--lot", "L2"), ("--format", "json")]
)
def test_a_name_that_is_not_there_is_refused_with_the_nearest(option, hint, flawed, capsys):
    """A name that is not there is refused with the nearest."""
    assert 2 == cli.run(["check", flawed, option, hint + "x", *ON])
    assert hint in capsys.readouterr().err


def test_a_broken_record_is_listed_and_the_rest_is_checked(flawed, tmp_path, capsys):
    """Reading errors come first, with their place; exit code 2."""
    (tmp_path / "season" / "more.yaml").write_text("trees:\n  - tree: T9\n    planting: P1\n    sex: maybe\n")

    assert 2 == cli.run(["check", flawed, *ON])
    shown = capsys.readouterr().out
    assert shown.index("more.yaml:4:") < shown.index("Tree T3 has no screening result")
    assert "1 left out" in shown
    assert "One place couldn't be read, and may speak against what is said here." in shown.splitlines()[-1]

    assert 2 == cli.run(["check", flawed, "--format", "json", *ON])
    shown = json_of(capsys, "check")
    assert [("more.yaml", 4)] == [(error["file"], error["line"]) for error in shown["errors"]]
    assert ["parent-unscreened", "record-unread"] == sorted(
        {gap["rule"] for gap in shown["gaps"]} - {"suspect-seed-left"}
    )


def test_a_folder_that_is_not_there_is_a_reading_error(tmp_path, capsys):
    """A folder that is not there is a reading error."""
    missing = str(tmp_path / "nowhere")

    assert 2 == cli.run(["check", missing])
    assert "no such folder" in capsys.readouterr().err
    assert 2 == cli.run(["check", missing, "--format", "json"])
    shown = json_of(capsys, "check")
    assert ["errors"] == list(shown)


def test_what_a_record_holds_cannot_act_on_the_terminal():
    """Escape sequences and characters that turn text round are shown, not obeyed."""
    from certgen.cli.terminal import clean

    assert "\N{REPLACEMENT CHARACTER}[31mred" == clean("\x1b[31mred")
    assert "a\N{REPLACEMENT CHARACTER}b" == clean("a\u202eb")


def test_colour_never_carries_a_meaning_alone(flawed, capsys):
    """With and without colour the words are the same."""
    import re
    from datetime import date
    from pathlib import Path

    from certgen.cli.terminal import Terminal
    from certgen.cli.writers.check import write_text
    from certgen.dossier.search import select
    from certgen.examination import examine

    shown = select(examine(Path(flawed), date(2026, 10, 31)))
    write_text(shown, terminal=Terminal(colour=False, width=90))
    plain = capsys.readouterr().out
    write_text(shown, terminal=Terminal(colour=True, width=90))
    coloured = capsys.readouterr().out

    assert coloured != plain
    assert plain == re.sub(r"\x1b\[[0-9;]*m", "", coloured)


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ({}, "none"),
        ({"rejects": 0, "unproven": 0, "advice": 1}, "1 advice"),
        ({"rejects": 1, "unproven": 6, "advice": 2}, "1 against the claim, 6 missing and 2 advice"),
    ],
)
def test_gaps_are_counted_in_the_words_of_the_headings(numbers, told):
    """The check and the report's summary count gaps in the same words, one and many told apart."""
    from certgen.cli.writers.check import count_gaps

    assert told == count_gaps(numbers)
