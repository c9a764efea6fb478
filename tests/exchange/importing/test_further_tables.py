"""One sheet whose rows tell of several tables: only where they are linked, and only by columns left over."""

from __future__ import annotations

from grids import lay

from certgen.exchange.importing.assembly import gather
from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.headings import NOTHING, guess

BAGS = ["Bag", "Tree", "bagged on", "picking", "picked", "fruit", "kg"]


def test_bagging_and_picking_in_one_row() -> None:
    """A picking names the row's bag; rows without a picking say nothing of one."""
    given = lay(
        BAGS,
        ["B1", "T1", "2026-03-01", "H1", "2026-07-01", 1, 0.9],
        ["B2", "T1", "2026-03-02", None, None, None, None],
    )

    found = guess(given, "bagging", NOTHING)

    (further,) = found.sheet_map.also
    assert ("harvests", "picking", Target("bags"), Target("weight", "kg")) == (
        further.table,
        further.where,
        further.columns["Bag"],
        further.columns["kg"],
    )
    assert "`fruits` of harvests" in found.reasons["fruit"]
    gathered = gather([(given, found.sheet_map)], {})
    assert [] == [fault.text() for fault in gathered.faults]
    assert [("bagging", "B1"), ("bagging", "B2"), ("harvests", "H1")] == [
        (one.table, one.key) for one in gathered.records
    ]
    assert ["B1"] == gathered.records[2].values["bags"]


def test_the_block_of_several_plantings_is_one() -> None:
    """Rows of one block tell of it once."""
    given = lay(
        ["Planting", "Block", "Variety", "Organic status", "organic since"],
        ["P1", "East", "CB", "organic", "2020-05-01"],
        ["P2", "East", "AK", "organic", "2020-05-01"],
    )

    found = guess(given, "plantings", NOTHING).sheet_map

    assert ["blocks"] == [part.table for part in found.also]
    assert ["plantings", "plantings", "blocks"] == [one.table for one in gather([(given, found)], {}).records]


def test_a_single_column_is_no_table() -> None:
    """One heading that happens to be called like another table's field shows nothing."""
    found = guess(lay(["Bag", "Tree", "picked"], ["B1", "T1", "2026-07-01"]), "bagging", NOTHING)

    assert () == found.sheet_map.also


def test_tables_that_are_not_linked_stay_apart() -> None:
    """What a block's sheet says of a lot can't be joined with the block."""
    given = lay(["Block", "Status", "Variety", "packed", "g"], ["East", "organic", "CB", "2026-09-01", 20])

    found = guess(given, "blocks", NOTHING).sheet_map

    assert isinstance(found, SheetMap)
    assert () == found.also
