from __future__ import annotations

import operator
import random
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pandas.testing import assert_frame_equal

from certgen.records import ReadingError, Season, read_season
from certgen.records.record_files import details, extracts, locating, mistakes
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    import pandas as pd

COVERS = (
    "certgen.records.record_files.details",
    "certgen.records.record_files.mistakes",
    "certgen.records.record_files.limits",
)
SEASON = (
    "season:\n  label: '{}'\n  from: 2026-01-01\n  to: 2026-12-31\n  crop: papaya\n  standards: [us-nop]\n"
    "  operation: {{name: Two Streams}}\n{}"
)


def texts(errors: tuple[ReadingError, ...]) -> list[str]:
    """Errors as they are printed."""
    return [error.text() for error in errors]


def test_no_folder(tmp_path: Path) -> None:
    """A folder that isn't there, and a file in its place, are told apart."""
    season, errors = read_season(tmp_path / "gone")
    assert season is None
    assert [f"{(tmp_path / 'gone').as_posix()}: there is no such folder"] == texts(errors)
    (tmp_path / "file").write_text("")
    _, errors = read_season(tmp_path / "file")
    assert [f"{(tmp_path / 'file').as_posix()}: is a file; name the folder it lies in"] == texts(errors)


def test_a_folder_without_records(tmp_path: Path) -> None:
    """An empty folder says how to begin."""
    season, errors = read_season(tmp_path)
    assert season is None
    assert "holds no record file (*.yaml); `certgen new` lays a season out" == errors[0].message


def test_no_season_mapping(write: Callable) -> None:
    """Records without a season's own mapping can't be checked; what is wrong in them is told all the same."""
    season, errors = read_season(write({"a.yaml": "trees:\n- {tree: T1}\n"}, season=None))
    assert season is None
    assert "no file says whose season this is" in errors[0].message
    assert ["a.yaml", "a.yaml"] == [error.file for error in errors[1:]]


def test_a_season_mapping_in_a_broken_file(write: Callable) -> None:
    """A syntax error where the season stands isn't told as a missing season as well."""
    season, errors = read_season(write({}, season="season:\n  label: 'x\n"))
    assert season is None
    assert ["season.yaml:2:10: a quote is opened here and never closed"] == texts(errors)


def test_two_season_mappings(read: Callable) -> None:
    """The first in the files' order counts, the other is an error that names both places."""
    season, errors = read({"season.yaml": SEASON.format("one", ""), "trees/z.yaml": SEASON.format("two", "")})
    assert "one" == season.details.label
    assert ["trees/z.yaml:1:1: `season` stands already in season.yaml, line 1; keep one"] == texts(errors)


def test_two_season_mappings_in_one_file(read: Callable) -> None:
    """The same in one file: the name begins twice."""
    text = SEASON.format("one", "")
    season, errors = read({"season.yaml": text + SEASON.format("two", "")})
    assert "one" == season.details.label
    assert [
        "season.yaml:8:1: `season` begins twice in this file (first on line 1); put its records in one list"
    ] == texts(errors)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("season: 2026\n", 1, 1, "`season` needs fields: operation, label, from, to, crop, standards"),
        ("season:\n- label: x\n", 1, 1, "`season` needs fields"),
        (SEASON.format("x", "  colour: red\n"), 8, 3, "there is no field `colour`"),
        (SEASON.format("x", "").replace("to: 2026-12-31", "to: 2025-12-31"), 4, 7, "the season ends"),
        (SEASON.format("x", "").replace("  crop: papaya\n", ""), 2, 3, "`crop` is missing"),
        (SEASON.format("x", "").replace("[us-nop]", "[]"), 6, 14, "`standards` needs at least 1 entry"),
        (SEASON.format("x", "").replace("papaya", "durian"), 5, 9, "no profile of durian"),
    ],
)  # fmt: skip
def test_an_unsound_season_mapping(text: str, line: int, column: int, says: str, write: Callable) -> None:
    """Without a sound season there is no result; the fault is told at its place, and the other files' too."""

    def words_of(crop: str) -> dict[str, tuple[str, ...]]:
        if crop != "papaya":
            raise ValueError(f"no profile of {crop}")
        return {}

    season, errors = read_season(
        write({"trees.yaml": "trees:\n- {tree: T1}\n"}, season=text), words_of=words_of
    )
    assert season is None
    assert (line, column) == (errors[0].line, errors[0].column)
    assert says in errors[0].message
    assert {"season.yaml", "trees.yaml"} == {error.file for error in errors}


@pytest.mark.parametrize("name", ["season", '"season"', "'season'", '"sea\\x73on"', "? season\n"])
def test_a_season_is_found_however_its_name_is_written(name: str, read: Callable) -> None:
    """Quotes, escapes and explicit keys don't hide it."""
    season, errors = read({"season.yaml": SEASON.format("one", "").replace("season", name)})
    assert () == errors
    assert "one" == season.details.label


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("", 1, 1, "is empty; if records belong here they are lost"),
        ("# nothing\n", 1, 1, "is empty"),
        ("---\n", 1, 1, "is empty"),
        ("trees\n", 1, 1, "begins without a table's name"),
        ("- tree: T1\n", 1, 1, "begins without a table's name"),
        ("tree:\n- tree: T1\n", 1, 1, "there is no table `tree`; did you mean `trees`?"),
        ("qqq:\n- tree: T1\n", 1, 1, "there is no table `qqq`; the tables are: season, blocks,"),
        ("<<: {}\n", 1, 1, "there is no table `<<`"),
        ("[a]:\n- tree: T1\n", 1, 1, "a table's name must be plain text"),
        ("trees:\n  tree: T1\n", 1, 1, "`trees` takes a list: begin each record with a dash"),
        ("trees: T1\n", 1, 1, "`trees` takes a list"),
        ("trees:\ntrees:\n", 2, 1, "`trees` begins twice in this file (first on line 1)"),
        ("trees:\n- T1\n", 2, 3, "a record needs fields: `name: value`, one a line, a space behind"),
        ("trees:\n-\n", 2, 2, "a record needs fields"),
        ("trees:\n- [T1]\n", 2, 3, "a record needs fields"),
        ("trees:\n- - T1\n", 2, 3, "a record needs fields"),
        ("trees:\n- " + "[" * 900 + "]" * 900 + "\n", 2, 3, "a record needs fields"),
    ],
)  # fmt: skip
def test_files_of_another_form(text: str, line: int, column: int, says: str, read: Callable) -> None:
    """Whatever stands at a file's top, one error says what was expected there."""
    _, errors = read(text)
    assert [("records.yaml", line, column)] == [(error.file, error.line, error.column) for error in errors]
    assert says in errors[0].message


@pytest.mark.parametrize("nothing", ["", " ~", " []"])
def test_a_table_with_no_records_yet(nothing: str, read: Callable) -> None:
    """A table's name with nothing below it is fine."""
    season, errors = read(f"trees:{nothing}\n")
    assert () == errors
    assert 0 == len(season.table("trees"))


def test_all_errors_in_one_run(read: Callable) -> None:
    """Every broken file and every broken record is named at once, in the files' order; the rest is read."""
    season, errors = read(
        {
            "a.yaml": "trees:\n- {tree: T1, planting: P1, sex: male}\n- {tree: T2, sex: male}\n",
            "b.yaml": "trees:\n- {tree: T3\n",
            "c.yaml": b"trees:\n- {tree: \xff}\n",
            "d.yaml": "",
            "e.yaml": "tees:\n",
            "f.yaml": "trees:\n- {tree: T4, planting: P1, sex: male, row: [1]}\n"
            "- {tree: T5, planting: P1, sex: male}\n",
        }
    )
    assert ["a.yaml:3", "b.yaml:2", "c.yaml:2", "d.yaml:1", "e.yaml:1", "f.yaml:2"] == [
        f"{error.file}:{error.line}" for error in errors
    ]
    assert ["T1", "T5"] == season.table("trees")["tree"].tolist()
    assert ["trees T2", "trees T4"] == [error.left_out for error in season.left_out]
    assert ["a.yaml:3:3: trees T2 was left out", "f.yaml:2:3: trees T4 was left out"] == texts(
        season.left_out
    )


def test_a_record_is_named_by_its_place_where_it_has_no_name(read: Callable) -> None:
    """Without a sound identifier the record's number in its list says which one is meant."""
    _, errors = read("trees:\n- {planting: P1, sex: male}\n- {tree: [x], planting: P1, sex: male}\n")
    assert ["trees record 1", "trees record 2"] == [error.left_out for error in errors]


def test_a_wholly_wrong_file_is_cut_short(read: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every record left out is counted and named; only so many are explained, the rest told as a number."""
    monkeypatch.setattr(extracts, "RECORDS_EXPLAINED", 3)
    good = "- {tree: T, planting: P1, sex: male}\n"
    season, errors = read("trees:\n" + "- {tree: T1}\n- {tree: T2, sox: male}\n" * 50 + good)
    assert 100 == len(season.left_out)
    assert 1 == len(season.table("trees"))
    assert {"trees T1", "trees T2"} == {error.left_out for error in season.left_out}
    assert ["97 more records of `trees` are left out for faults like these"] == [
        error.message for error in errors if error.line is None
    ]


def test_records_in_large_numbers(read: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """Records pass in groups; their order, places and the broken ones among them come out the same."""
    rows = [f"- {{tree: T{n}, planting: P1, sex: {'male' if n % 7 else '{}'}}}\n" for n in range(50)]
    rows[20] = "- {tree: T20, sex: male}\n"
    rows[30] = "- {tree: T30, planting: P1, sex: male, row: '9'}\n"
    text = "trees:\n" + "".join(rows)
    whole, errors = read(text)
    monkeypatch.setattr(extracts, "_GROUP", 3)
    grouped, grouped_errors = read(text)
    assert errors == grouped_errors
    assert whole.left_out == grouped.left_out
    assert_frame_equal(whole.table("trees"), grouped.table("trees"))
    assert [f"T{n}" for n in range(50) if n % 7 and n != 20] == whole.table("trees")["tree"].tolist()
    assert "9" == whole.record("trees", "T30")["row"]


def test_a_list_longer_than_any_seasons(read: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """A list over the bound is refused with the bound, at the record that is too many."""
    monkeypatch.setattr(extracts, "RECORDS_A_LIST", 2)
    _, errors = read("trees:\n" + "- {tree: T1, planting: P1, sex: male}\n" * 3)
    assert ["records.yaml:4:3: `trees` holds more than 2 records; no season does"] == texts(errors)


def shuffled(frame: pd.DataFrame) -> list[dict[str, object]]:
    """A table's records without their places, in an order of their own."""
    return sorted(frame.drop(columns=["file", "at"]).astype("object").to_dict("records"), key=repr)


def test_how_records_are_spread_over_files_changes_nothing(write: Callable, tmp_path: Path) -> None:
    """The same records in one file or in many, in any order, give the same tables but for the places."""
    rows = [
        f"- {{bag: B{n}, tree: T{n % 3}, covered: 2026-02-{n + 1:02d}{', note: wind' if n % 2 else ''}}}\n"
        for n in range(12)
    ]
    one, _ = read_season(write({"bagging.yaml": "bagging:\n" + "".join(rows)}))
    random.Random(3).shuffle(rows)
    (tmp_path / "season" / "bagging.yaml").unlink()
    many, _ = read_season(write({f"{9 - n}/x.yaml": "bagging:\n" + "".join(rows[n::4]) for n in range(4)}))
    assert shuffled(one.table("bagging")) == shuffled(many.table("bagging"))
    assert one.counts == many.counts


def test_sources_tell_what_was_read(write: Callable) -> None:
    """Each file's text, size and SHA-256 are kept; a byte order mark is in the bytes and not in the text."""
    import hashlib

    data = b"\xef\xbb\xbftrees: []\n"
    season, errors = read_season(write({"a.yaml": data, "b.yaml": "", "evidence/x.txt": "x"}))
    assert 1 == len(errors)
    assert "trees: []\n" == season.sources["a.yaml"].text
    assert hashlib.sha256(data).hexdigest() == season.sources["a.yaml"].sha256
    assert len(data) == season.sources["a.yaml"].size
    assert ["a.yaml", "b.yaml", "season.yaml"] == list(season.sources)
    assert ("x.txt",) == season.evidence_files


def test_every_table_is_there_with_all_columns(read: Callable) -> None:
    """A season of nothing but its own mapping has every table, empty and typed."""
    season, errors = read({})
    assert () == errors
    assert list(load_tables()) == list(season.tables)
    for name, table in load_tables().items():
        assert {column.name for column in table.columns} <= set(season.table(name).columns)


# Earlier seasons


def lay_out(home: Path, seasons: dict[str, str]) -> None:
    """Season folders: name → what its mapping says besides."""
    for name, more in seasons.items():
        (home / name).mkdir(parents=True)
        (home / name / "season.yaml").write_text(SEASON.format(name, more))


def labels(season: Season | None) -> list[str]:
    """The labels of a season and the ones before it."""
    found = []
    while season is not None:
        found.append(season.details.label)
        season = season.previous
    return found


def test_a_chain_of_earlier_seasons(tmp_path: Path) -> None:
    """Each season names the one before; all are read, with their errors named from the last."""
    lay_out(tmp_path, {"2026": "  previous: ../2025\n", "2025": "  previous: ../2024\n", "2024": ""})
    (tmp_path / "2024" / "a.yaml").write_text("trees:\n- {tree: T1}\n")
    season, errors = read_season(tmp_path / "2026")
    assert ["2026", "2025", "2024"] == labels(season)
    assert {"../2025/../2024/a.yaml"} == {error.file for error in errors}


@pytest.mark.parametrize(
    ("previous", "says"),
    [
        ("../gone", "`previous` names '../gone', and there is no such folder"),
        ("season.yaml", "there is no such folder"),
        ('"a\\0b"', "holds a control character"),
        ("x" * 300, "there is no such folder"),
        (".", "`previous` leads back to a season that has been read already"),
        ("../2025", "`previous` leads back to a season that has been read already"),
    ],
)
def test_a_previous_that_leads_nowhere(previous: str, says: str, tmp_path: Path) -> None:
    """A missing season before, or one that leads in a circle, is an error; this season is read anyway."""
    lay_out(tmp_path, {"2026": f"  previous: {previous}\n", "2025": "  previous: ../2026\n"})
    season, errors = read_season(tmp_path / "2026")
    if "control" in says:
        assert season is None
    else:
        assert season is not None
    assert 1 == len(errors)
    assert says in errors[0].message
    assert errors[0].line == 8


def test_previous_stays_within(tmp_path: Path) -> None:
    """Where a folder bounds what may be read, a season before outside it isn't opened."""
    lay_out(tmp_path, {"coop/2026": "  previous: ../../2025\n", "2025": ""})
    season, errors = read_season(tmp_path / "coop" / "2026", within=tmp_path / "coop")
    assert ["coop/2026"] == labels(season)
    assert ["season.yaml:8:3: `previous` leads out of the folder that may be read ('../../2025')"] == texts(
        errors
    )
    season, errors = read_season(tmp_path / "coop" / "2026", within=tmp_path)
    assert ["coop/2026", "2025"] == labels(season)
    assert () == errors


def test_an_endless_row_of_earlier_seasons(tmp_path: Path) -> None:
    """More earlier seasons than a mother plant lives are refused at the bound."""
    lay_out(tmp_path, {f"s{n}": f"  previous: ../s{n + 1}\n" for n in range(20)})
    season, errors = read_season(tmp_path / "s0")
    assert 13 == len(labels(season))
    assert "more than 12 earlier seasons follow one another; name fewer" == errors[-1].message


def test_an_earlier_season_that_cannot_be_read(tmp_path: Path) -> None:
    """An empty folder named as the season before is told by the name it was given."""
    lay_out(tmp_path, {"2026": "  previous: ../2025\n"})
    (tmp_path / "2025").mkdir()
    season, errors = read_season(tmp_path / "2026")
    assert ["2026"] == labels(season)
    assert ["../2025: holds no record file (*.yaml); `certgen new` lays a season out"] == texts(errors)


def test_a_flood_of_faults_ends_the_reading_of_a_file(
    read: Callable, write: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file with more faults than anyone types is given up, with the line; the other files are read."""
    monkeypatch.setattr(mistakes, "MISTAKES_TO_STOP", 100)
    fields = "".join(f"  f{n}: 1\n" for n in range(200))
    tree = "- {tree: T1, planting: P1, sex: male}\n"
    season, errors = read({"a.yaml": f"trees:\n- tree: T2\n{fields}", "b.yaml": f"trees:\n{tree}"})
    assert ["a.yaml:103:3: more than 100 faults stand before this line; is this a record file?"] == texts(
        errors
    )
    assert ["T1"] == season.table("trees")["tree"].tolist()
    season, errors = read_season(write({}, season=f"season:\n{fields}"))
    assert season is None
    assert "more than 100 faults stand before this line" in errors[-1].message


def test_a_record_as_long_as_a_book(read: Callable, write: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """A long note is read; a record longer than any is left out, and nothing tries to find places in it."""
    note = "word " * 50_000
    tree = f"trees:\n- {{tree: T1, planting: P1, sex: male, note: '{note}'}}\n"
    season, errors = read(tree)
    assert () == errors
    assert len(note) == len(season.record("trees", "T1")["note"])
    for module in (extracts, details, locating):
        monkeypatch.setattr(module, "RECORD_CHARACTERS", 1000)
    season, errors = read(tree)
    assert [2] == [error.line for error in errors]
    assert "characters long; nobody wrote that [trees T1 is left out]" in errors[0].message.replace(
        "record 1", "T1"
    )
    text = SEASON.format("x", f"  note: '{note}'\n")
    season, errors = read_season(write({}, season=text))
    assert season is None
    assert "characters long; nobody wrote that" in errors[0].message


def test_a_faulty_record_is_told_all_its_faults_at_once(tmp_path: Path) -> None:
    """A comma in one figure doesn't hide a date of the wrong form in the same record."""
    (tmp_path / "records.yaml").write_text(
        "season: {operation: {name: Hollow Lane}, label: '2026', from: 2026-01-01, to: 2026-12-31, "
        "crop: papaya, standards: [us-nop]}\n"
        "harvests:\n- {harvest: H1, date: 3/4/2026, fruits: '1,5', weight: '3,5 kg', "
        "status: organic}\n",
        encoding="utf-8",
    )
    _, errors = read_season(tmp_path)

    assert {"date", "fruits", "weight"} == {error.message.split("`")[1] for error in errors}


def test_equal_texts_are_one(write: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What many records say alike stands in memory once, across tables and files, read or from the cache."""
    monkeypatch.setattr("certgen.records.record_files.cache.WORTH_KEEPING", 0)
    trees = "trees:\n- {tree: T11, planting: P11, sex: male}\n- {tree: T12, planting: P11, sex: male}\n"
    samples = "screening:\n- {sample: S11, trees: [T11, T12], collected: 2026-01-02, method: gus}\n"
    folder = write({"a.yaml": trees, "b.yaml": samples})
    for _ in range(2):
        season, errors = read_season(folder, cache=tmp_path / "cache")
        assert () == errors
        named = season.table("trees")["tree"].tolist()
        assert all(map(operator.is_, named, season.table("screening")["trees"].iat[0]))
        one, other = season.table("trees")["planting"].tolist()
        assert one is other
