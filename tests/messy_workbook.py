"""A grower's own workbook, as messy as they come: titles, units in heads, her own words, totals, remarks.

Twelve trees, ten bags, three runs, three lots. `write_workbook` makes it as it stood in September, or in
October with more rows and a cell filled that was empty; corrected, it says otherwise of a buyer. All names
are invented.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

Row = list[object]


def write_workbook(path: Path, *, later: bool = False, corrected: bool = False) -> Path:
    """The workbook as of September, or of October where `later`, with another buyer where `corrected`."""
    book = openpyxl.Workbook()
    first = book.active
    first.title = "The land"
    for row in land():
        first.append(row)
    for name, rows in (
        ("Our trees", trees()),
        ("Leaf letters", letters()),
        ("Bags", bags(later=later)),
        ("Seed runs", runs(later=later)),
        ("Lots", lots(later=later)),
        ("Sales", sales(later=later, buyer="Ashlock Nursery & Sons" if corrected else "Ashlock Nursery")),
        ("Jottings", [["ring the laboratory"], ["ask about jars"]]),
    ):
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book["Our trees"].merge_cells("A1:G1")
    merge_lots(book["Lots"])
    book["Jottings"].sheet_state = "hidden"
    book["Bags"].row_dimensions[8].hidden = True
    book.save(path)
    return path


def land() -> list[Row]:
    """A sheet that tells of blocks and of plantings at once."""
    return [
        ["Land and plantings", "", "", "Two Streams"],
        [],
        ["Block", "Organic status", "organic since", "Planting", "Variety", "Planted", "Material",
         "Material status"],
        ["East", "Org.", "1 May 2020", "P1", "Callow Bell", dt.date(2025, 2, 10), "seed", "organic"],
    ]  # fmt: skip


def trees() -> list[Row]:
    """A title over merged cells, heads that are said again after a page, a total, a pencilled `?`."""
    head: Row = ["Tree no", "Row / Pos", "Sex", "Weather", "Remarks"]
    rows: list[Row] = [["Orchard book, Two Streams"], [None], head]
    for number in range(1, 13):
        sex = {3: "?", 5: "F", 11: "M"}.get(number, "H")
        row: Row = [f"tree {number}", f"{1 + number // 7} / {number}", sex, "dry" if number % 3 else None]
        rows += [[*row, "leans" if number == 4 else None]]
        if number == 6:
            rows += [[], head]
    return [*rows, ["Total", None, 12, None, None]]


def letters() -> list[Row]:
    """Leaf samples of the laboratory's letters, a pool of trees among them."""
    return [
        ["Leaf samples sent away"],
        ["Sample", "Trees", "taken", "Method", "Lab", "Controls", "Result", "Result came", "Lab letter",
         "initials"],
        *(
            [f"S{number}", f"tree {number}", "3/2/2026", "PCR", "Bracken Ford Plant Diagnostics", "ok", "neg",
             dt.date(2026, 2, 14), "BF-2201", "mk"]
            for number in range(1, 9)
        ),
        ["S9", "tree 9-12", "3/2/2026", "PCR", "Bracken Ford Plant Diagnostics", "ok", "neg.",
         dt.date(2026, 2, 14), "BF-2201", "mk"],
        ["total", 9, None, None, None, None, None, None, None, None],
    ]  # fmt: skip


def bags(*, later: bool) -> list[Row]:
    """Bagging and picking in one row; a number that lost its noughts; `ja` for yes; days as text and real."""
    head: Row = [
        "Bag", "tree", "bagged on", "bloom", "stage", "buds off", "tied", "bag", "checked", "how", "bag off",
        "set?", "ribbon", "picking", "picked", "fruit", "kg", "notes", "moon",
    ]  # fmt: skip
    rows: list[Row] = [["BAGS 2026"], [], head]
    for number in range(1, 11):
        day = dt.date(2026, 3, number)
        picked = dt.date(2026, 7, 20 + number) if number < 8 or later else None
        rows.append(
            [
                f"{number:02d}" if number < 9 else number,
                f"tree {number}",
                day if number % 2 else f"{number}/3/2026",
                "F" if number == 5 else "H",
                "bud",
                "ja",
                "ja",
                "new",
                dt.date(2026, 3, number + 4),
                "ok" if number != 6 else "torn",
                dt.date(2026, 3, number + 14),
                "ja" if number != 8 or later else None,
                "ja",
                number if picked else None,
                picked,
                1 if picked else None,
                0.95 if picked else None,
                "windy night" if number == 6 else None,
                "waxing",
            ]
        )
    return [*rows, ["Total", None, *[None] * 12, "=SUM(P4:P13)", None]]


def runs(*, later: bool) -> list[Row]:
    """Seed runs, units in the heads, ranges of pickings, pieces of commas."""
    rows: list[Row] = [
        ["Run", "date", "from pickings", "rinses", "wet g", "dried by", "dried from", "dried to", "dry (g)"],
        ["X26–1", "8/8/2026", "1-3", 4, "96", "fan", "8/8/2026", "13/8/2026", "24,5"],
        ["X26–2", "15/8/2026", "4-6", 4, "95,5", "fan", "15/8/2026", "20/8/2026", "24"],
    ]
    if later:
        rows.append(["X26–3", "22/8/2026", "7-10", 4, "128", "fan", "22/8/2026", "27/8/2026", "32"])
    return rows


def lots(*, later: bool) -> list[Row]:
    """Lots with what they were made of in one cell; the variety stands once, in merged cells."""
    rows: list[Row] = [
        ["Lot", "Variety", "packed", "made from", "g", "treated"],
        ["CB-26-1", "Callow Bell", "1/9/2026", "X26-1 20 g; X26-2 3,5 g", "23,5", "no"],
        ["CB-26-2", None, "2/9/2026", "X26-2 20 g", "20", "no"],
    ]
    if later:
        rows.append(["CB-26-3", None, "30/9/2026", "X26-3 32 g", "32", "no"])
    return rows


def merge_lots(sheet: Worksheet) -> None:
    """The variety's cell, over all rows."""
    sheet.merge_cells(f"B2:B{sheet.max_row}")


def sales(*, later: bool, buyer: str) -> list[Row]:
    """Sales without numbers of their own, a buyer under `Who`."""
    rows: list[Row] = [
        ["Date", "Lot", "grams", "Who", "Invoice"],
        ["10/9/2026", "CB-26-1", "10", "Quillmere Growers", 17],
        ["12/9/2026", "CB-26-2", "5,5", buyer, 18],
    ]
    return [*rows, ["3/10/2026", "CB-26-1", "2", "Quillmere Growers", 19]] if later else rows
