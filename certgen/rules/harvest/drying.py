"""Ripening and drying checked against practice, and what a fruit can hold."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from certgen.records.columns import is_in, is_shared
from certgen.records.quantities import format_mass
from certgen.rules.clauses import BALANCE, PLAN
from certgen.rules.findings import Finding
from certgen.rules.ranges import days_between, find_outside
from certgen.rules.registry import rule
from certgen.rules.wording import capital, name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.records.columns import Array
    from certgen.rules.case import Case
    from certgen.rules.ranges import Figure


@rule(
    weight="advice",
    clauses=(*PLAN, "practice:ripening_c", "practice:ripening_days", "practice:ripening_colour_pct"),
    remedy="If a figure was misread, correct it. Otherwise watch this seed's germination test.",
    after=("date-out-of-order",),
)
def ripening_out_of_range(case: Case) -> Iterator[Finding]:
    """Fruit ripened warmer, colder, longer or less far than is usual before its seed was taken out.

    Seed goes on ripening in the picked fruit. Chilled or green fruit gives weak seed, rotten
    fruit gives mould. Fruit that was ripe when it was picked needs no days of ripening.
    """
    harvests = case.columns("harvests")
    warmth, colour = harvests["ripening.temperature_c"], harvests["ripening.colour_pct"]
    rest = case.practice("ripening_days")
    days = days_between(harvests["date"], harvests["ripening.until"])
    # Ripe fruit may rest too long, and never too short.
    short = ~(days > (inf if rest is None else rest.range[1]))
    days = np.where(is_in(harvests["stage"], case.profile.role("ripe_stages")) & short, np.nan, days)
    figures = (
        ("ripening.temperature", warmth, case.practice("ripening_c"), "ripened at {:.3g} °C"),
        ("ripening.until", days, rest, "ripened for {:g} days"),
        ("ripening.colour", colour, case.practice("ripening_colour_pct"), "had coloured {:g} %"),
    )
    yield from find_outside("harvests", harvests, "harvest", figures, "Picking")


@rule(
    weight="advice",
    clauses=(*PLAN, "practice:drying_c", "practice:days_extraction_to_drying", "practice:moisture_pct"),
    remedy="If a figure was misread, correct it. Otherwise watch this seed's germination and moisture.",
    after=("date-out-of-order",),
)
def drying_out_of_range(case: Case) -> Iterator[Finding]:
    """Seed was dried hotter, longer, shorter or later, or to another moisture, than is usual.

    Too hot and it dies at once; too damp and it dies in store. Studies disagree about where the line runs.
    """
    batches = case.columns("batches")
    warmth, methods = batches["drying.temperature_c"], batches["drying.method"]
    days = days_between(batches["drying.from"], batches["drying.to"])
    damp = batches["drying.humidity"] == "high"
    wait = days_between(batches["date"], batches["drying.from"])
    figures: list[Figure] = [
        ("drying.temperature", warmth, case.practice("drying_c"), "was dried at {:.3g} °C"),
        ("drying.from", wait, case.practice("days_extraction_to_drying"), "lay wet for {:g} days"),
    ]
    for method in case.profile.words["drying_methods"]:
        # Damp air makes drying slow; that is no fault of the work, but a short time in it is.
        for air, weather, said in (("", ~damp, method), (" damp", damp, f"{method}, in damp air")):
            known = case.profile.practice_for("drying_days", f"{method}{air}")
            usual = case.practice(known.key) if known is not None else None
            taken = np.where((methods == method) & weather, days, np.nan)
            figures.append(("drying.to", taken, usual, f"was dried for {{:g}} days ({said})"))
    figures.append(
        ("moisture", batches["moisture_pct"], case.practice("moisture_pct"), "held {:g} % moisture when dry")
    )
    yield from find_outside("batches", batches, "batch", figures, "Batch")


@rule(
    weight="unproven",
    clauses=(
        *BALANCE,
        "practice:seeds_per_fruit",
        "practice:thousand_seed_weight_g",
        "practice:seed_of_fruit_pct",
    ),
    remedy="Weigh again and correct what is wrong: the seed, the fruit, or the list of pickings. If a "
    "picking was forgotten, name it.",
    after=("date-out-of-order",),
)
def batch_weight_impossible(case: Case) -> Iterator[Finding]:
    """Runs gave more dry seed than their fruit can hold, or than there was wet seed.

    Seed that comes from nowhere comes from somewhere else. Runs that share pickings are reckoned together,
    however the fruit was shared out. The bounds are generous ones from the crop profile, a plausibility and
    no standard.
    """
    told = find_impossible(case)
    batches = case.columns("batches")["batch"]
    for row in sorted(told):
        batch = batches[row]
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            told[row],
            cause=told[row],
            supply=f"the right weights of batch {batch} and its fruit",
        )


def find_impossible(case: Case) -> dict[int, str]:
    """By row the runs that gave more seed than their fruit, or their wet seed, can have held; and why."""
    seeds, thousand = case.practice("seeds_per_fruit"), case.practice("thousand_seed_weight_g")
    share = case.practice("seed_of_fruit_pct")
    each = (seeds.high or 0) * (thousand.high or 0) if seeds is not None and thousand is not None else 0
    told: dict[int, str] = {}
    for group in group_runs(case):
        bounds = _bounds(group, each, None if share is None else share.high)
        passed = next((bound for bound in bounds if group.dry_mg > bound[0]), None)
        if passed is not None:
            told.update(dict.fromkeys(group.rows, _say_passed(group, *passed)))
    batches = case.columns("batches")
    over = batches["dry_weight_mg"] > batches["wet_weight_mg"]
    for row, batch, said, bound in batches.rows("batch", "dry_weight", "wet_weight", where=over):
        told.setdefault(row, f"Batch {batch} gave {said} of dry seed out of {bound} of wet seed.")
    return told


def _bounds(group: RunGroup, each: float, percent: float | None) -> Iterator[tuple[float, str]]:
    """How many milligrams of seed the fruit of some runs can hold at most, and by what; what is known of it.

    `each` is what a fruit holds (0: not known), `percent` what share of a fruit is seed.
    """
    if each and group.fruits is not None:
        yield group.fruits * each, f"{group.fruits} fruit"
    if percent is not None and group.fruit_mg is not None:
        yield group.fruit_mg * percent / 100, f"{format_mass(group.fruit_mg)} of fruit"


def _say_passed(group: RunGroup, most: float, source: str) -> str:
    whose = "its" if len(group.batches) == 1 else "their"
    return (
        f"{capital(name('batches', group.batches))} gave {format_mass(group.dry_mg)} of dry seed, and "
        f"{whose} {source} can hold {format_mass(int(most))} at most."
    )


@rule(
    weight="unproven",
    clauses=(*BALANCE, "practice:fruit_weight_g"),
    remedy="Weigh or count again, and correct what is wrong.",
)
def harvest_weight_impossible(case: Case) -> Iterator[Finding]:
    """The fruit of a picking would weigh what no fruit of this crop weighs.

    Either the count or the weight is wrong, and how much seed can have come out of it follows from both.
    """
    practice = case.practice("fruit_weight_g")
    if practice is None:
        return
    harvests = case.columns("harvests")
    counted = np.where(harvests["fruits"] == 0, np.nan, harvests["fruits"])
    each = harvests["weight_mg"] / counted / 1000
    low, high = practice.limits
    for row, harvest, fruits, weight, grams in harvests.adding(each=each).rows(
        "harvest", "fruits", "weight", "each", where=(each < low) | (each > high)
    ):
        yield Finding(
            "harvests",
            harvest,
            row,
            ("weight",),
            f"{fruits} fruit of picking {harvest} weighed {weight}, {grams:.3g} g a fruit, where practice is "
            f"{practice.told()}.",
            supply=f"the right weight of picking {harvest}",
        )


class RunGroup(NamedTuple):
    """Runs that are linked by the pickings they share, with all their fruit. Masses in milligrams.

    `fruits` and `fruit_mg` are None where some picking's aren't known.
    """

    rows: tuple[int, ...]
    batches: tuple[str, ...]
    fruits: int | None
    fruit_mg: int | None
    dry_mg: int


def group_runs(case: Case) -> list[RunGroup]:
    """Every group of runs and pickings that hang together; runs without a picking are left out."""
    batches, harvests, processed = case.columns("batches"), case.columns("harvests"), case.joined("processed")
    pairs = dict.fromkeys(zip(processed["batch_row"].tolist(), processed["harvest"].tolist(), strict=True))
    head: dict[object, object] = {}

    def find(one: object) -> object:
        while head.setdefault(one, one) != one:
            head[one] = head[head[one]]
            one = head[one]
        return one

    for row, harvest in pairs:
        head[find(row)] = find(harvest)
    members: dict[object, tuple[dict[int, None], dict[str, None]]] = {}
    for row, harvest in pairs:
        runs, pickings = members.setdefault(find(row), ({}, {}))
        runs[row] = pickings[harvest] = None
    fruits, weights = harvests.values("fruits"), harvests.values("weight_mg")
    first, names, dry = harvests.first("harvest"), batches["batch"], batches.values("dry_weight_mg")

    def total(values: Sequence[int | None], pickings: Iterable[str]) -> int | None:
        found = [values[first[one]] if one in first else None for one in pickings]
        known = [value for value in found if value is not None]
        return sum(known) if len(known) == len(found) else None

    return [
        RunGroup(
            tuple(runs),
            tuple(dict.fromkeys(names[row] for row in runs)),
            total(fruits, pickings),
            total(weights, pickings),
            sum(dry[row] or 0 for row in runs),
        )
        for runs, pickings in members.values()
    ]


@rule(
    weight="advice",
    clauses=(*BALANCE, "practice:seeds_per_fruit", "practice:thousand_seed_weight_g"),
    remedy="Weigh again. If seed was lost, thrown away or put elsewhere, say so in a note: an inspector "
    "will ask where it went.",
    after=("batch-weight-impossible",),
)
def batch_weight_low(case: Case) -> Iterator[Finding]:
    """A run gave far less dry seed than its fruit would be expected to hold.

    Seed that is missing from a balance raises the same question as seed too many: where did it go?
    """
    seeds, thousand = case.practice("seeds_per_fruit"), case.practice("thousand_seed_weight_g")
    if seeds is None or thousand is None or seeds.low is None or thousand.low is None:
        return
    batches, fruits = case.columns("batches"), _count_fruit(case)
    least = fruits * (seeds.low * thousand.low)
    for row, batch, said, bound, number in batches.adding(least=least, fruits=fruits).rows(
        "batch", "dry_weight_mg", "least", "fruits", where=batches["dry_weight_mg"] < least
    ):
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            f"Batch {batch} gave {format_mass(said)} of dry seed, where its {number:.0f} fruit would hold "
            f"{format_mass(int(bound))} at least.",
        )


def _count_fruit(case: Case) -> Array:
    """The fruit of all pickings of each batch, row for row.

    NaN where a picking's isn't known, or is shared with another batch.
    """
    processed, found = case.joined("processed"), np.zeros(len(case.columns("batches")))
    fruits = case.columns("harvests").look_up("harvest", processed["harvest"], "fruits")
    np.add.at(found, processed["batch_row"], np.where(is_shared(processed["harvest"]), np.nan, fruits))
    return found
