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
from typing import TYPE_CHECKING, Literal, NamedTuple

from certgen.figures.ledger import COUNT_KIND, GAIN, IN_KINDS, LOSS, OUT_KINDS

if TYPE_CHECKING:
    import pandas as pd

By = Literal["lot", "variety", "all"]

_KEYS: dict[By, list[str]] = {"lot": ["lot", "variety"], "variety": ["variety"], "all": ["all"]}


def name_column(posting: str) -> str:
    """The balance's column for a posting: `count gain` stands in `count_gain_mg`."""
    return posting.replace(" ", "_") + "_mg"


POSTINGS_IN = (*IN_KINDS, GAIN)
POSTINGS_OUT = (*OUT_KINDS, LOSS)
COLUMNS_IN = ("brought_forward_mg", *map(name_column, POSTINGS_IN))
COLUMNS_OUT = tuple(map(name_column, POSTINGS_OUT))
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
    import pandas as pd

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
    table = _net_out(table, within, keys)
    forward = earlier.groupby(keys)["change_mg"].sum().reindex(table.index, fill_value=0)
    lasts = until.groupby("lot").tail(1).groupby(keys)["stock_mg"].sum()
    table = table.assign(brought_forward_mg=forward, closing_mg=lasts.reindex(table.index, fill_value=0))
    return _finish(table.astype("int64"))


def _net_out(table: pd.DataFrame, within: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """The table without what passed between two lots of one line, which `WITHIN` tells."""
    import pandas as pd

    lines = (
        within[["lot", *(key for key in keys if key != "lot")]]
        .drop_duplicates("lot")
        .set_index("lot", drop=False)
    )
    blends = within[within["kind"].isin(["blended from", "blended into"])]
    # A lot that isn't in this ledger is outside, whatever line it would belong to.
    known = blends[blends["party"].isin(lines.index)]
    same = pd.Series(True, known.index)
    for key in keys:
        same &= lines[key].reindex(known["party"]).to_numpy() == known[key].to_numpy()
    inside = known[same].pivot_table(
        index=keys, columns="kind", values="mass_mg", aggfunc="sum", fill_value=0
    )
    inside = inside.reindex(index=table.index, columns=["blended from", "blended into"], fill_value=0)
    # Each blend stands in both lots' books; if one page were missing, only what both tell is within.
    both = inside.min(axis="columns").astype("int64")
    return table.assign(
        blended_from_mg=table["blended_from_mg"] - both,
        blended_into_mg=table["blended_into_mg"] - both,
        **{WITHIN: both},
    )


def _bounds(period: Period | None) -> tuple[pd.Timestamp, pd.Timestamp]:
    import pandas as pd

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
