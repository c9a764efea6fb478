"""What a sheet leaves open is asked once on a terminal; a pipe is never asked and gets a map to fill in."""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from typing import TYPE_CHECKING

import openpyxl
import pytest

from certgen import cli

if TYPE_CHECKING:
    from pathlib import Path

COVERS = ("certgen.cli.commands.import_", "certgen.exchange.importing.opening")


def call(*arguments: object) -> tuple[int, str, str]:
    """The exit code of `certgen import`, its output and what it said besides."""
    out, said = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(said):
        code = cli.run(["import", *map(str, arguments)])
    return code, out.getvalue(), said.getvalue()


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A season with a planting."""
    folder = tmp_path / "2027"
    folder.mkdir()
    (folder / "season.yaml").write_text(
        "season:\n  operation: {name: X}\n  label: '2027'\n  from: 2027-01-01\n  to: 2027-12-31\n"
        "  crop: papaya\n  standards: [us-nop]\n"
    )
    (folder / "land.yaml").write_text(
        "blocks:\n  - {block: A, status: organic}\nplantings:\n"
        "  - {planting: P1, block: A, variety: CB, planted: 2026-02-01, material: seed,\n"
        "    material_status: organic}\n"
    )
    return folder


def messy(path: Path, month: int = 3) -> Path:
    """A workbook with titles, totals, words of its own and units in its headings."""
    book = openpyxl.Workbook()
    trees = book.active
    trees.title = "Trees"
    for row in (
        ["Our trees"],
        [],
        ["Tree no", "Sex", "Sky"],
        ["tree 1", "herm", "grey"],
        ["tree 2", "f", None],
    ):
        trees.append(row)
    trees.append(["Total", None, None])
    lots = book.create_sheet("Lots")
    lots.append(["Lot", "Variety", "Packed", "g", "Treated", "From"])
    lots.append([f"L{month}", "CB", f"13/{month}/2027", 50, "no", "R1 20 g; R2 30 g"])
    jottings = book.create_sheet("jottings")
    jottings.append(["call the laboratory"])
    jottings.append(["and the buyer"])
    book.save(path)
    return path


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> object:
    """Makes somebody sit at the terminal who types these lines."""

    def type_lines(*lines: str) -> None:
        monkeypatch.setattr("certgen.cli.commands.import_._is_watched", lambda: True)
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))

    return type_lines


def test_a_pipe_is_not_asked_and_gets_a_map_to_fill_in(season: Path, tmp_path: Path) -> None:
    """Every question in one run, each with its cells; what was passed over and dropped is named."""
    code, out, said = call(season, messy(tmp_path / "book.xlsx"))

    assert 2 == code
    assert '"herm": "?"  # \'herm\', 1 cell, Trees!B4: hermaphrodite?' in out
    assert 'planting: "?"' in out
    assert '{field: tree, drop_prefix: "tree "}' in out
    assert 'table: "?"' in out
    assert "sheet 'Trees': the headings stand in row 3" in said
    assert "sheet 'Trees': totals skipped (A6)" in said
    assert "sheet 'Trees': not taken over: 'Sky'" in said
    assert ["land.yaml", "season.yaml"] == sorted(path.name for path in season.glob("*.yaml"))


MAP = """sheets:
  Trees:
    table: trees
    constants: {planting: P1}
    columns:
      Tree no: {field: tree, drop_prefix: "tree ", digits: 2}
      Sex: {field: sex, words: {herm: hermaphrodite, f: female}}
      Sky: ignore
  Lots:
    table: lots
    constants: {status: organic}
    columns:
      Lot: lot
      Variety: variety
      Packed: packed
      g: {field: weight, unit: g}
      Treated: treatment.treated
      From: {field: sources, entries: ";", cut: " ", fields: [batch, weight]}
  jottings: {table: ignore, columns: {}}
"""


def test_one_map_serves_every_later_month(season: Path, tmp_path: Path) -> None:
    """March and April by the same map; a second time nothing is to be done; what is left out is said."""
    (tmp_path / "map.yaml").write_text(MAP)
    march, april = messy(tmp_path / "march.xlsx"), messy(tmp_path / "april.xlsx", 4)

    code, out, said = call(season, march, "--map", tmp_path / "map.yaml")

    assert (0, True) == (code, "2 records of trees added" in out), said
    assert "sheet 'jottings' is left out, as the map says" in said
    trees = (season / "trees.yaml").read_text()
    assert '- tree: "01"\n    planting: P1\n    sex: hermaphrodite\n' in trees
    assert "R2" in (season / "lots.yaml").read_text()
    code, out, said = call(season, april, "--map", tmp_path / "map.yaml")
    assert (0, True) == (code, "1 record of lots added" in out), said
    before = {path: path.read_bytes() for path in season.rglob("*") if path.is_file()}
    code, out, _ = call(season, april, "--map", tmp_path / "map.yaml")
    assert (0, True) == (code, "Nothing to do." in out)
    assert before == {path: path.read_bytes() for path in season.rglob("*") if path.is_file()}


def test_a_new_word_in_a_later_month_is_one_more_question(season: Path, tmp_path: Path) -> None:
    """The map is printed with all that it held and the question; with --keep-going its row is left out."""
    (tmp_path / "map.yaml").write_text(MAP.replace(", f: female", ""))
    book = messy(tmp_path / "march.xlsx")

    code, out, said = call(season, book, "--map", tmp_path / "map.yaml")

    assert (2, True, True) == (code, '"f": "?"' in out, '"herm": hermaphrodite' in out)
    assert "`sex` says 'f'" in said
    assert not (season / "trees.yaml").exists()
    code, out, _ = call(season, book, "--map", tmp_path / "map.yaml", "--keep-going")
    assert (2, True) == (code, "left out: trees 02" in out)


def test_a_preview_tells_every_field_and_writes_nothing(season: Path, tmp_path: Path) -> None:
    """From what to what, of new records and of those that are there."""
    (tmp_path / "map.yaml").write_text(MAP)
    (season / "trees.yaml").write_text('trees:\n  - {tree: "01", planting: P1, sex: hermaphrodite}\n')
    sheet = tmp_path / "trees.csv"
    sheet.write_text("tree,planting,sex,row\n01,P1,hermaphrodite,3\n")

    code, out, _ = call(season, sheet, "--preview")

    assert (0, True) == (code, "trees 01\n  row: left empty -> '3'\n" in out)
    assert "trees 01 would be changed in trees.yaml" in out
    code, out, _ = call(season, messy(tmp_path / "b.xlsx"), "--map", tmp_path / "map.yaml", "--preview")
    assert "trees 02, new\n  tree: '02'\n  planting: 'P1'\n  sex: 'female'\n" in out
    assert not (season / "lots.yaml").exists()


def test_somebody_is_asked_once_and_the_answers_are_kept(
    season: Path, tmp_path: Path, answers: object
) -> None:
    """Suggestions by one key; what is asked again in April is nothing."""
    kept = tmp_path / "map.yaml"
    book = tmp_path / "trees.xlsx"
    messy(book)
    workbook = openpyxl.load_workbook(book)
    del workbook["Lots"], workbook["jottings"]
    workbook.save(book)
    answers(
        "", "ignore", "", "wrong", "female", "P1"
    )  # right; Sky; herm; f, mistyped and then told; planting

    code, out, said = call(season, book, "--save-map", kept)

    assert (0, True) == (code, "2 records of trees added" in out), said
    assert "Is that right?" in said
    answers()
    code, out, said = call(season, book, "--map", kept)
    assert (0, True) == (code, "Nothing to do." in out), said


def test_a_sheet_of_no_records_is_left_out_for_good(season: Path, tmp_path: Path, answers: object) -> None:
    """Jottings are asked about once; what the map says of other files stays in it."""
    book, kept = tmp_path / "march.xlsx", tmp_path / "map.yaml"
    kept.write_text(MAP.partition("  jottings")[0] + "  Sprays: {table: ignore, columns: {}}\n")
    messy(book)

    code, _, said = call(season, book, "--map", kept)

    assert (0, True) == (code, "Sheet 'jottings' is not in the map and was passed over." in said), said
    sheet = tmp_path / "jottings.csv"
    sheet.write_text("call the laboratory\nand the buyer\n")
    answers("ignore")
    code, out, said = call(season, sheet, "--save-map", tmp_path / "own.yaml")
    assert (0, True) == (code, "Nothing to do." in out), said
    assert "table: ignore" in (tmp_path / "own.yaml").read_text()


def test_a_new_column_in_a_later_month_is_asked_alone(season: Path, tmp_path: Path, answers: object) -> None:
    """What the map tells isn't asked again, and what it says of other files stays in it."""
    kept, sheet = tmp_path / "map.yaml", tmp_path / "april.csv"
    kept.write_text(
        "# mine\nsheets:\n  march:\n    table: trees  # the old ones\n    constants: {planting: P1}\n"
        "    columns: {'No': tree, Sex: sex, Sky: ignore}\n"
    )
    sheet.write_text("No,Sex,Sky,Row\n1,female,grey,4\n")
    answers("")

    code, out, said = call(season, sheet, "--map", kept)

    assert (0, True) == (code, "1 record of trees added" in out), said
    assert "Column 'Sky'" not in said
    assert '"Row": row' in kept.read_text()
    assert kept.read_text().startswith("# mine\nsheets:\n  march:\n    table: trees  # the old ones\n")


def test_answers_before_an_interruption_are_kept(season: Path, tmp_path: Path, answers: object) -> None:
    """They stand in the map, with a `?` for the rest; nothing is written into the season."""
    sheet, kept = tmp_path / "trees.csv", tmp_path / "map.yaml"
    sheet.write_text("Tree no,Sex\ntree 1,herm\n")
    answers("", "hermaphrodite")

    code, _, _ = call(season, sheet, "--table", "trees", "--save-map", kept)

    assert 0 != code
    assert '"herm": hermaphrodite' in kept.read_text()
    assert 'planting: "?"' in kept.read_text()
    assert not (season / "trees.yaml").exists()


def test_an_answer_that_cannot_be_is_asked_again(season: Path, tmp_path: Path, answers: object) -> None:
    """A field that there isn't, one that is taken, and a table that there isn't; a sheet may be left out."""
    sheet, kept = tmp_path / "jottings.csv", tmp_path / "map.yaml"
    sheet.write_text("what,when\nx,z\n")
    answers("tree", "trees", "y", "tre", "tree", "tree", "row", "P1", "unknown")

    code, _, said = call(season, sheet, "--save-map", kept)

    assert 0 == code, said
    assert "Did you mean trees?" in said
    assert "Did you mean tree?" in said
    assert "Another column is `tree` already." in said
    assert (
        "- tree: x\n    planting: P1\n    row: z\n    sex: unknown\n" in (season / "trees.yaml").read_text()
    )


def test_only_what_was_taken_wrong_is_asked_again(season: Path, tmp_path: Path, answers: object) -> None:
    """By its heading; a text joins another column's, and an unknown heading is asked once more."""
    sheet, kept = tmp_path / "trees.csv", tmp_path / "map.yaml"
    sheet.write_text("Tree no,Sex,Remarks,Row\n7,female,leans,windy\n")
    answers("n", "Rwo", "row", "note", "y", "P1")

    code, _, said = call(season, sheet, "--table", "trees", "--save-map", kept)

    assert 0 == code, said
    assert "Did you mean row?" in said
    assert "Column 'Sex'" not in said
    assert "fields that it can be: row, position, removed_because, note, recorded_by; or ignore" in said
    assert "    note: leans; windy\n" in (season / "trees.yaml").read_text()


def test_a_table_that_the_rows_do_not_tell_of_is_left_out(
    season: Path, tmp_path: Path, answers: object
) -> None:
    """Its columns are asked about then."""
    sheet = tmp_path / "bags.csv"
    sheet.write_text("Bag,Tree,picking,picked,fruit\nB1,T1,H1,2027-07-01,1\n")
    answers("n", "n", "bag", "", "", "", "")

    code, out, said = call(season, sheet, "--table", "bagging", "--save-map", tmp_path / "map.yaml")

    assert (0, True) == (code, "1 record of bagging added" in out), said
    assert "the same rows tell of harvests, in rows that have 'picking'" in said
    assert "harvests" not in out
