"""How many bags or containers of a lot to sample."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from certgen.figures.arguments import check_count
from certgen.figures.distributions import round_half_up

_FEW_BAGS = 6
_MOST_BAGS = 30
_LEAST_CORES = 5


@dataclass(frozen=True, slots=True)
class BagSampling:
    """How many bags to probe, and the least number of probes in all."""

    bags: int
    probes: int


def sample_bags(bags: int) -> BagSampling:
    """Bags to probe: all up to six, with five probes at least; beyond, five and a tenth, at most thirty.

    Source: 7 CFR 201.41 (read in a state's copy). The tenth is rounded half up, which is derived from its
    figures (7 bags: 6, 23 bags: 7).
    """
    count = check_count(bags, "The number of bags", least=1)
    if count <= _FEW_BAGS:
        return BagSampling(count, max(count, _LEAST_CORES))
    chosen = min(_LEAST_CORES + int(round_half_up(Fraction(count, 10))), _MOST_BAGS)
    return BagSampling(chosen, chosen)


def count_primary_samples(containers: int) -> int:
    """Primary samples in all from containers of 15 to 100 kg.

    Three each up to 4 containers, two each up to 8, one each up to 15; 15 up to 30, 20 up to 59, 30 from 60
    on. Source: ISTA's table as printed in United Kingdom law.
    """
    count = check_count(containers, "The number of containers", least=1)
    for most, each in ((4, 3), (8, 2), (15, 1)):
        if count <= most:
            return count * each
    return 15 if count <= 30 else 20 if count <= 59 else 30
