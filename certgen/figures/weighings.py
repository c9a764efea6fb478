"""What a scale's step leaves open: how far the sum of several readings may lie from the truth by it alone.

A scale that shows steps of d can be off by up to d/2 each time, any error as likely as another. So one
reading has the standard uncertainty d/√12, which is 0.29 d. Source: the Guide to the expression of
uncertainty in measurement, F.2.2.1 (from memory). Sums of n readings, taken for independent: derived.

What isn't in it: a scale out of adjustment, one that wasn't level, a tare read apart, seed that drew or lost
moisture between two weighings. All of these come on top, and no record here tells them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.figures.arguments import check_count
from certgen.figures.ledger import COUNT_KIND

if TYPE_CHECKING:
    import pandas as pd

#: Standard uncertainties to either side: at least 95 % of all sums lie within (Irwin-Hall; 95.4 % of many).
COVERAGE: Final = 2
#: What a lot's packing books in several lines, and what was one reading: the lot's own weight.
_PACKING: Final = ("produced", "blended from", "lost in packing")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a sum of `weighings` readings in steps of `step_mg` can be off, in milligrams.

    `worst_mg` is n·d/2: each reading off by half a step, all the same way. `likely_mg` is twice the standard
    uncertainty d·√(n/12) and never more than the worst.
    """

    weighings: int
    step_mg: int

    @property
    def worst_mg(self) -> float:
        """The most that the steps can add up to."""
        return self.weighings * self.step_mg / 2

    @property
    def standard_mg(self) -> float:
        """The root of the sum of squares: d·√(n/12)."""
        return self.step_mg * math.sqrt(self.weighings / 12)

    @property
    def likely_mg(self) -> float:
        """What at least 95 % of such sums keep to."""
        return min(COVERAGE * self.standard_mg, self.worst_mg)

    def judge(self, difference_mg: int) -> str:
        """`within` what is likely, `possible` up to the worst, or `beyond` what steps can explain."""
        size = abs(difference_mg)
        if size <= self.likely_mg:
            return "within"
        # Milligrams and half milligrams are exact in binary.
        return "possible" if size <= self.worst_mg else "beyond"


def tolerate(weighings: int, step_mg: int) -> Tolerance:
    """The tolerance of a sum of so many readings. Raises ValueError for less than nothing."""
    return Tolerance(
        check_count(weighings, "The number of weighings"), check_count(step_mg, "The scale's step")
    )


def count_readings(ledger: pd.DataFrame, step_mg: int = 0) -> pd.DataFrame:
    """How many readings lie behind each entry's stock, row for row of the running ledger.

    `readings`: those since the lot's last count before the entry, that count's own and the entry's among
    them; at a count, all that its difference rests on. A lot's packing is one reading, its own weight.
    `off_step`: how many of them are no multiple of the step, so that another scale, or a unit that was turned
    into grams, lies behind them.
    """
    counted = ledger["kind"] == COUNT_KIND
    weighed = ledger["mass_mg"] > 0
    packing = weighed & ledger["kind"].isin(_PACKING)
    again = packing & ledger.assign(packing=packing).duplicated(["lot", "record", "date", "packing"])
    read = (weighed & ~again) | counted
    off = (ledger["mass_mg"] % step_mg != 0) if step_mg else read & False
    lots = ledger["lot"]
    found = {}
    for name, which in (("readings", read), ("off_step", off)):
        ones = which.astype("int64")
        run = ones.groupby(lots).cumsum()
        # What ran up before the last count is behind it; the count's own reading starts the next stretch.
        before = (run - ones).where(counted).groupby(lots).ffill().groupby(lots).shift().fillna(0)
        found[name] = (run - before).astype("int64")
    return ledger[["date", "lot", "kind"]].assign(**found)
