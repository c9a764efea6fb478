"""The plan of a seed test, written: for `certgen sample --of seed`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from certgen.dossier.seed_plan import SeedPlan
    from certgen.examination import Result


def write_text(result: Result, plan: SeedPlan) -> None:
    """The plan in sentences, with every assumption."""
    from certgen.cli.terminal import Terminal, clean
    from certgen.rules.wording import day

    out = Terminal()
    details = result.season.details
    out.line(out.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))
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
    out.heading("What it rests on")
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


def _fields(plan: SeedPlan) -> dict[str, object]:
    return {
        "lot": plan.lot,
        "detect": plan.detect,
        "confidence": plan.confidence,
        "sensitivity": plan.sensitivity,
        "detection_limit": plan.limit,
        "detection_limit_source": plan.limit_source,
        "largest_pool": plan.largest_pool,
        "pools": plan.pools,
        "seeds_per_pool": plan.seeds_per_pool,
        "seeds": plan.seeds,
        "reached": plan.reached,
        "bound_after_none": plan.bound,
        "thousand_seeds_g": plan.thousand_g,
        "thousand_seeds_source": plan.weight_source,
        "uses_up_g": plan.cost_g,
        "stock_g": plan.stock_mg / 1000,
        "share_of_stock": plan.share_of_stock,
    }


def write_json(result: Result, plan: SeedPlan) -> None:
    """The object that `schemas/output/sample.json` describes under `seed test`."""
    from certgen.cli.output import dump_json, name_season

    dump_json({"format": 1, "season": name_season(result), "kind": "seed test", **_fields(plan)})


def write_csv(result: Result, plan: SeedPlan) -> None:  # noqa: ARG001 (all writers are called alike)
    """One line, a column a figure."""
    from certgen.cli.output import dump_csv

    fields = _fields(plan)
    dump_csv(list(fields), [tuple(fields.values())])
