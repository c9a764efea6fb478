"""Germination tests: there is one, it is fresh, it means something, and it bears out the label."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.figures.germination import compare_range, compare_with_label
from certgen.figures.validity import age_in_months, keeps_until, last_ship_day
from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.seed.departures import TOLD
from certgen.rules.wording import count, day

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.records.columns import Array, Columns
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
    moves = case.moves
    if not moves["left"].any():
        return
    tests, of_lot = case.columns("tests"), germination_tests(case)
    first = np.array([of_lot.get(lot, (-1,))[0] for lot in moves.values("lot")])
    moves = moves.adding(
        tested=tests.at("date", first),
        labelled=case.columns("lots").look_up("lot", moves["lot"], "label.germination"),
    )
    late = moves["left"] & ~(moves["tested"] <= moves["date"])
    for row, movement, when, lot, kind, tested, labelled in moves.rows(
        "movement", "date", "lot", "kind", "tested", "labelled", where=late
    ):
        rest = (
            f"and its first test is of {day(tested)}"
            if tested
            else "and no germination test of it is entered"
        )
        claim = " Its label gives a figure all the same." if labelled and not tested else ""
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
    days, moves = case.columns("tests").values("date"), case.moves
    tested_on = {
        lot: [days[one] for one in rows if days[one]] for lot, rows in germination_tests(case).items()
    }
    on_test = moves["left"] & moves.known("date") & is_in(moves["lot"], tested_on)
    asked = [
        int(demand.value) for _, demand in case.demand("ship_by_months") if isinstance(demand.value, int)
    ]
    practice = case.practice("germination_test_age_months")
    for row, movement, when, lot, kind in moves.rows("movement", "date", "lot", "kind", where=on_test):
        before = bisect_right(tested_on[lot], when)
        if not before:
            continue
        tested = tested_on[lot][before - 1]
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
    tests = case.columns("tests")
    counted_out = is_germination(tests) & (tests["per_replicate"] > 0)
    for row, test, lot, counted, seeds in tests.rows(
        "test", "lot", "replicates", "per_replicate", where=counted_out
    ):
        if len(counted) < 2:
            continue
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
        verdict = compare_range(counted, seeds)
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


def is_germination(tests: Columns) -> Array:
    """Which tests are of germination."""
    found: Array = tests["kind"] == "germination"
    return found


def germination_tests(case: Case) -> dict[str, list[int]]:
    """By lot the rows of its germination tests of all years, the earliest first."""
    tests = case.columns("tests")
    rows = np.flatnonzero(is_germination(tests))
    rows = rows[np.argsort(tests["date"][rows], kind="stable")]
    return {lot: rows[own].tolist() for lot, own in group_rows(tests["lot"][rows]).items()}


def figures_of(tests: Columns) -> tuple[Array, Array]:
    """Of each germination test the seeds tested, and the mean of normal seedlings in per cent."""
    counted = [
        (len(one), sum(one)) if own else (0, 0)
        for one, own in zip(tests["replicates"].tolist(), is_germination(tests).tolist(), strict=True)
    ]
    replicates, normal = np.array(counted, dtype="float64").reshape(-1, 2).T
    seeds = replicates * tests["per_replicate"]
    with np.errstate(divide="ignore", invalid="ignore"):
        return seeds, 100 * normal / seeds


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
    tests, lots = case.columns("tests"), case.columns("lots")
    last = [rows[-1] for rows in germination_tests(case).values()]
    if not last:
        return
    highest, of_lot = _highest_least(case), lots.find("lot", tests["lot"])
    seeds_of, means = figures_of(tests)
    judged = np.zeros(len(tests), dtype=bool)
    judged[last] = True
    judged &= ~np.isnan(means)
    tests = tests.adding(
        mean=means,
        seeds=seeds_of,
        label=lots.at("label.germination_pct", of_lot),
        labelled=lots.at("label.tested", of_lot),
    )
    for row, test, lot, mean, seeds, label, labelled, tested in tests.rows(
        "test", "lot", "mean", "seeds", "label", "labelled", "date", where=judged
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


_LEAST: Final = "germination_min_pct"


def expect_germination(case: Case, lot: str) -> Practice | None:
    """The germination that the trade expects, by the sex of the parents where it tells them apart."""
    parents = [node.id for node in case.lineage.seed_parents(lot)]
    trees = case.joined("trees")
    sexes = dict.fromkeys(trees.look_up("tree", np.array(parents, dtype=object), "sex").tolist())
    found = [case.practice(f"{_LEAST}_{sex.replace(' ', '_')}") for sex in sexes if sex]
    known = [practice for practice in found if practice is not None]
    return min(known, key=lambda practice: practice.range) if known else case.practice(_LEAST)
