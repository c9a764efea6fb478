"""What each parent tree gave to each lot, and how many parents a lot really has."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.parents import Contribution, count_effective, share_seed
from certgen.rules.selection import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

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
    for lot, batch, source, weight in zip(*(plain(packed[name]) for name in columns), strict=True):
        if lot is not None and weight:
            kind, name = ("batch", batch) if batch is not None else ("lot", source)
            if name is not None:
                sources.setdefault(lot, []).append((kind, name, int(weight)))
    mixed: dict[str, tuple[dict[tuple[str, str | None], Fraction], Fraction]] = {}
    found = {}
    for lot in result.lots:
        parts, known = _mix(lot, sources, of_batch, mixed, frozenset())
        if parts:
            shares = share_seed(
                Contribution(mother, amount, father) for (mother, father), amount in parts.items()
            )
            found[lot] = LotParents(lot, shares, count_effective(shares), known)
    return found


_Parts = dict[tuple[str, "str | None"], Fraction]


def _batch_contributions(result: Result) -> dict[str, _Parts]:
    """For each batch its fruit by seed parent and pollen parent."""
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
    by_harvest: dict[str, _Parts] = {}
    columns = ("harvest", "tree", "father", "count", "size")
    for harvest, tree, father, count, size in zip(*(plain(picked[name]) for name in columns), strict=True):
        if tree is None or not count:
            continue
        parts = by_harvest.setdefault(harvest, {})
        pair = (tree, father)
        parts[pair] = parts.get(pair, Fraction(0)) + Fraction(int(count), int(size))
    found: dict[str, _Parts] = {}
    used = case.processed
    for batch, harvest in zip(plain(used["batch"]), plain(used["harvest"]), strict=True):
        target = found.setdefault(batch, {})
        for pair, amount in by_harvest.get(harvest, {}).items():
            target[pair] = target.get(pair, Fraction(0)) + amount
    return found


def _mix(
    lot: str,
    sources: Mapping[str, list[tuple[str, str, int]]],
    of_batch: Mapping[str, _Parts],
    mixed: dict[str, tuple[_Parts, Fraction]],
    above: frozenset[str],
) -> tuple[_Parts, Fraction]:
    """The lot's parts by pair of parents, adding up to the known part of its weight, and that part."""
    if lot in mixed:
        return mixed[lot]
    total = sum(weight for _, _, weight in sources.get(lot, ()))
    parts: _Parts = {}
    known = Fraction(0)
    for kind, name, weight in sources.get(lot, ()):
        if kind == "batch":
            inside, whole = of_batch.get(name, {}), Fraction(1)
            amount = sum(inside.values(), start=Fraction(0))
            inside = {pair: share / amount for pair, share in inside.items()} if amount else {}
        elif name in above or name == lot:
            continue
        else:
            inside, whole = _mix(name, sources, of_batch, mixed, above | {lot})
        share = Fraction(weight, total)
        if inside:
            known += share * whole
        for pair, part in inside.items():
            parts[pair] = parts.get(pair, Fraction(0)) + part * share
    mixed[lot] = parts, known
    return parts, known


def seed_trees(result: Result, lot: str) -> tuple[Node, ...]:
    """The lot's seed and pollen parents as records, seed parents first."""
    return tuple(dict.fromkeys((*result.lineage.seed_parents(lot), *result.lineage.pollen_parents(lot))))
