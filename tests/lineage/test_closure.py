"""What rests on what, of all lots at once, is what walking from each record finds."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from bench.shapes import write_shape
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.examination import Result, examine
from certgen.lineage import Lineage, Node, closure, judging

TABLES = ("trees", "bagging", "harvests", "batches", "lots", "movements")
KINDS = ("bagged", "picked", "processed", "packed", "moved")
NODES = [Node(table, f"{table}{number}") for table in TABLES for number in range(3)]
#: Blends between any lots; other links lead from a table to the next.
BLENDS = st.lists(st.tuples(st.integers(12, 14), st.integers(12, 14)), max_size=8)
LINKS = st.lists(st.tuples(st.integers(0, 14), st.integers(0, 2)), max_size=20)


def lineage_of(links: list[tuple[int, int]], blends: list[tuple[int, int]]) -> Lineage:
    """A lineage of three records a table, of which the last lot has no record."""
    ends = [(start // 3 + 1) * 3 + to for start, to in links]
    sources = [*(start for start, _ in links), *(one for one, _ in blends)]
    kinds = [*(KINDS[start // 3] for start, _ in links), *("blended" for _ in blends)]
    targets = [*ends, *(other for _, other in blends)]
    return Lineage(NODES, [NODES[14]], sources, targets, kinds, [None] * len(sources))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(LINKS, BLENDS.filter(bool), st.lists(st.sampled_from(NODES), max_size=4))
def test_bits_reach_what_walks_reach(
    monkeypatch: pytest.MonkeyPatch,
    links: list[tuple[int, int]],
    blends: list[tuple[int, int]],
    some: list[Node],
) -> None:
    """The lots that rest on records, one and several, and each lot's parents."""
    monkeypatch.setattr(closure, "MOST_PAIRS", -1)
    vast = lineage_of(links, blends)
    assert vast.closure is not None
    monkeypatch.setattr(closure, "MOST_PAIRS", 10**6)
    walked = lineage_of(links, blends)
    assert walked.closure is None

    assert [tuple(walked.lots_reached(node)) for node in NODES] == [
        tuple(vast.lots_reached(node)) for node in NODES
    ]
    assert tuple(walked.lots_of(some)) == tuple(vast.lots_of(some))
    for lot in ("lots0", "lots1", "lots2"):
        assert set(walked.seed_parents(lot)) == set(vast.seed_parents(lot))
        at = vast.position(Node("lots", lot))
        line = {vast.position(node) for node in walked.line_of_lot(lot)}
        assert sum(1 << point for point in line) == vast.closure.line(at)


def examined(folder: Path) -> Result:
    """A season as it stands at the end of the year."""
    return examine(folder, date(2026, 12, 31))


@pytest.mark.parametrize("name", ["chain-of-blends", "cycle-of-blends", "blends-of-all-earlier"])
def test_what_is_counted_by_bits_is_what_is_looked_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Gaps, standings and what shows each obligation are the same; only names stand in another order."""
    write_shape(name, tmp_path / "season", 40)
    walked = examined(tmp_path / "season")
    monkeypatch.setattr(closure, "MOST_PAIRS", -1)
    vast = examined(tmp_path / "season")

    assert vast.lineage.closure is not None
    assert [(gap.message, tuple(gap.lots)) for gap in walked.gaps] == [
        (gap.message, tuple(gap.lots)) for gap in vast.gaps
    ]
    assert walked.lots == vast.lots
    for lot in walked.lots:
        for one, other in zip(walked.proof(lot), vast.proof(lot), strict=True):
            assert sorted(one.open) == sorted(other.open)
            assert (one.obligation, one.records, one.shown, one.by, one.weight_mg) == (
                other.obligation,
                other.records,
                other.shown,
                other.by,
                other.weight_mg,
            )


def test_summed_lots_keep_their_masses_and_are_said_not_to_be_weighed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where too many faults would be told apart, grams are worth what they were, but for rounding."""
    write_shape("blends-of-all-earlier", tmp_path / "season", 60)
    told = examined(tmp_path / "season")
    monkeypatch.setattr(judging, "MOST_HELD", 50)
    summed = examined(tmp_path / "season")

    assert told.unweighed == 0 < summed.unweighed
    for lot, standing in told.lots.items():
        other = summed.lots[lot]
        assert (standing.standing, standing.weight_mg) == (other.standing, other.weight_mg)
        assert abs(standing.traced_mg - other.traced_mg) <= 20
        assert abs(standing.rejected_mg - other.rejected_mg) <= 20
