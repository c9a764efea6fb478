"""Measures of records that come in from workbooks and go out to them."""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from harness import ROOT, Material, Ratio, aiming, best_seconds, python
from seasons import SEASON, write_season

BARE_READ = """
import sys, openpyxl
for sheet in openpyxl.load_workbook(sys.argv[1], read_only=True):
    for row in sheet.iter_rows(values_only=True):
        pass
"""
#: What a program of a page does with the same workbook: pandas, and a jsonschema validator for each table.
PLAIN_IMPORT = """
import json, sys
from datetime import datetime
from pathlib import Path
import pandas
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

schemas = {path.name: json.loads(path.read_text("utf-8")) for path in Path(sys.argv[2]).glob("*.json")}
resources = [(name, Resource.from_contents(schema)) for name, schema in schemas.items()]
registry = Registry().with_resources(resources)
validator = Draft202012Validator(schemas["records.json"], registry=registry)
typed = {"yes": True, "no": False}
tables = {}
for name, frame in pandas.read_excel(sys.argv[1], sheet_name=None, dtype=object).items():
    if name == "season" or name not in validator.schema["properties"]:
        continue
    for row in frame.to_dict("records"):
        record = {}
        for heading, value in row.items():
            if pandas.isna(value):
                continue
            *above, last = heading.split(".")
            place = record
            for step in above:
                place = place.setdefault(step, {})
            place[last] = value.date().isoformat() if isinstance(value, datetime) else typed.get(value, value)
        tables.setdefault(name, []).append(record)
print(sum(1 for _ in validator.iter_errors(tables)))
"""


@contextmanager
def workbook_of(season: Path) -> Iterator[Path]:
    """The season's workbook, in a folder that goes with it."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "season.xlsx"
        path.write_bytes(export(season)())
        yield path


def read_export(season: Path) -> tuple[Any, Any]:
    """The season as it is read, and its crop's profile."""
    from certgen.standards import load_profile
    from certgen.standards.season_reading import read_case

    read, errors = read_case(season)
    if read is None or errors:
        message = "the generated season can't be read"
        raise RuntimeError(message)
    return read, load_profile(read.details.crop)


def export(season: Path) -> Callable[[], bytes]:
    """The writing of a season's workbook, once it has been read."""
    from certgen.exchange.spreadsheets.workbook import build_workbook

    read, profile = read_export(season)
    return lambda: build_workbook(read, profile)


def list_cells(season: Path) -> Mapping[str, list[list[object]]]:
    """The cells of each sheet of a season as openpyxl and pandas take them, headings first."""
    from certgen.exchange.spreadsheets.rows import face_rows, faces, join_list

    read, _ = read_export(season)
    return {
        face.name: [
            list(face.fields),
            *(
                [
                    join_list(value) if isinstance(value, tuple) else value
                    for value in map(row.get, face.fields)
                ]
                for row in face_rows(read, face)
            ),
        ]
        for face in faces()
    }


def write_plainly(sheets: Mapping[str, list[list[object]]]) -> bytes:
    """A workbook of bare values, in openpyxl's fastest way."""
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def seconds_of_import(workbook: Path, repeats: int) -> float:
    """`certgen import` of a workbook into a season laid out and empty, start-up, writing and all."""
    with tempfile.TemporaryDirectory() as place:
        folders = [Path(place) / str(number) for number in range(repeats)]
        for folder in folders:
            folder.mkdir()
            (folder / "season.yaml").write_text(SEASON, "utf-8")
        waiting = iter(folders)

        def run() -> None:
            python(["-m", "certgen", "import", str(next(waiting)), str(workbook)])()

        return best_seconds(run, repeats)


@aiming(times=3)
def import_of_a_workbook_against_bare_read(material: Material) -> Ratio:
    """`certgen import` of the season's workbook, checked and written, against openpyxl only reading it."""
    with workbook_of(material.season) as path:
        ours = seconds_of_import(path, 2)
        return Ratio(ours, best_seconds(python(["-c", BARE_READ, str(path)]), 2), "s")


@aiming(times=1)
def import_of_a_workbook_against_pandas_and_jsonschema(material: Material) -> Ratio:
    """The same import, against `pandas.read_excel` and jsonschema over the same workbook, nothing written."""
    with workbook_of(material.season) as path:
        ours = seconds_of_import(path, 2)
        plain = python(["-c", PLAIN_IMPORT, str(path), str(ROOT / "schemas")])
        return Ratio(ours, best_seconds(plain, 1), "s")


@aiming(times=1)
def import_of_a_workbook_against_ten_of_a_tenth(material: Material) -> Ratio:
    """The same import, against ten times that of a season of a tenth: what length itself costs."""
    with tempfile.TemporaryDirectory() as place, workbook_of(material.season) as large:
        season = Path(place) / "season"
        write_season(season, material.bags // 10)
        with workbook_of(season) as small:
            return Ratio(seconds_of_import(large, 2), 10 * seconds_of_import(small, 3), "s")


@aiming(times=2)
def export_to_a_workbook_against_bare_write(material: Material) -> Ratio:
    """The workbook to fill in, with lists, notes and formats, against openpyxl writing the bare values."""
    ours = best_seconds(export(material.season), 2)
    sheets = list_cells(material.season)
    return Ratio(ours, best_seconds(lambda: write_plainly(sheets), 2), "s")


@aiming(times=1)
def export_to_a_workbook_against_pandas(material: Material) -> Ratio:
    """The same workbook, against `DataFrame.to_excel` of the same tables."""
    import pandas as pd

    ours = best_seconds(export(material.season), 2)
    frames = {
        name: pd.DataFrame(rows[1:], columns=rows[0], dtype=object)
        for name, rows in list_cells(material.season).items()
    }

    def write() -> None:
        with pd.ExcelWriter(io.BytesIO(), engine="openpyxl") as writer:
            for name, frame in frames.items():
                frame.to_excel(writer, sheet_name=name, index=False)

    return Ratio(ours, best_seconds(write, 1), "s")


@aiming(times=1)
def export_as_json_against_dumping_what_the_loader_gives(material: Material) -> Ratio:
    """`certgen export --format json`, examined and linked, against a loader, jsonschema and `json.dumps`."""
    from measures import check_plainly, load_plainly

    command = ["-m", "certgen", "export", str(material.season), "--format", "json", "--on", "2026-12-31"]
    ours = best_seconds(python([*command, "--out", "-"], allowed=(0, 1)), 2)

    def plainly() -> str:
        check_plainly(material.season)
        return json.dumps(load_plainly(material.season), default=date.isoformat)

    return Ratio(ours, best_seconds(plainly, 1), "s")
