"""Headings are found under titles; totals, blank rows and repeated headings are skipped, and that is said."""

from __future__ import annotations

from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.heading_names import is_known_heading
from certgen.exchange.importing.sheet_rows import find_headings, say_titles, skip_rows


def sheet(*rows: list[object]) -> Sheet:
    """A sheet whose first filled row is taken for its headings, as it is read."""
    placed = [
        {
            i: Cell(value, f"{'ABCDEF'[i]}{number}", formula=str(value).startswith("="))
            for i, value in enumerate(row)
            if value is not None
        }
        for number, row in enumerate(rows, 1)
    ]
    first, *others = [row for row in placed if row]
    return Sheet("Trees", first, tuple(others))


def values(row: dict[int, Cell]) -> list[object]:
    """What stands in a row."""
    return [cell.value for cell in row.values()]


def test_headings_under_titles_are_found_and_said() -> None:
    """Above them stand a title, a day and a remark."""
    before = sheet(["Our trees"], ["2026"], ["seen", "in March"], ["Tree no", "Sex"], ["1", "female"])

    after = find_headings(before, is_known_heading)

    assert (["Tree no", "Sex"], [["1", "female"]]) == (
        values(after.headings),
        [values(row) for row in after.rows],
    )
    assert "stand in row 4" in say_titles(before, after)
    assert "A1: 'Our trees'" in say_titles(before, after)


def test_headings_in_the_first_row_stay() -> None:
    """Even where a later row holds words that are headings elsewhere."""
    before = sheet(["Tree", "Sex", "Planting"], ["tree", "sex", "x"], ["2", "female", "P1"])

    assert before is find_headings(before, is_known_heading)
    assert "" == say_titles(before, before)


def test_unknown_headings_under_a_title_are_found_by_their_width() -> None:
    """A row with a single text above a wider one is a title, whatever the headings are called."""
    after = find_headings(sheet(["Jottings"], ["what", "when"], ["x", "y"]), is_known_heading)

    assert ["what", "when"] == values(after.headings)


def test_totals_blank_rows_and_repeated_headings_are_skipped_and_said() -> None:
    """Each with its cells."""
    found, said = skip_rows(
        sheet(
            ["Lot", "g"],
            ["L1", 20],
            [None],
            ["Sub-total:", "=B2"],
            ["Lot", "g"],
            ["L2", 30],
            [None, "=SUM(B2:B6)"],
            ["Grand total", 50],
        )
    )

    assert [["L1", 20], ["L2", 30]] == [values(row) for row in found.rows]
    assert [
        "sheet 'Trees': totals skipped (A4, B7, A8)",
        "sheet 'Trees': headings that stand again skipped (A5)",
        "sheet 'Trees': 1 blank row skipped",
    ] == said


def test_a_record_that_only_looks_like_a_total_is_kept() -> None:
    """A row with words beside `total` tells something; a lot may be called Totalia."""
    found, said = skip_rows(sheet(["Lot", "Remark"], ["total", "of the north rows"], ["Totalia", "x"]))

    assert (2, []) == (len(found.rows), said)
