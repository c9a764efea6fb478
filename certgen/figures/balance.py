"""The mass balance of any period, by lot, by variety or in all, exact to the milligram.

brought forward + opening stock + produced + blended from + received + returned + count gain
= sold + transferred + sown + sampled + retained + downgraded + discarded + blended into + lost in packing
+ count loss + closing.

Source: the in-and-out balance of 7 CFR 205.403(d)(4) as taught; this working form is derived.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal, NamedTuple

import pandas as pd

from certgen.figures.ledger import COUNT_KIND, GAIN, IN_KINDS, LOSS, OUT_KINDS

By = Literal["lot", "variety", "all"]

_KEYS: dict[By, list[str]] = {"lot": ["lot", "variety"], "variety": ["variety"], "all": ["all"]}


def name_column(posting: str) -> str:
    """The balance's column for a posting: `count gain` stands in `count_gain_mg`."""
    return posting.replace(" ", "_") + "_mg"


POSTINGS_IN = (*IN_KINDS, GAIN)
POSTINGS_OUT = (*OUT_KINDS, LOSS)
COLUMNS_IN = ("brought_forward_mg", *map(name_column, POSTINGS_IN))
COLUMNS_OUT = tuple(map(name_column, POSTINGS_OUT))


class Period(NamedTuple):
    """Days from `start` to `end`, both included."""

    start: date
    end: date


def balance_period(ledger: pd.DataFrame, period: Period | None = None, by: By = "lot") -> pd.DataFrame:
    """The balance of a period (all days if None), one row a lot, a variety, or in all; masses in milligrams.

    Indexed by lot and variety, by variety, or by `all`. Columns COLUMNS_IN, COLUMNS_OUT, `closing_mg`,
    which is the running stock at the end, `opening_mg` (brought forward and opening stock together) and
    `difference_mg`, what the identity misses: never anything but zero, as the two sides are computed apart.
    """
    keys = _KEYS[by]
    start, end = _bounds(period)
    until = ledger.assign(all="all")
    until = until.loc[until["date"] <= end]
    within = until.loc[until["date"] >= start]
    earlier = until.loc[until["date"] < start]
    groups = until.groupby(keys)
    postings = within.pivot_table(
        index=keys, columns="posting", values="change_mg", aggfunc="sum", fill_value=0
    ).abs()
    table = postings.reindex(index=groups.size().index, fill_value=0)
    table = table.reindex(columns=[*POSTINGS_IN, *POSTINGS_OUT], fill_value=0)
    table.columns = pd.Index([name_column(posting) for posting in table.columns])
    forward = earlier.groupby(keys)["change_mg"].sum().reindex(table.index, fill_value=0)
    lasts = until.groupby("lot").tail(1).groupby(keys)["stock_mg"].sum()
    table = table.assign(brought_forward_mg=forward, closing_mg=lasts.reindex(table.index, fill_value=0))
    return _finish(table.astype("int64"))


def _bounds(period: Period | None) -> tuple[pd.Timestamp, pd.Timestamp]:
    if period is None:
        return pd.Timestamp.min.as_unit("s"), pd.Timestamp.max.as_unit("s")
    if period.end < period.start:
        raise ValueError(f"A period cannot end on {period.end}, before it starts on {period.start}.")
    return pd.Timestamp(period.start), pd.Timestamp(period.end)


def _finish(table: pd.DataFrame) -> pd.DataFrame:
    came = table[list(COLUMNS_IN)].sum(axis="columns")
    went = table[list(COLUMNS_OUT)].sum(axis="columns")
    table = table.assign(
        opening_mg=table["brought_forward_mg"] + table["opening_stock_mg"],
        difference_mg=(came - went - table["closing_mg"]).astype("int64"),
    )
    return table[[*COLUMNS_IN, *COLUMNS_OUT, "closing_mg", "opening_mg", "difference_mg"]]


def join_balances(balances: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """The balance of several periods on end, from their balances in order of time, all by the same.

    What was brought forward is the first period's and the closing the last's; everything between adds up.
    Raises ValueError if there is none, or a period does not bring forward what the one before closed with.
    """
    if not balances:
        raise ValueError("There is no period to join.")
    index = balances[-1].index
    parts = [balance.reindex(index, fill_value=0) for balance in balances]
    for earlier, later in pairwise(parts):
        if not earlier["closing_mg"].equals(later["brought_forward_mg"]):
            raise ValueError("A period does not begin with the stock that the one before it closed with.")
    table = parts[0].copy()
    for part in parts[1:]:
        table += part
    return _finish(
        table.assign(brought_forward_mg=parts[0]["brought_forward_mg"], closing_mg=parts[-1]["closing_mg"])
    )


def split_period(period: Period, cuts: Sequence[date]) -> tuple[Period, ...]:
    """The period cut after each of the days given; days outside it, and its last day, cut nothing."""
    ends = [*sorted({cut for cut in cuts if period.start <= cut < period.end}), period.end]
    starts = [period.start, *(end + timedelta(days=1) for end in ends[:-1])]
    return tuple(map(Period, starts, ends))


def split_at_counts(ledger: pd.DataFrame, period: Period, lot: str | None = None) -> tuple[Period, ...]:
    """The period cut after each day with a physical count, of one lot or of any."""
    counts = ledger.loc[ledger["kind"] == COUNT_KIND]
    if lot is not None:
        counts = counts.loc[counts["lot"] == lot]
    return split_period(period, [stamp.date() for stamp in counts["date"].drop_duplicates()])
