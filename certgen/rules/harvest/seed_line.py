"""The line from fruit to lot as tables: what was picked, what went into each batch, what each lot is of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.records.columns import Columns, as_rows

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.records.columns import Array
    from certgen.rules.case import Case


def list_picked(case: Case) -> Columns:
    """One row a picking and what it took: `harvest_row`, `harvest`, `date`, `position` in its list, `bag`
    (missing for fruit listed by tree), `bag_row`, `covered`, `tree`, `variety`, `block`, `loose`."""
    bagging, trees = case.columns("bagging"), case.joined("trees")
    bags, loose = case.season.elements("harvests", "bags"), case.season.elements("harvests", "trees")
    bag_row = bagging.find("bag", bags["value"])
    of_bags = bagging.at("tree", bag_row)
    left = ~_told_by_bags(case, bags, of_bags, loose)
    row = np.concatenate([bags["row"], loose["row"][left]])
    tree = np.concatenate([of_bags, loose["value"][left]])
    none = np.full(len(tree) - len(bags), None)
    bag_row = np.concatenate([bag_row, np.full(len(none), -1)])
    register = trees.find("tree", tree)
    return Columns(
        {
            "harvest_row": row,
            "position": np.concatenate([bags["position"], loose["position"][left]]),
            "harvest": np.concatenate([bags["id"], loose["id"][left]]),
            "loose": np.arange(len(row)) >= len(bags),
            "bag": np.concatenate([bags["value"], none]),
            "tree": tree,
            "date": case.columns("harvests").at("date", row),
            "bag_row": as_rows(bag_row),
            "covered": bagging.at("covered", bag_row),
            "variety": trees.at("variety", register),
            "block": trees.at("block", register),
        },
        size=len(row),
        whole=("bag_row",),
    )


def _told_by_bags(case: Case, bags: Columns, of_bags: Array, loose: Columns) -> Array:
    """Which trees of a picking are named only beside the bags of the same fruit: no fruit is left for
    them. `of_bags` are the bags' trees."""
    each = case.practice("fruits_per_bag")
    most = 1 if each is None or each.high is None else each.high
    hung: dict[int, set[str]] = {}
    for row, bag in zip(bags["row"].tolist(), bags["value"].tolist(), strict=True):
        hung.setdefault(row, set()).add(bag)
    pairs = set(zip(bags["row"].tolist(), of_bags.tolist(), strict=True))
    fruits = case.columns("harvests").at("fruits", loose["row"])
    places = zip(loose["row"].tolist(), loose["value"].tolist(), fruits.tolist(), strict=True)
    told = [(row, tree) in pairs and count <= len(hung[row]) * most for row, tree, count in places]
    return np.array(told, dtype=bool)


def list_processed(case: Case) -> Columns:
    """One row a batch and picking: `batch_row`, `batch`, `position`, `harvest`, and of the picking
    `harvest_row`, `harvest_date`, `harvest_status`."""
    runs, harvests = case.season.elements("batches", "harvests"), case.columns("harvests")
    harvest = harvests.find("harvest", runs["value"])
    return Columns(
        {
            "batch_row": runs["row"],
            "position": runs["position"],
            "batch": runs["id"],
            "harvest": runs["value"],
            "harvest_row": as_rows(harvest),
            "harvest_date": harvests.at("date", harvest),
            "harvest_status": harvests.at("status", harvest),
        },
        size=len(runs),
        whole=("harvest_row",),
    )


def list_packed(case: Case) -> Columns:
    """One row a lot and source: `lot_row`, `lot`, `position`, `batch`, `source_lot` or `supplier` with its
    `certificate`, `supplier_lot` and `packet`, `weight_mg`, `packed`."""
    sources = case.season.elements("lots", "sources")
    parts = sources["value"].tolist()
    masses = [part.get("weight_mg") for part in parts]
    named = (
        ("batch", "batch"),
        ("source_lot", "lot"),
        ("supplier", "supplier"),
        ("certificate", "certificate"),
        ("supplier_lot", "supplier_lot"),
        ("packet", "packet"),
    )
    return Columns(
        {
            "lot_row": sources["row"],
            "position": sources["position"],
            "lot": sources["id"],
            **{column: np.array([part.get(name) for part in parts], dtype=object) for column, name in named},
            "weight_mg": np.array([np.nan if mass is None else mass for mass in masses], dtype="float64"),
            "packed": case.columns("lots").at("packed", sources["row"]),
        },
        size=len(sources),
        whole=("weight_mg",),
    )


def list_harvest_varieties(case: Case) -> Columns:
    """Each variety in each picking once: `harvest`, `variety`. Through tree and planting."""
    picked = case.joined("picked")
    pairs = zip(picked["harvest"].tolist(), picked["variety"].tolist(), strict=True)
    return _pairs("harvest", (pair for pair in pairs if pair[1] is not None))


def list_batch_varieties(case: Case) -> Columns:
    """Each variety in each batch once: `batch`, `variety`."""
    varieties: dict[str, list[str]] = {}
    for _, harvest, variety in case.joined("harvest_varieties").rows("harvest", "variety"):
        varieties.setdefault(harvest, []).append(variety)
    runs = case.joined("processed").rows("batch", "harvest")
    return _pairs(
        "batch", ((batch, variety) for _, batch, harvest in runs for variety in varieties.get(harvest, ()))
    )


def _pairs(name: str, pairs: Iterable[tuple[str, str]]) -> Columns:
    """Pairs of something and its variety, each once."""
    once = list(dict.fromkeys(pairs))
    columns = {
        name: np.array([one for one, _ in once], dtype=object),
        "variety": np.array([variety for _, variety in once], dtype=object),
    }
    return Columns(columns, size=len(once))
