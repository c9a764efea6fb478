"""`certgen sample`: a sheet for the field that anybody can draw again, and the plan of a seed test."""

from __future__ import annotations

import csv
import hashlib
import io
import unicodedata
from pathlib import Path

import pytest
from printed import json_of

from certgen import cli

COVERS = ("certgen.cli.writers.sample", "certgen.exchange.interchange.sample")
ON = ["--on", "2026-11-20"]
DRAW = ["--seed", "rain at noon", "--size", "7", *ON]
PLAN = ["--of", "seed", "--lot", "AK-26-1", "--detect", "0.5 %", *ON]
GOLDEN = Path(__file__).parent / "golden"


def as_json(capsys, *arguments):
    """What was printed as JSON, checked against its schema."""
    assert 0 == cli.run(["sample", *map(str, arguments), "--format", "json"])
    return json_of(capsys, "sample")


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("bags", DRAW),
        ("trees", ["--of", "trees", "--by", "variety", *DRAW]),
        ("seed", PLAN),
    ],
)
def test_text_stays_as_it_was_read(name, arguments, example_season, golden, capsys):
    """The sheet of the example season, word for word."""
    assert 0 == cli.run(["sample", str(example_season), *arguments])

    golden(GOLDEN / f"sample-{name}.txt", capsys.readouterr().out)


def test_the_draw_is_what_the_sheet_tells_one_to_do(example_season, capsys):
    """Text, bar, identifier; SHA-256; sorted: done here by hand, without certgen's own drawing."""
    one = as_json(capsys, example_season, "--by", "all", *DRAW)
    all_bags = as_json(capsys, example_season, "--by", "all", "--seed", "x", "--size", "152", *ON)
    names = [item["id"] for item in all_bags["drawn"]]
    by_hand = sorted(names, key=lambda name: hashlib.sha256(f"rain at noon|{name}".encode()).digest())[:7]

    assert set(by_hand) == {item["id"] for item in one["drawn"]}


@pytest.mark.parametrize("kind", ["bags", "trees"])
def test_sheets_hold_nothing_that_acts_on_a_terminal(kind, example_season, capsys):
    """No control character in any form but line ends."""
    for form in ("text", "json", "csv"):
        cli.run(["sample", str(example_season), "--of", kind, "--format", form, *DRAW])
        shown = capsys.readouterr().out
        assert {"\n"} >= {sign for sign in shown if unicodedata.category(sign) == "Cc"}


def test_a_tag_that_speaks_to_the_terminal_is_shown_harmless(example_season, capsys):
    """A control character in the text of a draw is not passed on."""
    cli.run(["sample", str(example_season), "--seed", "rain\x1b[31m", "--size", "3", *ON])
    assert "\x1b" not in capsys.readouterr().out


def test_csv_has_the_items_of_json(example_season, capsys):
    """The same items in the same order, with room for what is found."""
    found = as_json(capsys, example_season, *DRAW)["drawn"]
    cli.run(["sample", str(example_season), *DRAW, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert [one["id"] for one in found] == [row["id"] for row in rows]
    assert {""} == {row["found"] for row in rows}


def test_a_plan_is_the_same_in_every_form(example_season, capsys):
    """Three pools of 200 seeds at 16.1 g a thousand are 9.7 g."""
    found = as_json(capsys, example_season, *PLAN)
    cli.run(["sample", str(example_season), *PLAN, "--format", "csv"])
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out))

    assert (3, 200, 600) == (found["pools"], found["seeds_per_pool"], found["seeds"])
    assert found["uses_up_g"] == pytest.approx(600 * found["thousand_seeds_g"] / 1000)
    assert found["uses_up_g"] == float(row["uses_up_g"])


@pytest.mark.parametrize("form", ["text", "json", "csv"])
@pytest.mark.parametrize("kind", ["bags", "trees"])
def test_nothing_can_be_drawn_from_nothing(kind, form, empty, capsys):
    """A share of no bags is no bags; a number of them is refused in words."""
    assert 0 == cli.run(["sample", empty, "--of", kind, "--seed", "x", "--detect", "5 %", "--format", form])
    assert 2 == cli.run(["sample", empty, "--of", kind, "--seed", "x", "--size", "5", "--format", form])
    assert "cannot be drawn from 0" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--size", "5"], "--seed"),
        (["--seed", "x"], "--size 20"),
        (["--seed", "x", "--size", "5", "--detect", "5 %"], "--size 20"),
        (["--seed", "x", "--detect", "five"], "Write it like '5 %'"),
        (["--seed", "x", "--detect", "100 %"], "Write it like '5 %'"),
        (["--seed", "x", "--size", "5000"], "cannot be drawn from 152"),
        (["--seed", "x", "--size", "5", "--lot", "AK-26-1"], "--of seed"),
        (["--of", "seed", "--detect", "1 %"], "needs a lot"),
        (["--of", "seed", "--lot", "AK-26-1"], "needs a lot"),
        (["--of", "seed", "--lot", "AK-26-99", "--detect", "1 %"], "Did you mean 'AK-26-"),
        (["--of", "seed", "--lot", "AK-26-1", "--detect", "1 %", "--pool", "300"], "among 250 at most"),
    ],
)
def test_a_wrong_option_is_explained(arguments, said, example_season, capsys):
    """Exit code 2, one sentence, a way out."""
    assert 2 == cli.run(["sample", str(example_season), *arguments])
    assert said in " ".join(capsys.readouterr().err.split())
