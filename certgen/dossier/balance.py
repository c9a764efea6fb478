"""The season's mass balance and its extraction runs, for whoever shows them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from certgen.figures.balance import WITHIN, Period, balance_period, split_at_counts
from certgen.figures.conversion import History, ProcessingRun, Yields, compare_with_history, find_yields
from certgen.figures.ledger import COUNT_KIND, compare_with_counts, find_negative_days, keep_book
from certgen.figures.weighings import Tolerance, count_readings, tolerate
from certgen.records.quantities import format_mass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    import pandas as pd

    from certgen.examination import Result
    from certgen.figures.balance import By
    from certgen.records import Season

#: What each column of a balance is called on paper.
HEADINGS = {
    "brought_forward_mg": "Brought forward",
    "opening_stock_mg": "Opening stock",
    "produced_mg": "Packed from this season’s batches",
    "blended_from_mg": "Blended in from other lots",
    "received_mg": "Received",
    "returned_mg": "Returned",
    "count_gain_mg": "Gain at a count",
    "sold_mg": "Sold",
    "transferred_mg": "Transferred",
    "sown_mg": "Sown",
    "sampled_mg": "Sampled and tested",
    "retained_mg": "Retained sample",
    "downgraded_mg": "Downgraded",
    "discarded_mg": "Discarded",
    "blended_into_mg": "Blended into other lots",
    "lost_in_packing_mg": "Lost in packing",
    "count_loss_mg": "Loss at a count",
    "closing_mg": "Closing stock",
    WITHIN: "Blended from lot to lot",
}


class Count(NamedTuple):
    """A lot's seed as it was weighed on a day, as the book had it, and how much more there was.

    The difference rests on so many `readings` of a scale, of which `off_step` are no multiple of its step.
    """

    day: date
    lot: str
    counted_mg: int
    book_mg: int
    difference_mg: int
    readings: int
    off_step: int


#: What a difference says beside the scale's steps, by what it is.
_JUDGED = {
    "within": "within what the scale can tell",
    "possible": "more than is likely from its steps, and no more than they can add up to",
    "beyond": "beyond what the scale can tell",
}
#: What no record tells of a scale, said wherever its steps are held against a difference.
SCALE_ONLY = (
    "Its steps alone are meant: adjustment, tare and moisture come on top, and no lot stands better for it."
)


@dataclass(frozen=True, eq=False)
class Account:
    """A season's stock over a period.

    `ledger` is the whole season's, in running order; `balance` has one row a group (a lot, a variety, or
    all), `total` one row in all. `counts` are the physical counts beside the book, `negative` the days on
    which a lot had less than nothing, `periods` the stretches between counts. `step_mg` is what the scale
    shows at least, by the records (None: they don't say).
    """

    period: Period
    ledger: pd.DataFrame
    balance: pd.DataFrame
    total: pd.DataFrame
    counts: pd.DataFrame
    negative: pd.DataFrame
    periods: tuple[Period, ...]
    step_mg: int | None = None

    @cached_property
    def lines(self) -> tuple[tuple[str, dict[str, int]], ...]:
        """Each line of the balance: its name, and its milligrams by column."""
        columns = [str(name) for name in self.balance.columns]
        groups = zip(self.balance.index.tolist(), self.balance.to_numpy().tolist(), strict=True)
        return tuple(
            (_name_group(group), dict(zip(columns, map(int, masses), strict=True)))
            for group, masses in groups
        )

    @cached_property
    def totals(self) -> dict[str, int]:
        """All lines together, in milligrams by column; empty if there is none."""
        if self.total.empty:
            return {}
        return {str(name): int(mass) for name, mass in self.total.iloc[0].items()}

    @cached_property
    def counted(self) -> tuple[Count, ...]:
        """The physical counts of the period, beside the book."""
        columns = ("date", "lot", "counted_mg", "book_mg", "difference_mg", "readings", "off_step")
        return tuple(
            Count(when.date(), *rest)
            for when, *rest in zip(*(self.counts[name].tolist() for name in columns), strict=True)
        )

    @cached_property
    def overdrawn(self) -> tuple[tuple[date, str, int], ...]:
        """The days on which a lot held less than nothing: day, lot, milligrams in the book."""
        columns = (self.negative[name].tolist() for name in ("date", "lot", "stock_mg"))
        return tuple((when.date(), lot, stock) for when, lot, stock in zip(*columns, strict=True))

    def tolerance(self, count: Count) -> Tolerance | None:
        """How far the difference at a count can come from the scale's steps; None if no step is recorded."""
        return None if self.step_mg is None else tolerate(count.readings, self.step_mg)

    def judge(self, count: Count) -> str | None:
        """`within`, `possible` or `beyond`; None where no step is recorded, or weights aren't of it."""
        tolerance = self.tolerance(count)
        return None if tolerance is None or count.off_step else tolerance.judge(count.difference_mg)

    def say_tolerance(self, count: Count) -> str:
        """What a scale's steps have to do with the difference at a count, in a sentence."""
        tolerance = self.tolerance(count)
        if tolerance is None:
            return ""
        word = "reading" if count.readings == 1 else "readings"
        if count.off_step:
            many = "1 of them is" if count.off_step == 1 else f"{count.off_step} of them are"
            return (
                f"It rests on {count.readings} {word}; {many} no multiple of the scale's step, so another "
                "scale or unit was used, and what they can tell isn't known."
            )
        return (
            f"That is {_JUDGED[tolerance.judge(count.difference_mg)]}: {count.readings} {word} in steps of "
            f"{format_mass(tolerance.step_mg)} can be off by {_weigh(tolerance.likely_mg)} together, by "
            f"{_weigh(tolerance.worst_mg)} at the very most."
        )

    @property
    def scale(self) -> str:
        """What is on record of the scale, in a sentence."""
        if self.step_mg is None:
            return (
                "No scale's step is on record (season.scale_step), so that nothing is said of whether a "
                "difference is within what the scale can tell."
            )
        return (
            f"The scale's step counts as {format_mass(self.step_mg)} (season.scale_step, within what the "
            f"crop's profile lets a seed scale have). {SCALE_ONLY}"
        )

    @property
    def meets(self) -> bool:
        """Whether every count meets the book and no lot was overdrawn."""
        return not self.overdrawn and not any(count.difference_mg for count in self.counted)


def _weigh(milligrams: float) -> str:
    """A tolerance in grams, rounded up to the milligram: never less than it is."""
    return format_mass(ceil(milligrams - 1e-9))


def _name_group(group: str | tuple[str, ...]) -> str:
    return " · ".join(filter(None, group)) if isinstance(group, tuple) else str(group)


#: What a physical count finds: no entry of the book, but the difference to it.
COUNTS = ("count_gain_mg", "count_loss_mg")


def take_account(
    season: Season,
    by: By = "lot",
    period: Period | None = None,
    lots: Sequence[str] = (),
    on: date | None = None,
    step_mg: int | None = None,
) -> Account:
    """The season's account over a period (the season's own until the day `on`, with every entry, if None).

    `lots` keeps only these lots' entries; `step_mg` is the scale's step, if one is recorded. Raises
    ValueError for a period that ends before it starts.
    """
    ledger = keep_book(season)
    if lots:
        ledger = ledger[ledger["lot"].isin(list(lots))].reset_index(drop=True)
    period = period or season_period(season, ledger, on or season.details.end)
    return Account(
        period=period,
        ledger=ledger,
        balance=balance_period(ledger, period, by),
        total=balance_period(ledger, period, "all"),
        counts=_within(_find_counts(ledger, step_mg or 0), period),
        negative=_within(find_negative_days(ledger), period),
        periods=split_at_counts(ledger, period),
        step_mg=step_mg,
    )


def _find_counts(ledger: pd.DataFrame, step_mg: int) -> pd.DataFrame:
    readings = count_readings(ledger, step_mg)
    readings = readings[readings["kind"] == COUNT_KIND].reset_index(drop=True)
    return compare_with_counts(ledger).assign(**{name: readings[name] for name in ("readings", "off_step")})


def recorded_step(result: Result) -> int | None:
    """The scale's step in milligrams if the season's records tell it, within what the profile allows.

    A scale that shows no steps at all isn't told by one of nothing.
    """
    typed = result.season.details.raw.get("scale_step")
    return None if typed is None else result.case.scale_step_mg or None


def _within(frame: pd.DataFrame, period: Period) -> pd.DataFrame:
    import pandas as pd

    start, end = map(pd.Timestamp, period)
    return frame[(frame["date"] >= start) & (frame["date"] <= end)].reset_index(drop=True)


def season_period(season: Season, ledger: pd.DataFrame, on: date) -> Period:
    """The season until the day that is looked at, widened to every entry of its ledger."""
    start = season.details.start
    end = min(season.details.end, max(on, start))
    if len(ledger):
        start = min(start, ledger["date"].min().date())
        end = max(end, ledger["date"].max().date())
    return Period(start, end)


@dataclass(frozen=True, slots=True)
class RunAccount:
    """One extraction run: the batch, its status and variety words, what went in and came out, and the yields.

    `history` holds its dry seed a fruit against the farm's own earlier seasons; None without any.
    """

    batch: str
    varieties: tuple[str, ...]
    run: ProcessingRun
    yields: Yields
    history: History | None


def account_runs(season: Season) -> tuple[RunAccount, ...]:
    """Fruit to packed seed for each batch, in the order of the records, beside the farm's earlier seasons."""
    earlier = list(_list_earlier_yields(season))
    varieties = _name_varieties(season)
    accounts = []
    for row, (batch, run) in enumerate(_list_runs(season)):
        yields = find_yields(run)
        seed = yields.dry_per_fruit_mg
        history = compare_with_history(seed, earlier) if seed is not None and earlier else None
        accounts.append(RunAccount(batch, varieties.get(row, ()), run, yields, history))
    return tuple(accounts)


def _list_earlier_yields(season: Season) -> Iterator[float]:
    """The dry seed a fruit in milligrams of each earlier season that wrote both down, the latest first."""
    before = season.previous
    while before is not None:
        weighed = [(run.dry_mg, run.fruits) for _, run in _list_runs(before)]
        whole = [(dry, fruits) for dry, fruits in weighed if dry is not None and fruits]
        if whole:
            yield sum(dry for dry, _ in whole) / sum(fruits for _, fruits in whole)
        before = before.previous


def _list_runs(season: Season) -> Iterator[tuple[str, ProcessingRun]]:
    """Each batch with its run, row for row."""
    harvests, batches, packed = season.columns("harvests"), season.columns("batches"), _weigh_packed(season)
    row_of = harvests.first("harvest")
    counts, weights = harvests.values("fruits"), harvests.values("weight_mg")
    told = ("batch", "harvests", "wet_weight_mg", "floated_off_mg", "dry_weight_mg")
    for _, batch, pickings, wet, floated, dry in batches.rows(*told):
        rows = [row_of.get(picking) for picking in pickings]
        yield (
            batch,
            ProcessingRun(
                fruits=_sum_known(counts, rows),
                fruit_mg=_sum_known(weights, rows),
                wet_mg=wet,
                floated_mg=floated,
                dry_mg=dry,
                packed_mg=packed.get(batch),
            ),
        )


def _sum_known(values: Sequence[int | None], rows: Sequence[int | None]) -> int | None:
    """A run's fruit is known only if every picking it used is; one unknown weight leaves the sum unknown."""
    told = [None if row is None else values[row] for row in rows]
    known = [value for value in told if value is not None]
    return sum(known) if told and len(known) == len(told) else None


def _weigh_packed(season: Season) -> dict[str, int]:
    packed: dict[str, int] = {}
    for part in season.exploded("lots", "sources")["value"].tolist():
        if part.get("batch"):
            packed[part["batch"]] = packed.get(part["batch"], 0) + int(part.get("weight_mg") or 0)
    return packed


def _name_varieties(season: Season) -> dict[int, tuple[str, ...]]:
    """The varieties behind each batch by row, through picking, bag, tree and planting."""
    of_planting = _pair(season, "plantings", "planting", "variety")
    of_tree = _follow(_pair(season, "trees", "tree", "planting"), of_planting)
    of_bag = _follow(_pair(season, "bagging", "bag", "tree"), of_tree)
    of_picking: dict[str, dict[str, None]] = {}
    for column, variety_of in (("bags", of_bag), ("trees", of_tree)):
        for _, picking, name in season.elements("harvests", column).rows("id", "value"):
            if name in variety_of:
                of_picking.setdefault(picking, {})[variety_of[name]] = None
    varieties: dict[int, dict[str, None]] = {}
    for _, row, picking in season.elements("batches", "harvests").rows("row", "value"):
        if picking in of_picking:
            varieties.setdefault(row, {}).update(of_picking[picking])
    return {row: tuple(found) for row, found in varieties.items()}


def _pair(season: Season, table: str, key: str, column: str) -> dict[str, str]:
    """What a column says of each name in another; of two records with one name the first that says it."""
    found: dict[str, str] = {}
    for _, name, said in season.columns(table).rows(key, column):
        if name is not None and said is not None:
            found.setdefault(name, said)
    return found


def _follow(first: Mapping[str, str], then: Mapping[str, str]) -> dict[str, str]:
    return {name: then[said] for name, said in first.items() if said in then}
