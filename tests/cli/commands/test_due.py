"""`certgen due`: the season as a diary, seen from a day."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from printed import json_of

from certgen import cli

COVERS = ("certgen.cli.writers.due", "certgen.exchange.interchange.due")

GOLDEN = Path(__file__).parent / "golden"
DAYS = ["2025-06-01", "2026-01-20", "2026-03-01", "2026-06-01", "2026-11-20", "2032-01-01"]


def as_json(capsys, *arguments):
    """What was printed as JSON, checked against its schema."""
    assert 0 == cli.run(["due", *map(str, arguments), "--format", "json"])
    return json_of(capsys, "due")


@pytest.mark.parametrize("day", ["2026-03-01", "2026-11-20"])
def test_text_stays_as_it_was_read(day, example_season, golden, capsys):
    """The list of the example season, word for word."""
    assert 0 == cli.run(["due", str(example_season), "--on", day])

    golden(GOLDEN / f"due-{day}.txt", capsys.readouterr().out)


@pytest.mark.parametrize("day", DAYS)
def test_every_day_can_be_asked_for(day, example_season, capsys):
    """Long before the season, in it, and years later; csv has the lines of json."""
    found = as_json(capsys, example_season, "--on", day)["due"]
    cli.run(["due", str(example_season), "--on", day, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert [(one["subject"], one["id"], one["last"]) for one in found] == [
        (row["subject"], row["id"], row["last"]) for row in rows
    ]


def test_all_lists_what_lies_ahead(example_season, capsys):
    """Without it only what is due now is listed by name."""
    cli.run(["due", str(example_season), "--on", "2026-03-01"])
    short = capsys.readouterr().out
    cli.run(["due", str(example_season), "--on", "2026-03-01", "--all"])
    long = capsys.readouterr().out

    assert "--all lists them" in short
    assert "--all lists them" not in long
    assert len(short.splitlines()) < len(long.splitlines())


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_a_season_without_records_has_nothing_due(form, seasons, tmp_path, capsys):
    """No record, no standard that sets a clock: nothing to do."""
    seasons.write_season(tmp_path, standards=["seed-law"])

    assert 0 == cli.run(["due", str(tmp_path), "--format", form])
    shown = capsys.readouterr().out
    if form == "text":
        assert "Nothing is due." in shown
    if form == "json":
        assert [] == json.loads(shown)["due"]


def test_a_wrong_day_is_explained(example_season, capsys):
    """Exit code 2 and an example of a day."""
    assert 2 == cli.run(["due", str(example_season), "--on", "tomorrow"])
    assert "2026-10-31" in capsys.readouterr().err
