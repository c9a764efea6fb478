"""From fruit to packed seed: yields at each stage, against a plausible range and the grower's own seasons."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from certgen.figures.arguments import Number, check_count, check_mass, exact

if TYPE_CHECKING:
    from collections.abc import Sequence

Standing = Literal["below", "within", "above"]


@dataclass(frozen=True, slots=True)
class ProcessingRun:
    """One batch's way, all masses in whole milligrams; None where nothing was recorded.

    `floated_mg` is what floated off and was poured away: recorded, since it says nothing certain about
    viability.
    """

    fruits: int | None = None
    fruit_mg: int | None = None
    wet_mg: int | None = None
    floated_mg: int | None = None
    dry_mg: int | None = None
    packed_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Yields:
    """What one stage gives of the one before, as shares (0.25 is 25 %); None where a weight is missing.

    `floated_of_wet` is of wet and floated seed together; `dry_per_fruit_mg` is in milligrams a fruit.
    """

    wet_of_fruit: float | None
    floated_of_wet: float | None
    dry_of_wet: float | None
    packed_of_dry: float | None
    dry_of_fruit: float | None
    dry_per_fruit_mg: float | None


def find_yields(run: ProcessingRun) -> Yields:
    """The yields of a run. Wet weight is what was kept after floating. Computed; ratios of recorded masses.

    Raises ValueError for a negative mass.
    """
    _check_run(run)
    together = None if run.wet_mg is None or run.floated_mg is None else run.wet_mg + run.floated_mg
    return Yields(
        wet_of_fruit=_ratio(run.wet_mg, run.fruit_mg),
        floated_of_wet=_ratio(run.floated_mg, together),
        dry_of_wet=_ratio(run.dry_mg, run.wet_mg),
        packed_of_dry=_ratio(run.packed_mg, run.dry_mg),
        dry_of_fruit=_ratio(run.dry_mg, run.fruit_mg),
        dry_per_fruit_mg=_ratio(run.dry_mg, run.fruits),
    )


def _check_run(run: ProcessingRun) -> None:
    for mass in (run.fruits, run.fruit_mg, run.wet_mg, run.floated_mg, run.dry_mg, run.packed_mg):
        if mass is not None:
            check_count(mass, "A weight or count of a run")


def _ratio(part: int | None, whole: int | None) -> float | None:
    return part / whole if part is not None and whole else None


def find_impossible(run: ProcessingRun) -> tuple[str, ...]:
    """The stages that weigh more than the one they came from: `wet`, `dry`, `packed`, in order.

    Wet and floated seed together cannot outweigh the fruit, nor dry seed the wet, nor packed seed the dry.
    """
    _check_run(run)
    wet = None if run.wet_mg is None else run.wet_mg + (run.floated_mg or 0)
    steps = (
        ("wet", wet, run.fruit_mg),
        ("dry", run.dry_mg, run.wet_mg),
        ("packed", run.packed_mg, run.dry_mg),
    )
    return tuple(
        name for name, after, before in steps if after is not None and before is not None and after > before
    )


def expect_seed(fruits: int, seeds_per_fruit: Number, thousand_seed_grams: Number) -> float:
    """Grams of dry seed to expect: fruits × seeds a fruit × thousand-seed weight / 1000. Computed.

    40 fruits of 450 seeds at 16 g a thousand are 288 g.
    """
    seeds = check_count(fruits, "The number of fruits") * check_mass(
        seeds_per_fruit, "Seeds a fruit", zero=True
    )
    return float(seeds * check_mass(thousand_seed_grams, "The thousand-seed weight") / 1000)


def recover(got_grams: Number, expected_grams: Number) -> float:
    """The share of the expected seed that was got: 262 g of 288 g are 0.910."""
    return float(
        check_mass(got_grams, "The seed got", zero=True) / check_mass(expected_grams, "The seed expected")
    )


def place_in_range(value: Number, low: Number | None, high: Number | None) -> Standing:
    """Where a figure lies against a plausible range, its ends included. A range is no standard.

    Raises ValueError if the range is upside down, or one of the three is no number.
    """
    least, most = (None if bound is None else exact(bound) for bound in (low, high))
    found = exact(value)
    if least is not None and most is not None and least > most:
        raise ValueError(f"The range from {low} to {high} is upside down.")
    if least is not None and found < least:
        return "below"
    return "above" if most is not None and found > most else "within"


@dataclass(frozen=True, slots=True)
class History:
    """A figure beside earlier seasons': their median, lowest and highest, and the figure over the median.

    `standing` is against the lowest and highest seen; with few seasons behind it that is a hint only.
    """

    median: float
    low: float
    high: float
    seasons: int
    ratio: float | None
    standing: Standing


def compare_with_history(value: Number, earlier: Sequence[Number]) -> History | None:
    """The figure against the grower's own earlier ones; None if there are none.

    Computed; no published measure.
    """
    if not earlier:
        return None
    figures, found = [exact(figure) for figure in earlier], exact(value)
    median = Fraction(statistics.median(figures))
    ratio = float(found / median) if median else None
    low, high = min(figures), max(figures)
    return History(
        float(median), float(low), float(high), len(figures), ratio, place_in_range(found, low, high)
    )
