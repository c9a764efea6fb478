"""The registers: nothing recorded is left out, nobody's column takes room, and names lead on."""

from __future__ import annotations

import pytest

from certgen.lineage import Node
from certgen.records.tables import load_tables
from certgen.report.chapters.land import tables_told
from certgen.report.chapters.register_columns import COLUMNS
from certgen.report.chapters.registers import build_register, build_registers
from certgen.report.context import Context

COVERS = ("certgen.report.chapters.register_columns",)


@pytest.fixture(scope="module")
def context(result) -> Context:
    """The small season."""
    return Context(result)


def row_of(register, anchor: str) -> dict[str, tuple[tuple[str, str], ...]]:
    """A row's cells by their headings."""
    cells = dict(register.rows)[anchor]
    return dict(zip((column.title for column in register.columns), cells, strict=True))


def test_columns_name_fields_of_the_contract():
    """A column whose field was renamed in the schemas would stay empty for ever."""
    tables = load_tables()
    unknown = [
        (table, name)
        for table, columns in COLUMNS.items()
        for column in columns
        for name in column.fields
        if name not in {known.name for known in tables[table].columns}
    ]

    assert [] == unknown


def test_a_column_in_which_nobody_wrote_is_left_out(context):
    """Nobody wrote down a removal: the register of trees has no column for it."""
    register = build_register(context, "trees")

    assert ["Tree", "Planting", "Row", "Place", "Sex", "Also recorded"] == [
        column.title for column in register.columns
    ]


def test_a_cell_joins_its_fields_with_links(context):
    """A field that names a record leads to it, yes has words, what lacks a column stands last by its name."""
    row = row_of(build_register(context, "bagging"), "bagging/B001")

    assert (("T1", "trees/T1"),) == row["Tree"]
    assert (("2026-02-01", ""), (", ", ""), ("Amber Kestrel", ""), (", ", ""), ("T1", "")) == row["Tag says"]
    assert (("set", ""), (", ", ""), ("fruit marked", "")) == row["Outcome"]
    assert row["Also recorded"][-1][0].startswith("<script>")


def test_a_gap_at_a_record_stands_in_its_row(context):
    """The number of each gap at a tree leads to the gap."""
    numbers = context.result.numbers_of(Node("trees", "T3"))
    row = row_of(build_register(context, "trees"), "trees/T3")

    assert numbers
    assert [(f"gap {number}", f"gap/{number}") for number in numbers] == [
        run for run in row["Also recorded"] if run[1].startswith("gap/")
    ]


def test_a_name_leads_to_what_was_made_of_the_thing(context):
    """A bag leads to its picking, a batch to its lot, a block to what was planted on it."""
    assert (("B001", "harvests/H1"),) == row_of(build_register(context, "bagging"), "bagging/B001")["Bag"]
    assert (("X1", "lots/L1"),) == row_of(build_register(context, "batches"), "batches/X1")["Batch"]
    assert (("East", "plantings/P1"),) == row_of(build_register(context, "blocks"), "blocks/East")["Block"]
    lot = row_of(build_register(context, "lots"), "row/lots/L1")
    assert (("X1 250 g", "batches/X1"),) == lot["From"]


def test_registers_of_lots_hold_what_lots_rest_on(context):
    """Tree T3 stands behind no lot; movements are kept whole; `none` gives nothing."""
    registers = {register.table: register for register in build_registers(context, "lots")}

    assert ["trees/T1", "trees/T2"] == list(registers["trees"].anchors)
    assert ["movements/M1"] == list(registers["movements"].anchors)
    assert () == build_registers(context, "none")


def test_every_record_has_its_row(context):
    """A register has as many rows as its table has records, each as wide as its columns."""
    for name in context.tables:
        register = build_register(context, name)
        assert len(context.season.table(name)) == len(register.rows)
        assert {len(register.columns)} >= {len(cells) for _, cells in register.rows}


def test_what_the_land_tells_has_no_register(context):
    """Its records stand in the chapter of the land; the others have a register each."""
    tables = {register.table for register in build_registers(context, "full")}

    assert tables.isdisjoint(tables_told(context))
    assert {name for name in context.tables if len(context.season.table(name))} <= tables | tables_told(
        context
    )
