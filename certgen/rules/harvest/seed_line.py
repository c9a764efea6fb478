"""The line from fruit to lot as tables: what was picked, what went into each batch, what each lot is of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.records.rows import look_up

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.rules.case import Case


def list_picked(case: Case) -> DataFrame:
    """One row a picking and what it took: `harvest_row`, `harvest`, `date`, `position` in its list, `bag`
    (missing for fruit listed by tree), `bag_row`, `covered`, `tree`, `variety`, `block`, `loose`."""
    import pandas as pd

    bags = case.season.exploded("harvests", "bags").assign(loose=False)
    bags = bags.assign(bag=bags["value"], tree=look_up(bags["value"], case.keyed("bagging")["tree"]))
    trees = case.season.exploded("harvests", "trees").assign(loose=True)
    trees = trees.assign(tree=trees["value"].astype("str"), bag=pd.Series(pd.NA, trees.index, dtype="str"))
    trees = trees[~_told_by_bags(case, bags, trees)]
    both = pd.concat([bags, trees], ignore_index=True).drop(columns="value")
    bagging, tree = case.keyed("bagging"), case.tree_of
    return both.rename(columns={"row": "harvest_row", "id": "harvest"}).assign(
        date=look_up(both["row"], case.season.table("harvests")["date"]),
        bag_row=look_up(both["bag"], bagging["row_of"]),
        covered=look_up(both["bag"], bagging["covered"]),
        variety=look_up(both["tree"], tree["variety"]),
        block=look_up(both["tree"], tree["block"]),
    )


def _told_by_bags(case: Case, bags: DataFrame, trees: DataFrame) -> Series[bool]:
    """Which trees of a picking are named only beside the bags of the same fruit: no fruit is left for
    them."""
    import numpy as np

    each = case.practice("fruits_per_bag")
    fruits = look_up(trees["row"], case.season.table("harvests")["fruits"]).astype("Float64")
    hung = look_up(trees["row"], bags.groupby("row")["bag"].nunique()).astype("Float64")
    of_bags = set(zip(bags["row"].tolist(), bags["tree"].tolist(), strict=True))
    pairs = zip(trees["row"].tolist(), trees["tree"].tolist(), strict=True)
    named = np.array([pair in of_bags for pair in pairs], dtype=bool)
    most = hung * (1 if each is None or each.high is None else each.high)
    return (fruits <= most).fillna(value=False).astype(bool) & named


def list_processed(case: Case) -> DataFrame:
    """One row a batch and picking: `batch_row`, `batch`, `position`, `harvest`, and of the picking
    `harvest_row`, `harvest_date`, `harvest_status`."""
    frame = case.season.exploded("batches", "harvests")
    harvests = case.keyed("harvests")
    return frame.rename(columns={"row": "batch_row", "id": "batch", "value": "harvest"}).assign(
        harvest_row=look_up(frame["value"], harvests["row_of"]),
        harvest_date=look_up(frame["value"], harvests["date"]),
        harvest_status=look_up(frame["value"], harvests["status"]),
    )


def list_packed(case: Case) -> DataFrame:
    """One row a lot and source: `lot_row`, `lot`, `position`, `batch`, `source_lot` or `supplier` with its
    `certificate`, `supplier_lot` and `packet`, `weight_mg`, `packed`."""
    import pandas as pd

    frame = case.season.exploded("lots", "sources")
    parts = frame["value"].tolist()

    def pick(name: str, kind: str) -> Series[Any]:
        return pd.Series([part.get(name) for part in parts], index=frame.index, dtype=kind)

    lots = case.season.table("lots")
    return (
        frame.drop(columns="value")
        .rename(columns={"row": "lot_row", "id": "lot"})
        .assign(
            batch=pick("batch", "str"),
            source_lot=pick("lot", "str"),
            supplier=pick("supplier", "str"),
            certificate=pick("certificate", "str"),
            supplier_lot=pick("supplier_lot", "str"),
            packet=pick("packet", "str"),
            weight_mg=pick("weight_mg", "Int64"),
            packed=look_up(frame["row"], lots["packed"]),
        )
    )
