"""Tests of the packed seed other than germination: for transgenes and for moisture."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.figures.moisture import DUPLICATE_LIMIT, compare_duplicates, wet_basis
from certgen.lineage import Node
from certgen.records.columns import is_in
from certgen.records.quantities import format_mass
from certgen.rules.findings import Finding
from certgen.rules.ranges import compare
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import are_vouched
from certgen.rules.wording import count, day, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from certgen.records.columns import Array, Columns
    from certgen.rules.case import Case

_EXCLUDED: Final = (
    "us-nop:205.105(e)",
    "us-nop:205.2 excluded methods",
    "us-nop:205.670(b)",
    "us-nop:memo 11-13",
    "eu:2018/848 11",
    "eu:2018/848 30(4)",
    "eu:1829/2003 12",
    "codex:genetic engineering",
    "canada:1.4",
)


def _valid(tests: Columns) -> Array:
    """Which tests are for transgenes, in a run whose controls neither failed nor were left out."""
    found: Array = (tests["kind"] == "transgene") & ~is_in(tests["controls"], ("failed", "not run"))
    return found


@rule(
    weight="rejects",
    clauses=_EXCLUDED,
    remedy="Hold the whole lot and tell the certifier, who decides what becomes of it and of seed that has "
    "left. Look for the cause: test the trees behind the lot again, singly.",
)
def lot_transgene_positive(case: Case) -> Iterator[Finding]:
    """A test of the lot's own seed found the transgene.

    No tolerance is set, and a trace is by itself no violation: its cause is looked for, and the certifier
    decides. Until then it speaks against the lot's claim, however little was found. A later negative sample
    of the same lot doesn't undo it, for the seed that was found had brothers. A run whose controls failed is
    void and has a rule of its own.
    """
    tests = case.columns("tests")
    found = _valid(tests) & (tests["positive_pools"] > 0)
    for row, test, lot, positive, pools, targets in tests.rows(
        "test", "lot", "positive_pools", "pools", "targets", where=found
    ):
        yield Finding(
            "tests",
            test,
            row,
            ("positive_pools",),
            f"Test {test} found {' or '.join(targets)} in {positive} of {count(pools, 'pool')} of lot {lot}.",
        )


@rule(
    weight="unproven",
    clauses=_EXCLUDED,
    remedy="Keep these lots back too. Have each tested, and sample each parent again: a clean test of "
    "its own settles each.",
)
def transgene_in_kin(case: Case) -> Iterator[Finding]:
    """A transgene was found in a lot, and other seed shares its runs or its parents.

    Where it came from isn't known: from a parent, from pollen, or in the machine. Until each lot and each
    parent is tested, all seed that shares one of these with the lot is in doubt.
    """
    tests = case.columns("tests")
    valid = _valid(tests)
    found = valid & (tests["positive_pools"] > 0)
    if not found.any():
        return
    # What speaks for a lot needs somebody who answers for its controls; silence on them clears nothing.
    sound = valid & (tests["positive_pools"] == 0) & are_vouched(case, tests)
    clean = set(tests["lot"][sound]) - set(tests["lot"][found])
    samples = case.joined("samples")
    negative = (samples["outcome"] == "negative") & ~samples["pooled"]
    # A lot may be tested many times.
    known: dict[tuple[str, tuple[Node, ...]], list[str]] = {}
    for row, test, lot in tests.rows("test", "lot", where=found):
        since = negative & (samples["collected"] > tests["date"][row])
        retested = set(samples["tree"][since])
        parents = [node for node in _parents(case, lot) if node.id not in retested]
        of = (lot, tuple(parents))
        if of not in known:
            known[of] = [kin for kin in _kin(case, lot, parents) if kin not in clean]
        doubtful = known[of]
        if doubtful:
            yield Finding(
                "tests",
                test,
                row,
                ("lot",),
                f"Test {test} found a transgene in lot {lot}; {name('lots', doubtful)} "
                f"{'shares' if len(doubtful) == 1 else 'share'} its runs or parents"
                f"{f' ({_some_trees(parents)} not tested since)' if parents else ''}.",
                reaches=tuple(Node("lots", one) for one in doubtful),
                supply=f"a clean test of {name('lots', doubtful)}",
            )


def _kin(case: Case, lot: str, parents: Sequence[Node]) -> list[str]:
    """The lots that share runs, lots or some of the parents with a lot, itself left out."""
    shared = [node for node in case.lineage.line_of_lot(lot) if node.table in {"batches", "lots"}]
    touched = dict.fromkeys(case.lineage.lots_of([*shared, *parents, Node("lots", lot)]))
    return [other for other in touched if other != lot]


def _parents(case: Case, lot: str) -> tuple[Node, ...]:
    return (*case.lineage.seed_parents(lot), *case.lineage.pollen_parents(lot))


def _some_trees(parents: list[Node]) -> str:
    return name("trees", list(dict.fromkeys(node.id for node in parents)))


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.272(a)"),
    remedy="Ask the laboratory what the other seed was, and take it out. Test the purity again.",
)
def purity_other_seed(case: Case) -> Iterator[Finding]:
    """A purity test found other seed in a lot.

    Something was mixed in. Until it is known what it was, nobody can say that the rest is what it is called.
    """
    tests = case.columns("tests")
    mixed = (tests["kind"] == "purity") & (tests["other_mg"] > 0)
    for row, test, lot, other in tests.rows("test", "lot", "other_mg", where=mixed):
        yield Finding(
            "tests",
            test,
            row,
            ("other",),
            f"Test {test} found {format_mass(other)} of other seed in its sample of lot {lot}.",
            supply=f"a purity test of lot {lot} without other seed",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Correct the day of the sample, or the lot that it is of.",
    after=("date-in-future", "date-out-of-order"),
)
def sample_before_seed(case: Case) -> Iterator[Finding]:
    """A sample was drawn before the seed of its lot was out of the fruit.

    It was of other seed, and so is what the test says.
    """
    tests, packed = case.columns("tests"), case.joined("packed")
    if not len(tests):
        return
    taken_out = case.columns("batches").look_up("batch", packed["batch"], "date")
    begun: dict[str, date] = {}
    for _, lot, when in packed.adding(begun=taken_out).rows("lot", "begun", where=~np.isnat(taken_out)):
        begun[lot] = min(when, begun.get(lot, when))
    for row, test, lot, sampled, tested in tests.rows(
        "test", "lot", "sampled", "date", where=is_in(tests["lot"], begun)
    ):
        drawn = sampled or tested
        if drawn is None or drawn >= begun[lot]:
            continue
        yield Finding(
            "tests",
            test,
            row,
            ("sampled",),
            f"The sample of test {test} was drawn before the seed of lot {lot} was taken out of its fruit on "
            f"{day(begun[lot])}.",
            supply=f"the right day of test {test}",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.105(e)", "us-nop:205.670(b)", "eu:2021/279 1"),
    remedy="Have the test made again, and enter it beside this one. Keep the lot back until then.",
)
def lot_test_void(case: Case) -> Iterator[Finding]:
    """A transgene test of a lot stands in the records, but its controls failed or weren't run.

    Such a run proves nothing either way, least of all where it came out positive. A later sound test of the
    same lot settles it.
    """
    tests = case.columns("tests")
    valid = _valid(tests)
    void = (tests["kind"] == "transgene") & ~valid
    if not void.any():
        return
    settled: dict[str, date] = {}
    for _, lot, when in tests.rows("lot", "date", where=valid & tests.known("date")):
        settled[lot] = max(when, settled.get(lot, when))
    for row, test, lot, controls, when in tests.rows("test", "lot", "controls", "date", where=void):
        if lot in settled and when and settled[lot] >= when:
            continue
        yield Finding(
            "tests",
            test,
            row,
            ("controls",),
            f"The controls of transgene test {test} of lot {lot}"
            f" {'failed' if controls == 'failed' else 'were not run'}, so it says nothing.",
            supply=f"a sound transgene test of lot {lot}",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.403(d)(4)", "practice:thousand_seed_weight_g"),
    remedy="Enter the seed that was sent in as a movement of kind `sampled`, or correct the number of pools.",
)
def sample_unrecorded(case: Case) -> Iterator[Finding]:
    """The ledger shows less seed taken out of a lot than its transgene test must have ground up.

    Either a movement is missing, or the laboratory had fewer seeds than the test says. The weight is
    reckoned with the lightest usual seed, so that only a plain contradiction is told.
    """
    practice = case.practice("thousand_seed_weight_g")
    if practice is None or practice.low is None:
        return
    tests, moves = case.columns("tests"), case.columns("movements")
    least = tests["pools"] * tests["seeds_per_pool"] * practice.low
    ground = (
        (tests["kind"] == "transgene") & (least > 0) & is_in(tests["lot"], case.columns("lots").first("lot"))
    )
    if not ground.any():
        return
    taken: Counter[str] = Counter()
    for _, lot, weight in moves.rows("lot", "weight_mg", where=is_in(moves["kind"], ("sampled", "retained"))):
        taken[lot] += weight or 0
    for row, test, lot, pools, each in tests.rows("test", "lot", "pools", "seeds_per_pool", where=ground):
        if least[row] <= taken[lot]:
            continue
        yield Finding(
            "tests",
            test,
            row,
            ("pools",),
            f"Test {test} used {count(pools * each, 'seed')} of lot {lot}, at least"
            f" {format_mass(round(least[row]))}, and the ledger shows {format_mass(taken[lot])} taken out for"
            " samples.",
        )


def _weighed(case: Case) -> Iterator[tuple[int, str, str, float | None, list[tuple[int, int, int]]]]:
    """Moisture tests: row, number, lot, the moisture given, and each repeat as (container, before, after) in
    milligrams."""
    tests = case.columns("tests")
    for row, test, lot, given, weighings in tests.rows(
        "test", "lot", "moisture_pct", "weighings", where=tests["kind"] == "moisture"
    ):
        told = [(one["container_mg"], one["before_mg"], one["after_mg"]) for one in weighings]
        yield row, test, lot, given, told


@rule(
    weight="advice",
    clauses=("practice:moisture_pct",),
    remedy="Do both repeats again. If a weight was misread, correct it.",
)
def moisture_repeats_differ(case: Case) -> Iterator[Finding]:
    """The two repeats of a moisture test lie too far apart, or a weighing can't be right.

    Two repeats that differ by more than 0.2 points are done again: so it is common practice (from memory).
    Seed can't gain weight in an oven, nor weigh less than nothing.
    """
    for row, test, lot, _, repeats in _weighed(case):
        try:
            shares = [wet_basis(*one) for one in repeats]
        except ValueError:
            yield Finding(
                "tests",
                test,
                row,
                ("weighings",),
                f"The weighings of moisture test {test} of lot {lot} can't be right: the dish must weigh"
                " least, and seed can't gain weight in the oven.",
            )
            continue
        if len(repeats) == 2 and not (result := compare_duplicates(*repeats)).agrees:
            yield Finding(
                "tests",
                test,
                row,
                ("weighings",),
                f"The repeats of moisture test {test} of lot {lot} gave {shares[0]:.2f} % and"
                f" {shares[1]:.2f} %: {result.difference:.2f} points apart, where"
                f" {float(DUPLICATE_LIMIT):g} is common practice.",
            )


@rule(
    weight="advice",
    clauses=("practice:moisture_pct",),
    remedy="Dry the seed on, or let it take up a little, and test it again before it goes back into store.",
    after=("moisture-repeats-differ",),
)
def moisture_out_of_range(case: Case) -> Iterator[Finding]:
    """Packed seed is damper or drier than it keeps well.

    Damp seed heats and moulds; seed of an intermediate kind that is dried too far dies as well.
    """
    practice = case.practice("moisture_pct")
    if practice is None:
        return
    for row, test, lot, given, repeats in _weighed(case):
        try:
            shares = [wet_basis(*one) for one in repeats]
        except ValueError:
            continue
        value = sum(shares) / len(shares) if shares else given
        if value is not None and practice.grade(round(value, 2)) != "usual":
            where = f", the mean of {len(shares)} repeats" if len(shares) > 1 else ""
            said = f"Test {test} found {value:.3g} % moisture in lot {lot}{where}"
            yield Finding(
                "tests",
                test,
                row,
                ("weighings" if shares else "moisture",),
                f"{compare(said, practice, value)}.",
            )
