"""What lies ahead, in sentences and small tables, with every figure that it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal
from certgen.cli.writers.plan_of_lots import write_parents, write_pollen, write_seed
from certgen.cli.writers.plan_of_pools import write_pools
from certgen.dossier.bag_plan import BagPlan
from certgen.dossier.contamination import SeasonContamination
from certgen.dossier.parent_plan import ParentPlan
from certgen.dossier.pool_plan import PoolPlan
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.dossier.bag_plan import Dates, LeafTests
    from certgen.dossier.season_rates import Rate
    from certgen.examination import Result
    from certgen.exchange.interchange.plan import Plan

_NO_VERDICT: Final = "A planning figure: it changes nothing of what is traced."


def write_plan(result: Result, plan: Plan) -> None:
    """Writes any of the plans."""
    out = Terminal()
    out.season(result)
    match plan:
        case BagPlan():
            _write_bags(out, plan)
        case PoolPlan():
            write_pools(out, plan)
        case ParentPlan():
            write_parents(out, plan)
        case SeasonContamination():
            write_pollen(out, plan)
        case _:
            write_seed(out, plan)
    out.line()
    out.text(f"As of {day(result.on)}. {_NO_VERDICT}")


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _write_bags(out: Terminal, plan: BagPlan) -> None:
    sure, of = _percent(plan.confidence), f" of {plan.variety}" if plan.variety else ""
    out.text(f"Bags to hang for {plan.grams:g} g of seed{of} to sell.")
    out.heading("The plan")
    out.text(f"{plan.bags} bags on average, for {plan.fruit} fruit.", 2)
    if plan.bags_cautious is None or plan.fruit_cautious is None:
        out.text(f"No number of bags makes it sure with {sure}: too little is on record.", 2)
    else:
        out.text(
            f"{plan.bags_cautious} bags{_say_how_sure(plan)}, for {plan.fruit_cautious} fruit, at the "
            "cautious end of each figure below.",
            2,
        )
    out.heading("What it is reckoned from")
    _write_rate(out, "Bags that give fruit", plan.bearing, _percent)
    _write_rate(out, "Dry seed a fruit", plan.grams_a_fruit, lambda grams: f"{grams:.3g} g")
    out.text(
        f"Left to sell: {_percent(plan.left.usual)} ({plan.left.basis}). Beside the {plan.grams:g} g, "
        f"{plan.kept_g:.3g} g go to tests, file samples and losses.",
        2,
    )
    if plan.traced is not None and plan.traced < 1:
        packed = f"Of what this season packed {_percent(plan.traced)} is traced"
        out.text(f"{packed}; the plan takes it that all will be.", 2)
    if plan.bearing.own or plan.grams_a_fruit.own:
        out.text(
            f"Cautious figures out of the records are one-sided limits at {sure} each; taken together they "
            "are more cautious than that.",
            2,
        )
    _write_dates(out, plan.dates)
    _write_leaf_tests(out, plan, plan.leaves)


def _say_how_sure(plan: BagPlan) -> str:
    """The confidence, where records give both limits: a range of practice has none."""
    return f" to be sure of it with {_percent(plan.confidence)}" if plan.own_limits else ""


def _write_rate(out: Terminal, what: str, rate: Rate, say: Callable[[float], str]) -> None:
    out.text(f"{what}: {say(rate.usual)}, to be cautious {say(rate.cautious)} ({rate.basis}).", 2)


def _write_dates(out: Terminal, dates: Dates) -> None:
    out.heading("When")
    out.table((step.step, f"{step.low} to {step.high} days", step.basis) for step in dates.steps)
    if dates.missing:
        out.text(f"No figure for {join(dates.missing)}: add those days yourself.", 2, "yellow")
    out.text(
        f"Bagged on {day(dates.bag_on)}, the seed is ready between {day(dates.ready_from)} and "
        f"{day(dates.ready_to)}.",
        2,
    )
    if dates.ready_by is None or dates.bag_by is None or dates.bag_latest is None:
        return
    late = ""
    if dates.bag_latest < dates.bag_on:
        late = " Both days are past."
    elif dates.bag_by < dates.bag_on:
        late = " The first of them is past."
    out.text(
        f"For seed on {day(dates.ready_by)} bag by {day(dates.bag_by)}; after {day(dates.bag_latest)} it is "
        f"too late even if every step is quick.{late}",
        2,
        "yellow" if late else "",
    )


def _write_leaf_tests(out: Terminal, plan: BagPlan, leaves: LeafTests) -> None:
    out.heading("Leaf tests")
    out.text(
        f"Of the trees that bear seed {leaves.cleared} stand cleared, {leaves.unscreened} still to screen.", 2
    )
    if leaves.bags_a_tree is None or leaves.trees is None or leaves.tests is None:
        out.text(
            "No bag of this season says how many go on a tree, so trees and leaf tests can't be reckoned: "
            "record which tree each bag hangs on.",
            2,
        )
        return
    bags = plan.bags_cautious or plan.bags
    out.text(
        f"At this season's {leaves.bags_a_tree:.2g} bags a tree {bags} bags hang on {leaves.trees} trees.", 2
    )
    if not leaves.tests:
        out.text("No further leaf test is needed for them.", 2)
    elif leaves.short:
        out.text(
            f"{leaves.tests} more must come out clean, {leaves.short} more than stand: plant, or hang more "
            "bags a tree.",
            2,
            "yellow",
        )
    else:
        out.text(f"{leaves.tests} more must come out clean: a leaf test each, more where one doesn't.", 2)
