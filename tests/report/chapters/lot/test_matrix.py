"""The matrix as a table: links, words and shapes, however many trees, bags and pickings there are."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import seasons as built
from printed import cell_text

from certgen.examination import examine, examine_season
from certgen.report.chapters.lot.matrix import show_matrix
from certgen.report.chapters.lot.parents import gather_parents, letters_of, show_parents
from certgen.report.context import Context

ON = date(2026, 11, 25)


def tables_of(context, lot):
    """The matrix of a lot, as tables."""
    return show_matrix(context, context.matrices.of_lot(lot), gather_parents(context, [lot]))


def orchard_of(trees, pickings=1, bags=1, **changes):
    """A season of one lot with so many trees, each with so many bags in every picking; all is sound."""
    names = [f"T{number:03}" for number in range(trees)]
    of = [
        (f"B{picking}-{name}-{number}", name, f"H{picking}")
        for picking in range(pickings)
        for name in names
        for number in range(bags)
    ]
    fruits = trees * pickings * bags
    tables = {
        **built.one_line(),
        "trees": [built.tree(name) for name in names],
        "screening": [built.sample(f"S-{name}", name) for name in names],
        "bagging": [built.bag(bag, tree) for bag, tree, _ in of],
        "harvests": [
            built.harvest(f"H{picking}", [bag for bag, _, where in of if where == f"H{picking}"])
            for picking in range(pickings)
        ],
        "batches": [built.batch("X1", [f"H{picking}" for picking in range(pickings)], fruits)],
        "lots": [built.lot("L1", [{"batch": "X1", "weight": f"{8 * fruits} g"}], 8 * fruits)],
    }
    return Context(examine_season(built.season_of(**{**tables, **changes}), ON))


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, ON))


def test_a_failed_bag_has_its_shape_its_word_and_its_gap(example):
    """Tree, tag and picking lead to their records; what failed is told by shape, word and number."""
    (grid,) = tables_of(example, "RC-26-2")
    rows = {cell_text(row.cells[0]): row for row in grid.rows}

    assert ["Parent", "Screening", "H26-06", "H26-08", "Its bags"] == [head.text for head in grid.heads]
    tag, _, gap = rows["T-203"].cells[2].runs
    assert ("B26-064", "bagging/B26-064", "rejected") == (tag.text, tag.href, tag.mark)
    assert "B26-064, failed, gap 4" == cell_text(rows["T-203"].cells[2])
    assert "gap/4" == gap.href
    assert ("1 failed", "faulty") == (cell_text(rows["T-203"].cells[4]), rows["T-203"].tone)
    assert "trees/T-203" == rows["T-203"].cells[0].runs[0].href
    assert "harvests/H26-06" == rows["All"].cells[2].runs[0].href
    assert "H26-06: 10 clean, 1 failed" == cell_text(rows["All"].cells[2])
    assert "18 February 2026" == cell_text(rows["Covered"].cells[2])


def test_a_negative_with_something_open_is_not_plainly_negative(example):
    """The tree whose result lacks its letter wears the shape of what is unproven, with the gap."""
    (grid,) = tables_of(example, "RC-26-2")
    rows = {cell_text(row.cells[0]): row for row in grid.rows}

    assert "unproven" == rows["T-104"].cells[1].runs[0].mark
    assert "negative, unproven, gap 8 · E, F" == cell_text(
        show_matrix(
            example,
            example.matrices.of_lot("RC-26-2"),
            gather_parents(example, list(example.result.lots)),
        )[0]
        .rows[2]
        .cells[1]
    )
    assert "10 negative, 1 unproven" == cell_text(rows["All"].cells[1])


def test_the_ground_is_told_below_the_trees():
    """A planting at which something is open stands below, with its shape and gap, once."""
    (grid,) = tables_of(orchard_of(3, plantings=[built.planting(origin={"lot": "L-unheard-of"})]), "L1")
    last = grid.rows[-1]

    assert ("Planting P1", "plantings/P1") == (cell_text(last.cells[0]), last.cells[0].runs[0].href)
    assert cell_text(last.cells[1]).startswith("unproven, gap ")
    assert "unproven" == last.cells[1].runs[0].mark
    assert ["negative · A"] * 3 == [cell_text(row.cells[1]) for row in grid.rows[:3]]


def test_a_tag_s_photo_opens_beside_the_tag(example):
    """A bag whose tag was photographed leads to the photo too."""
    (grid,) = tables_of(example, "AK-26-4")
    runs = [run for row in grid.rows for cell in row.cells for run in cell.runs]

    assert "evidence/tags/b26-125.png" in [run.href for run in runs if run.text == "tag"]


def test_many_pickings_stand_in_tables_of_five():
    """No table is wider than the page; each bag stands in one of them."""
    context = orchard_of(2, pickings=12)
    grids = tables_of(context, "L1")
    tags = [
        run.text for grid in grids for row in grid.rows for cell in row.cells for run in cell.runs if run.mark
    ]

    assert [5, 5, 2] == [len(grid.heads) - 3 for grid in grids]
    assert 24 == len({tag for tag in tags if tag.startswith("B")})
    assert [""] == [grid.note for grid in grids[:1]]
    assert "Covered at the stage: closed bud, all; outcome: set, all." == grids[-1].note


def test_lots_of_many_trees_gather_those_alike_and_name_the_rest():
    """Two hundred trees: one row for the sound ones, one for each that isn't like them, no bag lost."""
    trees, torn = 200, {"B0-T007-0"}
    bags = [
        built.bag(f"B0-T{number:03}-0", f"T{number:03}")
        | ({"checks": (built.look(3, "torn"),)} if f"B0-T{number:03}-0" in torn else {})
        for number in range(trees)
    ]
    context = orchard_of(trees, bagging=bags)
    (grid,) = tables_of(context, "L1")
    rows = [[cell_text(cell) for cell in row.cells] for row in grid.rows]
    names = [row[0] for row in rows]

    assert ["T000 to T006, T008 to T199 (199)", "T007", "All", "Covered"] == names
    assert rows[0][2].startswith("199 clean: B0-T000-0 to B0-T006-0, B0-T008-0 to B0-T199-0")
    assert "failed, gap" in rows[1][2]
    assert "H0: 199 clean, 1 failed" == rows[2][2]
    assert "200 trees, 200 bags, 1 picking: H0" == grid.caption


def test_a_tree_with_very_many_bags_names_them_in_stretches():
    """Thirty bags of one tree are one stretch with its count."""
    context = orchard_of(1, bags=30)
    (grid,) = tables_of(context, "L1")

    assert "30 clean: B0-T000-0 to B0-T000-29. " == cell_text(grid.rows[0].cells[2])


def test_a_pool_is_one_result_of_all_its_trees():
    """Twelve trees of a pool share a line and a letter, whose sample held twelve."""
    names = [f"T{number:03}" for number in range(12)]
    context = orchard_of(12, screening=[built.pool("S-P", *names)])
    book = gather_parents(context, ["L1"])
    variety, legend = show_parents(context, book)

    assert ["A"] == list(book.letters.values())
    assert ["T000 to T011"] == [cell_text(row.cells[0]) for row in variety.rows]
    assert "12 trees" in [cell_text(cell) for cell in legend.rows[0].cells]


def test_fruit_that_no_bag_stands_for_is_said():
    """A cell never stays empty where a picking took fruit."""
    context = orchard_of(1, harvests=[built.harvest("H0", [], trees=("T000",), fruits=1)])
    (grid,) = tables_of(context, "L1")

    assert "fruit that no bag stands for" == cell_text(grid.rows[0].cells[2])
    assert "unproven" == grid.rows[0].cells[2].runs[0].mark


def test_an_exception_of_the_bags_is_named():
    """One flower covered late is named below the matrix, while the others are counted."""
    bags = [built.bag("B0-T000-0", "T000"), built.bag("B0-T001-0", "T001", stage="open")]
    (grid,) = tables_of(orchard_of(2, bagging=bags), "L1")

    assert "closed bud, 1; open, 1 (B0-T001-0)" in grid.note


def test_bags_of_several_days_say_the_first_and_the_last():
    """The days of covering stand below each picking."""
    later = built.COVERED + timedelta(4)
    tag = {"date": later, "variety": "Amber Kestrel", "tree": "T001"}
    bags = [built.bag("B0-T000-0", "T000"), built.bag("B0-T001-0", "T001", covered=later, tag=tag)]
    (grid,) = tables_of(orchard_of(2, bagging=bags), "L1")

    assert "12 to 16 January 2026" == cell_text(grid.rows[-1].cells[2])


def test_letters_run_past_z():
    """Results are lettered A to Z, then AA."""
    assert ["A", "Z", "AA", "AZ", "BA"] == [letters_of(number) for number in (0, 25, 26, 51, 52)]
