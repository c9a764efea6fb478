"""What each parent tree gave to each lot, and how many parents a lot really has."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.parents import Contribution, count_effective, share_seed
from certgen.lineage.closure import order
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from certgen.examination import Result
    from certgen.lineage import Node


@dataclass(frozen=True, slots=True)
class LotParents:
    """A lot's parents: each one's share of the seed (adding up to one), and the effective number of them.

    `known` is the part of the lot, by weight, whose parents are on record; the shares are of that part.
    """

    lot: str
    shares: Mapping[str, Fraction]
    effective: float
    known: Fraction


def share_parents(result: Result) -> dict[str, LotParents]:
    """The parents of every lot of the season that has any on record.

    A run's seed is shared out among the bags and loose trees of its pickings by their fruit: a picking's
    fruit evenly among what it took. A lot takes its sources' shares by weight, through blended lots of this
    season. These are shares by recorded fruit, not by counted seed.
    """
    of_batch = _batch_contributions(result)
    sources: dict[str, list[tuple[str, str, int]]] = {}
    packed = result.case.packed
    columns = ("lot", "batch", "source_lot", "weight_mg")
    for lot, batch, source, weight in plain_rows(packed, *columns):
        if lot is not None and weight:
            kind, name = ("batch", batch) if batch is not None else ("lot", source)
            if name is not None:
                sources.setdefault(lot, []).append((kind, name, int(weight)))
    blended = any(kind == "lot" for parts in sources.values() for kind, _, _ in parts)
    mixed = _mix(sources, of_batch, result.lineage.cycles if blended else ())
    found = {}
    for lot in result.lots:
        mixture = mixed.get(lot)
        if mixture is not None and mixture.parts:
            shares = share_seed(
                Contribution(mother, amount, father) for (mother, father), amount in mixture.parts.items()
            )
            known = Fraction(sum(mixture.parts.values()), mixture.whole)
            found[lot] = LotParents(lot, shares, count_effective(shares), known)
    return found


#: Seed by (seed parent, pollen parent) in whole numbers of some unit.
_Parts = dict[tuple[str, "str | None"], int]


@dataclass(frozen=True, slots=True)
class _Mixture:
    """Seed by its parents, and how much the whole lot has in the same unit; what is missing has no parent
    on record."""

    parts: _Parts
    whole: int


def _batch_contributions(result: Result) -> dict[str, _Parts]:
    """For each batch its fruit by seed parent and pollen parent.

    In parts of a fruit, of one size throughout a batch, so that all is added up in whole numbers.
    """
    case = result.case
    picked = case.picked
    fruits = result.season.table("harvests")["fruits"]
    pollen = case.keyed("bagging")["pollen_parent"]
    sizes = picked.groupby("harvest_row")["harvest_row"].transform("size")
    picked = picked.assign(
        count=fruits.reindex(picked["harvest_row"]).to_numpy(dtype="float64", na_value=0.0),
        size=sizes,
        father=pollen.reindex(picked["bag"]).to_numpy(dtype=object),
    )
    by_harvest: dict[str, list[tuple[tuple[str, str | None], int, int]]] = {}
    columns = ("harvest", "tree", "father", "count", "size")
    for harvest, tree, father, count, size in plain_rows(picked, *columns):
        if tree is not None and count:
            by_harvest.setdefault(harvest, []).append(((tree, father), int(count), int(size)))
    found: dict[str, _Parts] = {}
    used: dict[str, list[str]] = {}
    for batch, harvest in plain_rows(case.processed, "batch", "harvest"):
        used.setdefault(batch, []).append(harvest)
    for batch, harvests in used.items():
        taken = [one for harvest in harvests for one in by_harvest.get(harvest, ())]
        unit = math.lcm(*(size for _, _, size in taken))
        parts = found.setdefault(batch, {})
        for pair, count, size in taken:
            parts[pair] = parts.get(pair, 0) + count * (unit // size)
    return found


def _mix(
    sources: Mapping[str, list[tuple[str, str, int]]],
    of_batch: Mapping[str, _Parts],
    cycles: Iterable[tuple[Node, ...]],
) -> dict[str, _Mixture]:
    """Every lot's seed by its parents, through the lots blended into it.

    What lots in a circle are said to have from one another has no parent on record: it comes from nowhere.
    """
    circle = {
        node.id: number for number, group in enumerate(cycles) for node in group if node.table == "lots"
    }

    names = list(sources)
    place = {lot: at for at, lot in enumerate(names)}
    inside_of = {
        lot: {
            name
            for kind, name, _ in parts
            if kind == "lot" and name in place and not (lot in circle and circle[lot] == circle.get(name))
        }
        for lot, parts in sources.items()
    }

    def blended(at: int) -> list[int]:
        return sorted(place[name] for name in inside_of[names[at]])

    mixed: dict[str, _Mixture] = {}
    for at in order(range(len(names)), blended):
        lot = names[at]
        taken = []
        for kind, name, weight in sources[lot]:
            if kind == "batch":
                parts = of_batch.get(name, {})
                taken.append((weight, _Mixture(parts, sum(parts.values()))))
            elif name in inside_of[lot]:
                taken.append((weight, mixed[name]))
        # Each source's parts are w/whole of a milligram; one unit for all of them keeps the numbers whole.
        unit = math.lcm(*(inside.whole for _, inside in taken if inside.whole))
        total: _Parts = {}
        for weight, inside in taken:
            if inside.whole:
                factor = weight * (unit // inside.whole)
                for pair, part in inside.parts.items():
                    total[pair] = total.get(pair, 0) + part * factor
        mixed[lot] = _Mixture(total, sum(weight for _, _, weight in sources[lot]) * unit)
    return mixed


def seed_trees(result: Result, lot: str) -> tuple[Node, ...]:
    """The lot's seed and pollen parents as records, seed parents first."""
    return tuple(dict.fromkeys((*result.lineage.seed_parents(lot), *result.lineage.pollen_parents(lot))))
