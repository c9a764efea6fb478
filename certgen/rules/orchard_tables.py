"""Plantings, trees and bags as tables, row for row, each with what it stands on joined to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame

    from certgen.rules.case import Case


def list_plantings(case: Case) -> DataFrame:
    """Plantings with their block (see `Case.plantings`)."""
    blocks = case.keyed("blocks")
    frame = case.season.table("plantings")
    return frame.assign(
        variety=case.spelling.spell(frame["variety"]),
        block_status=look_up(frame["block"], blocks["status"]),
        block_row=look_up(frame["block"], blocks["row_of"]),
    )


def list_trees(case: Case) -> DataFrame:
    """Trees with their planting and what their samples say (see `Case.trees`)."""
    frame = case.season.table("trees")
    plantings = case.plantings
    plantings = plantings[plantings["planting"].notna() & ~plantings["planting"].duplicated()]
    plantings = plantings.assign(planting_row=plantings.index).set_index("planting")
    added = ("variety", "block", "planted", "block_status", "planting_row")
    verdicts = case.verdicts
    return frame.assign(
        **{column: look_up(frame["planting"], plantings[column]) for column in added},
        **{column: look_up(frame["tree"], verdicts[column]) for column in verdicts.columns},
        behind_lot=case.behind("trees"),
    )


def list_bags(case: Case) -> DataFrame:
    """Bags with their tree (see `Case.bags`)."""
    frame = case.season.table("bagging")
    tree = case.tree_of
    added = (
        "variety", "planting", "block", "planted", "removed", "sex", "block_status", "verdict", "cleared",
        "clearing_sample",
    )  # fmt: skip
    return frame.assign(
        **{column: look_up(frame["tree"], tree[column]) for column in added},
        behind_lot=case.behind("bagging"),
        picked=frame["bag"].isin(case.season.exploded("harvests", "bags")["value"]),
    )
