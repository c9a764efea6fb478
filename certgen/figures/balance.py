"""The mass balance of any period, by lot, by variety or in all, exact to the milligram.

brought forward + opening stock + produced + blended from + received + returned + count gain
= sold + transferred + sown + sampled + retained + downgraded + discarded + blended into + lost in packing
+ count loss + closing.

What passed between two lots of one line (of a variety, or in all) neither came in nor went out: it stands on
no side, and beside them as what was blended within.

Source: the in-and-out balance of 7 CFR 205.403(d)(4) as taught; this working form is derived.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from certgen.figures.ledger import COUNT_KIND, GAIN, IN_KINDS, LOSS, OUT_KINDS

if TYPE_CHECKING:
    import pandas as pd

    from certgen.records.columns import Array

By = Literal["lot", "variety", "all"]


def name_column(posting: str) -> str:
    """The balance's column for a posting: `count gain` stands in `count_gain_mg`."""
    return posting.replace(" ", "_") + "_mg"


POSTINGS_IN = (*IN_KINDS, GAIN)
POSTINGS_OUT = (*OUT_KINDS, LOSS)
COLUMNS_IN = ("brought_forward_mg", *map(name_column, POSTINGS_IN))
COLUMNS_OUT = tuple(map(name_column, POSTINGS_OUT))
_BLENDS = ("blended from", "blended into")
#: What passed between lots of one line of a balance, on neither side of it.
WITHIN = "blended_within_mg"


class Period(NamedTuple):
    """Days from `start` to `end`, both included."""

    start: date
    end: date


def balance_period(ledger: pd.DataFrame, period: Period | None = None, by: By = "lot") -> pd.DataFrame:
    """The balance of a period (all days if None), one row a lot, a variety, or in all; masses in milligrams.

    Indexed by lot and variety, by variety, or by `all`. Columns COLUMNS_IN, COLUMNS_OUT, `closing_mg`,
    which is the running stock at the end, WITHIN (what passed between lots of the line, and is on neither
    side), `opening_mg` (brought forward and opening stock together) and `difference_mg`, what the identity
    misses: never anything but zero, as the two sides are computed apart.
    """
    import numpy as np
    import pandas as pd

    start, end = _bounds(period)
    until = ledger.loc[ledger["date"] <= end]
    lots, first_of, of_lot = np.unique(
        until["lot"].to_numpy(dtype=object), return_index=True, return_inverse=True
    )
    varieties = until["variety"].to_numpy(dtype=object)[first_of]
    index, line_of = _list_lines(by, lots, varieties)
    line, size = line_of[of_lot], len(index)
    change = until["change_mg"].to_numpy()
    is_within = (until["date"] >= start).to_numpy()

    table = {name: np.zeros(size, dtype="int64") for name in (*COLUMNS_IN, *COLUMNS_OUT)}
    np.add.at(table["brought_forward_mg"], line[~is_within], change[~is_within])
    posting = until["posting"].to_numpy(dtype=object)
    for name in {*POSTINGS_IN, *POSTINGS_OUT}.intersection(posting.tolist()):
        hit = is_within & (posting == name)
        np.add.at(table[name_column(name)], line[hit], abs(change[hit]))
    within = _sum_within(until.loc[is_within], lots, of_lot[is_within], line_of, size)
    table["blended_from_mg"] -= within
    table["blended_into_mg"] -= within
    # A lot's last entry tells its stock: of several the last is kept.
    stock = np.zeros(len(lots), dtype="int64")
    stock[of_lot] = until["stock_mg"].to_numpy()
    closing = np.zeros(size, dtype="int64")
    np.add.at(closing, line_of, stock)
    return _finish(pd.DataFrame({**table, "closing_mg": closing, WITHIN: within}, index=index))


def _list_lines(by: By, lots: Array, varieties: Array) -> tuple[pd.Index[Any], Array]:
    """The lines of a balance in their order, and by lot the one that it stands on."""
    import numpy as np
    import pandas as pd

    if by == "lot":
        index: pd.Index[Any] = pd.MultiIndex.from_arrays(
            [pd.array(lots, dtype="str"), pd.array(varieties, dtype="str")], names=["lot", "variety"]
        )
        return index, np.arange(len(lots))
    names, line_of = np.unique(
        varieties if by == "variety" else np.full(len(lots), "all", dtype=object), return_inverse=True
    )
    return pd.Index(pd.array(names, dtype="str"), name=by), line_of


def _sum_within(within: pd.DataFrame, lots: Array, of_lot: Array, line_of: Array, size: int) -> Array:
    """By line what passed between two of its lots that stand in the period, in milligrams.

    Each blend stands in both lots' books; if one page were missing, only what both tell is within.
    """
    import numpy as np

    there = set(of_lot.tolist())
    at = {name: number for number, name in enumerate(lots.tolist()) if number in there}
    told = np.zeros((2, size), dtype="int64")
    rows = zip(
        within["kind"].tolist(), within["party"].tolist(), of_lot.tolist(), within["mass_mg"].tolist(),
        strict=True,
    )  # fmt: skip
    for kind, party, lot, mass in rows:
        # A lot that isn't in this ledger is outside, whatever line it would belong to.
        if kind in _BLENDS and party in at and line_of[at[party]] == line_of[lot]:
            told[_BLENDS.index(kind), line_of[lot]] += mass
    both: Array = told.min(axis=0)
    return both


def _bounds(period: Period | None) -> tuple[pd.Timestamp, pd.Timestamp]:
    import pandas as pd

    if period is None:
        return pd.Timestamp.min.as_unit("s"), pd.Timestamp.max.as_unit("s")
    if period.end < period.start:
        raise ValueError(f"A period cannot end on {period.end}, before it starts on {period.start}.")
    return pd.Timestamp(period.start), pd.Timestamp(period.end)


def _finish(table: pd.DataFrame) -> pd.DataFrame:
    came = table[list(COLUMNS_IN)].to_numpy().sum(axis=1)
    went = table[list(COLUMNS_OUT)].to_numpy().sum(axis=1)
    table = table.assign(
        opening_mg=table["brought_forward_mg"] + table["opening_stock_mg"],
        difference_mg=came - went - table["closing_mg"].to_numpy(),
    )
    return table[[*COLUMNS_IN, *COLUMNS_OUT, "closing_mg", WITHIN, "opening_mg", "difference_mg"]]


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
