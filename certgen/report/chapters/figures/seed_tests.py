"""Every test with what was computed of it, and what a further test of the seed would use up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.seed_plan import plan_seed_test
from certgen.dossier.seed_tests import Germination, Moisture, Transgene, compute_tests
from certgen.figures.ledger import stock_on
from certgen.figures.purity import Purity
from certgen.figures.seed_weight import SeedWeight
from certgen.report.chapters.figures.odds import percent
from certgen.report.wording import cell, figure, key, whole
from certgen.typeset.parts import Grid, Head, Prose, Row, Section

if TYPE_CHECKING:
    from certgen.dossier.seed_plan import SeedPlan
    from certgen.dossier.seed_tests import SeedTest
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: The shares that a plan is shown for.
_DETECT: Final = (0.01, 0.001)
_PLANNED: Final = 40


def build_seed_tests(context: Context) -> Section:
    """The section of tests of seed."""
    tests = compute_tests(context.result)
    parts: list[Part] = []
    if tests:
        parts.append(
            Grid(
                "Tests and what they say",
                (
                    Head("Test", "key"),
                    Head("Lot", "key"),
                    Head("Date", "date"),
                    Head("Kind"),
                    Head("Result"),
                    Head("How sure"),
                ),
                tuple(
                    Row(
                        (
                            key(one.test, f"tests/{one.test}"),
                            key(one.lot, f"lots/{one.lot}" if one.lot in context.result.lots else ""),
                            cell(one.day.isoformat(), kind="date"),
                            cell(one.kind),
                            *(cell(text) for text in say_test(one)),
                        ),
                        tone="faulty" if one.fault else "plain",
                    )
                    for one in tests
                ),
                note="Computed from what was counted and weighed. Limits are exact and two-sided at 95"
                " %; a bound after no positive pool is one-sided.",
            )
        )
    else:
        parts.append(Prose(("No test of seed is recorded.",)))
    plans = _plans(context)
    if plans is not None:
        parts.append(plans)
    return Section("seed-tests", "Tests of the seed", 2, tuple(parts), style="part")


def say_test(test: SeedTest) -> tuple[str, str]:
    """A test's result and how sure it is, each in a few words."""
    found = test.figure
    if isinstance(found, Germination):
        verdict = found.verdict
        said = f"{verdict.rounded_mean} % of {whole(found.seeds)} seeds"
        within = "within" if verdict.passes else "beyond"
        sure = (
            f"{percent(found.limits.low)} to {percent(found.limits.high)}; replicates {verdict.range:g}"
            f" points apart, {within} {verdict.limit:g} ({verdict.basis}); {found.months} months old"
        )
        return said, sure + (f"; ship by {found.ship_by.isoformat()}" if found.ship_by else "")
    if isinstance(found, Moisture):
        repeats = found.repeats
        if repeats is None:
            return f"{found.percent:.3g} %", "one figure, no repeats recorded"
        word = "agree" if repeats.agrees else "do not agree: both are done again"
        return (
            f"{found.percent:.1f} %",
            f"repeats {repeats.first:.2f} and {repeats.second:.2f} %, which {word}",
        )
    if isinstance(found, Purity):
        how = "pure part by subtraction" if found.by_subtraction else "all parts weighed"
        return f"pure {found.pure} %, other seed {found.other} %, inert {found.inert} %", how
    if isinstance(found, SeedWeight):
        held = {True: "holds", False: "weigh eight more", None: "fewer than eight replicates"}[found.passes]
        return (
            f"{found.thousand_seeds:.2f} g a thousand, {found.seeds_per_gram:.0f} seeds a gram",
            f"CV {found.cv:.1f} % against {found.limit:g} %: {held} (ISTA, from memory)",
        )
    if isinstance(found, Transgene):
        pools = found.estimate
        said = f"{pools.positive} of {pools.pools} pools of {pools.seeds_per_pool} positive"
        if found.bound is not None:
            return said, f"at most {percent(found.bound)} of the seed, which is a bound and no absence"
        middle = f"about {percent(pools.estimate)}, " if pools.estimate is not None else ""
        return said, f"{middle}{percent(pools.low)} to {percent(pools.high)} of the seed"
    return "no figure", test.fault


def _plans(context: Context) -> Part | None:
    """What it costs to look for transgenic seed in each lot that is in stock."""
    result = context.result
    stock = stock_on(result.ledger, result.on)
    held = [lot for lot in result.lots if lot in stock.index and stock[lot] > 0][:_PLANNED]
    rows = []
    for lot in held:
        try:
            plans = [plan_seed_test(result, lot, share) for share in _DETECT]
        except ValueError:
            continue
        told = [text for plan in plans for text in (_say_plan(plan), _say_cost(plan))]
        rows.append(
            Row(
                (
                    key(lot, f"lots/{lot}"),
                    figure(f"{plans[0].stock_mg / 1000:g} g"),
                    cell(told[0]),
                    figure(told[1]),
                    cell(told[2]),
                    figure(told[3]),
                )
            )
        )
    if not rows:
        return None
    return Grid(
        "What a pooled test of the lot would use up",
        (
            Head("Lot", "key"),
            Head("In stock", "number"),
            Head("To find 1 %"),
            Head("Part of stock", "number"),
            Head("To find 0.1 %"),
            Head("Part of stock", "number"),
        ),
        tuple(rows),
        note="Seed tested is destroyed. With a confidence of 95 %, pools as large as the assay’s"
        " detection limit allows (the lot’s own test’s, else the crop’s figure), a perfect assay"
        " within it, and the lot’s own seed weight or else the crop’s. Computed; a planning figure,"
        " no proof.",
    )


def _say_plan(plan: SeedPlan) -> str:
    pools = "1 pool" if plan.pools == 1 else f"{plan.pools} pools"
    return f"{pools} of {plan.seeds_per_pool}, {plan.cost_g:.1f} g"


def _say_cost(plan: SeedPlan) -> str:
    if plan.share_of_stock is None:
        return "–"
    return percent(plan.share_of_stock) if plan.share_of_stock <= 1 else "more than all"
