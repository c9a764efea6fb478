"""The sheet of a round printed as a form, filled in, and brought back as a round with its exceptions."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from certgen.examination import Result, examine
from certgen.exchange.field_paper.field_sheets import ROUNDS, name_round, write_round_form
from certgen.exchange.field_paper.labels import LabelError
from certgen.exchange.importing.headings import MapError
from certgen.exchange.importing.opening import open_spreadsheet
from certgen.exchange.importing.plan import plan_import
from certgen.exchange.spreadsheets.round_forms import ANSWERS, form_headings, write_form
from certgen.records.rows import plain_record

if TYPE_CHECKING:
    from certgen.records.season import Season

COVERS = ("certgen.exchange.spreadsheets.round_forms",)
MARCH = dt.date(2026, 3, 20)
WALK = {"date": "2026-03-20", "by": "DM"}


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season on a day in March."""
    return examine(example_season, MARCH)


def rows_of(form: bytes) -> list[dict[str, str]]:
    """The rows of a form by heading."""
    return list(csv.DictReader(io.StringIO(form.decode("utf-8-sig"))))


def filled(path: Path, rows: list[dict[str, str]]) -> Path:
    """A form as somebody saved it."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def made(path: Path, rows: list[dict[str, str]]) -> dict[str, list[dict[str, Any]]]:
    """The rows of our own workbook that a filled-in form comes to, by table or list."""
    found: dict[str, list[dict[str, Any]]] = {}
    for sheet, sheet_map in open_spreadsheet(filled(path, rows)).mapped:
        names = {at: cell.value for at, cell in sheet.headings.items()}
        found[sheet_map.child or sheet_map.table] = [
            {str(names[at]): cell.value for at, cell in row.items()} for row in sheet.rows
        ]
    return found


def form(kind: str, *rows: dict[str, str], number: str = "W1") -> list[dict[str, str]]:
    """A form with what is known, and what was written beside it."""
    blank = rows_of(write_form(kind, number, [{}] * len(rows)))
    return [{**known, **row} for known, row in zip(blank, rows, strict=True)]


def round_of(season: Season, name: str) -> dict[str, Any]:
    """One round of a season, without what is empty."""
    frame = season.table("rounds")
    row = season.row("rounds", name)
    assert row is not None
    return {key: value for key, value in plain_record(frame, row).items() if value not in (None, ())}


def test_a_walk_printed_filled_in_and_imported_is_checked(result, example_copy, tmp_path, read_back):
    """Five bags were seen, one of them torn; one was out of reach; of the rest nothing is said."""
    rows = rows_of(write_round_form(result, "check-round"))
    rows[0] |= WALK
    for row in rows[:5]:
        row["condition"] = "intact"
    rows[1]["condition"] = "Torn"
    rows[7]["note"] = "ladder missing"
    folder = example_copy
    before = {gap.id for gap in result.gaps if gap.rule == "bag-failed"}
    plan = plan_import(folder, open_spreadsheet(filled(tmp_path / "walk.csv", rows)).mapped)
    plan.carry_out()
    after = examine(folder, MARCH)

    assert ([], [("rounds check-2026-03-20", "screening/2026-02.yaml")]) == (plan.faults, plan.added)
    bags = [row["bag"] for row in rows]
    found = round_of(read_back(folder), "check-2026-03-20")
    assert ("check", "DM", "intact", tuple(bags[:5])) == tuple(
        found[name] for name in ("kind", "by", "condition", "bags")
    )
    assert (
        {"about": (bags[1],), "condition": "torn"},
        {"about": (bags[7],), "left_out": True, "note": "ladder missing"},
    ) == tuple(
        {key: value for key, value in exception.items() if value not in (None, ())}
        for exception in found["exceptions"]
    )
    assert {bags[1]} == {gap.id for gap in after.gaps if gap.rule == "bag-failed"} - before
    looks = dict(zip(*(after.season.table("bagging")[name] for name in ("bag", "checks")), strict=True))
    seen = [any(look["date"] == MARCH for look in looks[bag]) for bag in bags]
    assert [True] * 5 == seen[:5]
    assert not any(seen[5:])


@pytest.fixture
def read_back() -> Callable[[Path], Season]:
    """Reads a season as it is written, nothing joined."""
    from certgen.records import read_season

    def read(folder: Path) -> Season:
        season, errors = read_season(folder)
        assert season is not None
        assert () == errors
        return season

    return read


@pytest.mark.parametrize("kind", ROUNDS)
def test_each_round_has_a_form_under_the_number_on_its_sheet(result, kind):
    """The form bears the columns of its kind, what is known, and nothing else."""
    rows = rows_of(write_round_form(result, kind))

    assert form_headings(ROUNDS[kind]) == tuple(rows[0])
    assert {f"{ROUNDS[kind]}-2026-03-20"} == {row["round"] for row in rows}
    assert all(row["tree"] for row in rows)
    assert not any(row[name] for row in rows for name in (*ANSWERS[ROUNDS[kind]], "date", "by", "note"))


def test_a_second_sheet_of_a_day_gets_another_number(example_copy):
    """The first walk is on record already."""
    (example_copy / "more.yaml").write_text(
        "rounds:\n- {round: check-2026-03-20, kind: check, date: 2026-03-20, by: KV, bags: [B26-111]}\n",
        encoding="utf-8",
    )

    assert "check-2026-03-20-2" == name_round(examine(example_copy, MARCH), "check-round")


def test_new_bags_are_begun_with_number_and_tree(tmp_path):
    """What the walk says of all stands in the round; a bag has two values of its own."""
    held = {"stage": "closed bud", "secured": "yes", "tagged": "yes"}
    found = made(
        tmp_path / "f.csv",
        form("bagging", {**WALK, "tree": "T1", "bag": "B1", **held}, {"tree": "T2"},
             {"tree": "T3", "bag": "B3", **held, "secured": "no"}),
    )  # fmt: skip

    assert {
        "rounds": [{"round": "W1", "kind": "bagging", **WALK, "bags": "B1; B3", **held}],
        "exceptions": [{"in round": "W1", "about": "B3", "secured": "no"}],
        "bagging": [{"bag": "B1", "tree": "T1"}, {"bag": "B3", "tree": "T3"}],
    } == found


def test_leaves_keep_their_stalks_to_themselves(tmp_path):
    """A stalk's length is the sample's own; that each was marked is the walk's."""
    found = made(
        tmp_path / "f.csv",
        form("sampling", {**WALK, "tree": "T1", "sample": "S1", "petiole": "30 mm", "marked": "yes"},
             {"tree": "T2", "note": "no young leaf"}),
    )  # fmt: skip

    assert [{"sample": "S1", "tree": "T1", "petiole": "30 mm"}] == found["screening"]
    assert [{"round": "W1", "kind": "sampling", **WALK, "samples": "S1", "marked": "yes"}] == found["rounds"]
    assert [{"in round": "W1", "about": "T2", "left_out": "yes", "note": "no young leaf"}] == found[
        "exceptions"
    ]


def test_what_one_row_leaves_open_is_said_of_none_but_those_that_state_it(tmp_path):
    """A field that a seen bag's row leaves empty can't stand in the round for all."""
    found = made(
        tmp_path / "f.csv",
        form("uncovering", {**WALK, "bag": "B1", "outcome": "set", "fruit_marked": "yes"},
             {"bag": "B2", "outcome": "set"}, {"bag": "B3", "outcome": "dropped"}),
    )  # fmt: skip

    assert ["outcome"] == [name for name in ANSWERS["uncovering"] if name in found["rounds"][0]]
    assert [
        {"in round": "W1", "about": "B1", "fruit_marked": "yes"},
        {"in round": "W1", "about": "B3", "outcome": "dropped"},
    ] == found["exceptions"]


def test_a_remark_keeps_what_was_seen_beside_it(tmp_path):
    """Else it would read as if something had been otherwise that nobody names."""
    found = made(
        tmp_path / "f.csv",
        form("check", {**WALK, "bag": "B1", "condition": "intact", "note": "ants"},
             {"bag": "B2", "condition": "intact"}),
    )  # fmt: skip

    assert [{"in round": "W1", "about": "B1", "condition": "intact", "note": "ants"}] == found["exceptions"]


SEEN = {"bag": "B1", "condition": "intact"}


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([{}], "cell B2: give the round a number under `round`"),
        ([{"tree": "T1"}], "no row of the form is filled in"),
        ([dict(SEEN)], "round W1 needs its `date`"),
        ([{**SEEN, "date": "2026-03-20"}], "round W1 needs its `by`"),
        ([{**SEEN, **WALK}, {**SEEN, "date": "2026-03-21"}],
         "cell C3: round W1 has `date` 2026-03-20 and 2026-03-21; give the second walk a number of its own"),
        ([{**SEEN, **WALK}, {**SEEN, "by": "KV"}], "round W1 has `by` DM and KV"),
        ([{**SEEN, **WALK}, {**SEEN, "kind": "uncovering"}], "round W1 has `kind` check and uncovering"),
        ([{**SEEN, **WALK, "kind": "picking"}], "no form is for a round of kind 'picking'"),
        ([{**WALK, "condition": "intact"}], "say which bag or tree this row is of"),
        ([{**WALK, "tree": "T1", "condition": "intact"}], "say which bag this row is of"),
    ],
)  # fmt: skip
def test_a_form_that_tells_too_little_is_refused_by_its_cell(tmp_path, rows, said):
    """One walk is one day, one kind, one set of walkers, and each row says what it is of."""
    sheet = form("check", *rows, number="" if rows == [{}] else "W1")

    with pytest.raises(MapError) as fault:
        made(tmp_path / "f.csv", sheet)
    assert said in str(fault.value)


def test_two_walks_in_one_file_are_two_rounds(tmp_path):
    """A new number starts a walk of its own, and takes no day from the one above."""
    rows = form("check", {**SEEN, **WALK}, {**SEEN, "round": "W2", "date": "2026-03-21", "by": "KV"})

    assert [("W1", "2026-03-20", "DM"), ("W2", "2026-03-21", "KV")] == [
        (one["round"], one["date"], one["by"]) for one in made(tmp_path / "f.csv", rows)["rounds"]
    ]
    rows[1] |= {"date": "", "by": ""}
    with pytest.raises(MapError, match="round W2 needs its `date`"):
        made(tmp_path / "f.csv", rows)


def test_other_sheets_are_no_forms(tmp_path):
    """A table of rounds, or a sheet with a column of its own, goes the ordinary way."""
    rows = form("check", {**SEEN, **WALK})

    assert not open_spreadsheet(filled(tmp_path / "f.csv", [{**rows[0], "weather": "dry"}])).mapped


def test_a_day_with_nothing_on_its_flower_has_no_form(example_season):
    """As the sheet on paper says."""
    with pytest.raises(LabelError, match="no bag is still on its flower"):
        write_round_form(examine(example_season, dt.date(2026, 12, 31)), "check-round")
