"""Ripening and drying checked against practice, and what a fruit can hold."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.records.quantities import format_mass
from certgen.records.rows import indexed_rows, is_absent, look_up, plain_rows
from certgen.rules.clauses import BALANCE, PLAN
from certgen.rules.findings import Finding
from certgen.rules.ranges import days_between, find_outside
from certgen.rules.registry import rule
from certgen.rules.wording import capital, name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from pandas import DataFrame, Series

    from certgen.rules.case import Case
    from certgen.rules.ranges import Figure
    from certgen.standards import Practice


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
    frame = case.season.table("harvests")
    warmth, colour = frame["ripening.temperature_c"], frame["ripening.colour_pct"]
    rest = case.practice("ripening_days")
    days = days_between(frame["date"], frame["ripening.until"])
    days = days.mask(frame["stage"].isin(case.profile.role("ripe_stages")) & ~_too_many(days, rest))
    figures = (
        ("ripening.temperature", warmth, case.practice("ripening_c"), "ripened at {:.3g} °C"),
        ("ripening.until", days, rest, "ripened for {:g} days"),
        ("ripening.colour", colour, case.practice("ripening_colour_pct"), "had coloured {:g} %"),
    )
    yield from find_outside("harvests", frame, "harvest", figures, "Picking")


def _too_many(days: Series[Any], practice: Practice | None) -> Series[bool]:
    """Which are more days than is usual: ripe fruit may rest too long, and never too short."""
    return (days > (inf if practice is None else practice.range[1])).fillna(value=False).astype("bool")


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
    frame = case.season.table("batches")
    days = days_between(frame["drying.from"], frame["drying.to"])
    damp = frame["drying.humidity"] == "high"
    wait = days_between(frame["date"], frame["drying.from"])
    figures: list[Figure] = [
        (
            "drying.temperature",
            frame["drying.temperature_c"],
            case.practice("drying_c"),
            "was dried at {:.3g} °C",
        ),
        ("drying.from", wait, case.practice("days_extraction_to_drying"), "lay wet for {:g} days"),
    ]
    for method in case.profile.words["drying_methods"]:
        # Damp air makes drying slow; that is no fault of the work, but a short time in it is.
        for air, weather, said in (("", ~damp, method), (" damp", damp, f"{method}, in damp air")):
            known = case.profile.practice_for("drying_days", f"{method}{air}")
            usual = case.practice(known.key) if known is not None else None
            taken = days.where((frame["drying.method"] == method) & weather)
            figures.append(("drying.to", taken, usual, f"was dried for {{:g}} days ({said})"))
    figures.append(
        ("moisture", frame["moisture_pct"], case.practice("moisture_pct"), "held {:g} % moisture when dry")
    )
    yield from find_outside("batches", frame, "batch", figures, "Batch")


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
    for row, batch in indexed_rows(case.season.table("batches").loc[sorted(told)], "batch"):
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
    frame = case.season.table("batches")
    over = (frame["dry_weight_mg"] > frame["wet_weight_mg"]).fillna(value=False)
    for row, batch, said, bound in indexed_rows(frame[over], "batch", "dry_weight", "wet_weight"):
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
    frame = case.season.table("harvests")
    each = (
        frame["weight_mg"].astype("Float64")
        / frame["fruits"].astype("Float64").replace(0, float("nan"))
        / 1000
    )
    low, high = practice.limits
    odd = frame.assign(each=each)[((each < low) | (each > high)).fillna(value=False)]
    for row, harvest, fruits, weight, grams in indexed_rows(odd, "harvest", "fruits", "weight", "each"):
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
    frame, harvests = case.season.table("batches"), case.keyed("harvests")
    processed = case.processed[~case.processed.duplicated(["batch_row", "harvest"])]
    head: dict[object, object] = {}

    def find(one: object) -> object:
        while head.setdefault(one, one) != one:
            head[one] = head[head[one]]
            one = head[one]
        return one

    for row, harvest in plain_rows(processed, "batch_row", "harvest"):
        head[find(row)] = find(harvest)
    members: dict[object, tuple[list[int], dict[str, None]]] = {}
    for row, harvest in plain_rows(processed, "batch_row", "harvest"):
        runs, pickings = members.setdefault(find(row), ([], {}))
        if row not in runs[-1:]:
            runs.append(row)
        pickings[harvest] = None
    fruits, weights = harvests["fruits"].to_dict(), harvests["weight_mg"].to_dict()
    batches, dry = frame["batch"].tolist(), frame["dry_weight_mg"].tolist()

    def total(values: dict[Any, Any], names: Iterable[str]) -> int | None:
        found: list[Any] = [values.get(one) for one in names]
        return None if any(map(is_absent, found)) else sum(map(int, found))

    return [
        RunGroup(
            tuple(dict.fromkeys(runs)),
            tuple(dict.fromkeys(batches[row] for row in runs)),
            total(fruits, pickings),
            total(weights, pickings),
            sum(int(dry[row]) for row in dict.fromkeys(runs) if not is_absent(dry[row])),
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
    found = _fruit(case)
    least = found["fruits"].astype("Float64") * (seeds.low * thousand.low)
    low = (found["dry_weight_mg"].astype("Float64") < least).fillna(value=False)
    for row, batch, said, bound, fruits in indexed_rows(
        found.assign(least=least)[low], "batch", "dry_weight_mg", "least", "fruits"
    ):
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            f"Batch {batch} gave {format_mass(said)} of dry seed, where its {fruits} fruit would hold "
            f"{format_mass(int(bound))} at least.",
        )


def _fruit(case: Case) -> DataFrame:
    """Batches with `fruits` and `fruit_mg` of all their pickings.

    Missing where one isn't known, or is shared with another batch.
    """
    frame = case.season.table("batches")
    harvests, processed = case.keyed("harvests"), case.processed
    shared = processed["harvest"].duplicated(keep=False)

    def total(column: str) -> Series[Any]:
        each = look_up(processed["harvest"], harvests[column]).mask(shared)
        by_batch = each.groupby(processed["batch_row"])
        whole = by_batch.count() == by_batch.size()
        return look_up(frame.index.to_series(), by_batch.sum()[whole])

    return frame.assign(fruits=total("fruits"), fruit_mg=total("weight_mg"))
