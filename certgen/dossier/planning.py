"""Aids to planning: the sexes of a planting against what its parents give, seedlings a hole, drying."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.figures.inheritance import (
    Fit,
    compare_counts,
    count_seedlings,
    expect_sexes,
    hermaphrodite_chance,
)
from certgen.figures.moisture import weigh_at
from certgen.lineage import Node
from certgen.records.quantities import grams
from certgen.records.rows import plain_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.examination import Result


@dataclass(frozen=True, slots=True)
class Progeny:
    """A planting grown from an own lot: the sexes counted in the register against what its parents give.

    `expected` are shares that add up to 1, empty where parents of several kinds gave seed; `fit` is None
    then, and where a sex stands that the cross cannot give. A planting thinned by sex strays by design, so
    this is a note and no verdict.
    """

    planting: str
    lot: str
    parents: tuple[str, ...]
    counted: Mapping[str, int]
    expected: Mapping[str, float]
    fit: Fit | None


@dataclass(frozen=True, slots=True)
class Holes:
    """The chance of at least one hermaphrodite among so many seedlings a hole, and how many make it sure."""

    share: float
    basis: str
    chances: tuple[tuple[int, float], ...]
    enough: int
    confidence: float


@dataclass(frozen=True, slots=True)
class DryTarget:
    """A batch whose seed is moister than it usually stores: what it will weigh when dry enough, in grams."""

    batch: str
    weight_g: float
    moisture: float
    wanted: float
    target_g: float


def compare_progeny(result: Result) -> tuple[Progeny, ...]:
    """Each planting that grew from an own lot and has sexed trees, in the order of the records.

    Expected: one locus, as in `figures.inheritance`. Parents that are all of one cross give an expectation.
    """
    trees = result.season.table("trees")
    sexed = trees[trees["sex"].notna() & trees["planting"].notna()]
    counts: dict[str, Counter[str]] = {}
    for planting, sex in plain_rows(sexed, "planting", "sex"):
        counts.setdefault(planting, Counter())[sex] += 1
    progeny = []
    plantings = result.season.table("plantings")
    plantings = plantings[~plantings["planting"].duplicated()]
    for planting, lot in plain_rows(plantings, "planting", "origin.lot"):
        if lot is None or planting not in counts:
            continue
        crosses = _crosses(result, Node("lots", lot))
        expected: Mapping[str, float] = {}
        fit = None
        if len(crosses) == 1:
            mother, father = next(iter(crosses))
            try:
                expected = expect_sexes(mother, father)
                fit = compare_counts(counts[planting], expected)
            except ValueError:
                fit = None
        words = tuple(sorted(f"{mother} × {father}" for mother, father in crosses))
        progeny.append(Progeny(planting, lot, words, dict(counts[planting]), dict(expected), fit))
    return tuple(progeny)


def _crosses(result: Result, lot: Node) -> set[tuple[str, str]]:
    """The crosses by sex behind a lot; empty where a parent's sex isn't on record."""
    line = set(result.lineage.claim_back(lot))
    rows = plain_rows(result.farm.table("trees"), "tree", "sex")
    sexes = {tree: sex for tree, sex in rows if Node("trees", tree) in line}
    crosses = {cross for node in line if node.table == "bagging" for cross in _list_crosses(result, node)}
    named = {(sexes.get(mother), sexes.get(father)) for mother, father in crosses}
    known = {(mother, father) for mother, father in named if mother is not None and father is not None}
    return known if len(known) == len(named) else set()


def _list_crosses(result: Result, bag: Node) -> Iterator[tuple[str, str]]:
    """The tree that a bag hung on with each that gave it pollen, itself if nothing says which."""
    sources = result.lineage.sources(bag)
    mothers = [link.source.id for link in sources if link.kind == "bagged"]
    fathers = [link.source.id for link in sources if link.kind == "pollen"]
    for mother in mothers:
        for father in fathers or [mother]:
            yield mother, father


def plan_holes(result: Result, confidence: float = 0.95) -> Holes | None:
    """Seedlings a planting hole, from the share of the sex that bears seed; None if the crop has none.

    1 - (1 - h)^n; the share is the operation's own or the profile's `progeny_seed_parent_pct`.
    """
    usual = result.case.practice("progeny_seed_parent_pct")
    if usual is None or usual.usual is None or not 0 < usual.usual < 100:
        return None
    share = usual.usual / 100
    return Holes(
        share,
        f"{usual.source} ({usual.mark})",
        tuple((number, hermaphrodite_chance(number, share)) for number in range(1, 6)),
        count_seedlings(share, confidence),
        confidence,
    )


def find_dry_targets(result: Result) -> tuple[DryTarget, ...]:
    """Batches whose moisture lies above the usual range, with the weight to dry them to.

    W·(100 - m) / (100 - m'): nothing but water leaves. The wanted moisture is the upper end of the range.
    """
    usual = result.case.practice("moisture_pct")
    if usual is None or usual.high is None:
        return ()
    batches = result.season.table("batches")
    moist = batches[(batches["moisture_pct"] > usual.high) & (batches["moisture_pct"] < 100)]
    moist = moist[moist["dry_weight_mg"] > 0]
    return tuple(
        DryTarget(
            batch, float(grams(mass)), moisture, usual.high, weigh_at(grams(mass), moisture, usual.high)
        )
        for batch, mass, moisture in plain_rows(moist, "batch", "dry_weight_mg", "moisture_pct")
    )
