"""A spot check of trees and bags that anybody can draw again from a text that both sides know."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from certgen.figures.sampling import count_items, draw_by_stratum, miss_chance
from certgen.records.rows import look_up, plain_rows, plain_values

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pandas import DataFrame

    from certgen.examination import Result

Kind = Literal["bags", "trees"]
By = Literal["block", "variety", "all"]

#: The packet's own draw: so sure to find so large a share of faulty items.
DETECT: Final = 0.1
CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Drawn:
    """One item to look at, with what the records say of it: on the spot it should be found so."""

    identifier: str
    stratum: str
    tree: str
    block: str
    row: str
    position: str
    variety: str
    says: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """A draw: what it was drawn from, with what text, what it found, and what it can miss.

    `misses` gives for numbers of faulty items the chance that the sample holds none of them.
    """

    kind: Kind
    seed: str
    population: int
    size: int
    strata: Mapping[str, int]
    drawn: tuple[Drawn, ...]
    misses: tuple[tuple[int, float], ...]


def plan_size(population: int, share: float, confidence: float) -> int:
    """How many items to look at so that a share of faulty ones or more is found with the confidence.

    The share is of whole items, rounded up: 5 % of 143 bags are 8. Raises ValueError outside (0, 1).
    """
    if not 0 < share < 1:
        raise ValueError("The share to detect must lie between 0 and 100 %.")
    if population == 0:
        return 0
    # A hair is taken off before rounding up: 0.05 * 160 is 8.000000000000002 in binary.
    return count_items(population, max(1, math.ceil(share * population - 1e-9)), confidence)


def draw_check(result: Result, kind: Kind, seed: str, size: int, by: By = "block") -> SpotCheck:
    """Draw `size` bags, or parent trees, in proportion from each block or variety.

    Trees are those that stand behind any bag or picking. Raises ValueError for an empty text or a size
    beyond what there is.
    """
    items = _list_items(result, kind)
    names = plain_values(items["id"])
    groups = (
        ["all"] * len(names)
        if by == "all"
        else [stratum or "not recorded" for stratum in plain_values(items[by])]
    )
    strata: dict[str, list[str]] = {}
    for name, group in zip(names, groups, strict=True):
        strata.setdefault(group, []).append(name)
    chosen = draw_by_stratum(seed, dict(sorted(strata.items())), size)
    where = {name: group for group, picked in chosen.items() for name in picked}
    describe = _describe_bags if kind == "bags" else _describe_trees
    drawn = describe(items[items["id"].isin(list(where))], where)
    total = len(names)
    faults = [number for number in (1, 2, 3, 5, 10, 20) if number <= total]
    return SpotCheck(
        kind=kind,
        seed=seed,
        population=total,
        size=size,
        strata={name: len(group) for name, group in sorted(strata.items())},
        drawn=tuple(
            sorted(
                drawn, key=lambda item: (item.stratum, _walk(item.row), _walk(item.position), item.identifier)
            )
        ),
        misses=tuple((number, float(miss_chance(total, number, size))) for number in faults),
    )


def own_text(result: Result) -> str:
    """The text that every output of the packet draws with: label, operation and day of the examination."""
    details = result.season.details
    return f"{details.label} {details.operation.name} {result.on.isoformat()}"


def own_draw(result: Result, kind: Kind) -> SpotCheck | None:
    """The packet's own spot check, the same in every output; None where there is nothing to draw from."""
    total = count_population(result, kind)
    if not total:
        return None
    return draw_check(result, kind, own_text(result), plan_size(total, DETECT, CONFIDENCE))


def count_population(result: Result, kind: Kind) -> int:
    """How many bags there are, or trees that stand behind any bag or picking: what a check is drawn from."""
    return len(_list_items(result, kind))


def _list_items(result: Result, kind: Kind) -> DataFrame:
    """Bags or trees under `id`, with what `_describe_…` tells of them."""
    if kind == "bags":
        # What hung in an earlier year was drawn from then.
        bags, trees = result.case.bags[result.case.own("bagging")], result.case.tree_of
        bags = bags.assign(
            id=bags["bag"],
            row=look_up(bags["tree"], trees["row"]),
            position=look_up(bags["tree"], trees["position"]),
        )
        return bags[~bags["bag"].duplicated()]
    trees, picked = result.case.trees, result.case.picked
    bagging = result.season.table("bagging")
    own = picked["harvest_row"] < result.farm.own("harvests")
    used = [bagging["tree"], picked["tree"][own], bagging["pollen_parent"]]
    behind = trees["tree"].isin({name for column in used for name in plain_values(column) if name})
    # Columns first: to a table without rows a column would bring all of its own.
    return trees.assign(id=trees["tree"])[behind & ~trees["tree"].duplicated()]


def _walk(text: str) -> tuple[int, str]:
    """Rows and positions in the order one walks them: 2 before 10."""
    digits = "".join(sign for sign in text if sign.isdigit())
    return (int(digits) if digits else 0, text)


def _describe_bags(bags: DataFrame, where: Mapping[str, str]) -> list[Drawn]:
    """Bags drawn, with what the records say of each; `where` gives the stratum."""
    found = []
    names = ("bag", "tree", "block", "row", "position", "variety")
    told = ("covered", "tag.date", "tag.variety", "tag.tree", "uncovered")
    for bag, tree, block, row, at, variety, covered, tag_date, tag_variety, tag_tree, off in plain_rows(
        bags, *names, *told
    ):
        tag = " ".join(str(part) for part in (tag_date, tag_variety, tag_tree) if part)
        says = (("tag", tag), ("covered", str(covered or "")), ("taken off", str(off or "")))
        placed = (tree or "", block or "", row or "", at or "", variety or "")
        found.append(Drawn(bag, where[bag], *placed, says))
    return found


def _describe_trees(trees: DataFrame, where: Mapping[str, str]) -> list[Drawn]:
    found = []
    names = ("tree", "block", "row", "position", "variety", "sex", "clearing_sample", "verdict", "removed")
    for tree, block, row, at, variety, sex, sample, verdict, removed in plain_rows(trees, *names):
        says = (
            ("sex", sex or ""),
            ("screening", f"{verdict or ''}{f', sample {sample}' if sample else ''}"),
            ("removed", str(removed or "")),
        )
        placed = (tree, block or "", row or "", at or "", variety or "")
        found.append(Drawn(tree, where[tree], *placed, says))
    return found
