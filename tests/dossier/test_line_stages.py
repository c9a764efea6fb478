"""A line by stage: every record once, those of the same words together, generations of seed apart."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.dossier.line import Line
from certgen.dossier.line_stages import list_back, list_forward, say_sources
from certgen.examination import examine
from certgen.lineage import Node

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def result(example_season):
    """The example, examined once."""
    return examine(example_season, ON)


def every_node(result):
    """The records that a line can begin at, some of each table."""
    by_table = {}
    for node in result.lineage.nodes:
        by_table.setdefault(node.table, []).append(node)
    return [node for nodes in by_table.values() for node in nodes[:: max(1, len(nodes) // 6)]]


def test_each_record_of_a_line_stands_in_one_group(result):
    """Backward and forward, from every kind of record: nothing twice, nothing lost."""
    for root in every_node(result):
        line = Line(result, root)
        for generations, reached in (
            (list_back(line), result.lineage.back(root)),
            (list_forward(line), result.lineage.forward(root)),
        ):
            told = [node for one in generations for group in one.groups for node in group.nodes]
            assert (len(told), set(reached)) == (len(set(told)), set(told))


def test_a_record_that_bears_a_finding_stands_alone(result):
    """However alike it is to others; so does one that lacks what should stand behind it."""
    for root in every_node(result):
        line = Line(result, root)
        for generation in (*list_back(line), *list_forward(line)):
            for group in generation.groups:
                if len(group.nodes) > 1:
                    assert not [node for node in group.nodes if result.gaps_of(node) or line.missing(node)]


def test_what_each_of_a_group_came_from_is_told(result):
    """What all share is said once, the rest by record: together they name every source."""
    line = Line(result, Node("lots", "AK-26-1"))
    (generation,) = list_back(line)
    trees = next(group for group in generation.groups if group.nodes[0].table == "trees")

    assert "hermaphrodite, screening: clear" == trees.words
    assert "from planting P-23-01; sample S26-047" == trees.shared
    assert "from sample S26-001; sample S25-001 of season 2025" == trees.own[0]
    for group in generation.groups:
        for node, own in zip(group.nodes, group.own, strict=True):
            for link in result.lineage.sources(node):
                assert link.source.id in f"{group.shared} {own}"


def test_own_evidence_comes_before_ancestry(result):
    """A tree's samples, then its planting and its land; the seed that it grew of is a generation further."""
    own, seed = list_back(Line(result, Node("trees", "T-301")))

    assert ["screening", "plantings", "blocks", "inputs"] == list(
        dict.fromkeys(group.nodes[0].table for group in own.groups)
    )
    assert (Node("plantings", "P-25-02"),) == seed.across
    assert {"movements", "lots", "tests", "batches"} <= {group.nodes[0].table for group in seed.groups}


def test_grams_and_pollen_are_told_with_their_source(result):
    """Each gram by the link that carried it."""
    line = Line(result, Node("lots", "AK-26-1"))
    packed = [link for link in result.lineage.sources(line.root) if link.kind == "packed"]

    assert "from 36.3\u00a0g of batch X26-01 and 73.6\u00a0g of batch X26-03" == say_sources(packed, line)
    assert "" == say_sources([], line)
