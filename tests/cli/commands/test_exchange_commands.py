"""The commands that lead into the records and out of them, called as a grower calls them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from printed import call
from printed_packets import line_packet, write_line
from waiting import SECONDS

from certgen.limits import Limits

if TYPE_CHECKING:
    from collections.abc import Callable

COVERS = (
    "certgen.cli.commands.evidence",
    "certgen.cli.commands.export",
    "certgen.cli.commands.import_",
    "certgen.cli.commands.labels",
    "certgen.cli.commands.new",
    "certgen.cli.output",
    "certgen.cli.commands.seal",
    "certgen.cli.commands.verify",
    "certgen.dossier.papers",
    "certgen.exchange.importing",
)
#: Loads as an import's second process does while the first is still starting, and names what it loads later.
LOADING = """
import sys
from pathlib import Path
from certgen.exchange.importing import load
load()
had = set(sys.modules)
from certgen.exchange.importing.opening import open_for_season
from certgen.exchange.importing.plan import plan_import
season, file = map(Path, sys.argv[1:])
sheets = open_for_season(file, season=season, map_file=None, table="", dates="", encoding="utf-8")
assert plan_import(season, sheets.mapped).added
print(*sorted(name for name in set(sys.modules) - had if name.startswith("certgen.exchange")))
"""


@pytest.fixture
def made(tmp_path: Path) -> Callable[..., Path]:
    """Lays out a new season."""

    def make(*options: str) -> Path:
        folder = tmp_path / "new"
        assert call("new", folder, "--operation", "Lantern Gully", "--label", "2027", *options)[0] == 0
        return folder

    return make


def test_a_new_season_can_be_read_and_shows_nothing_yet(made: Callable[..., Path]) -> None:
    """What `new` lays out has no gap and no reading error, and is not taken for a season that is clean."""
    folder = made("--from", "2027-01-01", "--standard", "us-nop,eu")
    code, said = call("check", folder, "--on", "2027-12-31")

    assert (1, []) == (code, list((folder / "evidence").iterdir()))
    assert "There are no records yet, so nothing is shown" in said


def test_a_sheets_own_process_loads_before_it_is_asked(made: Callable[..., Path], tmp_path: Path) -> None:
    """Reading a sheet and trying its records load nothing more of what reads and tries."""
    sheet = tmp_path / "trees.csv"
    sheet.write_text("tree,planting,sex\nT1,P1,female\n", encoding="utf-8")
    typed = [sys.executable, "-c", LOADING, str(made()), str(sheet)]

    assert "" == subprocess.run(typed, capture_output=True, text=True, check=True).stdout.strip()


def test_new_never_overwrites(made: Callable[..., Path]) -> None:
    """A folder with anything in it is left alone."""
    folder = made()
    before = {path.name: path.read_bytes() for path in folder.glob("*.yaml")}

    code, said = call("new", folder, "--operation", "Other")

    assert (2, True) == (code, "is not empty" in said)
    assert before == {path.name: path.read_bytes() for path in folder.glob("*.yaml")}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--operation", "X", "--crop", "papya"], "papaya"),
        (["--operation", "X", "--standard", "us-nob"], "us-nop"),
        (["--operation", "X", "--from", "2027-02-01", "--to", "2027-01-01"], "ends before it begins"),
        ([], '--operation "NAME"'),
    ],
)
def test_new_says_what_to_write(tmp_path: Path, options: list[str], said: str) -> None:
    """A slip is answered with the way out, and no folder is made."""
    code, output = call("new", tmp_path / "x", *options)

    assert (2, True, False) == (code, said in output, (tmp_path / "x").exists())


def test_new_asks_nothing_of_a_script(tmp_path: Path) -> None:
    """Without a terminal and a name, it ends at once."""
    assert 2 == call("new", tmp_path / "x")[0]


def test_from_nothing_to_records_through_a_workbook(made: Callable[..., Path], tmp_path: Path) -> None:
    """Lay out, export an empty workbook, fill in a row, import it, and it is there."""
    import openpyxl

    folder, book = made(), tmp_path / "book.xlsx"
    assert 0 == call("export", folder, "--out", book, "--on", "2027-12-31")[0]
    workbook = openpyxl.load_workbook(book)
    sheet = workbook["blocks"]
    headings = [cell.value for cell in sheet[1]]
    sheet.append(
        ["NORTH" if name == "block" else "organic" if name == "status" else None for name in headings]
    )
    workbook.save(book)

    code, said = call("import", folder, book)

    assert (0, True) == (code, "1 record of blocks added to land.yaml" in said)
    assert "- block: NORTH\n    status: organic\n" in (folder / "land.yaml").read_text()


def test_an_exported_season_imports_as_the_same(example_copy: Path, tmp_path: Path) -> None:
    """The example's workbook, imported into the example, changes nothing."""
    book = tmp_path / "book.xlsx"
    assert 0 == call("export", example_copy, "--out", book, "--on", "2026-12-31")[0]
    before = {path: path.read_bytes() for path in example_copy.rglob("*.yaml")}

    code, said = call("import", example_copy, book)

    assert (0, True) == (code, "Nothing to do." in said)
    assert before == {path: path.read_bytes() for path in example_copy.rglob("*.yaml")}


def test_foreign_headings_are_guessed_shown_and_confirmed(made: Callable[..., Path], tmp_path: Path) -> None:
    """A notebook's own headings: first a guess and nothing else, then the map does it."""
    folder, sheet, saved = made(), tmp_path / "march.csv", tmp_path / "map.yaml"
    before = (folder / "bagging.yaml").read_bytes()
    sheet.write_text("Bag no.,Tree,Date bagged,Remarks\nB1,010,13/4/2027,windy\nB2,7,14/4/2027,\n")

    code, said = call("import", folder, sheet, "--table", "bagging", "--save-map", saved)
    assert (2, True) == (code, '"Date bagged": covered' in said)
    assert before == (folder / "bagging.yaml").read_bytes()

    code, said = call("import", folder, sheet, "--map", saved)

    assert (0, True) == (code, "2 records of bagging added" in said)
    assert (
        '- bag: B1\n    tree: "010"\n    covered: 2027-04-13\n    note: windy\n'
        in (folder / "bagging.yaml").read_text()
    )


def test_a_dry_run_writes_nothing(made: Callable[..., Path], tmp_path: Path) -> None:
    """It says what would be done."""
    folder, sheet = made(), tmp_path / "blocks.csv"
    sheet.write_text("block,status\nA,organic\n")
    before = (folder / "land.yaml").read_bytes()

    code, said = call("import", folder, sheet, "--dry-run")

    assert (0, True, before) == (code, "would be added" in said, (folder / "land.yaml").read_bytes())


@pytest.mark.parametrize("form", ["xlsx", "csv", "json", "epcis", "prov", "sarif"])
def test_exports_are_the_same_each_time(example_copy: Path, tmp_path: Path, form: str) -> None:
    """Same records, same day, same bytes, laid over those of before; a file that changed stays."""
    files = [tmp_path / "one", tmp_path / "two"]
    for file in files:
        assert 0 == call("export", example_copy, "--format", form, "--out", file, "--on", "2026-12-31")[0]

    assert files[0].read_bytes() == files[1].read_bytes()
    assert 0 == call("export", example_copy, "--format", form, "--out", files[0], "--on", "2026-12-30")[0]
    changed = files[1].read_bytes()[:-1]
    files[1].write_bytes(changed)
    assert 2 == call("export", example_copy, "--format", form, "--out", files[1], "--on", "2026-12-31")[0]
    assert changed == files[1].read_bytes()


@pytest.mark.parametrize("kind", ["tags", "samples", "lots", "bagging-round", "sample-round", "calibration"])
def test_each_kind_of_paper_is_a_pdf(example_copy: Path, tmp_path: Path, kind: str) -> None:
    """Every kind of field paper is set from the example."""
    code, said = call(
        "labels", example_copy, "--kind", kind, "--out", tmp_path / "x.pdf", "--on", "2026-12-31"
    )

    assert (0, b"%PDF-", True) == (code, (tmp_path / "x.pdf").read_bytes()[:5], "100 %" in said)


def test_evidence_is_added_and_named(example_copy: Path, tmp_path: Path) -> None:
    """The file lies in the folder, the record names it, and nothing else of the record's file has changed."""
    scan = tmp_path / "scan.txt"
    scan.write_text("letter")
    before = (example_copy / "lots.yaml").read_text()
    lot = before.split("lot: ", 1)[1].split()[0]

    code, said = call(
        "evidence", example_copy, "--add", scan, "--to", f"lots:{lot}", "--as", "letters/scan.txt"
    )

    assert (0, True) == (code, f"Named by lots {lot} in lots.yaml" in said)
    assert "letter" == (example_copy / "evidence/letters/scan.txt").read_text()
    added = [
        line
        for line in (example_copy / "lots.yaml").read_text().splitlines()
        if line not in before.splitlines()
    ]
    assert ["letters/scan.txt" in line for line in added] == [True]
    assert 2 == call("evidence", example_copy, "--add", scan, "--to", f"lots:{lot}", "--as", "../x")[0]


def test_a_paper_of_many_records_is_seen_before_it_is_named(example_copy: Path, tmp_path: Path) -> None:
    """A preview writes nothing; then all of it is one change, and the whole letter is named once."""
    scan = tmp_path / "scan.txt"
    scan.write_text("letter")
    asked = (
        "evidence",
        example_copy,
        "--add",
        scan,
        "--to",
        "screening:S26-043..S26-044",
        "--to",
        "lots:AK-26-1",
    )
    before = {path: path.read_bytes() for path in example_copy.rglob("*") if path.is_file()}

    code, said = call(*asked, "--preview")
    assert (0, True, True) == (
        code, "Would be named by screening S26-043 and S26-044 in" in said, "Nothing was written." in said
    )  # fmt: skip
    assert before == {path: path.read_bytes() for path in example_copy.rglob("*") if path.is_file()}
    code, said = call(*asked)
    assert (0, True) == (code, "Named by lots AK-26-1 in lots.yaml." in said)
    assert "certgen evidence" in call("history", example_copy)[1]
    code, said = call(*asked)
    assert (0, True) == (code, "All of it was there already" in said)
    code, said = call(
        "evidence", example_copy, "--add", scan, "--to", "screening:S26-001..S26-024", "--preview"
    )
    assert (0, True) == (code, "all that letter BF-26-0031 speaks of" in " ".join(said.split()))
    assert 2 == call("evidence", example_copy, "--preview")[0]


def test_evidence_lists_what_has_no_paper(example_copy: Path) -> None:
    """A result without a letter and a sale without a document, each by its number; exit code 1."""
    code, said = call("evidence", example_copy)

    assert (1, True, True) == (code, "screening S26-044" in said, "movements M26-042" in said)


def test_sign_and_verify(tmp_path: Path) -> None:
    """A packet is made, signed with a new key, and verified; a changed byte and another key are found."""
    season, report, key = write_line(tmp_path / "season"), tmp_path / "report.pdf", tmp_path / "orchard.key"

    assert 0 == call("seal", "--new-key", key)[0]
    report.write_bytes(line_packet())
    assert 0 == call("seal", report, "--key", key)[0]
    code, said = call("verify", report, "--key", f"{key}.pub", "--against", season)
    assert (0, True, True) == (code, "the same to the last byte" in said, "claims to be" in said)
    assert 1 == call("verify", report, "--key", "ab" * 32, "--quick")[0]
    changed = bytearray(report.read_bytes())
    changed[len(changed) // 2] ^= 1
    (tmp_path / "changed.pdf").write_bytes(changed)
    assert 0 != call("verify", tmp_path / "changed.pdf")[0]


def test_a_sheet_past_its_limits_is_refused_by_name(
    example_copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is named with the limit and a way out, and nothing is written."""
    sheet = tmp_path / "bags.csv"
    sheet.write_text("bag,tree\n" + "B1,T1\n" * 200_000)
    before = {path: path.read_bytes() for path in example_copy.rglob("*") if path.is_file()}
    monkeypatch.setattr("certgen.cli.commands.import_.LIMITS", Limits(SECONDS, 40))
    code, said = call("import", example_copy, sheet, "--table", "bagging")
    assert 2 == code
    assert "bags.csv needs more than the 40 MB of memory that it is given; split it" in " ".join(said.split())
    assert before == {path: path.read_bytes() for path in example_copy.rglob("*") if path.is_file()}
