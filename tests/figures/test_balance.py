"""The mass balance closes to the milligram, however the season is cut."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ledgers import ENTRIES, START, day, ledger

from certgen.figures.balance import (
    COLUMNS_IN,
    COLUMNS_OUT,
    WITHIN,
    Period,
    balance_period,
    join_balances,
    split_at_counts,
    split_period,
)
from certgen.figures.ledger import Entry, pack_lot

SEASON = Period(START, date(2026, 12, 31))
BY = st.sampled_from(["lot", "variety", "all"])


@settings(max_examples=30)
@given(ENTRIES, BY, st.integers(0, 20), st.integers(0, 20))
def test_the_identity_holds_in_any_period(entries, by, one, other):
    """What came in is what went out and what is left, to the milligram."""
    balance = balance_period(ledger(*entries), Period(*sorted((day(one), day(other)))), by)

    assert 0 == balance["difference_mg"].abs().sum()
    came = balance[list(COLUMNS_IN)].sum(axis="columns")
    went = balance[list(COLUMNS_OUT)].sum(axis="columns")
    assert came.equals(went + balance["closing_mg"])


@settings(max_examples=30)
@given(ENTRIES, BY, st.lists(st.integers(0, 20), max_size=5))
def test_parts_of_a_season_add_up_to_it(entries, by, cuts):
    """Cut anywhere, the balances joined are the season's."""
    book = ledger(*entries)
    parts = [balance_period(book, part, by) for part in split_period(SEASON, [day(cut) for cut in cuts])]

    assert balance_period(book, SEASON, by).equals(join_balances(parts))


@settings(max_examples=30)
@given(ENTRIES)
def test_lots_add_up_to_varieties_and_varieties_to_all(entries):
    """The three tables are one, but for what passed between lots of one line."""
    book = ledger(*entries)
    lots = balance_period(book, SEASON)

    assert lots.groupby("variety").sum().equals(balance_period(book, SEASON, "variety"))
    assert lots.sum().to_list() == (balance_period(book, SEASON, "all").sum()).to_list()


#: Lots packed one after another, each out of some of those before it: what is blended, of which varieties.
PACKINGS = st.lists(
    st.tuples(
        st.sampled_from(["Red", "Gold"]),
        st.integers(0, 5000),
        st.dictionaries(st.integers(0, 4), st.integers(0, 900), max_size=3),
    ),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60)
@given(PACKINGS, st.integers(0, 6), st.integers(0, 6))
def test_what_passes_between_lots_is_no_income(packings, one, other):
    """In all, nothing is blended in or out; of a variety only what came from another; each lot has its own.

    Whatever the period, what a line nets out is on both of its sides, and the lots' blends are the sums.
    """
    entries = []
    for number, (variety, mass, parts) in enumerate(packings):
        blended = {(f"L{at}", packings[at][0]): mg for at, mg in parts.items() if at < number}
        entries += pack_lot(day(number), f"L{number}", variety, mass, blended)
    book, period = ledger(*entries), Period(*sorted((day(one), day(other))))
    lots, varieties, whole = (balance_period(book, period, by) for by in ("lot", "variety", "all"))
    across = sum(
        mg
        for number, (variety, _, parts) in enumerate(packings)
        for at, mg in parts.items()
        if at < number and packings[at][0] != variety and period.start <= day(number) <= period.end
    )

    assert 0 == lots[WITHIN].sum() == whole["blended_from_mg"].sum() == whole["blended_into_mg"].sum()
    assert across == varieties["blended_from_mg"].sum() == varieties["blended_into_mg"].sum()
    assert whole[WITHIN].sum() == lots["blended_from_mg"].sum() == varieties[WITHIN].sum() + across
    for table in (lots, varieties, whole):
        assert 0 == table["difference_mg"].abs().sum()


def test_a_blend_is_income_for_a_lot_looked_at_alone():
    """Its other lot isn't in the ledger, so it came from outside of what is looked at."""
    book = ledger(*pack_lot(day(3), "B", "Red", 500, {("A", "Red"): 200}))
    alone = balance_period(book[book["lot"] == "B"].reset_index(drop=True), None, "all").iloc[0]

    assert (200, 0, 300) == (alone["blended_from_mg"], alone[WITHIN], alone["produced_mg"])


@settings(max_examples=30)
@given(ENTRIES)
def test_no_period_means_every_day(entries):
    """Without a period the balance covers all entries and brings nothing forward."""
    book = ledger(*entries)

    assert balance_period(book).equals(balance_period(book, SEASON))


@settings(max_examples=30)
@given(
    st.integers(0, 1000),
    st.dictionaries(st.sampled_from([("A", "Red"), ("C", "Gold")]), st.integers(0, 1000)),
)
def test_blending_cancels_in_the_seasons_total(mass, blended):
    """What left for a blend is what came into it, and no gram is produced twice."""
    entries = [Entry(day(0), lot, variety, "produced", 1000) for lot, variety in blended]
    balance = balance_period(
        ledger(*entries, *pack_lot(day(3), "B", "Red", mass, blended)), None, "all"
    ).sum()

    assert 0 == balance["blended_from_mg"] == balance["blended_into_mg"]
    assert sum(blended.values()) == balance[WITHIN]
    assert balance["closing_mg"] == balance["produced_mg"] - balance["lost_in_packing_mg"]


def test_a_season_by_hand():
    """Carry-over, a blend, sales, a sample and two counts, in grams worked out on paper."""
    gram = 1000
    book = ledger(
        Entry(day(0), "A", "Red", "opening stock", 500 * gram),
        *pack_lot(day(30), "B", "Red", 412 * gram, {("A", "Red"): 100 * gram}),
        Entry(day(40), "B", "Red", "sold", 50 * gram),
        Entry(day(41), "B", "Red", "returned", 10 * gram),
        Entry(day(50), "A", "Red", "sampled", 48 * gram),
        Entry(day(60), "A", "Red", "counted", 351 * gram),
        Entry(day(60), "B", "Red", "counted", 374 * gram),
    )
    red = balance_period(book, SEASON, "variety").loc["Red"] // gram

    assert (500, 312, 0, 100, 10, 2) == (
        red["opening_mg"], red["produced_mg"], red["blended_from_mg"], red[WITHIN], red["returned_mg"],
        red["count_gain_mg"],
    )  # fmt: skip
    assert (50, 48, 0, 1, 725) == (
        red["sold_mg"], red["sampled_mg"], red["blended_into_mg"], red["count_loss_mg"], red["closing_mg"],
    )  # fmt: skip


def test_a_later_period_brings_forward():
    """The second period opens with what the first closed with."""
    book = ledger(Entry(day(0), "A", "Red", "opening stock", 500), Entry(day(9), "A", "Red", "sold", 100))
    later = balance_period(book, Period(day(5), day(10))).iloc[0]

    assert (500, 500, 0, 400) == (
        later["brought_forward_mg"], later["opening_mg"], later["opening_stock_mg"], later["closing_mg"],
    )  # fmt: skip


def test_periods_between_counts():
    """Cut after each count's day, for one lot or for all."""
    book = ledger(
        Entry(day(3), "A", "Red", "counted", 0),
        Entry(day(5), "B", "Red", "counted", 0),
        Entry(day(5), "A", "Red", "sold", 1),
    )
    period = Period(day(0), day(9))

    assert (Period(day(0), day(3)), Period(day(4), day(5)), Period(day(6), day(9))) == split_at_counts(
        book, period
    )
    assert (Period(day(0), day(3)), Period(day(4), day(9))) == split_at_counts(book, period, "A")


def test_cuts_outside_the_period_cut_nothing():
    """Nor does its own last day."""
    period = Period(day(2), day(4))

    assert (period,) == split_period(period, [day(1), day(4), day(9)])


def test_an_empty_ledger_balances():
    """No entry, no row, all columns."""
    assert (0, len(COLUMNS_IN) + len(COLUMNS_OUT) + 4) == balance_period(ledger(), SEASON).shape


def test_nonsense_is_refused():
    """A period that ends before it starts, no periods, periods with a hole between them."""
    book = ledger(*(Entry(day(n), "A", "Red", "produced", 1) for n in range(9)))
    with pytest.raises(ValueError, match="before it starts"):
        balance_period(book, Period(day(1), day(0)))
    with pytest.raises(ValueError, match="no period to join"):
        join_balances([])
    with pytest.raises(ValueError, match="does not begin with"):
        join_balances(
            [balance_period(book, Period(day(0), day(2))), balance_period(book, Period(day(5), day(8)))]
        )


def test_a_period_of_one_day():
    """It holds that day's entries, and neither the day before nor the day after."""
    book = ledger(*(Entry(day(n), "A", "Red", "produced", 10**n) for n in range(3)))
    balance = balance_period(book, Period(day(1), day(1))).iloc[0]

    assert (1, 10, 11) == (balance["brought_forward_mg"], balance["produced_mg"], balance["closing_mg"])


def test_a_lot_at_rest_is_in_the_balance():
    """Nothing moved in the period: what was brought forward is what is left, however it is summed up."""
    book = ledger(Entry(day(0), "A", "Red", "produced", 7), Entry(day(3), "C", "Gold", "produced", 9))
    for by, index in (("lot", [("A", "Red")]), ("variety", ["Red"]), ("all", ["all"])):
        balance = balance_period(book, Period(day(1), day(2)), by)
        row = balance.iloc[0]

        assert index == list(balance.index)
        assert (7, 7) == (row["brought_forward_mg"], row["closing_mg"])
        assert 0 == row.drop(["brought_forward_mg", "opening_mg", "closing_mg"]).abs().sum()


def test_the_columns_are_what_came_what_went_and_what_is_left():
    """In the order in which a page shows them."""
    balance = balance_period(ledger(Entry(day(0), "A", "Red", "produced", 7)))

    assert [*COLUMNS_IN, *COLUMNS_OUT, "closing_mg", WITHIN, "opening_mg", "difference_mg"] == list(
        balance.columns
    )
    assert ("brought_forward_mg", "count_gain_mg", "count_loss_mg") == (
        COLUMNS_IN[0], COLUMNS_IN[-1], COLUMNS_OUT[-1],
    )  # fmt: skip


def test_a_cut_on_the_first_day_makes_a_period_of_one():
    """Cuts are told once each and in order, however they come."""
    period = Period(day(2), day(6))

    assert (Period(day(2), day(2)), Period(day(3), day(5)), Period(day(6), day(6))) == split_period(
        period, [day(5), day(2), day(5)]
    )
    assert (Period(day(2), day(2)),) == split_period(Period(day(2), day(2)), [day(2)])


def test_joined_periods_keep_the_first_days_stock_and_the_last_ones():
    """Three periods of one sale each; a lot that comes in the last one was nothing before."""
    book = ledger(
        Entry(day(0), "A", "Red", "opening stock", 100),
        *(Entry(day(n), "A", "Red", "sold", n) for n in (1, 2, 3)),
        Entry(day(3), "C", "Gold", "produced", 5),
    )
    parts = [balance_period(book, Period(day(n), day(n))) for n in (1, 2, 3)]
    joined = join_balances(parts)

    assert [100, 0] == joined["brought_forward_mg"].tolist()
    assert [6, 0] == joined["sold_mg"].tolist()
    assert [94, 5] == joined["closing_mg"].tolist()
    assert parts[0].equals(join_balances(parts[:1]))
    assert 99 == parts[0]["closing_mg"].iloc[0]
