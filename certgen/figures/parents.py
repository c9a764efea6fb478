"""How many parents a lot really has, by their shares of its seed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from certgen.figures.arguments import Number, check_mass

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class Contribution:
    """Seed that one seed parent bore, in any one unit, and the pollen parent where that is another tree."""

    seed_parent: str
    amount: Number
    pollen_parent: str | None = None


def share_seed(contributions: Iterable[Contribution]) -> dict[str, Fraction]:
    """Each parent's share of the lot's seed; the shares add up to exactly one.

    Selfed seed counts wholly for its parent; of crossed seed each parent counts half: (female + male) / 2,
    as in a provincial forest-seed standard. Raises ValueError if there is no seed at all.
    """
    # Twice each parent's amount. Whole numbers stay whole: thousands of fractions take seconds to add up.
    doubled: defaultdict[str, Fraction | int] = defaultdict(int)
    for part in contributions:
        mass = part.amount
        if type(mass) is not int or mass < 0:
            mass = check_mass(mass, "A parent's seed", zero=True)
        doubled[part.seed_parent] += mass
        doubled[part.seed_parent if part.pollen_parent is None else part.pollen_parent] += mass
    total = sum(doubled.values())
    if total == 0:
        raise ValueError("No parent has any seed in this lot, so there are no shares.")
    return {parent: Fraction(amount, total) for parent, amount in sorted(doubled.items()) if amount}


def count_effective(shares: Mapping[str, Number] | Iterable[Number]) -> float:
    """The effective number of parents: (Σw)² / Σw², that is 1/Σp² for shares p. Weights in any one unit.

    Four equal parents are four; 50, 30 and 20 % are 2.63. Sources: a provincial forest-seed standard;
    Lindgren and Kang's status number. For selfed, inbred seed it is a note on diversity and no verdict.
    """
    values = shares.values() if isinstance(shares, Mapping) else shares
    weights = [
        weight
        if isinstance(weight, Fraction) and weight.numerator >= 0
        else check_mass(weight, "A parent's share", zero=True)
        for weight in values
    ]
    scale = math.lcm(*(weight.denominator for weight in weights))
    whole = [weight.numerator * (scale // weight.denominator) for weight in weights]
    total = sum(whole)
    if total == 0:
        raise ValueError("No parent has any share, so there is no number of parents.")
    return float(Fraction(total**2, sum(weight**2 for weight in whole)))
