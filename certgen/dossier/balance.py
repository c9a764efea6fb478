"""The season's mass balance and its extraction runs, for whoever shows them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from certgen.figures.balance import (
    Period,
    balance_period,
    split_at_counts,
)
from certgen.figures.conversion import History, ProcessingRun, Yields, compare_with_history, find_yields
from certgen.figures.ledger import compare_with_counts, find_negative_days, keep_book

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    import pandas as pd

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
}


class Count(NamedTuple):
    """A lot's seed as it was weighed on a day, as the book had it, and how much more there was."""

    day: date
    lot: str
    counted_mg: int
    book_mg: int
    difference_mg: int


@dataclass(frozen=True, eq=False)
class Account:
    """A season's stock over a period.

    `ledger` is the whole season's, in running order; `balance` has one row a group (a lot, a variety, or
    all), `total` one row in all. `counts` are the physical counts beside the book, `negative` the days on
    which a lot had less than nothing, `periods` the stretches between counts.
    """

    period: Period
    ledger: pd.DataFrame
    balance: pd.DataFrame
    total: pd.DataFrame
    counts: pd.DataFrame
    negative: pd.DataFrame
    periods: tuple[Period, ...]

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
        columns = ("date", "lot", "counted_mg", "book_mg", "difference_mg")
        return tuple(
            Count(when.date(), *rest)
            for when, *rest in zip(*(self.counts[name].tolist() for name in columns), strict=True)
        )

    @cached_property
    def overdrawn(self) -> tuple[tuple[date, str, int], ...]:
        """The days on which a lot held less than nothing: day, lot, milligrams in the book."""
        columns = (self.negative[name].tolist() for name in ("date", "lot", "stock_mg"))
        return tuple((when.date(), lot, stock) for when, lot, stock in zip(*columns, strict=True))

    @property
    def meets(self) -> bool:
        """Whether every count meets the book and no lot was overdrawn."""
        return not self.overdrawn and not any(count.difference_mg for count in self.counted)


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
) -> Account:
    """The season's account over a period (the season's own until the day `on`, with every entry, if None).

    `lots` keeps only these lots' entries. Raises ValueError for a period that ends before it starts.
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
        counts=_within(compare_with_counts(ledger), period),
        negative=_within(find_negative_days(ledger), period),
        periods=split_at_counts(ledger, period),
    )


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
    accounts = []
    for batch, varieties, run in _list_runs(season):
        yields = find_yields(run)
        seed = yields.dry_per_fruit_mg
        history = compare_with_history(seed, earlier) if seed is not None and earlier else None
        accounts.append(RunAccount(batch, varieties, run, yields, history))
    return tuple(accounts)


def _list_earlier_yields(season: Season) -> Iterator[float]:
    """The dry seed a fruit in milligrams of each earlier season that wrote both down, the latest first."""
    before = season.previous
    while before is not None:
        weighed = [(run.dry_mg, run.fruits) for _, _, run in _list_runs(before)]
        whole = [(dry, fruits) for dry, fruits in weighed if dry is not None and fruits]
        if whole:
            yield sum(dry for dry, _ in whole) / sum(fruits for _, fruits in whole)
        before = before.previous


def _list_runs(season: Season) -> Iterator[tuple[str, tuple[str, ...], ProcessingRun]]:
    harvests = season.table("harvests")
    harvests = harvests[harvests["harvest"].notna() & ~harvests["harvest"].duplicated()].set_index("harvest")
    used = season.exploded("batches", "harvests")
    # A run's fruit is known only if every picking it used is; one unknown weight leaves the sum unknown.
    used = used.assign(
        fruits=harvests["fruits"].reindex(used["value"]).to_numpy(dtype="float64", na_value=float("nan")),
        weight_mg=harvests["weight_mg"]
        .reindex(used["value"])
        .to_numpy(dtype="float64", na_value=float("nan")),
    )
    groups = used.groupby("row")[["fruits", "weight_mg"]]
    sums = groups.sum().where(groups.count().eq(groups.size(), axis="index"))
    packed = _weigh_packed(season)
    varieties = _name_varieties(season)
    batches = season.table("batches")
    for row, batch in enumerate(batches["batch"].tolist()):
        fruits, weight = sums.loc[row] if row in sums.index else (None, None)
        yield (
            batch,
            varieties.get(row, ()),
            ProcessingRun(
                fruits=_whole_number(fruits),
                fruit_mg=_whole_number(weight),
                wet_mg=_whole_number(batches["wet_weight_mg"].iat[row]),
                floated_mg=_whole_number(batches["floated_off_mg"].iat[row]),
                dry_mg=_whole_number(batches["dry_weight_mg"].iat[row]),
                packed_mg=packed.get(batch),
            ),
        )


def _whole_number(value: Any) -> int | None:
    import pandas as pd

    return None if pd.isna(value) else int(value)


def _weigh_packed(season: Season) -> dict[str, int]:
    packed: dict[str, int] = {}
    for part in season.exploded("lots", "sources")["value"].tolist():
        if part.get("batch"):
            packed[part["batch"]] = packed.get(part["batch"], 0) + int(part.get("weight_mg") or 0)
    return packed


def _name_varieties(season: Season) -> dict[int, tuple[str, ...]]:
    """The varieties behind each batch by row, through picking, bag, tree and planting."""
    import pandas as pd

    def column(table: str, key: str, value: str) -> pd.DataFrame:
        frame = season.table(table)[[key, value]].dropna()
        return frame[~frame[key].duplicated()]

    trees = column("trees", "tree", "planting").merge(
        column("plantings", "planting", "variety"), on="planting"
    )
    bags = column("bagging", "bag", "tree").merge(trees, on="tree")[["bag", "variety"]]
    by_bag = season.exploded("harvests", "bags")[["id", "value"]].merge(bags, left_on="value", right_on="bag")
    by_tree = season.exploded("harvests", "trees")[["id", "value"]].merge(
        trees, left_on="value", right_on="tree"
    )
    both = pd.concat([by_bag[["id", "variety"]], by_tree[["id", "variety"]]], ignore_index=True)
    runs = season.exploded("batches", "harvests")[["row", "value"]].merge(
        both.drop_duplicates(), left_on="value", right_on="id"
    )
    pairs = runs[["row", "variety"]].drop_duplicates()
    varieties: dict[int, tuple[str, ...]] = {}
    for row, variety in zip(pairs["row"].tolist(), pairs["variety"].tolist(), strict=True):
        varieties[int(row)] = (*varieties.get(int(row), ()), str(variety))
    return varieties
