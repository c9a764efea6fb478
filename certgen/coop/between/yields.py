"""Seed for each screened tree, member beside member: those far from the rest are asked about, no more.

The rule, per variety: take the logarithm of each member's grams a tree, so that half and double lie equally
far; the centre is the median m, the spread s = 1.4826 × the median of |x − m|, which for a bell curve is its
standard deviation. A member is asked when |x − m| / s exceeds 3.5 and its figure is also at least half as
much again as, or a third less than, the median. With fewer than three members of a variety nobody is asked.
3.5 is the bound that Iglewicz and Hoaglin propose for this score (from memory); the factor of 1.5 and the
least number are choices of certgen's, so that members who agree closely aren't asked about trifles.
"""

from __future__ import annotations

import math
from collections import defaultdict
from statistics import median
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.coop.between.disagreements import Disagreement, Told
from certgen.coop.between.numbers import qualify

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary

LEAST_MEMBERS: Final = 3
#: With fewer the middle is a neighbour's own figure, or near enough; nobody but the office is shown it.
SHOWN_FROM: Final = 5
BOUND: Final = 3.5
LEAST_FACTOR: Final = 1.5
#: Makes the median of absolute deviations the standard deviation of a normal distribution: 1 / Φ⁻¹(3/4).
_NORMAL: Final = 1.4826


class MemberYield(NamedTuple):
    """A member's seed of a variety a screened tree, in grams; `score` is None where too few are compared."""

    member: str
    variety: str
    trees: int
    seed_mg: int
    grams_a_tree: float
    median: float | None
    score: float | None

    @property
    def is_far(self) -> bool:
        """Whether the office should ask."""
        if self.score is None or not self.median:
            return False
        factor = self.grams_a_tree / self.median
        return abs(self.score) > BOUND and max(factor, 1 / factor) >= LEAST_FACTOR

    @property
    def asked(self) -> str:
        """What the office asks, or why it asks nothing, in a word or two."""
        if self.is_far:
            return "a question"
        return "" if self.median is not None else "too few to compare"


def compare_yields(summaries: Mapping[str, MemberSummary]) -> tuple[MemberYield, ...]:
    """Every member's yield of every variety, by variety and member."""
    by_variety: dict[str, list[tuple[str, int, int]]] = defaultdict(list)
    for key, summary in summaries.items():
        for fact in summary.yields:
            if fact.trees and fact.seed_mg:
                by_variety[fact.variety].append((key, fact.trees, fact.seed_mg))
    yields: list[MemberYield] = []
    for variety, facts in sorted(by_variety.items()):
        figures = [seed / 1000 / trees for _, trees, seed in facts]
        scores = score(figures)
        middle = median(figures) if len(figures) >= LEAST_MEMBERS else None
        yields += [
            MemberYield(key, variety, trees, seed, figure, middle, one)
            for (key, trees, seed), figure, one in zip(facts, figures, scores, strict=True)
        ]
    return tuple(yields)


def score(figures: Sequence[float]) -> list[float | None]:
    """How far each positive figure lies from the rest, in robust standard deviations of the logarithms.

    None for all where there are fewer than LEAST_MEMBERS. Where more than half are equal the spread is
    nought: those are 0 and all others infinitely far.
    """
    if len(figures) < LEAST_MEMBERS:
        return [None] * len(figures)
    logs = [math.log(figure) for figure in figures]
    middle = median(logs)
    spread = _NORMAL * median(abs(one - middle) for one in logs)
    return [_divide(one - middle, spread) for one in logs]


def _divide(away: float, spread: float) -> float:
    # Equal figures may differ in the last bit.
    if abs(away) < 1e-12:
        return 0.0
    return away / spread if spread > 1e-12 else math.copysign(math.inf, away)


def ask_about(yields: Sequence[MemberYield]) -> Iterator[Disagreement]:
    """A question for each member whose yield is far from the others'.

    The middle is named where SHOWN_FROM members or more are compared: it is no one neighbour's then.
    """
    for one in yields:
        if one.is_far and one.median:
            count = sum(other.variety == one.variety for other in yields)
            way = "more" if one.grams_a_tree > one.median else "less"
            middle = f"; the middle of {count} members is {one.median:.1f} g" if count >= SHOWN_FROM else ""
            packed = f"packed {one.grams_a_tree:.1f} g of {one.variety} for each screened tree{middle}"
            yield Disagreement(
                "yield-unusual",
                (one.member,),
                (qualify(one.member, "lots", one.variety),),
                f"{one.member} {packed}. Why is it so much {way} than at the others?",
                (Told(one.member, f"You {packed}. {_WHY}"),),
            )


_WHY: Final = (
    "We'd like to understand the figure: more or fewer parents than recorded, other seed in the lot, a scale "
    "or a unit, or a good reason?"
)
