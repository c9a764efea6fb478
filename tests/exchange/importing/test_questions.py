"""What a sheet asks is asked once, however many cells ask it, and its answer is in the map for good."""

from __future__ import annotations

import pytest

from certgen.exchange.importing.column_maps import OPEN, SheetMap, Target
from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.headings import Known
from certgen.exchange.importing.questions import (
    answer,
    leave_open,
    list_questions,
    remarks_of,
)
from certgen.exchange.importing.suggestions import suggest_word

SEXES = ("hermaphrodite", "female", "male", "unknown")
KNOWN = Known({"sexes": SEXES}, {"plantings": ("P1",)})


def sheet(headings: list[str], *rows: list[object]) -> Sheet:
    """A sheet named `Trees`."""
    heads = {i: Cell(heading, f"{'ABCDEF'[i]}3") for i, heading in enumerate(headings)}
    placed = tuple(
        {i: Cell(value, f"{'ABCDEF'[i]}{number}") for i, value in enumerate(row) if value is not None}
        for number, row in enumerate(rows, 4)
    )
    return Sheet("Trees", heads, placed)


def test_a_word_is_asked_once_with_its_cells() -> None:
    """`herm` in 38 cells is one question, with the word that it most likely stands for."""
    given = sheet(["Tree", "Sex"], *([f"T{n}", "herm"] for n in range(38)), ["T99", "Female"])
    sheet_map = SheetMap(
        "Trees", "trees", {"Tree": Target("tree"), "Sex": Target("sex")}, constants={"planting": "P1"}
    )

    (question,) = list_questions(given, sheet_map, KNOWN)

    assert "'herm', 38 cells, Trees!B4, B5, B6 and 35 more: hermaphrodite?" == question.text
    answered = answer(sheet_map, question, "hermaphrodite")
    assert ([], {"herm": "hermaphrodite"}) == (
        list_questions(given, answered, KNOWN),
        dict(answered.columns["Sex"].words),
    )


def test_all_is_asked_in_one_run() -> None:
    """Words, a unit, the order of days, and what every record needs and no column says."""
    given = sheet(["Bag", "Covered", "Tied"], ["B1", "3/4/2026", "ok"], ["B2", "4/5/2026", "yes"])
    columns = {"Bag": Target("bag"), "Covered": Target("covered"), "Tied": Target("secured")}

    questions = list_questions(given, SheetMap("Trees", "bagging", columns), KNOWN)

    assert [("word", "Tied"), ("dates", "dates"), ("constant", "tree")] == [
        (one.kind, one.heading) for one in questions
    ]


def test_a_unit_is_asked_where_numbers_have_none() -> None:
    """With the usual one; cells that bear their unit ask nothing."""
    columns = {"Lot": Target("lot"), "W": Target("weight")}
    bare = list_questions(sheet(["Lot", "W"], ["L1", 20]), SheetMap("Trees", "lots", columns), KNOWN)
    told = list_questions(sheet(["Lot", "W"], ["L1", "20 g"]), SheetMap("Trees", "lots", columns), KNOWN)

    assert [("unit", "g")] == [(one.kind, one.suggestion) for one in bare if one.heading == "W"]
    assert [] == [one for one in told if one.heading == "W"]


def test_what_is_needed_and_named_nowhere_is_asked_with_a_reason() -> None:
    """The only planting is offered; a column that could be meant is named."""
    given = sheet(["Tree", "When"], ["T1", "2026-03-01"])
    trees = list_questions(given, SheetMap("Trees", "trees", {"Tree": Target("tree"), "When": None}), KNOWN)
    moved = list_questions(
        given, SheetMap("Trees", "movements", {"Tree": Target("lot"), "When": None}), KNOWN
    )

    assert ("P1", SEXES) == (trees[0].suggestion, trees[1].choices)
    assert "Perhaps a column does: 'When'" in next(one.text for one in moved if one.heading == "date")


def test_an_open_question_stands_in_the_map() -> None:
    """As `?`, with what is asked behind it; and it is asked again."""
    given = sheet(["Tree", "Sex"], ["T1", "herm"])
    sheet_map = SheetMap("Trees", "trees", {"Tree": Target("tree"), "Sex": Target("sex")})
    questions = list_questions(given, sheet_map, KNOWN)

    left = leave_open(sheet_map, questions)

    assert ({"planting": OPEN}, {"herm": OPEN}) == (dict(left.constants), dict(left.columns["Sex"].words))
    assert questions == list_questions(given, left, KNOWN)
    assert {("Trees", "Sex/herm"), ("Trees", "planting")} == set(remarks_of(questions))


def test_a_table_that_nothing_tells_is_asked() -> None:
    """And it may be none."""
    (question,) = list_questions(sheet(["x"], ["y"]), SheetMap("Trees", OPEN, {"x": Target(OPEN)}), KNOWN)

    assert ("table", True) == (question.kind, "ignore" in question.choices)
    assert "trees" == answer(SheetMap("Trees", OPEN, {}), question, "trees").table


@pytest.mark.parametrize(
    ("typed", "listed", "meant"),
    [
        ("herm", SEXES, "hermaphrodite"),
        ("H", SEXES, "hermaphrodite"),
        ("femal", SEXES, "female"),
        ("neg.", ("negative", "positive"), "negative"),
        ("-", ("negative", "positive"), "negative"),
        ("bud", ("closed bud", "open"), "closed bud"),
        ("ripe", ("quarter ripe", "half ripe"), ""),
        ("xyz", SEXES, ""),
        ("", SEXES, ""),
    ],
)
def test_a_word_is_suggested_only_where_one_can_be_meant(
    typed: str, listed: tuple[str, ...], meant: str
) -> None:
    """The one that begins with it, holds it, or is spelled almost like it; of two likely ones neither."""
    assert meant == suggest_word(typed, listed)


def test_a_sheet_of_known_records_is_not_asked_what_is_recorded() -> None:
    """Trees that are there need no planting; one that isn't does."""
    known = Known({"sexes": SEXES}, {"trees": ("01", "02")})
    sheet_map = SheetMap(
        "Trees", "trees", {"No": Target("tree", drop_prefix="tree ", digits=2), "Row": Target("row")}
    )

    assert [] == list_questions(sheet(["No", "Row"], ["tree 1", 4], ["Tree 2", 5]), sheet_map, known)
    assert ["planting", "sex"] == [
        one.heading for one in list_questions(sheet(["No", "Row"], ["tree 3", 4]), sheet_map, known)
    ]


def test_a_decimal_comma_is_asked_once() -> None:
    """For the whole sheet, with the reading that its cells leave no doubt about."""
    columns = {"Lot": Target("lot"), "W": Target("weight", "g"), "N": Target("net_weight", "g")}
    given = sheet(["Lot", "W", "N"], ["L1", "3,5", "1,250"], ["L2", "20", "4"])

    asked = [
        one
        for one in list_questions(given, SheetMap("Trees", "lots", columns), KNOWN)
        if one.kind == "decimal"
    ]

    assert [("comma", ("comma", "thousands"))] == [(one.suggestion, one.choices) for one in asked]
    answered = answer(SheetMap("Trees", "lots", columns), asked[0], "comma")
    assert "comma" == answered.decimal
    assert [] == [one for one in list_questions(given, answered, KNOWN) if one.kind == "decimal"]


def test_a_pencilled_remark_is_asked_about() -> None:
    """`?` where a day belongs may be left out; a day that is none stays a fault at its cell."""
    given = sheet(["Bag", "Covered"], ["B1", "?"], ["B2", "2026-13-45"])
    columns = {"Bag": Target("bag"), "Covered": Target("covered")}

    asked = list_questions(given, SheetMap("Trees", "bagging", columns, constants={"tree": "T1"}), KNOWN)

    assert ["'?', 1 cell, Trees!B4: no day; leave the cell out?"] == [one.text for one in asked]
    assert ("ignore",) == asked[0].choices


def test_what_an_entry_needs_is_asked() -> None:
    """A lot of one run took its weight from there: that is suggested, and said only when somebody says so."""
    columns = {"Lot": Target("lot"), "From": Target("sources.1.batch"), "W": Target("weight", "g")}
    given = sheet(["Lot", "From", "W"], ["L1", "R1", 20])

    asked = list_questions(given, SheetMap("Trees", "lots", columns), KNOWN)

    assert [("sources.1.weight", "{W} g")] == [
        (one.heading, one.suggestion) for one in asked if one.heading.startswith("sources")
    ]


def test_pieces_of_a_cell_ask_for_their_words() -> None:
    """A word of the grower's own inside a cell that is cut."""
    given = sheet(["Bag", "Looks"], ["B1", "2026-03-04 ok; 2026-03-08 torn"])
    looks = Target("checks", entries=";", cut=" ", fields=("date", "condition"))
    part = SheetMap("Trees", "bagging", {"Bag": Target("bag"), "Looks": looks}, constants={"tree": "T1"})

    (asked,) = list_questions(given, part, KNOWN)

    assert ("ok", "intact") == (asked.typed, asked.suggestion)
