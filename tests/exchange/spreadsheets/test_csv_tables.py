"""Plain tables for other programs: complete and explained."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from pathlib import Path

import pytest

from certgen.examination import Result, examine
from certgen.exchange.importing.opening import open_spreadsheet
from certgen.exchange.importing.plan import plan_import
from certgen.exchange.spreadsheets.csv_tables import csv_bundle, csv_files
from certgen.standards.season_reading import read_case


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 12, 31))


def test_every_column_is_in_the_dictionary(result: Result) -> None:
    """Each column of each file has its entry, with a kind and a meaning."""
    files = {
        name: list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
        for name, data in csv_files(result.season)
    }
    dictionary = {(row[0], row[1]): row for row in files["data-dictionary.csv"][1:]}
    columns = {
        (name, column)
        for name, rows in files.items()
        for column in rows[0]
        if name not in {"season.csv", "data-dictionary.csv"}
    }

    assert columns == set(dictionary)
    assert all(row[3] and row[7] for row in dictionary.values())


def test_no_record_is_lost(result: Result) -> None:
    """As many rows as records."""
    files = {
        name: list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
        for name, data in csv_files(result.season)
    }

    assert {name: count for name, count in result.season.counts.items() if count} == {
        name.removesuffix(".csv"): len(rows) - 1
        for name, rows in files.items()
        if name.removesuffix(".csv") in result.season.counts
    }


def test_the_bundle_comes_in_again(tmp_path: Path) -> None:
    """A table that was written as CSV, imported, is the same record, formulas and all."""
    (tmp_path / "season.yaml").write_text(
        "season: {operation: {name: X}, label: '1', from: 2026-01-01, to: 2026-12-31,\n"
        "  crop: papaya, standards: [us-nop]}\n"
    )
    (tmp_path / "trees.yaml").write_text(
        "trees:\n  - {tree: '010', planting: P, sex: male, note: '=1+1; \"a\"', row: \"'-1\"}\n"
    )
    season, _ = read_case(tmp_path)
    assert season is not None
    with zipfile.ZipFile(io.BytesIO(csv_bundle(season))) as archive:
        archive.extract("trees.csv", tmp_path)
    assert b"'=1+1" in (tmp_path / "trees.csv").read_bytes()

    plan = plan_import(tmp_path, open_spreadsheet(tmp_path / "trees.csv").mapped)

    assert ([], 1) == ([fault.text() for fault in plan.faults], plan.same)
