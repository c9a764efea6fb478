"""What goes out comes in again unchanged, and what cannot come in whole does not come in at all."""

from __future__ import annotations

import datetime as dt
import io
import tempfile
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from seasons import TYPED, write_season

from certgen.exchange.editing.skeleton import Beginning, lay_out
from certgen.exchange.editing.yaml_text import render_fields, render_record
from certgen.exchange.importing.opening import open_spreadsheet
from certgen.exchange.importing.plan import ImportPlan, plan_import
from certgen.exchange.importing.trial import ImportRefusedError
from certgen.exchange.spreadsheets.rows import records_of
from certgen.exchange.spreadsheets.workbook import build_workbook
from certgen.records.tables import load_tables
from certgen.standards import load_profile
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from certgen.records import Season

COVERS = (
    "certgen.exchange.importing.assembly",
    "certgen.exchange.spreadsheets.rows",
    "certgen.exchange.importing.opening",
    "certgen.exchange.importing.trial",
    "certgen.exchange.editing.yaml_text",
)
TREES = """# the register, walked in January
trees:
  # row one starts at the gate
  - tree: "010"
    planting: P1   # from own seed
    sex: hermaphrodite
    note: >-
      leans
      a little

  # the bent one
  - {tree: NO, planting: P1, sex: female}

# end of the register
"""


def season_in(folder: Path, **files: str) -> Path:
    """A season's folder with the files given, `trees` for `trees.yaml`."""
    folder.mkdir(exist_ok=True)
    (folder / "season.yaml").write_text(TYPED)
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text)
    return folder


def read(folder: Path) -> Season:
    """The season in a folder, which must hold no fault."""
    season, errors = read_case(folder)
    assert [] == [error.text() for error in errors]
    assert season is not None
    return season


def records(season: Season) -> dict[str, list[dict[str, object]]]:
    """Every record of every table, and the season's mapping."""
    found = {
        name: [season.record_at(name, row) for row in range(len(season.tables[name]))]
        for name in load_tables()
    }
    return {"season": [dict(season.details.raw)], **found}


def bring(folder: Path, file: Path, **options: bool) -> ImportPlan:
    """Plan the import of a file of our own headings, and carry it out if it has anything to write."""
    sheets = open_spreadsheet(file)
    assert [] == sheets.guessed
    plan = plan_import(folder, sheets.mapped, season_sheet=sheets.season, **options)
    plan.carry_out()
    return plan


def csv_file(folder: Path, name: str, text: str) -> Path:
    """A CSV file."""
    path = folder / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    return path


# Shrinking a whole season takes minutes; what was drawn is small enough to read.
UNSHRUNK = (Phase.explicit, Phase.reuse, Phase.generate)
# Words that spreadsheets, YAML readers and formulas like to take for something else.
TRICKY = [
    "010",
    "NO",
    "12:30",
    "1e3",
    "=1+1",
    "-",
    "~",
    "null",
    "'",
    "a; b",
    "a\\",
    "yes",
    "0x1f",
    "2026-01-02",
    "1_000",
]
TEXTS = st.one_of(
    st.sampled_from(
        [
            *TRICKY,
            "a: b",
            "# c",
            "- d",
            "line\nline",
            " lead",
            "trail ",
            "x\x07y",
            "_x0041_",
            "\r\nq",
            "é…",
            "@a",
            "\x85",
            "\u00a0",
        ]
    ),
    st.text(
        st.characters(exclude_categories=["Cs"], exclude_characters="\ufeff"), min_size=1, max_size=20
    ).filter(lambda text: text.strip(" \t\r\n") != ""),
)
IDENTIFIERS = st.one_of(
    st.sampled_from(["010", "NO", "1e3", "0x1f", "-", "1/2", "-1", "y", "1.0", "..", "2026-01-02"]),
    st.from_regex(r"[A-Za-z0-9._/-]{1,12}", fullmatch=True),
)
DATES = st.dates(dt.date(1890, 1, 1), dt.date(2100, 1, 1))
MASSES = st.builds(lambda n, u: f"{n} {u}", st.integers(0, 99999), st.sampled_from(["g", "kg", "oz", "mg"]))


def options_of(field: object, words: dict[str, tuple[str, ...]]) -> st.SearchStrategy[object]:
    """Values that a field takes."""
    listed = words.get(field.words, ()) or field.enum
    if listed:
        return st.sampled_from(list(listed))
    quantities = {
        "mass": MASSES,
        "temperature": st.integers(-40, 90).map(lambda n: f"{n} °C"),
        "length": st.decimals(0, 999, places=2).map(lambda n: f"{n} mm"),
        "duration": st.integers(0, 99).map(lambda n: f"{n} h"),
        "percent": st.decimals(0, 100, places=1).map(lambda n: f"{n} %"),
        "area": st.integers(0, 99).map(lambda n: f"{n} ha"),
    }
    if field.kind in quantities:
        return quantities[field.kind]
    if field.kind == "list" and field.item.kind == "mapping":
        return st.lists(mapping_of(field.item.fields, words), min_size=1, max_size=3)
    if field.kind in {"list", "evidence"}:
        # A list's entries are parted by semicolons and line feeds, with blanks around them of no meaning.
        one = options_of(field.item, words)
        return st.lists(one, min_size=1, max_size=3, unique=True).filter(
            lambda many: all(
                not isinstance(x, str) or ("\n" not in x and "\r" not in x and x == x.strip()) for x in many
            )
        )
    return {
        "identifier": IDENTIFIERS,
        "text": TEXTS,
        "word": TEXTS,
        "date": DATES,
        "whole": st.integers(0, 999),
        "number": st.floats(0, 999).map(lambda n: round(n, 3)),
        "yes_no": st.booleans(),
    }[field.kind]


def mapping_of(
    fields: dict[str, object], words: dict[str, tuple[str, ...]]
) -> st.SearchStrategy[dict[str, object]]:
    """A mapping with all its needed fields and some of the others."""
    needed = {name: one_of(field, words) for name, field in fields.items() if field.required}
    others = {name: one_of(field, words) for name, field in fields.items() if not field.required}
    return st.fixed_dictionaries(needed, optional=others)


def one_of(field: object, words: dict[str, tuple[str, ...]]) -> st.SearchStrategy[object]:
    """A value of a field, nested ones too."""
    return (
        mapping_of(field.fields, words)
        if field.kind == "mapping" and field.fields
        else options_of(field, words)
    )


@cache
def many_of(name: str) -> st.SearchStrategy[list[dict[str, object]]]:
    """A few records of a table; to make a strategy of its fields takes longer than to draw from it."""
    return st.lists(
        mapping_of(load_tables()[name].fields, dict(load_profile("papaya").words)), min_size=1, max_size=3
    )


@st.composite
def tables_of_records(draw: st.DrawFn) -> dict[str, list[dict[str, object]]]:
    """A few records in a few tables, with every kind of value that the schemas know.

    A workbook has all sheets whatever it holds: each holds twice as many tables, and there are half as many.
    """
    names = draw(st.lists(st.sampled_from(list(load_tables())), min_size=2, max_size=6, unique=True))
    found = {}
    for name in names:
        table = load_tables()[name]
        many = draw(many_of(name))
        kept = {str(record.get(table.key, i)): record for i, record in enumerate(many)}
        found[name] = list(kept.values())
    return found


@given(tables_of_records())
@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck), phases=UNSHRUNK)
def test_a_season_survives_the_workbook(tables: dict[str, list[dict[str, object]]]) -> None:
    """Any sound record, written to a workbook and imported into an empty folder, is the same record.

    What came in once is there already: no byte of any file changes, with leave to replace or without.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = season_in(Path(name) / "in")
        for table, many in tables.items():
            lines = [line.text for record in many for line in render_record(record, 2)]
            (folder / f"{table}.yaml").write_text("\n".join([f"{table}:", *lines]) + "\n", newline="\n")
        season, _ = read_case(folder)  # records that break a rule of their schema are left out
        assert season is not None
        (folder / "book.xlsx").write_bytes(build_workbook(season, load_profile("papaya")))

        plan = bring(Path(name) / "out", folder / "book.xlsx")

        assert [] == [fault.text() for fault in plan.faults]
        assert records(season) == records(read(Path(name) / "out"))
        for replace in (False, True):
            again = bring(Path(name) / "out", folder / "book.xlsx", replace=replace)
            assert ([], {}) == ([fault.text() for fault in again.faults], again.contents)


SIGNERS = [
    {"party": "Sallow Reach Seed Exchange", "key": "8c1f" * 16, "told_by": "M. Sallow", "date": "2026-02-20"},
    {"party": "Tarrowmere Seed Exchange", "key": "0a9e" * 16, "told_by": "P. Tarrow", "date": "2026-02-21"},
]


def book_with_signers(tmp_path: Path) -> Path:
    """A workbook of a season that knows two signers, whose numbers a person has changed to 3 and 7."""
    write_season(
        tmp_path, details={"known_signers": SIGNERS, "practice": {"rinses": {"low": 2, "reason": "a"}}}
    )
    season, errors = read_case(tmp_path)
    assert season is not None, errors
    book = openpyxl.load_workbook(io.BytesIO(build_workbook(season, load_profile("papaya"))))
    for cell in book["season"]["A"]:
        for number, changed in (("1", "3"), ("2", "7")):
            cell.value = str(cell.value).replace(f"known_signers.{number}.", f"known_signers.{changed}.")
    file = tmp_path / "book.xlsx"
    book.save(file)
    return file


def test_lists_of_a_seasons_records_survive_the_workbook(tmp_path: Path) -> None:
    """Each of them by its number; only the order of the numbers counts."""
    file = book_with_signers(tmp_path)

    assert [] == bring(tmp_path / "out", file).faults
    assert read(tmp_path).details.raw == read(tmp_path / "out").details.raw
    assert SIGNERS == read(tmp_path / "out").details.raw["known_signers"]


@pytest.mark.parametrize(
    ("name", "column", "typed", "said"),
    [
        ("known_signers.3.party", 0, "known_signers.3.name", "a season has no field `known_signers.3.name`"),
        ("known_signers.3.party", 0, "known_signers.0.party", "a season has no field"),
        ("known_signers.3.party", 0, "known_signers.party", "a season has no field"),
    ],
)
def test_a_fault_in_a_list_of_the_seasons_is_told_at_its_cell(
    tmp_path: Path, name: str, column: int, typed: str, said: str
) -> None:
    """Whatever the number that it bears there."""
    file = book_with_signers(tmp_path)
    book = openpyxl.load_workbook(file)
    cell = {str(row[0].value): row for row in book["season"].iter_rows()}[name][column]
    cell.value = typed
    book.save(file)

    (fault, *_) = bring(tmp_path / "out", file).faults

    assert f"sheet 'season', cell {cell.coordinate}: " in fault.text()
    assert said in fault.text()


def test_a_record_of_the_seasons_that_is_refused_is_told_at_its_first_row(tmp_path: Path) -> None:
    """A key that is none, of the second signer's."""
    file = book_with_signers(tmp_path)
    book = openpyxl.load_workbook(file)
    rows = {str(row[0].value): row for row in book["season"].iter_rows()}
    rows["known_signers.7.key"][1].value = "no key at all"
    book.save(file)

    (fault,) = bring(tmp_path / "out", file).faults

    first = rows["known_signers.7.party"][1].coordinate
    assert fault.text().startswith(f"sheet 'season', cell {first}: `key` says 'no key at all'")


@given(st.dictionaries(st.sampled_from(["a", "b", "c"]), TEXTS, min_size=1))
@settings(max_examples=200, deadline=None)
def test_rendered_text_is_read_back(values: dict[str, str]) -> None:
    """What is written as YAML comes out of another YAML reader as the same text."""
    import yaml

    assert values == yaml.safe_load("\n".join(line.text for line in render_fields(values, 0)))


def test_comments_and_bytes_survive_added_records(tmp_path: Path) -> None:
    """New records stand behind the last one; every byte that was there is still there, in its order."""
    folder = season_in(tmp_path / "s", trees=TREES)

    bring(folder, csv_file(tmp_path, "trees", "tree,planting,sex\n017,P1,Hermaphrodite\n"))

    new = '  - tree: "017"\n    planting: P1\n    sex: hermaphrodite\n'
    before, after = TREES.split("\n# end", 1)
    assert f"{before}{new}\n# end{after}" == (folder / "trees.yaml").read_text()


def test_windows_line_ends_and_byte_order_mark_survive(tmp_path: Path) -> None:
    """A file saved by an editor that adds a mark and carriage returns keeps both, and new lines match."""
    folder = season_in(tmp_path / "s")
    old = b"\xef\xbb\xbftrees:\r\n  - tree: A\r\n    planting: P1\r\n    sex: female\r\n"
    (folder / "trees.yaml").write_bytes(old)

    bring(folder, csv_file(tmp_path, "trees", "tree,planting,sex\nB,P1,male\n"))

    assert (
        old + b"  - tree: B\r\n    planting: P1\r\n    sex: male\r\n" == (folder / "trees.yaml").read_bytes()
    )


def test_existing_records_are_not_overwritten(tmp_path: Path) -> None:
    """The same record again is skipped; one that differs is a fault that shows both, and nothing is
    written.
    """
    folder = season_in(tmp_path / "s", trees=TREES)
    sheet = csv_file(tmp_path, "trees", "tree,planting,sex\nNO,P1,female\n010,P1,male\nnew,P1,male\n")

    plan = bring(folder, sheet)

    assert (1, {}) == (plan.same, plan.contents)
    assert ["C3"] == [fault.cell for fault in plan.faults]
    assert "'hermaphrodite', and here it is 'male'" in plan.faults[0].reason
    assert TREES == (folder / "trees.yaml").read_text()


def test_replacing_changes_the_field_and_nothing_else(tmp_path: Path) -> None:
    """With leave to replace, the one value is exchanged where it stands, in block and in braces."""
    folder = season_in(tmp_path / "s", trees=TREES)

    bring(
        folder,
        csv_file(tmp_path, "trees", "tree,planting,sex,row\nNO,P1,male,\n010,P1,unknown,7\n"),
        replace=True,
    )

    expected = (
        TREES.replace("{tree: NO, planting: P1, sex: female}", "{tree: NO, planting: P1, sex: male}")
        .replace("sex: hermaphrodite\n", "sex: unknown\n")
        .replace("a little\n", 'a little\n    row: "7"\n')
    )
    assert expected == (folder / "trees.yaml").read_text()


def test_keep_going_takes_the_sound_ones_and_names_the_rest(tmp_path: Path) -> None:
    """Told to keep going, the sound records are written and the others named."""
    folder = season_in(tmp_path / "s", trees=TREES)
    sheet = csv_file(tmp_path, "trees", "tree,planting,sex\n017,P1,female\n018,P1,purple\n")

    plan = bring(folder, sheet, keep_going=True)

    assert (["trees 018"], [("trees 017", "trees.yaml")]) == (plan.left_out, plan.added)
    assert 3 == len(read(folder).tables["trees"])


@pytest.mark.parametrize(
    ("text", "cell", "said"),
    [
        ("bag,tree,covered\nB1,T1,2026-02-30\n", "C2", "no day of the calendar"),
        ("bag,tree,covered\nB1,T1,3/4/2026\n", "C2", "--dates dmy or --dates mdy"),
        ("bag,tree,covered\nB 1,T1,2026-02-03\n", "A2", "letters, digits"),
        ("bag,tree,covered\nB1,,2026-02-03\n", "A2", "`tree` is missing"),
        ("bag,tree,covered,secured\nB1,T1,2026-02-03,perhaps\n", "D2", "yes or no"),
        ("bag,tree,covered\nB1,T1,2026-02-03\nB1,T2,2026-02-03\n", "A3", "stands already in cell A2"),
        ("bag,tree,covered,stage\nB1,T1,2026-02-03,bud\n", "D2", "write one of"),
    ],
)
def test_each_fault_names_its_cell(tmp_path: Path, text: str, cell: str, said: str) -> None:
    """A fault in a sheet is led back to its cell, with the reader's reason; nothing is written."""
    folder = season_in(tmp_path / "s")

    plan = bring(folder, csv_file(tmp_path, "bagging", text))

    assert [(cell, {})] == [(fault.cell, plan.contents) for fault in plan.faults]
    assert said in plan.faults[0].reason
    assert ["season.yaml"] == sorted(path.name for path in folder.iterdir())


def test_a_broken_season_takes_nothing(tmp_path: Path) -> None:
    """While records of the folder cannot be read, an import could double them; it is refused."""
    folder = season_in(tmp_path / "s", trees="trees:\n  - tree: A\n")

    with pytest.raises(ImportRefusedError, match="mend these first") as refused:
        bring(folder, csv_file(tmp_path, "trees", "tree,planting,sex\nB,P1,male\n"))

    assert {"trees.yaml"} == {error.file for error in refused.value.errors}


def test_a_new_season_takes_records_into_its_laid_out_files(tmp_path: Path) -> None:
    """Records go below the table's name in the file laid out for them, and the explanations stay."""
    folder = tmp_path / "s"
    lay_out(folder, Beginning("X", "2026", dt.date(2026, 1, 1), dt.date(2026, 12, 31), "papaya", ("us-nop",)))
    before = (folder / "trees.yaml").read_text()

    plan = bring(
        folder, csv_file(tmp_path, "screening", "sample,tree,collected,method\nS1,T1,2026-02-03,gus\n")
    )

    assert [("screening S1", "trees.yaml")] == plan.added
    put_in = "  - sample: S1\n    tree: T1\n    collected: 2026-02-03\n    method: gus\n"
    assert before.replace("\nscreening:\n", f"\nscreening:\n{put_in}") == (folder / "trees.yaml").read_text()


def test_records_taken_by_the_column_are_those_taken_by_the_row(example_season: Path) -> None:
    """The quick way to all records of a table gives what the season gives for each row."""
    season, _ = read_case(example_season)
    assert season is not None

    for name in load_tables():
        assert [season.record_at(name, row) for row in range(len(season.tables[name]))] == records_of(
            season, name
        )


BAGS = """bagging:
  - bag: B1
    tree: "010"
    covered: 2026-03-01
    tag: {date: 2026-03-01}
    checks:
      - {date: 2026-03-08, condition: intact}
    note: tied by hand, with the blue string   # as always
"""


def test_a_blank_is_filled_and_a_blank_erases_nothing(tmp_path: Path) -> None:
    """The weekly job needs no leave to replace, and what was written by hand stays to the letter."""
    folder = season_in(tmp_path / "s", bagging=BAGS)
    sheet = csv_file(
        tmp_path, "bagging", "bag,tree,tag.variety,uncovered,outcome,note\nB1,010,CB,2026-07-01,set,\n"
    )

    plan = bring(folder, sheet)

    assert ([], [("bagging B1", "bagging.yaml")]) == (plan.faults, plan.changed)
    text = (folder / "bagging.yaml").read_text()
    assert "note: tied by hand, with the blue string   # as always\n" in text
    assert {"date": dt.date(2026, 3, 1), "variety": "CB"} == read(folder).record_at("bagging", 0)["tag"]
    assert [("bagging B1", ["outcome", "tag.variety", "uncovered"])] == [
        (one.record, sorted(field.field for field in one.fields)) for one in plan.list_fields()
    ]


def test_a_weekly_sheet_need_not_say_what_is_recorded(tmp_path: Path) -> None:
    """Only the bag's number and what became of it; a bag that isn't there still needs its tree."""
    folder = season_in(tmp_path / "s", bagging=BAGS)

    plan = bring(folder, csv_file(tmp_path, "bagging", "bag,uncovered,outcome\nB1,2026-07-01,set\n"))

    assert ([], [("bagging B1", "bagging.yaml")]) == (plan.faults, plan.changed)
    assert 'tree: "010"\n' in (folder / "bagging.yaml").read_text()
    (fault,) = bring(folder, csv_file(tmp_path, "bagging", "bag,outcome\nB9,set\n")).faults
    assert ("A2", True) == (fault.cell, "`tree` is missing" in fault.reason)


@pytest.mark.parametrize("replace", [False, True])
def test_an_emptied_row_changes_nothing(tmp_path: Path, *, replace: bool) -> None:
    """Not even with leave to replace."""
    folder = season_in(tmp_path / "s", bagging=BAGS)

    plan = bring(folder, csv_file(tmp_path, "bagging", "bag,tree,covered,note\nB1,,,\n"), replace=replace)

    assert (1, {}) == (plan.same, plan.contents)


def test_this_weeks_checks_join_last_weeks(tmp_path: Path) -> None:
    """A sheet of one week's checks doesn't take the others away."""
    folder = season_in(tmp_path / "s", bagging=BAGS)
    book = openpyxl.Workbook()
    book.active.title = "bagging"
    for row in (["bag", "tree"], ["B1", "010"]):
        book.active.append(row)
    checks = book.create_sheet("bagging.checks")
    for row in (["in bag", "date", "condition"], ["B1", "2026-03-15", "torn"]):
        checks.append(row)
    book.save(tmp_path / "week.xlsx")

    assert [] == bring(folder, tmp_path / "week.xlsx").faults
    assert ["2026-03-08", "2026-03-15"] == [
        str(check["date"]) for check in read(folder).record_at("bagging", 0)["checks"]
    ]


def test_a_conflict_shows_both_values_whole(tmp_path: Path) -> None:
    """However long they are alike."""
    folder = season_in(tmp_path / "s", bagging=BAGS.replace("blue string", "blue string " * 20 + "left"))
    sheet = csv_file(
        tmp_path,
        "bagging",
        f"bag,tree,note\nB1,010,tied by hand, with the {'blue string ' * 20}right\n".replace(
            "hand, with", "hand with"
        ),
    )

    (fault,) = bring(folder, sheet).faults

    assert "left'" in fault.reason
    assert "right'" in fault.reason
    assert "C2" == fault.cell


def test_all_faults_come_in_one_run(tmp_path: Path) -> None:
    """A cell that can't be read hides neither the other faults of its row nor what it lacks elsewhere."""
    folder = season_in(tmp_path / "s")
    sheet = csv_file(tmp_path, "bagging", "bag,tree,covered,stage\nB1,,2026-02-30,bud\nB2,T1,perhaps,open\n")

    plan = bring(folder, sheet)

    assert ["C2", "C3", "A2", "D2"] == [fault.cell for fault in plan.faults]
    assert {} == plan.contents
