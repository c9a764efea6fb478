"""Plantings, trees and bags as tables, row for row, each with what it stands on joined to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.columns import as_rows, is_in

if TYPE_CHECKING:
    from certgen.records.columns import Columns
    from certgen.rules.case import Case


def list_plantings(case: Case) -> Columns:
    """Plantings with their block (see `Case.plantings`)."""
    plantings, blocks = case.columns("plantings"), case.columns("blocks")
    block = blocks.find("block", plantings["block"])
    return plantings.adding(
        variety=case.spelling.spell(plantings["variety"]),
        block_status=blocks.at("status", block),
        block_row=as_rows(block),
        whole=("block_row",),
    )


def list_trees(case: Case) -> Columns:
    """Trees with their planting and what their samples say (see `Case.trees`)."""
    trees, plantings, verdicts = case.columns("trees"), case.joined("plantings"), case.joined("verdicts")
    planting = plantings.find("planting", trees["planting"])
    verdict = verdicts.find("tree", trees["tree"])
    return trees.adding(
        **{name: plantings.at(name, planting) for name in ("variety", "block", "planted", "block_status")},
        planting_row=as_rows(planting),
        **{name: verdicts.at(name, verdict) for name in ("verdict", "cleared", "clearing_sample")},
        behind_lot=case.behind("trees"),
        whole=("planting_row",),
    )


def list_bags(case: Case) -> Columns:
    """Bags with their tree (see `Case.bags`)."""
    bags, trees = case.columns("bagging"), case.joined("trees")
    tree = trees.find("tree", bags["tree"])
    added = (
        "variety", "planting", "block", "planted", "removed", "sex", "block_status", "verdict", "cleared",
        "clearing_sample",
    )  # fmt: skip
    taken = set(case.season.elements("harvests", "bags")["value"].tolist())
    return bags.adding(
        **{name: trees.at(name, tree) for name in added},
        behind_lot=case.behind("bagging"),
        picked=is_in(bags["bag"], taken),
    )
