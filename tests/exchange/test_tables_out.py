"""Plain tables for other programs: complete, explained, and as the published schema says."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import shutil
import zipfile
from pathlib import Path

import jsonschema
import pytest
from referencing import Registry, Resource

from certgen.examination import Result, examine
from certgen.exchange.importing import plan_import, words_of
from certgen.exchange.spreadsheets import open_spreadsheet
from certgen.exchange.tables_out import csv_bundle, csv_files, records_json
from certgen.manifest import build_manifest
from certgen.records import read_season
from certgen.resources import schemas_dir


@pytest.fixture(scope="module")
def result(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> Result:
    """The example season, examined."""
    folder = Path(shutil.copytree(example_season, tmp_path_factory.mktemp("s") / "season"))
    return examine(folder, dt.date(2026, 12, 31))


def validator(name: str) -> jsonschema.Draft202012Validator:
    """A validator of one of the output schemas, with the others at hand."""
    schemas = [json.loads(path.read_text()) for path in schemas_dir().rglob("*.json")]
    registry = Registry().with_resources(
        (one["$id"], Resource.from_contents(one)) for one in schemas if "$id" in one
    )
    schema = json.loads((schemas_dir() / "output" / f"{name}.json").read_text())
    return jsonschema.Draft202012Validator(schema, registry=registry)


def test_json_keeps_to_its_schema(result: Result) -> None:
    """What is written is what `schemas/output/records.json` describes."""
    assert [] == [
        error.message for error in validator("records").iter_errors(json.loads(records_json(result)))
    ]


def test_the_manifest_keeps_to_its_schema(result: Result) -> None:
    """And so is the manifest."""
    assert [] == [error.message for error in validator("manifest").iter_errors(build_manifest(result))]


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
    season, _ = read_season(tmp_path, words_of=words_of)
    assert season is not None
    with zipfile.ZipFile(io.BytesIO(csv_bundle(season))) as archive:
        archive.extract("trees.csv", tmp_path)
    assert b"'=1+1" in (tmp_path / "trees.csv").read_bytes()

    plan = plan_import(tmp_path, open_spreadsheet(tmp_path / "trees.csv").mapped)

    assert ([], 1) == ([fault.text() for fault in plan.faults], plan.same)
