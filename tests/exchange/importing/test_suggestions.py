"""What most likely is meant: suggested where one thing can be, and nothing where several can."""

from __future__ import annotations

import pytest

from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.grids import Cell, Sheet
from certgen.exchange.importing.suggestions import suggest_decimal, suggest_key, suggest_word


@pytest.mark.parametrize(
    ("typed", "listed", "meant"),
    [
        ("ja", ("yes", "no"), "yes"),
        ("ok", ("intact", "torn", "loose", "gone"), "intact"),
        ("ok", ("passed", "failed", "not run"), "passed"),
        ("?", ("female", "male", "unknown"), "unknown"),
        ("ja", ("set", "dropped", "lost"), ""),
    ],
)
def test_words_of_the_trade(typed: str, listed: tuple[str, ...], meant: str) -> None:
    """One short word stands for another thing in each list."""
    assert meant == suggest_word(typed, listed)


@pytest.mark.parametrize(
    ("texts", "meant"),
    [
        (["3,5 g", "12"], "comma"),
        (["1,250 g"], ""),
        (["1,250,000"], "thousands"),
        (["3,5", "1,250.5"], ""),
        (["0,25"], "comma"),
    ],
)
def test_commas_in_numbers(texts: list[str], meant: str) -> None:
    """Three digits behind a comma may be thousands or decimals; both at once are told by nobody."""
    assert meant == suggest_decimal(texts)


def lay(*rows: tuple[object, object]) -> Sheet:
    """A sheet of sales."""
    heads = {0: Cell("Date", "A1"), 1: Cell("Lot", "B1")}
    placed = [{0: Cell(day, f"A{at}"), 1: Cell(lot, f"B{at}")} for at, (day, lot) in enumerate(rows, 2)]
    return Sheet("Sales", heads, tuple(placed))


def test_an_identifier_is_made_of_what_tells_rows_apart() -> None:
    """Of day and lot, even where today's rows differ by one of them; of nothing where both are alike."""
    part = SheetMap("Sales", "movements", {"Date": Target("date"), "Lot": Target("lot")})

    assert "M-{Date}-{Lot}" == suggest_key(lay(("2026-01-01", "L1"), ("2026-01-02", "L1")), part)
    assert "" == suggest_key(lay(("2026-01-01", "L1"), ("2026-01-01", "L1")), part)
