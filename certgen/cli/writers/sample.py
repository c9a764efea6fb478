"""A spot check as a sheet to take into the field, and the plan of a seed test in sentences."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from certgen.cli.terminal import Terminal, clean
from certgen.dossier.cautions import cautions_of_draw, cautions_of_test
from certgen.dossier.spot_check import REPEAT, list_strata, say_chance, say_draw, say_order, say_population
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.rules.wording import count, day, join, noun

if TYPE_CHECKING:
    from certgen.dossier.seed_tests import SeedPlan
    from certgen.dossier.spot_check import Asked, Drawn, SpotCheck
    from certgen.examination import Result


def tell_fingerprint(result: Result, asked: Asked, fingerprint: str) -> str:
    """What whoever inspects has to note before a text is told."""
    lines = "\n".join(f"  {line}" for line in write_fingerprint(fingerprint))
    what = f"{say_population(asked, result.on)}, {_say_groups(asked)}"
    return f"Frozen: {clean(what)}.\n{lines}\n"


def write_frozen(result: Result, asked: Asked, fingerprint: str, size: int | None) -> None:
    """The first step: what was frozen, how much there is to draw from, and what comes next."""
    out = Terminal()
    out.season(result)
    out.line(tell_fingerprint(result, asked, fingerprint))
    strata = list_strata(result, asked)
    population = sum(map(len, strata.values()))
    if not population:
        out.text(say_nothing(result, asked))
    else:
        parts = join(f"{len(items)} in {name}" for name, items in strata.items())
        several = len(strata) > 1
        out.text(f"{population} to draw from{f': {parts}' if several else ''}.")
        if size is not None:
            out.text(f"{size} are to be looked at.")
        elif several:
            out.text(f"{len(strata)} are the fewest: one of each group.")
    _write_left_out(out, result)
    out.line()
    out.text(
        "Whoever inspects notes or photographs all 64 digits and the line above them, and only then tells a "
        "text: a sentence that nobody could guess, or dice. Then this draws:"
    )
    options = [f"--of {asked.kind}", f"--by {asked.by}", *(["--records"] if asked.on_record else [])]
    wanted = f"--size {size}" if size is not None else "--size N"
    out.line(f"  certgen sample … {' '.join(options)} {wanted} --on {result.on.isoformat()} \\")
    out.line(f"    --frozen {fingerprint} --seed TEXT")
    out.text(
        "If a record changes in between, nothing is drawn. A text that the grower knew beforehand is worth "
        "nothing: records can be written until a known text spares what it should."
    )


def write_check(result: Result, check: SpotCheck) -> None:
    """The sheet: what was drawn, group by group, each item with what it should look like."""
    out = Terminal()
    out.season(result)
    out.text(say_draw(check))
    out.line()
    out.text(f"Text “{check.key.text}”, hashed as {plain_text(check.key.text)}. Fingerprint:")
    for line in write_fingerprint(check.key.fingerprint):
        out.line(f"  {line}")
    out.text(say_order(check), 0, "" if check.key.noted else "yellow")
    _write_left_out(out, result)
    if check.doubled:
        out.text(
            f"Several records bear the same number, and each of these is drawn from once: "
            f"{join(check.doubled)}. Ask for both things.",
            0,
            "yellow",
        )
    if not check.population:
        out.text(say_nothing(result, check.asked))
        return
    out.cautions(cautions_of_draw(result, check.kind))
    if len(check.strata) > 1:
        parts = join(f"{check.taken[name]} of {whole} in {name}" for name, whole in check.strata.items())
        out.text(f"At least one of each group, the rest in proportion: {parts}.")
    for stratum, items in groupby(check.drawn, key=lambda item: item.stratum):
        if stratum:
            out.heading(clean(stratum))
        for item in items:
            _write_item(out, check, item)
    _write_misses(out, check)
    out.line()
    out.text(REPEAT)
    out.text(f"As of {day(result.on)}.")


def _write_misses(out: Terminal, check: SpotCheck) -> None:
    out.heading("What this sample can miss")
    for faults, chance in check.misses:
        what = f"{faults} of {check.population} {'is' if faults == 1 else 'are'} faulty"
        worst = " at worst" if len(check.strata) > 1 else ""
        out.line(f"  If {what}: missed with a chance of {say_chance(chance)}{worst}.")
    worst = "At worst: the faulty ones lie where the draw is thinnest. " if len(check.strata) > 1 else ""
    out.text(f"{worst}Whoever looks is taken to see what is wrong.", 2)


def _say_groups(asked: Asked) -> str:
    return "all together" if asked.by == "all" else f"by {asked.by}"


def say_nothing(result: Result, asked: Asked) -> str:
    """Why nothing can be drawn, with the way out."""
    nothing = f"There is nothing to draw from: no {say_population(asked, result.on)}."
    if asked.on_record:
        return nothing
    kept = sum(map(len, list_strata(result, replace(asked, on_record=True)).values()))
    if not kept:
        return nothing
    return (
        f"{nothing} --records draws from {kept} on record, as a check of papers; --on asks for another day."
    )


def _write_left_out(out: Terminal, result: Result) -> None:
    if result.errors:
        count = len(result.errors)
        out.text(
            f"{count} {'thing' if count == 1 else 'things'} in the records could not be read: what stands "
            "there was not drawn from.",
            0,
            "yellow",
        )


def _write_item(out: Terminal, check: SpotCheck, item: Drawn) -> None:
    place = ", ".join(f"{word} {at}" for word, at in (("row", item.row), ("place", item.position)) if at)
    tree = f" on tree {item.tree}" if check.kind == "bags" and item.tree else ""
    where = f" ({place})" if place else ""
    out.line()
    out.text(f"[ ] {check.kind[:-1]} {item.identifier}{tree}{where}", 2, "bold")
    out.text("; ".join(f"{name} {text}" for name, text in item.says if text), 6)
    out.line("      found: ________________________________________")


def write_plan(result: Result, plan: SeedPlan) -> None:
    """The plan in sentences, with every assumption."""
    out = Terminal()
    out.season(result)
    out.text(
        f"Test of lot {plan.lot} that finds {_percent(plan.detect)} of transgenic seed or more "
        f"with a confidence of {_percent(plan.confidence)}."
    )
    out.heading("The plan")
    seeds = f"{plan.seeds:,}".replace(",", "\u202f")
    out.text(
        f"{count(plan.pools, 'pool')} of {count(plan.seeds_per_pool, 'seed')}, {seeds}"
        f" {noun('seed', plan.seeds)} in all. If "
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
