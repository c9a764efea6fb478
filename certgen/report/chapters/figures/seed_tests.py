"""Every test with what was computed of it, and what a further test of the seed would use up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.seed_tests import Germination, Moisture, Transgene, plan_seed_test
from certgen.dossier.viability import (
    NO_FORECAST,
    tell_bearing,
    tell_decline,
    tell_fall,
    tell_tests,
)
from certgen.figures.ledger import stock_on
from certgen.figures.purity import Purity
from certgen.figures.seed_weight import SeedWeight
from certgen.report.chapters.figures.odds import percent, percentage
from certgen.report.tables import Amount, Column, table
from certgen.report.wording import key, whole
from certgen.rules.wording import count, day, join, noun
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.seed_tests import SeedPlan, SeedTest
    from certgen.dossier.viability import LotDecline
    from certgen.figures.germination import ReplicateVerdict
    from certgen.report.context import Context
    from certgen.report.tables import Shown
    from certgen.rules.seed.assays import Assay
    from certgen.typeset.parts import Part

#: The shares that a plan is shown for.
_DETECT: Final = (0.01, 0.001)
_PLANNED: Final = 40


def build_seed_tests(context: Context) -> Section:
    """The section of tests of seed."""
    return Section("seed-tests", "Tests of the seed", 2, (_show_tests(context, context.tests),), style="part")


def build_seed_ground(context: Context) -> Section | None:
    """For the appendix: how germination went down, what negatives bound, and what a further test would"
    " cost."""
    parts = (*_show_declines(context), *_show_bounds(context, context.tests), *_show_plans(context))
    return Section("seed-ground", "More on tests of the seed", 2, parts) if parts else None


def _show_tests(context: Context, tests: Sequence[SeedTest]) -> Part:
    if not tests:
        return Prose(("No test of seed is recorded.",))
    lots = context.result.lots
    return table(
        "Tests and what they say",
        (
            Column("Test", "key", lambda row: key(row.test, f"tests/{row.test}")),
            Column("Lot", "key", lambda row: key(row.lot, f"lots/{row.lot}" if row.lot in lots else "")),
            Column("Date", "date", lambda row: row.day),
            Column("Kind", "text", lambda row: row.kind),
            Column("Result", "text", lambda row: say_test(row)[0]),
            Column("How sure", "text", lambda row: say_test(row)[1]),
        ),
        tests,
        note="Computed from what was counted and weighed. Limits are exact and two-sided at 95"
        " %; a bound after no positive pool is one-sided.",
        tone=lambda row: "faulty" if row.fault else "plain",
    )


def _show_declines(context: Context) -> list[Part]:
    """The germination of lots with several tests, as it went down, with limits."""
    followed = list(context.declines.values())
    if not followed:
        return []
    lots = context.result.lots
    return [
        table(
            "How germination went down",
            (
                Column("Lot", "key", lambda one: key(one.lot, f"lots/{one.lot}" if one.lot in lots else "")),
                Column("Tests", "text", tell_tests),
                Column("What they show", "text", tell_decline),
                Column(f"By the line on {day(context.result.on)}", "text", _say_now),
                Column("When it falls below", "text", lambda one: tell_fall(one) or None),
            ),
            followed,
            note=f"{NO_FORECAST} {tell_bearing()} The line is fitted on the probit scale; limits are"
            " one-sided at 95 % and hold what chance makes of the seeds sown.",
        )
    ]


def _say_now(one: LotDecline) -> str | None:
    if one.decline is None:
        return None
    if one.now is None:
        return f"not told: the tests bear until {day(one.decline.bears_until)}"
    return f"{percent(one.now.estimate)} ({percent(one.now.low)} to {percent(one.now.high)})"


def _show_bounds(context: Context, tests: Sequence[SeedTest]) -> list[Part]:
    """What each bound covers, and what it rests on: no bound stands without them."""
    bounds = [
        (test, test.figure.assay, test.figure.bound)
        for test in tests
        if isinstance(test.figure, Transgene) and test.figure.bound is not None
    ]
    if not bounds:
        return []
    lots = context.result.lots
    return [
        table(
            "What a negative test of seed bounds",
            (
                Column("Test", "key", lambda row: key(row[0].test, f"tests/{row[0].test}")),
                Column(
                    "Lot",
                    "key",
                    lambda row: key(row[0].lot, f"lots/{row[0].lot}" if row[0].lot in lots else ""),
                ),
                Column("At most", "number", lambda row: percentage(row[2])),
                Column("Of seed that carries", "text", lambda row: say_covered(row[1])),
                Column("If the assay", "text", lambda row: say_assumed(row[1])),
                Column(
                    "And the sample",
                    "text",
                    lambda row: f"is a random one of the lot ({row[1].sampling})",
                ),
            ),
            bounds,
            note="One-sided, at 95 %: were the share larger, at least one pool would have been positive in 19"
            " such tests of 20. It is a bound on what was looked for and no absence. A test whose own record"
            " speaks against it bounds nothing, and the table above says why.",
        )
    ]


def say_covered(assay: Assay) -> str:
    """What a negative speaks for, and which of the events to be ruled out it leaves open."""
    does = "does" if len(assay.seen) == 1 else "do"
    events = f"{join(assay.targets, 'or')}, as {name_events(assay.seen)} {does}"
    open_ = f"; of {name_events(assay.unseen)} it says nothing" if assay.unseen else ""
    return f"{events}{open_}"


def name_events(events: Sequence[str]) -> str:
    """`event 55-1`, `events 55-1 and X17-2`."""
    return f"{noun('event', len(events))} {join(events)}"


def say_assumed(assay: Assay) -> str:
    """What is taken for granted of the assay."""
    return (
        f"finds one such seed among {assay.largest_pool}"
        f" (its limit, {assay.limit_source}), and never misses one in a smaller pool"
    )


def say_test(test: SeedTest) -> tuple[str, str]:
    """A test's result and how sure it is, each in a few words."""
    figure = test.figure
    if isinstance(figure, Germination):
        return _say_germination(figure)
    if isinstance(figure, Moisture):
        return _say_moisture(figure)
    if isinstance(figure, Purity):
        how = "pure part by subtraction" if figure.by_subtraction else "all parts weighed"
        return f"pure {figure.pure} %, other seed {figure.other} %, inert {figure.inert} %", how
    if isinstance(figure, SeedWeight):
        held = {True: "holds", False: "weigh eight more", None: "fewer than eight replicates"}[figure.passes]
        return (
            f"{figure.thousand_seeds:.2f} g a thousand, {count(round(figure.seeds_per_gram), 'seed')} a gram",
            f"CV {figure.cv:.1f} % against {figure.limit:g} %: {held} (ISTA, from memory)",
        )
    if isinstance(figure, Transgene):
        return _say_transgene(figure)
    return "no figure", test.fault


def _say_germination(figure: Germination) -> tuple[str, str]:
    verdict = figure.verdict
    sure = (
        f"{percent(figure.limits.low)} to {percent(figure.limits.high)}; {_say_agreement(verdict)};"
        f" {count(figure.months, 'month')} old"
    )
    ship = f"; ship by {figure.ship_by.isoformat()}" if figure.ship_by else ""
    return f"{verdict.rounded_mean} % of {whole(figure.seeds)} {noun('seed', figure.seeds)}", sure + ship


def _say_agreement(verdict: ReplicateVerdict) -> str:
    """How far the replicates lie apart, against what chance allows at their mean."""
    apart = f"replicates {count(verdict.range, 'point')} apart"
    if verdict.limit is None:
        return f"{apart}, and the published table sets no limit at a mean of {verdict.rounded_mean} %"
    within = "within" if verdict.passes else "beyond"
    return f"{apart}, {within} {verdict.limit:.3g} ({verdict.basis})"


def _say_moisture(figure: Moisture) -> tuple[str, str]:
    repeats = figure.repeats
    if repeats is None:
        return f"{figure.percent:.3g} %", "one figure, no repeats recorded"
    word = "agree" if repeats.agrees else "do not agree: both are done again"
    return (
        f"{figure.percent:.1f} %",
        f"repeats {repeats.first:.2f} and {repeats.second:.2f} %, which {word}",
    )


def _say_transgene(figure: Transgene) -> tuple[str, str]:
    pools = figure.estimate
    of = f"{count(pools.pools, 'pool')} of {count(pools.seeds_per_pool, 'seed')}"
    said = f"{pools.positive} of {of} positive"
    if figure.bound is not None:
        return said, f"at most {percent(figure.bound)} of the seed, which is a bound and no absence"
    if figure.reasons:
        lead = "no share of the seed can be told" if pools.positive else "no bound"
        return said, f"{lead}: {'; '.join(figure.reasons)}"
    middle = f"about {percent(pools.estimate)}, " if pools.estimate is not None else ""
    return said, f"{middle}{percent(pools.low)} to {percent(pools.high)} of the seed"


def _show_plans(context: Context) -> list[Part]:
    """What it costs to look for transgenic seed in each lot that is in stock."""
    result = context.result
    stock = stock_on(result.ledger, result.on)
    held = [lot for lot in result.lots if lot in stock.index and stock[lot] > 0][:_PLANNED]
    plans: list[tuple[str, list[SeedPlan]]] = []
    for lot in held:
        try:
            plans.append((lot, [plan_seed_test(result, lot, share) for share in _DETECT]))
        except ValueError:
            continue
    if not plans:
        return []
    return [
        table(
            "What a pooled test of the lot would use up",
            (
                Column("Lot", "key", lambda row: key(row[0], f"lots/{row[0]}")),
                Column("In stock", "number", lambda row: Amount(f"{row[1][0].stock_mg / 1000:g}", "g", " ")),
                Column("To find 1 %", "text", lambda row: _say_plan(row[1][0])),
                Column("Part of stock", "number", lambda row: _say_cost(row[1][0])),
                Column("To find 0.1 %", "text", lambda row: _say_plan(row[1][1])),
                Column("Part of stock", "number", lambda row: _say_cost(row[1][1])),
            ),
            plans,
            note="Seed tested is destroyed. With a confidence of 95 %, pools as large as the assay’s"
            " detection limit allows (the lot’s own test’s, else the crop’s figure), a perfect assay"
            " within it, and the lot’s own seed weight or else the crop’s. Computed; a planning figure,"
            " no proof.",
        )
    ]


def _say_plan(plan: SeedPlan) -> str:
    return f"{count(plan.pools, 'pool')} of {plan.seeds_per_pool}, {plan.cost_g:.1f} g"


def _say_cost(plan: SeedPlan) -> Shown:
    if plan.share_of_stock is None:
        return None
    return percentage(plan.share_of_stock) if plan.share_of_stock <= 1 else "more than all"
