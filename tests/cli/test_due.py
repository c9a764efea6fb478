"""`certgen due`: the season as a diary, seen from a day."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pytest

from certgen import cli
from certgen.resources import schemas_dir

GOLDEN = Path(__file__).parent / "golden"
EMPTY = """\
season:
  operation: {name: Bare Ridge}
  label: "2026"
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [seed-law]
"""
DAYS = ["2025-06-01", "2026-01-20", "2026-03-01", "2026-06-01", "2026-11-20", "2032-01-01"]


def as_json(capsys, *arguments):
    """What was printed as JSON, held against its schema."""
    assert 0 == cli.run(["due", *map(str, arguments), "--format", "json"])
    shown = json.loads(capsys.readouterr().out)
    schema = json.loads((schemas_dir() / "output" / "due.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(shown, schema)
    return shown


@pytest.mark.parametrize("day", ["2026-03-01", "2026-11-20"])
def test_text_stays_as_it_was_read(day, example_season, bless, capsys):
    """The list of the example season, word for word."""
    assert 0 == cli.run(["due", str(example_season), "--on", day])

    shown = capsys.readouterr().out
    golden = GOLDEN / f"due-{day}.txt"
    if bless:
        golden.write_text(shown, encoding="utf-8")
    assert golden.read_text(encoding="utf-8") == shown


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
def test_a_season_without_records_has_nothing_due(form, tmp_path, capsys):
    """No record, no standard that sets a clock: nothing to do."""
    (tmp_path / "season.yaml").write_text(EMPTY, encoding="utf-8")

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
