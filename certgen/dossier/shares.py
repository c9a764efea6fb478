"""What each parent tree gave to each lot, and how many parents a lot really has."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.parents import Contribution, count_effective, share_seed
from certgen.lineage.walks import order
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.rules.case import Case


@dataclass(frozen=True, slots=True)
class LotParents:
    """A lot's parents: each one's share of the seed (adding up to one), and the effective number of them.

    `known` is the part of the lot, by weight, whose parents are on record; the shares are of that part.
    `pairs` are parts of the whole lot by seed parent and pollen parent, adding up to `known`: the seed
    parent itself where it was selfed, None where nothing shows whose pollen it was.
    """

    lot: str
    shares: Mapping[str, Fraction]
    effective: float
    known: Fraction
    pairs: Mapping[tuple[str, str | None], Fraction]


def share_parents(result: Result) -> dict[str, LotParents]:
    """The parents of every lot of the season that has any on record.

    A run's seed is shared out among the bags and loose trees of its pickings by their fruit: a picking's
    fruit evenly among what it took. A lot takes its sources' shares by weight, through blended lots of all
    seasons in reach. These are shares by recorded fruit, not by counted seed.
    """
    mixed = mix_lots(result, _batch_contributions(result))
    return {lot: _name_parents(lot, mixed[lot]) for lot in result.lots if lot in mixed and mixed[lot].parts}


def mix_lots(result: Result, of_batch: Mapping[str, Parts]) -> dict[str, Mixture]:
    """Every lot's seed by what its batches' seed is divided by, through the lots blended into it."""
    sources = _list_sources(result)
    blended = any(kind == "lot" for parts in sources.values() for kind, _, _ in parts)
    return _mix(sources, of_batch, result.lineage.cycles if blended else ())


def _list_sources(result: Result) -> dict[str, list[tuple[str, str, int]]]:
    """For each lot what it was packed from: "batch" or "lot", its identifier, milligrams."""
    sources: dict[str, list[tuple[str, str, int]]] = {}
    columns = ("lot", "batch", "source_lot", "weight_mg")
    for lot, batch, source, weight in plain_rows(result.case.packed, *columns):
        kind, name = ("batch", batch) if batch is not None else ("lot", source)
        if lot is not None and name is not None and weight:
            sources.setdefault(lot, []).append((kind, name, int(weight)))
    return sources


def _name_parents(lot: str, mixture: Mixture) -> LotParents:
    shares = share_seed(
        Contribution(mother, amount, father) for (mother, father), amount in mixture.parts.items()
    )
    known = Fraction(sum(mixture.parts.values()), mixture.whole)
    pairs = {pair: Fraction(part, mixture.whole) for pair, part in mixture.parts.items()}
    return LotParents(lot, shares, count_effective(shares), known, pairs)


#: Seed by (seed parent, pollen parent) in whole numbers of some unit.
Parts = dict[tuple[str, "str | None"], int]


@dataclass(frozen=True, slots=True)
class Mixture:
    """Seed by its parents, and the whole lot in the same unit; what is missing has no parent on record."""

    parts: Parts
    whole: int


def _batch_contributions(result: Result) -> dict[str, Parts]:
    """For each batch its fruit by seed parent and pollen parent.

    In parts of a fruit, of one size throughout a batch, so that all is added up in whole numbers.
    """
    case = result.case
    picked = case.picked
    fruits = case.season.table("harvests")["fruits"]
    pollen = _find_pollen(case)
    sizes = picked.groupby("harvest_row")["harvest_row"].transform("size")
    picked = picked.assign(
        count=fruits.reindex(picked["harvest_row"]).to_numpy(dtype="float64", na_value=0.0),
        size=sizes,
        father=picked["bag"].map(pollen),
    )
    by_harvest: dict[str, list[tuple[tuple[str, str | None], int, int]]] = {}
    columns = ("harvest", "tree", "father", "count", "size")
    for harvest, tree, father, count, size in plain_rows(picked, *columns):
        if tree is not None and count:
            by_harvest.setdefault(harvest, []).append(((tree, father), int(count), int(size)))
    contributions: dict[str, Parts] = {}
    used: dict[str, list[str]] = {}
    for batch, harvest in plain_rows(case.processed, "batch", "harvest"):
        used.setdefault(batch, []).append(harvest)
    for batch, harvests in used.items():
        taken = [part for harvest in harvests for part in by_harvest.get(harvest, ())]
        unit = math.lcm(*(size for _, _, size in taken))
        parts = contributions.setdefault(batch, {})
        for pair, count, size in taken:
            parts[pair] = parts.get(pair, 0) + count * (unit // size)
    return contributions


def _find_pollen(case: Case) -> dict[str, str]:
    """By bag the tree whose pollen set its fruit, where the records show it: its own where it was selfed.

    A bag that nobody saw hold until the stigma was past, or a flower that neither selfs nor was given a named
    tree's pollen, may have had any.
    """
    bags = case.bags
    held = case.protection["state"] == "held"
    selfed = bags["flower"].isin(case.profile.role("selfing_flowers")) & bags["pollen_parent"].isna()
    father = bags["pollen_parent"].where(~selfed, bags["tree"])
    shown = bags.assign(father=father)[held & father.notna() & bags["bag"].notna()]
    return dict(plain_rows(shown.drop_duplicates("bag"), "bag", "father"))


def _mix(
    sources: Mapping[str, list[tuple[str, str, int]]],
    of_batch: Mapping[str, Parts],
    cycles: Iterable[tuple[Node, ...]],
) -> dict[str, Mixture]:
    """Every lot's seed by its parents, through the lots blended into it.

    What lots in a circle are said to have from one another has no parent on record: it comes from nowhere.
    """
    names = list(sources)
    place = {lot: at for at, lot in enumerate(names)}
    inside = _list_blended(sources, cycles)
    mixed: dict[str, Mixture] = {}
    for at in order(range(len(names)), lambda at: sorted(place[name] for name in inside[names[at]])):
        lot = names[at]
        taken = []
        for kind, name, weight in sources[lot]:
            if kind == "batch":
                parts = of_batch.get(name, {})
                taken.append((weight, Mixture(parts, sum(parts.values()))))
            elif name in inside[lot]:
                taken.append((weight, mixed[name]))
        mixed[lot] = _add_up(taken, sum(weight for _, _, weight in sources[lot]))
    return mixed


def _list_blended(
    sources: Mapping[str, list[tuple[str, str, int]]], cycles: Iterable[tuple[Node, ...]]
) -> dict[str, set[str]]:
    """For each lot those blended into it, without what it is said to have from its own circle."""
    circle = {
        node.id: number for number, group in enumerate(cycles) for node in group if node.table == "lots"
    }

    def is_circular(lot: str, name: str) -> bool:
        return lot in circle and circle[lot] == circle.get(name)

    return {
        lot: {
            name
            for kind, name, _ in parts
            if kind == "lot" and name in sources and not is_circular(lot, name)
        }
        for lot, parts in sources.items()
    }


def _add_up(taken: Sequence[tuple[int, Mixture]], weight_mg: int) -> Mixture:
    """A lot of this weight, mixed from so many milligrams of each mixture."""
    # Each source's parts are w/whole of a milligram; one unit for all of them keeps the numbers whole.
    unit = math.lcm(*(mixture.whole for _, mixture in taken if mixture.whole))
    total: Parts = {}
    for weight, mixture in taken:
        if mixture.whole:
            factor = weight * (unit // mixture.whole)
            for pair, part in mixture.parts.items():
                total[pair] = total.get(pair, 0) + part * factor
    return Mixture(total, weight_mg * unit)
