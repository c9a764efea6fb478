"""Sheets for the rounds of bags: putting them on, looking at them, taking them off, picking their fruit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.due import list_due
from certgen.exchange.field_paper.labels import LabelError, cleared_trees, walking_order
from certgen.exchange.field_paper.left_out import (
    gather,
    say_left_out,
    say_why_no_parent,
    say_why_no_seed,
)
from certgen.exchange.field_paper.sheet import FieldSheet
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from pandas import DataFrame

    from certgen.dossier.due import Subject
    from certgen.examination import Result


def build_bagging_round(result: Result) -> FieldSheet:
    """The cleared trees, block by block and row by row, each with lines for the bags put on it."""
    trees = cleared_trees(result)
    if not trees:
        raise LabelError("no tree is cleared for bagging; certgen check says what is missing")
    rows = []
    for one in trees:
        cleared = f"{one.cleared} ({one.sample})"
        place = (one.block, one.row, one.position)
        rows.append((*place, one.tree, one.sex, one.variety, cleared, "", "", ""))
    heads = ("Block", "Row", "Place", "Tree", "Sex", "Variety", "Cleared", "Bag", "Date")
    return FieldSheet(
        "Bagging round",
        ("bag round",),
        (*heads, "Bud closed, others off, tied"),
        (0, 0, 0, 0, 0, 0, 0, 1, 1, 1.6),
        tuple(rows),
        left_out=say_trees_left_out(result),
        place=2,
    )


def say_trees_left_out(result: Result) -> str:
    """Which of the season's trees get no bag and no tag, and why."""
    listed = {one.tree for one in cleared_trees(result)}
    why = say_why_no_parent(result)
    own = result.case.trees[result.case.own("trees")]
    left = {
        tree: why.get(tree, f"{sex}, whose flowers are pollinated by hand")
        for tree, sex in plain_rows(own, "tree", "sex")
        if tree not in listed
    }
    return say_left_out(gather(left), "tree")


def build_check_round(result: Result) -> FieldSheet:
    """Every bag that is still on its flower, to be looked at."""
    return _of_bags(
        result,
        "Bag check round",
        "bag round",
        ("bag to take off", "still on its flower"),
        ("Intact, torn, loose or gone", "Petals fallen", "Date, by"),
        everything=True,
    )


def build_uncovering_round(result: Result) -> FieldSheet:
    """The bags that are due to come off."""
    return _of_bags(
        result,
        "Uncovering round",
        "bag round",
        ("bag to take off", "due to come off"),
        ("Intact, torn, loose or gone", "Set, dropped or lost", "Fruit marked", "Date, by"),
    )


def build_picking_list(result: Result) -> FieldSheet:
    """The bags whose fruit is due to be picked."""
    return _of_bags(
        result,
        "Picking list",
        "picking",
        ("bag to pick", "due to be picked"),
        ("Picking", "Fruits, weight", "Ripeness", "Date, by"),
    )


def _of_bags(
    result: Result,
    title: str,
    work: str,
    wanted: tuple[Subject, str],
    blanks: tuple[str, ...],
    *,
    everything: bool = False,
) -> FieldSheet:
    """Bags of one subject of the diary in walking order: those at their time, or `everything` there is."""
    subject, told = wanted
    chosen = {
        one.identifier
        for one in list_due(result)
        if one.subject == subject and (everything or one.state in {"due", "overdue"})
    }
    bags = result.case.bags
    known = bags[bags["bag"].isin(chosen)].drop_duplicates("bag")
    why = say_why_no_seed(result, plain_rows(known, "bag", "tree"))
    rows = _list_bags(result, known[~known["bag"].isin(why)])
    left = say_left_out(gather(why), "bagging")
    if not rows:
        said = f"no bag is {told} on {result.on.isoformat()}; --on asks for another day"
        raise LabelError(f"{said}. {left.removesuffix('.')}" if left else said)
    heads = ("Block", "Row", "Place", "Tree", "Sex", "Bag", "Variety", "Covered", *blanks)
    return FieldSheet(
        title,
        (work,),
        heads,
        (*(0.0,) * 8, *(1.0,) * len(blanks)),
        tuple((*row, *("",) * len(blanks)) for row in rows),
        left_out=f"{left} Their fruit is kept out of every picking for seed." if left else "",
        place=2,
    )


def _list_bags(result: Result, bags: DataFrame) -> list[tuple[str, ...]]:
    """What is known of each bag, in walking order."""
    places = {
        tree: place
        for tree, *place in plain_rows(result.case.tree_of.reset_index(drop=True), "tree", "row", "position")
    }
    rows = []
    columns = ("bag", "tree", "sex", "block", "variety", "covered")
    for bag, tree, sex, block, variety, covered in plain_rows(bags, *columns):
        row, position = places.get(tree, ("", ""))
        parts = (block, row, position, tree, sex, bag, variety, covered)
        rows.append(tuple("" if part is None else str(part) for part in parts))
    return sorted(rows, key=lambda row: (walking_order(*row[:4]), row[5]))
