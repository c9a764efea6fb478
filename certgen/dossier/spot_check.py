"""A spot check of trees and bags that anybody can draw again from a text that both sides know."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from certgen.figures.sampling import count_items, draw_by_stratum, miss_chance
from certgen.rules.selection import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result

Kind = Literal["bags", "trees"]
By = Literal["block", "variety", "all"]


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
    items = list_items(result, kind)
    strata: dict[str, dict[str, Drawn]] = {}
    for item in items:
        name = {"block": item.block, "variety": item.variety, "all": "all"}[by] or "not recorded"
        strata.setdefault(name, {})[item.identifier] = item
    chosen = draw_by_stratum(seed, {name: list(group) for name, group in sorted(strata.items())}, size)
    drawn = [strata[name][identifier] for name, picked in chosen.items() for identifier in picked]
    total = len(items)
    faults = [number for number in (1, 2, 3, 5, 10, 20) if number <= total]
    return SpotCheck(
        kind=kind,
        seed=seed,
        population=total,
        size=size,
        strata={name: len(group) for name, group in sorted(strata.items())},
        drawn=tuple(
            sorted(drawn, key=lambda one: (one.stratum, _walk(one.row), _walk(one.position), one.identifier))
        ),
        misses=tuple((number, float(miss_chance(total, number, size))) for number in faults),
    )


def list_items(result: Result, kind: Kind) -> list[Drawn]:
    """All bags, or all trees that stand behind any bag or picking: what a check can be drawn from."""
    return _list_bags(result) if kind == "bags" else _list_trees(result)


def _walk(text: str) -> tuple[int, str]:
    """Rows and positions in the order one walks them: 2 before 10."""
    digits = "".join(sign for sign in text if sign.isdigit())
    return (int(digits) if digits else 0, text)


def _list_bags(result: Result) -> list[Drawn]:
    bags = result.case.bags
    bags = bags[~bags["bag"].duplicated()]
    trees = result.case.tree_of
    row = trees["row"].reindex(bags["tree"])
    position = trees["position"].reindex(bags["tree"])
    names = ("bag", "tree", "block", "variety", "covered", "tag.date", "tag.tree", "uncovered")
    columns = [plain(bags[name]) for name in names]
    found = []
    for bag, tree, block, variety, covered, tag_date, tag_tree, uncovered, in_row, at in zip(
        *columns, plain(row), plain(position), strict=True
    ):
        says = (
            ("tag", " ".join(str(part) for part in (tag_date, variety, tag_tree) if part)),
            ("covered", str(covered or "")),
            ("taken off", str(uncovered or "")),
        )
        found.append(
            Drawn(bag, block or "", tree or "", block or "", in_row or "", at or "", variety or "", says)
        )
    return found


def _list_trees(result: Result) -> list[Drawn]:
    trees = result.case.trees
    used = set(plain(result.case.bags["tree"])) | set(plain(result.case.picked["tree"]))
    used |= set(plain(result.season.table("bagging")["pollen_parent"]))
    trees = trees[trees["tree"].isin([name for name in used if name]) & ~trees["tree"].duplicated()]
    names = ("tree", "block", "row", "position", "variety", "sex", "clearing_sample", "verdict", "removed")
    found = []
    for tree, block, in_row, at, variety, sex, sample, verdict, removed in zip(
        *(plain(trees[name]) for name in names), strict=True
    ):
        says = (
            ("sex", sex or ""),
            ("screening", f"{verdict or ''}{f', sample {sample}' if sample else ''}"),
            ("removed", str(removed or "")),
        )
        found.append(Drawn(tree, block or "", tree, block or "", in_row or "", at or "", variety or "", says))
    return found
