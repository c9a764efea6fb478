"""What foreign pollen may have made of each lot, judged from the season's bags that had failed.

Planning figures, no verdict: the standing of a fruit whose bag failed is judged by the rules. Here it is
asked what failures that nobody saw may have let through.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.shares import mix_lots
from certgen.figures.contamination import (
    BagFailures,
    Contamination,
    bound_contamination,
    count_checked,
    judge_failures,
)
from certgen.records.rows import look_up, plain_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pandas import Series

    from certgen.dossier.shares import Parts
    from certgen.examination import Result
    from certgen.standards import Practice

FATHERS: Final = "foreign_pollen_fathers_pct"
CARRIES: Final = "foreign_pollen_carries_pct"
#: How a bag can be found to have failed.
KINDS: Final = ("flower open at covering", "not tied", "torn", "loose", "gone", "taken off early")
_COVERED, _OPEN = ("covered", None), ("open", None)


@dataclass(frozen=True, slots=True)
class BagsLookedAt:
    """This season's bags by what was found of them: `kinds` of failures, in the order of KINDS.

    `failures` is None where no bag was looked at. `unlooked` are those that hung and that no look shows to
    have held or failed. `needed` is how many would have to be looked at, none of them failed, for at
    most half of the present bound; None without one.
    """

    failures: BagFailures | None
    kinds: Mapping[str, int]
    unlooked: int
    needed: int | None


@dataclass(frozen=True, slots=True)
class LotContamination:
    """A lot's bound at three shares of carrying pollen: usual, and low and high of practice if it has them.

    `uncovered` is the share of its seed from fruit whose flower no record shows to have been covered.
    """

    lot: str
    uncovered: float
    usual: Contamination
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class SeasonContamination:
    """The bags, the assumed shares (None where the profile has none), and each lot's bound.

    `unknown` are the lots whose pickings aren't on record, so that nothing can be said of them.
    """

    bags: BagsLookedAt
    fathers: Practice | None
    carries: Practice | None
    lots: tuple[LotContamination, ...]
    unknown: tuple[str, ...]


def bound_pollen(result: Result) -> SeasonContamination:
    """Each lot's bound, of the lots whose bags or trees are on record; none where no bag was looked at.

    No more bags are taken to have failed unseen than the upper limit of those that were seen to fail
    (assumed). Fruit whose flower nothing shows to have been covered counts as open in full.
    """
    bags = look_at_bags(result)
    fathers, carries = result.case.practice(FATHERS), result.case.practice(CARRIES)
    lots: tuple[LotContamination, ...] = ()
    uncovered = _share_uncovered(result)
    if bags.failures is not None and fathers is not None and carries is not None:
        failing = bags.failures.at_most
        lots = tuple(
            _bound_lot(lot, uncovered[lot], failing, fathers, carries)
            for lot in result.lots
            if lot in uncovered
        )
    unknown = tuple(lot for lot in result.lots if lot not in uncovered)
    return SeasonContamination(bags, fathers, carries, lots, unknown)


def _bound_lot(
    lot: str, uncovered: float, failing: float, fathers: Practice, carries: Practice
) -> LotContamination:
    def bound(percent: float | None) -> Contamination | None:
        if percent is None:
            return None
        return bound_contamination(uncovered, failing, (fathers.usual or 0) / 100, percent / 100)

    low, high = bound(carries.low), bound(carries.high)
    return LotContamination(
        lot,
        uncovered,
        bound_contamination(uncovered, failing, (fathers.usual or 0) / 100, (carries.usual or 0) / 100),
        None if low is None else low.carrying,
        None if high is None else high.carrying,
    )


def look_at_bags(result: Result) -> BagsLookedAt:
    """This season's bags that hung by the day: how many were looked at, and how many had failed in what way.

    A bag counts where checks and its days show that it held while it was needed, or anything was found wrong
    with it: a single look on the second day, and none after, would find too few that fail.
    """
    import pandas as pd

    case = result.case
    hung = case.own("bagging") & (case.bags["covered"] <= pd.Timestamp(result.on))
    kinds = _name_failures(result)[hung]
    failed = kinds != ""
    held = (case.protection["state"][hung] == "held") & case.protection["looked"][hung].notna()
    checked = int((failed | held).sum())
    counts = Counter(kinds[failed].tolist())
    failures = judge_failures(int(failed.sum()), checked) if checked else None
    return BagsLookedAt(
        failures,
        {kind: counts[kind] for kind in KINDS if counts[kind]},
        int(hung.sum()) - checked,
        None if failures is None else count_checked(failures.at_most / 2),
    )


def _name_failures(result: Result) -> Series[str]:
    """For each bag how it was found to have failed, as in KINDS; empty where it wasn't."""
    import pandas as pd

    bags, looks = result.case.bags, result.case.protection
    kind = pd.Series("", index=bags.index, dtype="str")
    broke = looks["state"].isin(["failed", "doubtful"])
    kind = kind.mask(looks["state"] == "early", "taken off early").mask(broke, looks["failure"])
    kind = kind.mask((bags["secured"] == False).fillna(value=False), "not tied")  # noqa: E712 (missing is neither)
    return kind.mask(bags["stage"].isin(result.profile.role("open_stages")), "flower open at covering")


def _share_uncovered(result: Result) -> dict[str, float]:
    """For each lot the share of its seed from fruit whose flower no record shows to have been covered.

    Shares by fruit, as in `shares`; seed without a picking on record counts as open.
    """
    case = result.case
    kinds, states = _name_failures(result), case.protection["state"]
    held = (kinds == "") & (states == "held")
    picked = case.picked
    sizes = picked.groupby("harvest_row")["harvest_row"].transform("size")
    fruits = case.season.table("harvests")["fruits"]
    picked = picked.assign(
        covered_well=look_up(picked["bag_row"], held),
        count=look_up(picked["harvest_row"], fruits),
        size=sizes,
    )
    by_harvest: dict[str, list[tuple[bool, int, int]]] = {}
    for harvest, well, count, size in plain_rows(picked, "harvest", "covered_well", "count", "size"):
        if count:
            by_harvest.setdefault(harvest, []).append((bool(well), int(count), int(size)))
    used: dict[str, list[tuple[bool, int, int]]] = {}
    for batch, harvest in plain_rows(case.processed, "batch", "harvest"):
        used.setdefault(batch, []).extend(by_harvest.get(harvest, ()))
    of_batch = {batch: _add_up(taken) for batch, taken in used.items()}
    return {
        lot: 1 - mixture.parts.get(_COVERED, 0) / mixture.whole
        for lot, mixture in mix_lots(result, of_batch).items()
        if mixture.whole and mixture.parts
    }


def _add_up(taken: list[tuple[bool, int, int]]) -> Parts:
    """A batch's fruit by cover, in whole parts of a fruit, of pickings of `count` fruit and `size` bags."""
    unit = math.lcm(*(size for _, _, size in taken))
    parts: Parts = {}
    for well, count, size in taken:
        key = _COVERED if well else _OPEN
        parts[key] = parts.get(key, 0) + count * (unit // size)
    return parts
