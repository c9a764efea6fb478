"""Lists inside records and two fields in one cell are guessed where heading and cells both show them."""

from __future__ import annotations

import pytest
from grids import lay

from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.headings import NOTHING, guess


def columns_of(found: SheetMap) -> dict[str, Target | None]:
    """What each column is."""
    return dict(found.columns)


@pytest.mark.parametrize(
    ("cells", "parted"),
    [
        (["R1 20 g; R2 3,5 g", "R1 4 g"], ";"),
        (["R1 20 g + R2 3.5 g"], "+"),
        (["R1 20 g\nR2 3 g"], "\n"),
        (["R1 20 g, R2 3 g"], ","),
    ],
)
def test_sources_in_one_cell(cells: list[str], parted: str) -> None:
    """However they are parted, a decimal comma among them or not."""
    given = lay(["Lot", "made from"], *([f"L{at}", cell] for at, cell in enumerate(cells)))

    found = guess(given, "lots", NOTHING)

    assert (
        Target("sources", entries=parted, cut=" ", fields=("batch", "weight"))
        == found.sheet_map.columns["made from"]
    )
    assert "its cells name batch and weight" in found.reasons["made from"]


def test_cells_that_are_no_entries_are_left_out() -> None:
    """Without weights nothing shows what a cell says of them."""
    found = guess(lay(["Lot", "made from"], ["L1", "the good ones, R1"]), "lots", NOTHING)

    assert found.sheet_map.columns["made from"] is None


def test_sources_in_columns_of_their_own() -> None:
    """Each run with the weight beside it; the first weight is the lot's."""
    given = lay(["Lot", "g", "from run", "g (2)", "run 2", "g (3)"], ["L1", 50, "R1", 20, "R2", 30])

    columns = columns_of(guess(given, "lots", NOTHING).sheet_map)

    assert {
        "Lot": Target("lot"),
        "g": Target("weight", "g"),
        "from run": Target("sources.1.batch"),
        "g (2)": Target("sources.1.weight", "g"),
        "run 2": Target("sources.2.batch"),
        "g (3)": Target("sources.2.weight", "g"),
    } == columns


def test_several_rows_of_one_lot() -> None:
    """The number stands once, and an empty cell means the one above; or it stands again."""
    once = lay(["Lot", "g", "from run", "went in g"], ["L1", 50, "R1", 20], [None, None, "R2", 30])
    again = lay(["Lot", "g", "from run", "went in g"], ["L1", 50, "R1", 20], ["L1", 50, "R2", 30])

    first, second = (guess(one, "lots", NOTHING).sheet_map for one in (once, again))

    assert (True, Target("lot", down=True)) == (first.repeats, first.columns["Lot"])
    assert (True, Target("lot")) == (second.repeats, second.columns["Lot"])
    assert Target("sources.1.weight", "g") == first.columns["went in g"]


def test_looks_at_a_bag() -> None:
    """A day and how it was found, in two columns; a word of that is no column of its own without the day."""
    found = guess(lay(["Bag", "checked", "how"], ["B1", "2026-03-04", "ok"]), "bagging", NOTHING).sheet_map
    alone = guess(lay(["Bag", "how"], ["B1", "ok"]), "bagging", NOTHING).sheet_map

    assert (Target("checks.1.date"), Target("checks.1.condition")) == (
        found.columns["checked"],
        found.columns["how"],
    )
    assert alone.columns["how"] is None


def test_two_fields_in_one_cell() -> None:
    """A heading that names both, and a sign in all cells; a cell without it leaves the column alone."""
    found = guess(lay(["Tree", "Row / Pos"], ["T1", "1 / 2"], ["T2", "1 / 3"]), "trees", NOTHING)
    uneven = guess(lay(["Tree", "Row / Pos"], ["T1", "1 / 2"], ["T2", "13"]), "trees", NOTHING)

    assert Target("row", cut="/", fields=("row", "position")) == found.sheet_map.columns["Row / Pos"]
    assert uneven.sheet_map.columns["Row / Pos"] is None
