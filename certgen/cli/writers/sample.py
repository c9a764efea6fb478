"""A spot check as a sheet to take into the field, and the plan of a seed test in sentences."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from certgen.cli.terminal import Terminal, clean
from certgen.dossier.cautions import cautions_of_draw, cautions_of_test
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import Drawn, SpotCheck
    from certgen.examination import Result


def write_check(result: Result, check: SpotCheck) -> None:
    """The sheet: what was drawn, group by group, each item with what it should look like."""
    out = Terminal()
    out.season(result)
    out.text(
        f"Spot check of {check.size} of {check.population} {check.kind}, drawn with the text “{check.seed}”."
    )
    out.cautions(cautions_of_draw(result, check.kind))
    if len(check.strata) > 1:
        groups = [item.stratum for item in check.drawn]
        parts = join(f"{groups.count(name)} of {whole} in {name}" for name, whole in check.strata.items())
        out.text(f"In proportion: {parts}.")
    for stratum, items in groupby(check.drawn, key=lambda item: item.stratum):
        if stratum:
            out.heading(clean(stratum))
        for item in items:
            _write_item(out, check, item)
    out.heading("What this sample can miss")
    for faults, chance in check.misses:
        what = f"{faults} of {check.population} {'is' if faults == 1 else 'are'} faulty"
        out.line(f"  If {what}: missed with a chance of {_say_chance(chance)}.")
    out.line()
    out.text(
        "To draw it again: write the text, a vertical bar and the identifier, take the SHA-256 of it, "
        "sort by it within each group, and take the first ones."
    )
    out.text(f"As of {day(result.on)}.")


def _write_item(out: Terminal, check: SpotCheck, item: Drawn) -> None:
    place = ", ".join(f"{word} {at}" for word, at in (("row", item.row), ("place", item.position)) if at)
    tree = f" on tree {item.tree}" if check.kind == "bags" and item.tree else ""
    where = f" ({place})" if place else ""
    out.line()
    out.text(f"[ ] {check.kind[:-1]} {item.identifier}{tree}{where}", 2, "bold")
    out.text("; ".join(f"{name} {text}" for name, text in item.says if text), 6)
    out.line("      found: ________________________________________")


def _say_chance(chance: float) -> str:
    """A chance to one decimal; one that would round to nothing isn't called nothing."""
    return "less than 0.1 %" if 0 < chance < 0.0005 else f"{100 * chance:.1f} %"


def write_plan(result: Result, plan: SeedPlan) -> None:
    """The plan in sentences, with every assumption."""
    out = Terminal()
    out.season(result)
    out.text(
        f"Test of lot {plan.lot} that finds {_percent(plan.detect)} of transgenic seed or more "
        f"with a confidence of {_percent(plan.confidence)}."
    )
    out.heading("The plan")
    pools = "1 pool" if plan.pools == 1 else f"{plan.pools} pools"
    seeds = f"{plan.seeds:,}".replace(",", "\u202f")
    out.text(
        f"{pools} of {plan.seeds_per_pool} seeds, {seeds} seeds in all. If "
        f"the share is {_percent(plan.detect)}, at least one pool is positive with a chance of "
        f"{_percent(plan.reached)}.",
        2,
    )
    if plan.bound is None:
        out.text("If no pool is positive, nothing can be said at this confidence.", 2)
    else:
        out.text(
            f"If no pool is positive, the share is {_percent(plan.bound)} at most (one-sided, "
            f"{_percent(plan.confidence)}). That is a bound, not an absence.",
            2,
        )
    out.cautions(cautions_of_test(result, plan.lot))
    out.heading("What it uses up")
    out.text(f"{plan.cost_g:.1f} g of seed, which the test destroys.", 2)
    if plan.share_of_stock is None:
        out.text(f"On {day(result.on)} none of the lot is in stock.", 2)
    else:
        enough = "" if plan.share_of_stock <= 1 else ": more than there is"
        out.text(
            f"That is {_percent(plan.share_of_stock)} of the {plan.stock_mg / 1000:g} g in stock on "
            f"{day(result.on)}{enough}.",
            2,
            "" if plan.share_of_stock <= 1 else "yellow",
        )
    out.heading("What it is reckoned from")
    out.text(
        f"The assay finds one such seed among {plan.largest_pool}, a detection limit of "
        f"{_percent(plan.limit)} ({plan.limit_source}). Ask the laboratory for its own.",
        2,
    )
    out.text(f"A pool that holds one is found with a chance of {_percent(plan.sensitivity)}.", 2)
    out.text(f"A thousand seeds weigh {plan.thousand_g:.1f} g ({plan.weight_source}).", 2)
    out.text(
        "Seed is drawn at random from the whole lot. Computed, binomial: a planning figure, no proof.", 2
    )
    out.line()


def _percent(share: float) -> str:
    """Three significant figures: 0.498 %, 95 %, 226 %."""
    return f"{100 * share:.3g} %" if share < 10 else f"{100 * share:.0f} %"
