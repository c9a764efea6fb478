"""Ripening and drying held against practice, and what a fruit can hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.records.quantities import format_mass
from certgen.rules.clauses import BALANCE, PLAN
from certgen.rules.findings import Finding
from certgen.rules.ranges import days_between, find_outside
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, rows

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series

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
    fruit gives mould.
    """
    frame = case.season.table("harvests")
    warmth, colour = frame["ripening.temperature_c"], frame["ripening.colour_pct"]
    days = days_between(frame["date"], frame["ripening.until"])
    figures = (
        ("ripening.temperature", warmth, case.practice("ripening_c"), "ripened at {:.3g} °C"),
        ("ripening.until", days, case.practice("ripening_days"), "ripened for {:g} days"),
        ("ripening.colour", colour, case.practice("ripening_colour_pct"), "had coloured {:g} %"),
    )
    yield from find_outside("harvests", frame, "harvest", figures, "Picking")


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
    # Damp air makes drying slow; that is no fault of the work.
    days = days.where(frame["drying.humidity"].fillna("normal") != "high")
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
        known = case.profile.practice_for("drying_days", method)
        usual = case.practice(known.key) if known is not None else None
        figures.append(
            (
                "drying.to",
                days.where(frame["drying.method"] == method),
                usual,
                f"was dried for {{:g}} days ({method})",
            )
        )
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
    """A run gave more dry seed than its fruit can hold, or than there was wet seed.

    Seed that comes from nowhere comes from somewhere else. The bounds are generous ones from the crop
    profile, a plausibility and no standard.
    """
    found = _fruit(case)
    seeds, thousand = case.practice("seeds_per_fruit"), case.practice("thousand_seed_weight_g")
    share = case.practice("seed_of_fruit_pct")
    dry = found["dry_weight_mg"].astype("Float64")
    told: dict[int, str] = {}

    def tell(most: Series[Any], of: str) -> None:
        over = (dry > most).fillna(value=False)
        for row, batch, said, bound, fruits, weight in rows(
            found.assign(most=most)[over], "batch", "dry_weight_mg", "most", "fruits", "fruit_mg"
        ):
            source = of.format(fruits=fruits, weight=format_mass(int(weight)) if weight is not None else "")
            told.setdefault(
                row,
                f"Batch {batch} gave {format_mass(said)} of dry seed, and {source} can hold "
                f"{format_mass(int(bound))} at most.",
            )

    if seeds is not None and thousand is not None and seeds.high is not None and thousand.high is not None:
        tell(found["fruits"].astype("Float64") * (seeds.high * thousand.high), "its {fruits} fruit")
    if share is not None and share.high is not None:
        tell(found["fruit_mg"].astype("Float64") * (share.high / 100), "{weight} of fruit")
    wet = found["wet_weight_mg"].astype("Float64")
    for row, batch, said, bound in rows(
        found[(dry > wet).fillna(value=False)], "batch", "dry_weight", "wet_weight"
    ):
        told.setdefault(row, f"Batch {batch} gave {said} of dry seed out of {bound} of wet seed.")
    for row, batch in rows(found.loc[sorted(told)], "batch"):
        yield Finding(
            "batches",
            batch,
            row,
            ("dry_weight",),
            told[row],
            supply=f"the right weights of batch {batch} and its fruit",
        )


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
    for row, batch, said, bound, fruits in rows(
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
