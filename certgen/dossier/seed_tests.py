"""What each test of a lot says, computed from what the laboratory or the grower counted and weighed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeGuard

from certgen.figures.germination import ReplicateVerdict, compare_replicates, limit_germination
from certgen.figures.moisture import MoistureResult, compare_duplicates
from certgen.figures.pools import PoolEstimate, bound_after_none, estimate_share
from certgen.figures.purity import Purity, find_purity
from certgen.figures.seed_weight import SeedWeight, weigh_thousand
from certgen.figures.validity import age_in_months, last_ship_day
from certgen.records.quantities import grams

if TYPE_CHECKING:
    from datetime import date

    from certgen.examination import Result
    from certgen.figures.proportions import Limits


@dataclass(frozen=True, slots=True)
class Germination:
    """Replicates' verdict, the exact interval of the germination, and how long the test holds.

    `months` is the age in full months on the day of the examination; `ship_by` the last day that the
    benchmark seed law would let seed be shipped on it, None where no such rulebook was asked for.
    """

    verdict: ReplicateVerdict
    limits: Limits
    seeds: int
    months: int
    ship_by: date | None


@dataclass(frozen=True, slots=True)
class Moisture:
    """The moisture in per cent of wet weight; `repeats` where two weighings were recorded."""

    percent: float
    repeats: MoistureResult | None


@dataclass(frozen=True, slots=True)
class Transgene:
    """A pooled test of seed: the estimate, and the bound after none was found (one-sided, 95 %)."""

    estimate: PoolEstimate
    bound: float | None
    targets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeedTest:
    """One test with what was computed of it; where nothing could be, `fault` says why."""

    test: str
    lot: str
    day: date
    kind: str
    laboratory: str
    report: str
    figure: Germination | Moisture | Purity | SeedWeight | Transgene | None
    fault: str = ""


def compute_tests(result: Result) -> tuple[SeedTest, ...]:
    """Every test of the season with its figure, in the order of the records."""
    months = [
        int(demand.value) for _, demand in result.case.demand("ship_by_months") if _is_number(demand.value)
    ]
    ship_months = min(months, default=None)
    found = []
    frame = result.season.table("tests")
    for row in range(len(frame)):
        record = result.season.record_at("tests", row)
        figure: Any = None
        fault = ""
        try:
            figure = _compute(record, row, result, ship_months)
        except ValueError as error:
            fault = str(error)
        found.append(
            SeedTest(
                record["test"],
                record.get("lot", ""),
                record["date"],
                record["kind"],
                record.get("laboratory", ""),
                record.get("report", ""),
                figure,
                fault,
            )
        )
    return tuple(found)


def _compute(record: dict[str, Any], row: int, result: Result, ship_months: int | None) -> Any:
    kind = record["kind"]
    frame: Any = result.season.table("tests")
    if kind == "germination":
        each = int(record["per_replicate"])
        counts = record["replicates"]
        day = record["date"]
        return Germination(
            compare_replicates(counts, each),
            limit_germination(counts, each),
            each * len(counts),
            age_in_months(day, result.on) if result.on >= day else 0,
            last_ship_day(day, ship_months) if ship_months is not None else None,
        )
    if kind == "moisture":
        return _moisture(frame, row)
    if kind == "purity":
        pure, other, inert = (frame[f"{part}_mg"].iat[row] for part in ("pure", "other", "inert"))
        return find_purity(pure=grams(pure), other=grams(other), inert=grams(inert))
    if kind == "seed weight":
        return weigh_thousand([grams(mass) for mass in frame["hundred_seed_weights_mg"].iat[row]])
    pools, seeds, positive = (int(record[name]) for name in ("pools", "seeds_per_pool", "positive_pools"))
    bound = bound_after_none(pools, seeds) if positive == 0 else None
    return Transgene(estimate_share(pools, seeds, positive), bound, tuple(record.get("targets", ())))


def _moisture(frame: Any, row: int) -> Moisture:
    weighings = [
        (grams(one["container_mg"]), grams(one["before_mg"]), grams(one["after_mg"]))
        for one in frame["weighings"].iat[row]
        if {"container_mg", "before_mg", "after_mg"} <= set(one)
    ]
    repeats = compare_duplicates(weighings[0], weighings[1]) if len(weighings) >= 2 else None
    stated = float(frame["moisture_pct"].iat[row])
    if not math.isnan(stated):
        return Moisture(stated, repeats)
    if repeats is None:
        raise ValueError("Neither a moisture nor two weighings are recorded.")
    return Moisture(repeats.mean, repeats)


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, (int, float))
