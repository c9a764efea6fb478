"""Faults of one kind are told once, with their cells."""

from __future__ import annotations

from certgen.exchange.importing.assembly import CellFault
from certgen.exchange.importing.fault_groups import group_faults


def test_faults_of_one_kind_in_a_column_are_one_line() -> None:
    """How many there are, the first cells, and how many more; others stay lines of their own."""
    faults = [CellFault("Trees", f"C{row}", "`sex` says 'herm'") for row in range(4, 42)]
    faults.insert(1, CellFault("Trees", "D4", "`sex` says 'herm'"))

    assert [
        "sheet 'Trees', 38 cells, C4, C5, C6, C7, C8 and 33 more: `sex` says 'herm'",
        "sheet 'Trees', cell D4: `sex` says 'herm'",
    ] == group_faults(faults)


def test_faults_of_a_file_of_records_are_told_each() -> None:
    """Their places are no cells of one column."""
    faults = [CellFault("a.yaml", f"trees, record {row}", "is wrong") for row in (1, 2)]

    assert ["a.yaml, trees, record 1: is wrong", "a.yaml, trees, record 2: is wrong"] == group_faults(faults)
