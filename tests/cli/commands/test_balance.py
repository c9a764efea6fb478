"""`certgen balance`: the quantities in every form, over every period."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from pathlib import Path

import pytest
from printed import json_of, plain

from certgen import cli
from certgen.dossier.balance import take_account
from certgen.examination import examine

COVERS = (
    "certgen.cli.writers.balance",
    "certgen.dossier.custody",
    "certgen.exchange.interchange.balance",
    "certgen.exchange.interchange.layout",
)
ON = ["--on", "2026-11-20"]
GOLDEN = Path(__file__).parent / "golden"


def as_json(capsys, *arguments):
    """The exit code, and what was printed as JSON, checked against its schema."""
    code = cli.run(["balance", *map(str, arguments), "--format", "json"])
    return code, json_of(capsys, "balance")


@pytest.mark.parametrize("by", ["lot", "variety", "all"])
def test_text_stays_as_it_was_read(by, example_season, golden, capsys):
    """The sheet of the example season, word for word."""
    assert 1 == cli.run(["balance", str(example_season), *ON, "--by", by])

    golden(GOLDEN / f"balance-{by}.txt", capsys.readouterr().out)


@pytest.mark.parametrize("by", ["lot", "variety", "all"])
def test_json_has_the_ledgers_own_figures(by, example_season, capsys):
    """Every figure of every line is the dossier's, and the lines add up to the total."""
    code, shown = as_json(capsys, example_season, *ON, "--by", by)
    account = take_account(examine(example_season, date(2026, 11, 20)).season, by)

    assert 1 == code
    assert account.total["closing_mg"].sum() / 1000 == shown["total"]["closing_g"]
    for column in account.balance.columns:
        name = str(column).removesuffix("_mg") + "_g"
        assert [one / 1000 for one in account.balance[column]] == [line[name] for line in shown["lines"]]
        if not name.startswith("blended"):
            assert round(1000 * shown["total"][name]) == sum(
                round(1000 * line[name]) for line in shown["lines"]
            )


def test_what_one_lot_took_from_another_is_no_income_in_all(example_season, capsys):
    """40 g of last year's lot went into one of this year's: in their lines, and in no sum of all."""
    _, shown = as_json(capsys, example_season, *ON)
    cli.run(["balance", str(example_season), *ON])
    text = plain(capsys.readouterr().out)

    assert (0, 0, 40) == tuple(shown["total"][f"blended_{way}_g"] for way in ("from", "into", "within"))
    assert (40, 40) == tuple(
        sum(line[f"blended_{way}_g"] for line in shown["lines"]) for way in ("from", "into")
    )
    assert "Blended from lot to lot: 40 g" in text
    assert "Blended in from" not in text


def test_every_count_has_its_tolerance(example_season, capsys):
    """The readings behind it, how far they can be off, and what that makes of the difference."""
    _, shown = as_json(capsys, example_season, *ON)
    (short,) = (count for count in shown["counts"] if count["difference_g"])

    assert (7, {"likely_g": 0.1528, "worst_g": 0.35}, "beyond") == (
        short["readings"], short["tolerance"], short["judged"],
    )  # fmt: skip
    assert 0.1 == shown["scale"]["step_g"]
    assert 1 == cli.run(["balance", str(example_season), *ON])


def test_text_shows_the_figures_of_json(example_season, capsys):
    """The closing stock of each lot stands in its line, the total under what is left."""
    _, found = as_json(capsys, example_season, *ON)
    cli.run(["balance", str(example_season), *ON])
    shown = plain(capsys.readouterr().out)

    assert f"Closing stock  {found['total']['closing_g']:.3f}".rstrip("0.") in shown
    for line in found["lines"]:
        told = next(one for one in shown.splitlines() if line["line"] in one)
        grams = [float(one) for one in re.findall(r"(?<= )[\d.]+(?= |$)", told)]
        assert [line["opening_g"], line["closing_g"]] == [grams[0], grams[-1]]
        assert grams[0] + grams[1] == pytest.approx(grams[2] + grams[3])


def test_csv_has_the_figures_of_json(example_season, capsys):
    """A spreadsheet gets the same numbers, the total last."""
    _, found = as_json(capsys, example_season, *ON)
    cli.run(["balance", str(example_season), *ON, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert [line["line"] for line in found["lines"]] == [row["line"] for row in rows[:-1]]
    for line, row in zip([*found["lines"], {"line": "all", **found["total"]}], rows, strict=True):
        assert {name: line[name] for name in row if name != "line"} == {
            name: float(value) for name, value in row.items() if name != "line"
        }


def test_two_halves_of_the_season_add_up(example_season, capsys):
    """The second half brings forward what the first closed with, and sales add up."""
    _, whole = as_json(capsys, example_season, *ON)
    _, first = as_json(capsys, example_season, *ON, "--to", "2026-09-30")
    _, second = as_json(capsys, example_season, *ON, "--from", "2026-10-01")

    assert first["total"]["closing_g"] == second["total"]["brought_forward_g"]
    assert whole["total"]["sold_g"] == pytest.approx(first["total"]["sold_g"] + second["total"]["sold_g"])
    assert whole["total"]["closing_g"] == second["total"]["closing_g"]


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_an_empty_season_balances(form, empty, capsys):
    """Nothing in, nothing out: no error, and exit code 0."""
    assert 0 == cli.run(["balance", empty, "--format", form])
    shown = capsys.readouterr().out
    if form == "text":
        assert "No lot was packed and no movement is recorded." in shown
    if form == "json":
        assert [] == json.loads(shown)["lines"]


def test_an_empty_season_fits_the_schema(empty, capsys):
    """Absent figures are absent, not invented."""
    assert {} == as_json(capsys, empty)[1]["total"]


def test_one_lot_alone(example_season, capsys):
    """Only the lot asked for, without the runs."""
    _, shown = as_json(capsys, example_season, *ON, "--lot", "AK-26-1")

    assert ["AK-26-1 · Amber Kestrel"] == [line["line"] for line in shown["lines"]]
    assert [] == shown["runs"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--lot", "AK-26-9"], "Did you mean 'AK-26-"),
        (["--by", "tree"], "Choose one of: lot, variety, all."),
        (["--from", "2026-13-01"], "is no day"),
        (["--from", "2026-10-01", "--to", "2026-09-01"], "before it begins"),
        (["--format", "pdf"], "Choose one of: text, json, csv."),
    ],
)
def test_a_wrong_option_is_explained(arguments, said, example_season, capsys):
    """Exit code 2, one sentence, a way out."""
    assert 2 == cli.run(["balance", str(example_season), *arguments])
    assert said in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("form", ["text", "json"])
def test_a_folder_without_a_season_is_refused(form, tmp_path, capsys):
    """Exit code 2, with the reason where the form has a place for it."""
    assert 2 == cli.run(["balance", str(tmp_path), "--format", form])
    shown = capsys.readouterr()
    assert json.loads(shown.out)["errors"] if form == "json" else shown.err
