"""Parents to bag for an effective number of them, judged by how unequally the season's parents gave."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.dossier.bag_plan import list_standing
from certgen.dossier.season_rates import Rate, find_bags_a_tree, find_bearing
from certgen.dossier.shares import share_parents
from certgen.figures.effective_number import (
    count_parents,
    count_with_failures,
    effective_by_families,
    family_variance,
    reduce_by_inbreeding,
    spread_shares,
)

if TYPE_CHECKING:
    from certgen.examination import Result

#: A population that keeps its size: each parent gives two gametes on average.
_MEAN_FAMILY = 2


@dataclass(frozen=True, slots=True)
class LotNumber:
    """A lot's parents today: how many, their effective number, how unequally they gave.

    `spread` is n·Σp² - 1. `by_families` is the variance effective number (Kimura and Crow) of families with
    that spread, `pure_lines` the effective number if every parent were a pure line (half). `heaviest` is the
    parent that gave most and its share. `known` is the part of the lot whose parents are on record. `needed`
    are the parents it would take for the number wanted at this lot's spread.
    """

    lot: str
    variety: str
    parents: int
    effective: float
    spread: float
    by_families: float
    pure_lines: float
    heaviest: tuple[str, float]
    known: float
    needed: int


@dataclass(frozen=True, slots=True)
class ParentPlan:
    """Parents that must bear, if all give alike, at the median spread of the lots and at the widest.

    The latter two are None without a lot whose parents are on record. `bags_each`, `bearing` and `to_bag`
    (the trees to bag so that so many bear, at the median spread) are None where the season has no bags.
    `cleared` are the seed-bearing trees that stand with a clearing result.
    """

    effective: int
    variety: str | None
    lots: tuple[LotNumber, ...]
    equal: int
    median: int | None
    widest: int | None
    bags_each: int | None
    bearing: Rate | None
    to_bag: int | None
    cleared: int


def plan_parents(
    result: Result, effective: int, *, variety: str | None = None, confidence: float = 0.95
) -> ParentPlan:
    """Parents to bag for an effective number. Raises ValueError for a number below one."""
    lots = tuple(_number_lots(result, effective, variety))
    spreads = [lot.spread for lot in lots]
    equal = count_parents(effective, 0)
    median = count_parents(effective, statistics.median(spreads)) if spreads else None
    usual = find_bags_a_tree(result, variety)
    bearing = find_bearing(result, variety, confidence)
    bags_each = None if usual is None else max(1, round(usual[0]))
    to_bag = None
    if bags_each is not None and bearing is not None and bearing.usual > 0:
        to_bag = count_with_failures(median or equal, bags_each, bearing.usual)
    standing = list_standing(result, variety)
    bearers = [*result.profile.role("seed_parents"), *result.profile.role("needs_pollen_parent")]
    return ParentPlan(
        effective=effective,
        variety=variety,
        lots=lots,
        equal=equal,
        median=median,
        widest=count_parents(effective, max(spreads)) if spreads else None,
        bags_each=bags_each,
        bearing=bearing,
        to_bag=to_bag,
        cleared=int((standing["sex"].isin(bearers) & (standing["verdict"] == "clear")).sum()),
    )


def _number_lots(result: Result, effective: int, variety: str | None) -> list[LotNumber]:
    varieties = result.case.keyed("lots")["variety"]
    found = []
    for lot, parents in share_parents(result).items():
        of = varieties.get(lot)
        if variety is not None and of != variety:
            continue
        spread = spread_shares(parents.shares)
        number = len(parents.shares)
        heaviest = max(parents.shares, key=lambda tree: parents.shares[tree])
        found.append(
            LotNumber(
                lot,
                of if isinstance(of, str) else "",
                number,
                parents.effective,
                spread,
                effective_by_families(number, _MEAN_FAMILY, family_variance(_MEAN_FAMILY, spread)),
                reduce_by_inbreeding(parents.effective, 1),
                (heaviest, float(parents.shares[heaviest])),
                float(parents.known),
                count_parents(effective, spread),
            )
        )
    return found
