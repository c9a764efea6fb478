"""How germination was tested: a figure means something only with its conditions, seeds and days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import days_from, is_in
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import left_lots
from certgen.rules.seed.germination import figures_of, is_germination, weight_of
from certgen.rules.wording import count, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case

#: How a test was made: the fields of its record, and how each is told.
_METHOD: Final = {
    "temperature": "the temperature",
    "substrate": "what the seed lay in",
    "counts": "the count days",
}


@rule(
    weight="unproven",
    clauses=("seed-law:201.6", "practice:germination_c", "practice:germination_final_count_days"),
    remedy="Write at what temperature the seed stood, in what, and on which days it was counted "
    "(`temperature`, `substrate`, `counts`).",
)
def germination_method_missing(case: Case) -> Iterator[Finding]:
    """A germination test doesn't say how it was made, so its figure can't be read.

    The same seed can give nine seedlings in ten in warm sand and none between paper in the cold. Where no
    official method exists, the conditions are half of the result.
    """
    tests = case.columns("tests")
    for row, test, lot, temperature, substrate, counts in tests.rows(
        "test", "lot", "temperature", "substrate", "counts", where=is_germination(tests)
    ):
        given = (temperature is not None, substrate is not None, len(counts) > 1)
        missing = [field for field, there in zip(_METHOD, given, strict=True) if not there]
        if not missing:
            continue
        told = join(_METHOD[field] for field in missing)
        yield Finding(
            "tests",
            test,
            row,
            (missing[0],),
            f"Germination test {test} of lot {lot} lacks {told}.",
            weight=weight_of(case),
            supply=f"{told} of test {test}",
        )


@rule(
    weight="advice",
    clauses=("practice:germination_seeds",),
    remedy="Test more seed next time. Until then print the figure with its range, not as if it were exact.",
)
def germination_few_seeds(case: Case) -> Iterator[Finding]:
    """A germination test was made with so few seeds that chance alone could have made its figure.

    Of twenty seeds one seedling more or less is five points.
    """
    practice = case.practice("germination_seeds")
    if practice is None:
        return
    tests = case.columns("tests")
    tests = tests.adding(seeds=figures_of(tests)[0])
    few = is_germination(tests) & (tests["seeds"] < practice.range[0])
    if few.any():
        few &= is_in(tests["lot"], left_lots(case))
    for row, test, lot, seeds in tests.rows("test", "lot", "seeds", where=few):
        yield Finding(
            "tests",
            test,
            row,
            ("replicates",),
            f"Germination test {test} of lot {lot} was made with {count(seeds, 'seed')}, where practice is "
            f"{practice.told()}.",
        )


@rule(
    weight="unproven",
    clauses=("seed-law:201.6", "practice:germination_final_count_days"),
    remedy="Correct the day of sampling, the day of the test, or the count days.",
    after=("date-out-of-order",),
)
def germination_too_quick(case: Case) -> Iterator[Finding]:
    """A germination test was finished in fewer days than its own last count needs.

    Seed that was sampled three weeks ago can't have been counted on day thirty. One of the days is wrong,
    or the figure is another lot's.
    """
    tests = case.columns("tests")
    days = days_from(tests["sampled"], tests["date"])
    for row, test, lot, sampled, tested, counts in tests.rows(
        "test", "lot", "sampled", "date", "counts", where=is_germination(tests) & ~np.isnan(days)
    ):
        counted = max(counts, default=0)
        if days[row] >= counted:
            continue
        yield Finding(
            "tests",
            test,
            row,
            ("date",),
            f"Test {test} of lot {lot} was sampled on {day(sampled)} and finished on {day(tested)}, but"
            f" counted until day {counted}.",
            weight=weight_of(case),
            supply=f"the right days of test {test}",
        )
