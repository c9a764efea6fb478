"""How much of the seed foreign pollen may have reached, judged from the bags that had failed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from certgen.figures.arguments import check_positives, check_proportion
from certgen.figures.proportions import exact_limits
from certgen.figures.sampling import count_tests


@dataclass(frozen=True, slots=True)
class BagFailures:
    """Bags found to have failed among those that were looked at; shares from 0 to 1.

    `low` and `high` are the two-sided exact limits of the share that fails, `at_most` the one-sided upper
    one, all at `confidence`.
    """

    failed: int
    checked: int
    share: float
    low: float
    high: float
    at_most: float
    confidence: float


def judge_failures(failed: int, checked: int, confidence: float = 0.95) -> BagFailures:
    """The share of bags that fail, with Clopper-Pearson limits (`proportions.exact_limits`).

    Bags are taken to fail each by itself; a storm that opens a row of them at once makes the true limits
    wider. Raises ValueError where no bag was looked at, or more failed than were.
    """
    failed, checked = check_positives(failed, checked)
    both = exact_limits(failed, checked, confidence)
    upper = exact_limits(failed, checked, confidence, sides=1).high
    return BagFailures(failed, checked, both.estimate, both.low, both.high, upper, confidence)


@dataclass(frozen=True, slots=True)
class Contamination:
    """What foreign pollen may make up of a lot's seed, as shares from 0 to 1.

    `open_to_pollen`: seed of fruit whose flower nothing shows to have been covered, and of so many of the
    others as the failures allow. `fathered`: what foreign pollen would have fathered of it. `carrying`: what
    would carry an event of concern.
    """

    open_to_pollen: float
    fathered: float
    carrying: float


def bound_contamination(uncovered: float, failing: float, fathering: float, carrying: float) -> Contamination:
    """The largest share that foreign pollen may have made transgenic: (u + (1 - u)·f) · s · c.

    `uncovered` (u) is the share of the lot's seed from flowers that nothing shows to have been covered,
    `failing` (f) the share of the other bags taken to have failed unseen, `fathering` (s) the share of an
    open flower's seed that foreign pollen fathers, `carrying` (c) the share of the foreign pollen that
    carries. A pollen grain that carries makes the embryo carry, so nothing is halved (Mendelian, standard).
    A product of shares; each is an assumption or a bound, and the product no likelier than the unlikeliest.
    """
    check_proportion(uncovered, "The share without a cover")
    check_proportion(failing, "The share of bags that fail")
    check_proportion(fathering, "The share that foreign pollen fathers")
    check_proportion(carrying, "The share of pollen that carries")
    reached = min(1.0, math.fsum((uncovered, (1 - uncovered) * failing)))
    return Contamination(reached, reached * fathering, reached * fathering * carrying)


def count_checked(failing: float, confidence: float = 0.95) -> int:
    """Bags to look at, and to find none failed, so that at most `failing` of them fail (one-sided).

    Smallest n with 1 - α^(1/n) <= f, that is ceil(ln α / ln(1 - f)). Binomial, standard; 59 bags for 5 %.
    """
    return count_tests(failing, confidence)
