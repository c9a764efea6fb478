"""Rows of somebody's sheet become rows of our own, each cell with the address that it came from."""

from __future__ import annotations

import pytest

from certgen.exchange.importing.assembly import gather
from certgen.exchange.importing.column_maps import MapError, SheetMap, Target
from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.reshaping import reshape


def sheet(headings: list[str], *rows: list[object]) -> Sheet:
    """A sheet named `S`."""
    heads = {i: Cell(heading, f"{'ABCDEF'[i]}1") for i, heading in enumerate(headings)}
    placed = tuple(
        {i: Cell(value, f"{'ABCDEF'[i]}{number}") for i, value in enumerate(row) if value is not None}
        for number, row in enumerate(rows, 2)
    )
    return Sheet("S", heads, placed)


def records(given: Sheet, sheet_map: SheetMap) -> list[tuple[str, dict[str, object]]]:
    """The records that come of a sheet, by table; there must be no fault."""
    found = gather([(given, sheet_map)], {})
    assert [] == [fault.text() for fault in found.faults]
    return [(record.table, record.values) for record in found.records]


def test_words_prefixes_digits_and_constants() -> None:
    """The sheet's words become the records', numbers are named as the season names them, blanks filled in."""
    given = sheet(["No", "Sex", "Row"], ["tree 7", "Herm.", 3], ["Tree 12", "?", None])
    columns = {
        "No": Target("tree", drop_prefix="tree ", digits=3, add_prefix="T"),
        "Sex": Target("sex", words={"herm": "hermaphrodite", "?": "ignore"}),
        "Row": Target("row"),
    }

    assert [
        ("trees", {"tree": "T007", "planting": "P1", "sex": "hermaphrodite", "row": "3"}),
        ("trees", {"tree": "T012", "planting": "P1"}),
    ] == records(given, SheetMap("S", "trees", columns, constants={"planting": "P1", "removed": "ignore"}))


def test_a_range_is_each_of_it() -> None:
    """In a list, and as the identifier of records that are otherwise alike."""
    picked = sheet(["H", "Bags"], ["H1", "B01-B03, 7"])
    trees = sheet(["No", "Sex"], ["08 – 10", "female"])

    assert [("harvests", {"harvest": "H1", "bags": ["B01", "B02", "B03", "7"]})] == records(
        picked, SheetMap("S", "harvests", {"H": Target("harvest"), "Bags": Target("bags", ranges=True)})
    )
    assert [("trees", {"tree": name, "sex": "female"}) for name in ("T08", "T09", "T10")] == records(
        trees,
        SheetMap("S", "trees", {"No": Target("tree", ranges=True, add_prefix="T"), "Sex": Target("sex")}),
    )


def test_columns_are_cut_joined_and_carried_down() -> None:
    """A cell into several fields, several columns into a text, an empty cell that means the one above."""
    given = sheet(
        ["Tag", "Tree", "Sky", "Wind"],
        ["B1 / CB / 2026-03-01", "T1", "grey", "calm"],
        ["B2 / CB", None, None, "high"],
    )
    columns = {
        "Tag": Target("bag", cut="/", fields=("bag", "tag.variety", "tag.date")),
        "Tree": Target("tree", down=True),
        "Sky": Target("note", join=", "),
        "Wind": Target("note", join=", "),
    }

    first, second = records(given, SheetMap("S", "bagging", columns))

    assert {"bag": "B1", "tree": "T1", "note": "grey, calm"} == {
        name: first[1][name] for name in ("bag", "tree", "note")
    }
    assert "CB" == first[1]["tag"]["variety"]
    assert ("bagging", {"bag": "B2", "tree": "T1", "tag": {"variety": "CB"}, "note": "high"}) == second


def test_a_lots_sources_come_in_columns_in_a_cell_or_in_rows() -> None:
    """Three ways to write one thing, and one record."""
    wide = sheet(["Lot", "Run a", "g a", "Run b", "g b"], ["L1", "R1", 20, "R2", 30])
    in_columns = {
        "Lot": Target("lot"),
        "Run a": Target("sources.1.batch"),
        "g a": Target("sources.1.weight", "g"),
        "Run b": Target("sources.2.batch"),
        "g b": Target("sources.2.weight", "g"),
    }
    one_cell = sheet(["Lot", "From"], ["L1", "R1 20 g; R2 30 g"])
    in_a_cell = {
        "Lot": Target("lot"),
        "From": Target("sources", entries=";", cut=" ", fields=("batch", "weight")),
    }
    long = sheet(["Lot", "Run", "g"], ["L1", "R1", 20], [None, "R2", 30])
    in_rows = {
        "Lot": Target("lot", down=True),
        "Run": Target("sources.1.batch"),
        "g": Target("sources.1.weight", "g"),
    }
    expected = [
        (
            "lots",
            {"lot": "L1", "sources": [{"batch": "R1", "weight": "20 g"}, {"batch": "R2", "weight": "30 g"}]},
        )
    ]

    assert expected == records(wide, SheetMap("S", "lots", in_columns))
    assert expected == records(one_cell, SheetMap("S", "lots", in_a_cell))
    assert expected == records(long, SheetMap("S", "lots", in_rows, repeats=True))


def test_one_sheet_fills_several_tables() -> None:
    """A row says something of a further table where the column that it stands on is filled."""
    given = sheet(["Tree", "Sex", "Result"], ["T1", "female", "neg"], ["T2", "female", None])
    samples = SheetMap(
        "S",
        "screening",
        {"Tree": Target("tree"), "Result": Target("result", words={"neg": "negative"})},
        constants={"sample": "S-{Tree}"},
        where="Result",
    )
    trees = SheetMap(
        "S", "trees", {"Tree": Target("tree"), "Sex": Target("sex"), "Result": None}, also=(samples,)
    )

    assert [
        ("trees", {"tree": "T1", "sex": "female"}),
        ("trees", {"tree": "T2", "sex": "female"}),
        ("screening", {"sample": "S-T1", "tree": "T1", "result": "negative"}),
    ] == records(given, trees)


def test_faults_are_told_at_the_cell_that_was_typed() -> None:
    """A piece too few, a column that the map doesn't know, one that the sheet has not."""
    given = sheet(["Lot", "From", "New"], ["L1", "R1", "x"])
    columns = {
        "Lot": Target("lot"),
        "From": Target("sources", entries=";", cut=" ", fields=("batch", "weight")),
        "Gone": Target("note"),
    }

    found = gather([(given, SheetMap("S", "lots", columns))], {})

    assert ["C1", "", "B2"] == [fault.cell for fault in found.faults]
    assert "does not come to batch, weight" in found.faults[2].reason
    assert [False] == [record.sound for record in found.records]


def test_ranges_stay_bounded() -> None:
    """A range of a million is a slip of the pen; many long ones are refused before they fill a machine."""
    trees = SheetMap("S", "trees", {"No": Target("tree", ranges=True)})

    assert ["A2"] == [fault.cell for fault in reshape(sheet(["No"], ["1-999999"]), trees).faults]
    with pytest.raises(MapError, match="its ranges make more than"):
        reshape(sheet(["No"], *([f"{n}0000-{n}4000"] for n in range(1, 90))), trees)


def test_a_plain_map_leaves_the_sheet_as_it_is() -> None:
    """Maps of before are used as they were."""
    given, sheet_map = sheet(["No"], ["1"]), SheetMap("S", "trees", {"No": Target("tree")})

    assert [(given, sheet_map)] == reshape(given, sheet_map).parts


def test_a_prefix_that_takes_everything_is_a_fault() -> None:
    """Nothing would be left of the cell, and an empty cell says nothing: that must not pass unsaid."""
    given = sheet(["Lot", "Remark"], ["L1", "windy"])
    columns = {"Lot": Target("lot"), "Remark": Target("note", drop_prefix="windy")}

    found = gather([(given, SheetMap("S", "lots", columns))], {})

    assert ["B2"] == [fault.cell for fault in found.faults]
    assert "nothing but the prefix 'windy'" in found.faults[0].reason
    assert [False] == [record.sound for record in found.records]


def test_a_day_in_an_identifier_is_written_one_way() -> None:
    """However the sheet has it: next month's file makes the same identifier of the same sale."""
    columns = {"Day": Target("date"), "Lot": Target("lot")}
    part = SheetMap("S", "movements", columns, dates="dmy", constants={"movement": "M-{Day}-{Lot}"})

    assert [[("movements", "M-2026-09-10-L1")]] * 2 == [
        [(one.table, one.key) for one in gather([(sheet(["Day", "Lot"], [day, "L1"]), part)], {}).records]
        for day in ("10/9/2026", "2026-09-10")
    ]
