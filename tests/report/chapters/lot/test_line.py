"""A lot's line and time line: the records drawn, what stands beside them, days that break the order."""

from __future__ import annotations

from datetime import date

import pytest
from printed import plain

from certgen.examination import examine
from certgen.lineage import Node
from certgen.report.chapters.lot.line import (
    gather_lot_picture,
    gather_picture,
    line_of,
    show_glance,
    show_timeline,
)
from certgen.report.context import Context


@pytest.fixture(scope="module")
def context(result) -> Context:
    """The small season."""
    return Context(result)


def test_a_line_runs_from_parents_to_buyers(context):
    """Each layer holds the records of its table that the lot rests on, and what was sold from it."""
    picture = gather_lot_picture(context, "L1", 500)
    names = {layer.title: [node.label for node in layer.nodes] for layer in picture.layers}

    assert ["Plantings", "Samples", "Parents", "Bags", "Pickings", "Batches", "Lots", "Movements"] == list(
        names
    )
    assert ["T1", "T2"] == names["Parents"]
    assert 40 == len(names["Bags"])
    assert ["M1"] == names["Movements"]
    assert {("plantings/P1", "trees/T1"), ("trees/T1", "bagging/B001"), ("lots/L1", "movements/M1")} <= set(
        picture.links
    )
    assert {("screening/S1", "trees/T1")} <= set(picture.links)
    assert "Bags: B001 to B040 (gap 2, 3)." in picture.description


def test_a_tree_whose_sample_is_open_is_not_plainly_negative(example_season):
    """The tree that a result without a report cleared wears the sample's shape and number, as the sample."""
    context = Context(examine(example_season, date(2026, 11, 25)))
    boxes = {
        node.key: node
        for layer in gather_lot_picture(context, "RC-26-2", 500, "#").layers
        for node in layer.nodes
    }

    assert ("unproven", "gap 8") == (boxes["screening/S26-044"].mark, boxes["screening/S26-044"].word)
    assert ("unproven", "negative, sample’s gap 8") == (boxes["trees/T-104"].mark, boxes["trees/T-104"].word)
    assert ("", "") == (boxes["trees/T-101"].mark, boxes["trees/T-101"].word)
    assert "trees/T-104" == boxes["trees/T-104"].anchor


def test_every_record_of_a_line_is_said(example_season):
    """The words for those who don't see the drawing leave nothing to “and 4 more”."""
    context = Context(examine(example_season, date(2026, 11, 25)))
    for lot in context.result.lots:
        picture = gather_lot_picture(context, lot, 500)
        assert "more" not in picture.description
        assert all(
            node.label in picture.description for layer in picture.layers for node in layer.nodes if node.word
        )


def test_a_box_tells_of_its_record(context):
    """A tree's samples, a weight, the numbers of the gaps; the lot itself is the root."""
    boxes = {
        node.key: node for layer in gather_lot_picture(context, "L1", 500).layers for node in layer.nodes
    }
    numbers = ", ".join(
        str(number) for number, gap in context.gaps_at(Node("lots", "L1")) if gap.weight != "advice"
    )

    assert ("negative", "unproven") == (boxes["trees/T1"].detail, boxes["trees/T1"].mark)
    assert "negative, sample’s gap 18" == boxes["trees/T1"].word
    assert ("not screened", "unproven") == (boxes["trees/T2"].detail, boxes["trees/T2"].mark)
    assert ("250 g", f"gap {numbers}") == (boxes["lots/L1"].detail, boxes["lots/L1"].word)
    assert ["lots/L1"] == [key for key, box in boxes.items() if box.root]


def test_what_a_record_lacks_is_marked(context):
    """A picture of other layers leaves other tables out; a word for what lacks stands where no gap does."""
    tree, bag, picking = Node("trees", "T1"), Node("bagging", "B001"), Node("harvests", "H1")
    picture = gather_picture(
        context,
        "Two records",
        {tree, bag, picking},
        {picking},
        400,
        layers=(("trees", "Trees"), ("harvests", "Pickings")),
        lacking={tree: "no letter"},
    )

    assert [("T1", "unproven", "no letter"), ("H1", "unproven", "gap 7")] == [
        (node.label, node.mark, node.word) for layer in picture.layers for node in layer.nodes
    ]
    assert () == picture.links


def test_a_time_line_names_every_kind_of_work(context):
    """Work is counted, with its first and last day; no day of the sound season breaks the order."""
    (picture,) = show_timeline(context, "L1", line_of(context, "L1"), 500)

    assert "40 bags, 1 February 2026; 1 picking, 20 June 2026; 1 batch, 25 June 2026" in picture.alt
    assert "packed, 10 July 2026; tests: none recorded" in picture.alt
    assert 0 == picture.svg.count("<polygon")
    assert [] == show_timeline(context, "no such lot", set(), 500)


def test_a_lot_at_a_glance_has_its_days_and_its_grams(context):
    """One drawing holds both, and its words say both; a lot without a gram in the ledger has its days."""
    (picture,) = show_glance(context, "L1", line_of(context, "L1"), 500)

    assert "Time line of lot L1: 1 sample, 8 January 2026" in picture.alt
    grams = "packed from this season’s batches + 250 g; sold − 100 g; on hand by the book 150 g"
    assert grams in plain(picture.alt)
    assert 'height="' in picture.svg
    assert [] == show_glance(context, "no such lot", set(), 500)


def test_work_before_its_time_wears_a_diamond(season_folder, tmp_path, result):
    """A bag covered before any sample was cut, and a sale before packing."""
    records = (season_folder / "records.yaml").read_text(encoding="utf-8")
    for before, after in (("covered: '2026-02-01'", "covered: '2026-01-02'"), ("2026-08-01", "2026-07-01")):
        assert before in records
        records = records.replace(before, after, 1)
    (tmp_path / "records.yaml").write_text(records, encoding="utf-8")
    context = Context(examine(tmp_path, result.on))
    (picture,) = show_timeline(context, "L1", line_of(context, "L1"), 500)

    assert 2 == picture.svg.count("<polygon")
    assert "1 February 2026; 1 too early; 1 picking" in picture.alt
