"""Every output that goes where hands meet the work bears the cautions of that work.

One row an output. Whoever adds a sheet, a form or a list adds its row; `test_every_sheet_is_in_the_table`
and its neighbours notice what is missing.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import shutil
from typing import TYPE_CHECKING, Final

import openpyxl
import pytest
from pages import text_of

from certgen import cli
from certgen.examination import examine
from certgen.exchange.field_paper.paper_kinds import KINDS
from certgen.report.chapters.land import build_cautions
from certgen.report.context import Context
from certgen.standards import load_profile, pieces_of_work

if TYPE_CHECKING:
    from pathlib import Path

COVERS = (
    "certgen.standards.cautions",
    "certgen.dossier.cautions",
    "certgen.exchange.field_paper.field_sheets",
    "certgen.exchange.editing.skeleton",
    "certgen.exchange.spreadsheets.workbook",
    "certgen.cli.writers.due",
    "certgen.cli.writers.sample",
    "certgen.cli.commands.labels",
)
PAPAYA: Final = load_profile("papaya").cautions
#: Field sheets (`labels --kind`), the day they are printed for, and their work.
FIELD_SHEETS: Final = [
    ("sample-round", "2026-03-10", ["leaf round"]),
    ("submission-sheet", "2026-01-08", ["laboratory"]),
    ("split-receipt", "2026-09-22", ["leaf round"]),
    ("bagging-round", "2026-03-10", ["bag round"]),
    ("check-round", "2026-03-10", ["bag round"]),
    ("uncovering-round", "2026-03-10", ["bag round"]),
    ("picking-list", "2026-06-10", ["picking"]),
    ("run-sheet", "2026-06-20", ["extraction", "cleaning", "drying"]),
    ("drying-log", "2026-06-20", ["drying"]),
]
#: Lists on the terminal, as text, JSON and (of a sample) CSV.
LISTS: Final = [
    (["due", "--on", "2026-03-01"], ["bag round", "picking"]),
    (["due", "--on", "2026-06-01"], ["bag round", "picking"]),
    (["sample", "--of", "trees", "--records", "--seed", "rain at noon", "--size", "3"], ["leaf round"]),
    (["sample", "--of", "bags", "--records", "--seed", "rain at noon", "--size", "3"], ["bag round"]),
    (["sample", "--of", "seed", "--lot", "AK-26-1", "--detect", "0.5 %"], ["laboratory"]),
]
#: Tables, by the work at which their records are written: a form of `new`, a sheet of the workbook.
TABLES: Final = [
    ("screening", ["leaf round", "laboratory"]),
    ("rounds", ["leaf round", "bag round", "picking"]),
    ("bagging", ["bag round"]),
    ("harvests", ["picking"]),
    ("batches", ["extraction", "drying", "treated seed"]),
    ("cleaning", ["cleaning"]),
    ("tests", ["laboratory"]),
    ("inputs", ["sprays"]),
    ("plantings", ["treated seed"]),
    ("lots", ["treated seed"]),
]
#: Kinds of paper without: too small for words, or nobody works by them.
BARE: Final = {"tags", "samples", "lots", "calibration"}


def lines(work: list[str]) -> list[str]:
    """The short forms of some work's cautions, each with whose word counts."""
    return [one.line for one in PAPAYA.at(*work)]


@pytest.mark.parametrize(("kind", "day", "work"), FIELD_SHEETS)
def test_field_sheets(kind: str, day: str, work: list[str], example_season: Path, tmp_path: Path) -> None:
    """Printed above the first row."""
    out = tmp_path / "sheet.pdf"
    assert 0 == cli.run(["labels", str(example_season), "--kind", kind, "--on", day, "--out", str(out)])
    shown = text_of(out.read_bytes())

    assert [] == [one for one in lines(work) if one.replace(": ", ". ", 1) not in shown]


@pytest.mark.parametrize(("arguments", "work"), LISTS)
def test_lists_as_text(
    arguments: list[str], work: list[str], example_season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In whole sentences, wrapped to the terminal."""
    command, *rest = arguments
    cli.run([command, str(example_season), *rest])
    shown = " ".join(capsys.readouterr().out.split())

    assert [] == [one for one in lines(work) if f"Caution. {one}" not in shown]


@pytest.mark.parametrize(("arguments", "work"), LISTS)
def test_lists_as_json(
    arguments: list[str], work: list[str], example_season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Under `cautions`: of a sample all of them, of what is due by subject."""
    command, *rest = arguments
    cli.run([command, str(example_season), *rest, "--format", "json"])
    said = json.loads(capsys.readouterr().out)["cautions"]
    told = said if command == "sample" else [one for some in said.values() for one in some]

    assert {f"{one['title']}: {one['text']} This defers to {one['defers_to']}." for one in told} == set(
        lines(work)
    )


@pytest.mark.parametrize(("arguments", "work"), [row for row in LISTS if row[0][0] == "sample"])
def test_the_sample_sheet_as_csv(
    arguments: list[str], work: list[str], example_season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a column of their own, for this one is printed and taken along too."""
    command, *rest = arguments
    cli.run([command, str(example_season), *rest, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert {" ".join(lines(work))} == {row["cautions"] for row in rows}


@pytest.mark.parametrize(("table", "work"), TABLES)
def test_forms_of_a_new_season(table: str, work: list[str], forms: str) -> None:
    """In the comment above the table's first line."""
    above = re.split(rf"^{table}:\n", forms, maxsplit=1, flags=re.MULTILINE)[0].rpartition("\n\n")[2]
    said = " ".join(above.replace("\n#", " ").split())

    assert [] == [one for one in lines(work) if f"Caution. {one}" not in said]


@pytest.fixture(scope="module")
def forms(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What `certgen new` writes, file after file."""
    folder = tmp_path_factory.mktemp("new") / "2027"
    assert 0 == cli.run(["new", str(folder), "--operation", "Larkfold Seed Orchard"])
    return "".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.yaml")))


@pytest.fixture(scope="module")
def workbook(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    """What `certgen export` writes, to be filled in."""
    out = tmp_path_factory.mktemp("book") / "season.xlsx"
    assert 0 == cli.run(["export", str(example_season), "--empty", "--out", str(out)])
    return openpyxl.load_workbook(out)


@pytest.mark.parametrize(("table", "work"), TABLES)
def test_sheets_of_the_workbook(table: str, work: list[str], workbook: openpyxl.Workbook) -> None:
    """In the note on the first heading, and by their titles at the head of each printed page."""
    sheet = workbook[table]
    head = sheet.oddHeader.left.text

    assert [] == [one for one in lines(work) if f"Caution. {one}" not in sheet["A1"].comment.text]
    assert [] == [one.title for one in PAPAYA.at(*work) if one.title.casefold() not in head.casefold()]
    assert 255 >= len(head)


def test_the_report_has_all_of_them_in_full(example_season: Path) -> None:
    """In the chapter on method."""
    section = build_cautions(Context(examine(example_season, dt.date(2026, 11, 25))))
    assert section is not None
    (part,) = section.parts

    assert [f"{one.long} This defers to {one.defers_to}." for one in PAPAYA.all] == [
        one.text for pair in part.pairs for one in pair
    ]


def test_lot_labels_only_where_seed_is_treated(example_copy: Path, tmp_path: Path) -> None:
    """On the label of the treated lot, and of no other."""
    lots = example_copy / "lots.yaml"
    text = lots.read_text(encoding="utf-8")
    said = "- lot: AK-26-1\n    treatment: {treated: yes, with: hot water}\n"
    lots.write_text(text.replace("- lot: AK-26-1\n", said, 1), encoding="utf-8")
    shown = {}
    for lot in ("AK-26-1", "RC-26-1"):
        out = tmp_path / f"{lot}.pdf"
        code = cli.run(["labels", str(example_copy), "--kind", "lots", "--only", lot, "--out", str(out)])
        assert 0 == code
        shown[lot] = text_of(out.read_bytes())

    (caution,) = PAPAYA.at("treated seed")
    assert ("Treated with hot water" in shown["AK-26-1"], caution.short in shown["AK-26-1"]) == (True, True)
    assert "reated" not in shown["RC-26-1"]


def test_who_prints_lot_labels_hears_of_silence(
    example_season: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A label says nothing where the records say nothing, and the terminal says that it does so."""
    out = str(tmp_path / "lots.pdf")
    cli.run(["labels", str(example_season), "--kind", "lots", "--only", "AK-26-1", "--out", out])

    assert "No record says whether lot AK-26-1 was treated" in " ".join(capsys.readouterr().out.split())


def test_every_sheet_is_in_the_table() -> None:
    """A kind of paper that is added bears cautions or is named as one that needs none."""
    assert set(KINDS) == {kind for kind, _, _ in FIELD_SHEETS} | BARE


def test_every_table_with_cautions_is_in_the_table() -> None:
    """As the data has it, and every piece of work reaches some sheet, form or list."""
    tables = {
        table: [work.key for work in pieces_of_work().values() if table in work.tables] for table, _ in TABLES
    }

    assert dict(TABLES) == {
        name: sorted(work, key=list(pieces_of_work()).index) for name, work in tables.items()
    }
    assert {name for name, _ in TABLES} == {t for work in pieces_of_work().values() for t in work.tables}
    reached = {one for _, _, work in FIELD_SHEETS for one in work} | {
        one for _, work in TABLES for one in work
    }
    assert set(pieces_of_work()) == reached


def test_cautions_do_not_hinder_the_way_back(example_season: Path, tmp_path: Path) -> None:
    """A workbook with its notes is read in again as it was, and so are the forms."""
    folder = tmp_path / "season"
    shutil.copytree(example_season, folder)
    book = tmp_path / "book.xlsx"
    assert 0 == cli.run(["export", str(folder), "--out", str(book)])

    assert 0 == cli.run(["import", str(folder), str(book), "--dry-run"])
