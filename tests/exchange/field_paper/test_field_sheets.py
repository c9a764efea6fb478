"""Sheets to work from: the right rows in the order of the walk, and the cautions of the work on top."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import ModuleType

import pytest
from pages import letters_of, text_of

from certgen.examination import Result, examine
from certgen.exchange.field_paper.field_sheets import SHEETS, build_run_sheet, set_sheet
from certgen.exchange.field_paper.labels import LabelError

#: A day of the example season on which each sheet has something to say.
DAYS = {
    "sample-round": dt.date(2026, 3, 10),
    "submission-sheet": dt.date(2026, 1, 8),
    "split-receipt": dt.date(2026, 9, 22),
    "bagging-round": dt.date(2026, 3, 10),
    "check-round": dt.date(2026, 3, 10),
    "uncovering-round": dt.date(2026, 3, 10),
    "picking-list": dt.date(2026, 6, 10),
    "run-sheet": dt.date(2026, 6, 20),
}


@pytest.fixture(scope="module")
def on(example_season: Path) -> dict[str, Result]:
    """The example season on each of the days."""
    days = {day: examine(example_season, day) for day in set(DAYS.values())}
    return {kind: days[day] for kind, day in DAYS.items()}


@pytest.mark.parametrize("kind", SHEETS)
def test_every_sheet_begins_with_its_cautions(on: dict[str, Result], kind: str) -> None:
    """In the short form, each with whose word counts, before the first row."""
    result = on[kind]
    sheet = SHEETS[kind](result)
    wanted = result.profile.cautions.at(*sheet.work)
    shown = text_of(set_sheet(result, kind))

    assert wanted
    for one in wanted:
        words = f"Caution. {one.title}. {one.short} This defers to {one.defers_to}."
        assert 0 <= shown.find(words) < shown.find(" ".join(sheet.heads[:2]))


@pytest.mark.parametrize("kind", SHEETS)
def test_every_row_has_a_cell_below_each_heading(on: dict[str, Result], kind: str) -> None:
    """Some of them empty: a sheet without room to write is a list."""
    sheet = SHEETS[kind](on[kind])

    assert {len(sheet.heads)} == {len(row) for row in sheet.rows} == {len(sheet.widths)}
    assert all("" in row for row in sheet.rows)


@pytest.mark.parametrize("page", ["a4", "Letter"])
@pytest.mark.parametrize("kind", SHEETS)
def test_nothing_stands_off_the_page(on: dict[str, Result], kind: str, page: str) -> None:
    """Lying A4 and Letter, every letter inside the margins."""
    width, height = (297, 210) if page == "a4" else (279.4, 215.9)

    for one in letters_of(set_sheet(on[kind], kind, page)):
        assert 11 <= one.left < one.right <= width - 11
        assert 5 <= one.top < one.bottom <= height - 5


def test_rounds_hold_the_bags_that_the_diary_calls_for(on: dict[str, Result]) -> None:
    """Every bag on its flower is looked at; only those at their time are taken off or picked."""
    sheets = {kind: SHEETS[kind](on[kind]) for kind in ("check-round", "uncovering-round", "picking-list")}
    bags = {kind: {row[4] for row in sheet.rows} for kind, sheet in sheets.items()}
    log = on["check-round"].season.tables["bagging"].set_index("bag")

    assert bags["uncovering-round"] < bags["check-round"]
    for bag in bags["check-round"]:
        assert log["covered"][bag].date() <= DAYS["check-round"]
        assert not log["uncovered"][bag].date() <= DAYS["check-round"]
    assert min(log["covered"][bag].date() for bag in bags["picking-list"]) == min(
        dt.date.fromisoformat(row[6]) for row in sheets["picking-list"].rows
    )
    for sheet in sheets.values():
        walk = [(row[0], int(row[1]), int(row[2])) for row in sheet.rows]
        assert sorted(walk) == walk


def test_nothing_to_do_is_said_with_the_day(example_season: Path) -> None:
    """An empty sheet would be taken for a finished one."""
    with pytest.raises(LabelError, match="no bag is due to be picked on 2025-11-10; --on asks for another"):
        set_sheet(examine(example_season, dt.date(2025, 11, 10)), "picking-list")


def test_leaves_go_to_the_laboratory_without_their_place(on: dict[str, Result]) -> None:
    """Those that wait, each with its mark, in the order in which they were taken."""
    result = on["submission-sheet"]
    sheet = SHEETS["submission-sheet"](result)
    samples = result.season.tables["screening"].set_index("sample")
    day = DAYS["submission-sheet"]

    wanted = [name for name, when in samples["collected"].items() if when.date() <= day]
    assert sorted(wanted) == [row[0] for row in sheet.rows]
    assert all(samples["mark"][row[0]] == row[1] for row in sheet.rows)
    assert not set(result.season.tables["blocks"]["block"]) & {cell for row in sheet.rows for cell in row}


def test_a_sheet_on_record_fills_in_its_number_and_seals(on: dict[str, Result], seasons: ModuleType,
                                                         tmp_path: Path) -> None:  # fmt: skip
    """What is written stands on the paper; without a record both are left to write on."""
    sheet = SHEETS["submission-sheet"](on["submission-sheet"])

    assert sheet.above.startswith("Number of the sheet: SH26-01 and SH26-02. Handed over by")
    assert {"0417701", "0417702"} == {row[5] for row in sheet.rows}
    tables = seasons.one_line()
    tables["screening"] = [{"sample": "S1", "tree": "T1", "mark": "T1", "collected": dt.date(2026, 1, 5)}]
    seasons.write_season(tmp_path, **tables)
    blank = SHEETS["submission-sheet"](examine(tmp_path, dt.date(2026, 1, 6)))
    assert blank.above.startswith("Number of the sheet: ____")
    assert {""} == {row[5] for row in blank.rows}


def test_a_receipt_lists_the_parts_and_leaves_room(on: dict[str, Result]) -> None:
    """A line for each part that was sealed, with who keeps it; the rest is written on the spot."""
    sheet = SHEETS["split-receipt"](on["split-receipt"])
    kept = [row[:3] + row[4:7] for row in sheet.rows]
    taken = ("SP26-01", "2026-09-22", "R. Tamsin, Quillback Organic Review")
    assert [
        (*taken, "A", "QR-5521", "R. Tamsin"),
        (*taken, "B", "QR-5522", "K. Verrall, in the cool room"),
    ] == kept
    assert 6 == sheet.spare


def test_the_run_sheet_has_a_line_a_field_and_names_what_waits(seasons: ModuleType, tmp_path: Path) -> None:
    """On one page; a picking that some run took waits no longer."""
    tables = seasons.one_line()
    tables["bagging"].append(seasons.bag("B2", "T1"))
    tables["harvests"].append(seasons.harvest("H2", ["B2"]))
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 12, 1))
    sheet = build_run_sheet(result)

    assert "Pickings not opened yet: H2 (2026-06-08)." == sheet.above
    assert {"Batch", "Blade", "Drying: Temperature", "Treatment: Treated with"} <= {
        row[0] for row in sheet.rows
    }
    for page in ("a4", "Letter"):
        assert {0} == {one.page for one in letters_of(set_sheet(result, "run-sheet", page))}


def test_markup_in_the_records_is_text(seasons: ModuleType, tmp_path: Path) -> None:
    """A variety with signs of the typesetter's language stands as it is written."""
    hostile = '#panic("x") $y$ *b* <l>'
    tables = seasons.one_line()
    tables["plantings"] = [seasons.planting(variety=hostile)]
    tables["bagging"] = [
        {
            name: value
            for name, value in seasons.bag("B1", "T1").items()
            if name not in {"uncovered", "outcome", "fruit_marked"}
        }
    ]
    tables["harvests"] = tables["batches"] = tables["lots"] = tables["tests"] = []
    seasons.write_season(tmp_path, **tables)
    result = examine(tmp_path, dt.date(2026, 5, 20))

    for kind in ("bagging-round", "check-round", "uncovering-round", "picking-list"):
        assert hostile in text_of(set_sheet(result, kind)), kind
