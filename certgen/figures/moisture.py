"""Moisture of seed, and the weight at which drying is done."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from certgen.figures.arguments import Number, check_mass, exact

DUPLICATE_LIMIT = Fraction(2, 10)
"""Points that two repeats may differ by before both are done again (from memory)."""


def wet_basis(container: Number, before: Number, after: Number) -> float:
    """Moisture in per cent of the wet weight, from three weighings in one unit.

    (M2 - M3) / (M2 - M1) · 100: container with lid, with seed before the oven, with seed after.
    Oven method, standard. Raises ValueError if the seed weighs nothing or gained weight.
    """
    return float(_wet_basis(container, before, after))


def _wet_basis(container: Number, before: Number, after: Number) -> Fraction:
    empty, wet, dry = (
        check_mass(container, "The container", zero=True),
        check_mass(before, "The weight before"),
        check_mass(after, "The weight after", zero=True),
    )
    if not empty <= dry <= wet or empty == wet:
        raise ValueError(
            f"Container {container}, before {before}, after {after}: the container must weigh least, "
            "and seed cannot gain weight in the oven."
        )
    return (wet - dry) / (wet - empty) * 100


@dataclass(frozen=True, slots=True)
class MoistureResult:
    """Two repeats of a moisture test, in per cent of wet weight; `agrees` if they lie within 0.2 points."""

    first: float
    second: float
    mean: float
    difference: float
    agrees: bool


def compare_duplicates(
    first: tuple[Number, Number, Number], second: tuple[Number, Number, Number]
) -> MoistureResult:
    """The result of two repeats, each as (container, before, after).

    They may differ by 0.2 points at most, else both are repeated (from memory). Compared exactly as written.
    """
    one, other = _wet_basis(*first), _wet_basis(*second)
    gap = abs(one - other)
    return MoistureResult(
        float(one), float(other), float((one + other) / 2), float(gap), gap <= DUPLICATE_LIMIT
    )


def two_stages(first: Number, second: Number) -> float:
    """Moisture of seed that was dried beforehand: S1 + S2 - S1·S2/100, all in per cent of wet weight.

    Standard.
    """
    one, other = _percent(first), _percent(second)
    return float(one + other - one * other / 100)


def to_dry_basis(wet_percent: Number) -> float:
    """Moisture in per cent of dry weight, from per cent of wet weight: 100·w / (100 - w)."""
    wet = _percent(wet_percent)
    return float(100 * wet / (100 - wet))


def to_wet_basis(dry_percent: Number) -> float:
    """Moisture in per cent of wet weight, from per cent of dry weight: 100·d / (100 + d).

    May exceed 100 % coming in.
    """
    dry = exact(dry_percent)
    if dry < 0:
        raise ValueError(f"Moisture cannot be {dry_percent} %.")
    return float(100 * dry / (100 + dry))


def weigh_at(weight: Number, moisture: Number, wanted: Number) -> float:
    """What the seed will weigh at the moisture wanted: W·(100 - m) / (100 - m'), in the unit of the weight.

    Moistures in per cent of wet weight; nothing but water is lost or gained. Standard.
    """
    now, then = _percent(moisture), _percent(wanted)
    return float(check_mass(weight, "The weight") * (100 - now) / (100 - then))


def moisture_at(weight: Number, moisture: Number, new_weight: Number) -> float:
    """The moisture now, from what the seed weighs now and what it weighed at a known moisture.

    100 - W·(100 - m)/W'. Raises ValueError if it would be below nothing: the seed itself was lost.
    """
    solid = check_mass(weight, "The weight") * (100 - _percent(moisture))
    left = 100 - solid / check_mass(new_weight, "The new weight")
    if left < 0:
        raise ValueError(
            f"{new_weight} is less than the dry seed itself weighs: seed was lost, not only water."
        )
    return float(left)


def _percent(value: Number) -> Fraction:
    percent = exact(value)
    if not 0 <= percent < 100:
        raise ValueError(f"Moisture must lie from 0 % to below 100 % of wet weight, and is {value} %.")
    return percent
