"""How germination was tested: a figure means something only with its conditions, seeds and days."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.records.rows import indexed_rows
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.seed.departures import left_lots
from certgen.rules.seed.germination import figures_of, own_tests, weight_of
from certgen.rules.wording import count, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case


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
    frame = own_tests(case)
    fields = (
        ("temperature", "the temperature"),
        ("substrate", "what the seed lay in"),
        ("counts", "the count days"),
    )
    lacking = (frame["temperature"].isna(), frame["substrate"].isna(), frame["counts"].str.len() < 2)
    silent = frame[lacking[0] | lacking[1] | lacking[2]]
    for row, test, lot in indexed_rows(silent, "test", "lot"):
        missing = [field for field, lacks in zip(fields, lacking, strict=True) if lacks[row]]
        told = [words for _, words in missing]
        yield Finding(
            "tests",
            test,
            row,
            (missing[0][0],),
            f"Germination test {test} of lot {lot} lacks {join(told)}.",
            weight=weight_of(case),
            supply=f"{join(told)} of test {test}",
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
    tests = figures_of(own_tests(case))
    left = left_lots(case)
    few = tests[(tests["seeds"] < practice.range[0]) & tests["lot"].isin(left)]
    for row, test, lot, seeds in indexed_rows(few, "test", "lot", "seeds"):
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
    frame = own_tests(case)
    last = [max(days, default=0) for days in frame["counts"].tolist()]
    quick = frame.assign(days=(frame["date"] - frame["sampled"]).dt.days, last=last)
    quick = quick[quick["days"] < quick["last"]]
    for row, test, lot, sampled, tested, counted in indexed_rows(
        quick, "test", "lot", "sampled", "date", "last"
    ):
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
