"""Cells are taken apart as a map says: pieces, ranges, prefixes."""

from __future__ import annotations

from grids import lay

from certgen.exchange.importing.cell_pieces import cut_cell, list_keys, rename
from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.grids import Cell


def test_the_pieces_of_each_entry() -> None:
    """Parted first into entries, then each into its fields; blanks around them don't count."""
    target = Target("sources", entries=";", cut=" ", fields=("batch", "weight"))

    assert [["R1", "20 g"], ["R2", "3,5 g"]] == cut_cell(Cell("R1 20 g ;  R2 3,5 g;", "A1"), target)
    assert [] == cut_cell(Cell("=A1", "A1", formula=True), target)
    assert [] == cut_cell(Cell("R1", "A1"), Target("lot"))


def test_what_a_sheet_gives_its_own_records_for_names() -> None:
    """As the season will have them: ranges taken apart, prefixes off, noughts filled up."""
    given = lay(["No", "Sex"], ["tree 8-10", "H"], ["tree 2", "F"], ["tree 1-999999", "F"])
    target = Target("tree", drop_prefix="tree ", digits=2, ranges=True)

    found = list_keys(given, SheetMap("Book", "trees", {"No": target, "Sex": Target("sex")}), "tree")

    assert ["02", "1-999999"] == found[-2:]
    assert [] == list_keys(given, SheetMap("Book", "trees", {"No": None}), "tree")


def test_a_name_without_its_prefix() -> None:
    """In whatever case it is typed; a name that is nothing but the prefix stays for the reader to refuse."""
    target = Target("tree", drop_prefix="tree ", digits=2, add_prefix="T")

    assert ["T07", "T07", "Ttree"] == [rename(text, target) for text in ("Tree 7", "7", "tree ")]
