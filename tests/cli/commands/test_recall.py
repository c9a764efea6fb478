"""`certgen recall`: in every form, and the notices on paper."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import pikepdf
import pytest
from printed import json_of

from certgen import cli
from certgen.dossier.recall import follow_recall
from certgen.examination import examine

COVERS = (
    "certgen.cli.writers.recall",
    "certgen.exchange.field_paper.recall_notices",
    "certgen.exchange.interchange.recall",
)
ON = ["--on", "2026-11-20"]
GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize("name", ["AK-25-2", "B26-064"])
def test_text_stays_as_it_was_read(name, example_season, golden, capsys):
    """The example season, word for word."""
    assert 1 == cli.run(["recall", str(example_season), name, *ON])

    golden(GOLDEN / f"recall-{name}.txt", capsys.readouterr().out)


def test_json_is_what_its_schema_says_and_adds_up(example_season, capsys):
    """Lots, places, sums and notices."""
    assert 1 == cli.run(["recall", str(example_season), "AK-25-2", "X26-01", *ON, "--format", "json"])
    told = json_of(capsys, "recall")

    assert ["AK-25-2", "AK-26-1", "AK-26-3"] == sorted(lot["lot"] for lot in told["lots"])
    sums = {key: round(1000 * grams) for key, grams in told["sums"].items()}
    assert sums["all_g"] == sum(sums[f"{key}_g"] for key in ("out", "on_hand", "used", "unaccounted"))
    assert len(told["holders"]) + 1 == len(told["notices"])


def test_csv_has_a_row_for_each_place(example_season, capsys):
    """They make up the lots."""
    assert 1 == cli.run(["recall", str(example_season), "AK-26-1", *ON, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert 109_900 == sum(round(1000 * float(row["weight_g"])) for row in rows)


def test_a_notice_is_a_page(example_season, tmp_path, capsys):
    """One to each holder and one to the certifier, with the answer on the holders' alone."""
    out = tmp_path / "notices.pdf"
    assert 1 == cli.run(["recall", str(example_season), "AK-25-2", *ON, "--out", str(out)])
    capsys.readouterr()

    with pikepdf.open(out) as pages:
        assert len(
            follow_recall(examine(example_season, date(2026, 11, 20)), ["AK-25-2"]).holders
        ) + 1 == len(pages.pages)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["INV-26-002"], "A recall begins with a lot"),
        (["AK-26-9"], "No record bears the number 'AK-26-9'"),
        ([], "Say what is called back"),
        (["\u202ex"], "No record bears the number"),
    ],
)
def test_what_can_not_be_called_back_is_refused(words, said, example_season, capsys):
    """With what to write instead."""
    assert 2 == cli.run(["recall", str(example_season), *words, *ON])
    assert said in " ".join(capsys.readouterr().err.split())
