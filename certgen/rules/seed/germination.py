"""Germination tests: there is one, it is fresh, it means something, and it bears out the label."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.figures.germination import compare_replicates, compare_with_label
from certgen.figures.validity import age_in_months, keeps_until, last_ship_day
from certgen.lineage import Node
from certgen.records.rows import indexed_rows, look_up
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.seed.departures import TOLD, departures, tests_of
from certgen.rules.wording import count, day

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from pandas import DataFrame

    from certgen.rules.case import Case
    from certgen.standards import Practice

_TEST_AGE: Final = "practice:germination_test_age_months"


def is_benchmark(case: Case) -> bool:
    """Whether one of the season's rulebooks asks for germination records. Otherwise all this is practice."""
    return bool(case.demand("germination_record_items"))


def weight_of(case: Case) -> Weight | None:
    """A germination rule's own weight under the benchmark, else advice."""
    return None if is_benchmark(case) else "advice"


@rule(
    weight="unproven",
    clauses=("seed-law:201.6", "seed-law:7 USC 1572", "practice:germination_min_pct"),
    remedy="Enter the test under `tests`, with its replicates. If none was made, make one from the file "
    "sample, and take the figure off the labels until it is in.",
    after=("sold-before-packed",),
)
def germination_missing(case: Case) -> Iterator[Finding]:
    """Seed left the farm, and no germination test of its lot had been made by then.

    The organic standards don't ask for the figure; buyers do, and so does seed law for the kinds it lists.
    A label that bears a figure without a test claims what nobody knows, and then it is no mere advice.
    """
    tests = tests_of(case, "germination")
    first = tests[~tests["lot"].duplicated()].set_index("lot")["date"]
    frame = departures(case)
    frame = frame.assign(tested=look_up(frame["lot"], first))
    late = frame[~(frame["tested"] <= frame["date"])]
    labelled = set(case.keyed("lots").index[case.keyed("lots")["label.germination"].notna()])
    for row, movement, when, lot, kind, tested in indexed_rows(
        late, "movement", "date", "lot", "kind", "tested"
    ):
        rest = (
            f"and its first test is of {day(tested)}"
            if tested
            else "and no germination test of it is entered"
        )
        claim = " Its label gives a figure all the same." if lot in labelled and not tested else ""
        yield Finding(
            "movements",
            movement,
            row,
            ("lot",),
            f"Seed of lot {lot} was {TOLD[kind]} on {day(when)}, {rest}.{claim}",
            weight=None if claim else weight_of(case),
            cause=lot,
            # What was sold without its test is in doubt; a figure that nobody found, on every packet.
            reaches=(Node("lots", lot),) if claim else None,
            supply=f"a germination test of lot {lot}",
        )


@rule(
    weight="unproven",
    clauses=("seed-law:201.30a", "seed-law:201.36c", _TEST_AGE),
    remedy="Test the lot again before more of it goes out, and enter that test. Tell buyers the figure.",
    after=("germination-missing",),
)
def germination_expired(case: Case) -> Iterator[Finding]:
    """The germination test was too old on the day the seed left the farm.

    Seed ages in the store, and a figure of last winter says little about this autumn. Where the season
    takes seed law as its benchmark, the test holds so many calendar months after the end of its month: the
    longer term for airtight packs needs proofs that no record here gives. Otherwise practice says how long.
    """
    import pandas as pd

    tests = tests_of(case, "germination").assign(tested=lambda frame: frame["date"])[["lot", "tested"]]
    frame = departures(case)
    frame = frame.assign(at=frame.index).sort_values("date", kind="stable")
    joined = pd.merge_asof(frame, tests, left_on="date", right_on="tested", by="lot").set_index("at")
    joined = joined[joined["tested"].notna()].sort_index()
    asked = [
        int(demand.value) for _, demand in case.demand("ship_by_months") if isinstance(demand.value, int)
    ]
    practice = case.practice("germination_test_age_months")
    for row, movement, when, lot, kind, tested in indexed_rows(
        joined, "movement", "date", "lot", "kind", "tested"
    ):
        held = _held(tested, when, asked, None if practice is None else practice.high)
        if held:
            yield Finding(
                "movements",
                movement,
                row,
                ("date",),
                f"Seed of lot {lot} was {TOLD[kind]} on {day(when)} on a germination test of "
                f"{day(tested)}, {held}.",
                weight=None if asked else "advice",
                supply=f"a germination test of lot {lot} that held on {day(when)}",
            )


def _held(tested: date, when: date, asked: list[int], usual: float | None) -> str:
    """Until when the test held, in words; empty if it held on the day."""
    if asked:
        last = last_ship_day(tested, min(asked))
        return f"which held until {day(last)}" if when > last else ""
    if usual is None or when <= keeps_until(tested, usual):
        return ""
    return f"{count(age_in_months(tested, when), 'month')} before, where practice is {usual:g} at most"


@rule(
    weight="unproven",
    clauses=("seed-law:201.55", "practice:germination_seeds"),
    remedy="Make the test again. If a count was misread or left out, correct it.",
)
def germination_replicates_differ(case: Case) -> Iterator[Finding]:
    """The replicates of a germination test lie further apart than chance allows.

    Then something besides the seed was at work: a dry corner, a mould, a slip in counting. The mean of such
    a test means little. The limit is the published one for four or two replicates of a hundred seeds, and a
    formula, which is no published table, for any other.
    """
    frame = own_tests(case)
    several = frame[(frame["replicates"].str.len() > 1) & (frame["per_replicate"] > 0).fillna(value=False)]
    for row, test, lot, counted, seeds in indexed_rows(several, "test", "lot", "replicates", "per_replicate"):
        if max(counted) > seeds:
            yield Finding(
                "tests",
                test,
                row,
                ("replicates",),
                f"Test {test} of lot {lot} counts {count(max(counted), 'seedling')} out of"
                f" {count(seeds, 'seed')}.",
                weight=weight_of(case),
                supply=f"the right counts of test {test}",
            )
            continue
        verdict = compare_replicates(counted, seeds)
        if not verdict.passes:
            basis = "" if verdict.basis == "table" else " (by formula, not a published table)"
            yield Finding(
                "tests",
                test,
                row,
                ("replicates",),
                f"The replicates of test {test} of lot {lot} lie {count(verdict.range, 'point')} apart, and"
                f" chance allows {verdict.limit or 0:.3g}{basis}.",
                weight=weight_of(case),
                supply=f"a germination test in the place of {test}",
            )


def own_tests(case: Case) -> DataFrame:
    """This season's germination tests, in their own rows."""
    frame = case.season.table("tests")
    return frame[frame["kind"] == "germination"]


def figures_of(tests: DataFrame) -> DataFrame:
    """Germination tests with `seeds` tested and the `mean` of normal seedlings in per cent."""
    import pandas as pd

    normal = [sum(counted) for counted in tests["replicates"].tolist()]
    seeds = (tests["replicates"].str.len() * tests["per_replicate"]).astype("float64")
    return tests.assign(seeds=seeds, mean=100 * pd.Series(normal, tests.index, dtype="float64") / seeds)


@rule(
    weight="advice",
    clauses=("practice:germination_min_pct", "seed-law:201.63", "seed-law:201.31"),
    remedy="Print the figure that the last test found. Seed below what the trade expects is sold with the "
    "figure told, or not at all.",
    after=("germination-replicates-differ",),
)
def germination_low(case: Case) -> Iterator[Finding]:
    """A germination test lies below the label, or below what the trade expects.

    Against the label a published tolerance is allowed for, where four hundred seeds were tested. No official
    minimum is known for a crop that seed law doesn't list: what the trade expects is practice.
    """
    highest = _highest_least(case)
    for row, test, lot, mean, seeds, label, labelled, tested in indexed_rows(
        _last_tests(case), "test", "lot", "mean", "seeds", "label", "labelled", "date"
    ):
        found = f"Test {test} found {mean:.3g} % in lot {lot}"
        if label is not None and labelled != tested and _is_below(label, mean, int(seeds)):
            yield Finding(
                "tests",
                test,
                row,
                ("replicates",),
                f"{found}, and its label says {label:g} %.",
                weight="unproven" if is_benchmark(case) else "advice",
                supply=f"the figure of test {test} on the label of lot {lot}",
            )
            continue
        # Only for what lies below the highest minimum is it worth looking up the parents.
        least = expect_germination(case, lot) if mean < highest else None
        if least is not None and mean < least.range[0]:
            yield Finding(
                "tests",
                test,
                row,
                ("replicates",),
                f"{found}, where the trade expects {least.text()}.",
                clauses=(f"practice:{least.key}",),
            )


def _highest_least(case: Case) -> float:
    minima = [case.practice(key) for key in case.profile.practice if key.startswith(_LEAST)]
    return max((practice.range[0] for practice in minima if practice is not None), default=0.0)


def _is_below(label: float, mean: float, seeds: int) -> bool:
    return mean < label and not compare_with_label(label, mean, seeds).within


def _last_tests(case: Case) -> DataFrame:
    """The last germination test of each lot that has a mean, with `label` and `labelled` of the lot."""
    tests, lots = figures_of(own_tests(case)), case.keyed("lots")
    tests = tests.assign(
        label=look_up(tests["lot"], lots["label.germination_pct"]),
        labelled=look_up(tests["lot"], lots["label.tested"]),
    )
    tests = tests.sort_values("date", kind="stable")
    return tests[~tests["lot"].duplicated(keep="last") & tests["mean"].notna()].sort_index()


_LEAST: Final = "germination_min_pct"


def expect_germination(case: Case, lot: str) -> Practice | None:
    """The germination that the trade expects, by the sex of the parents where it tells them apart."""
    parents = [node.id for node in case.lineage.seed_parents(lot)]
    sexes = case.tree_of["sex"].reindex(parents).dropna().unique().tolist()
    found = [case.practice(f"{_LEAST}_{sex.replace(' ', '_')}") for sex in sexes]
    known = [practice for practice in found if practice is not None]
    return min(known, key=lambda practice: practice.range) if known else case.practice(_LEAST)
