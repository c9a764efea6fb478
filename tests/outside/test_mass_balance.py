"""The mass balance as inspectors are taught it (7 CFR 205.403(d)(4)), and SQLite as a second engine."""

from __future__ import annotations

import sqlite3
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, Period, balance_period
from certgen.figures.ledger import IN_KINDS, OUT_KINDS, Entry, run_stock, stock_on, tabulate_entries

COVERS = ("certgen.figures.balance", "certgen.figures.ledger")
START = date(2026, 1, 1)
MOVES = st.lists(
    st.tuples(
        st.integers(0, 30), st.sampled_from(["A", "B"]), st.sampled_from((*IN_KINDS, *OUT_KINDS)),
        st.integers(0, 10**6),
    ),
    max_size=30,
)  # fmt: skip


def book_of(moves):
    """The running ledger of moves of one variety."""
    entries = [Entry(START + timedelta(days=day), lot, "Red", kind, mass) for day, lot, kind, mass in moves]
    return run_stock(tabulate_entries(entries))


# The formula as taught: beginning inventory + incoming − ending inventory = outgoing.
@settings(max_examples=30)
@given(MOVES, st.integers(0, 30))
def test_beginning_and_incoming_less_ending_is_outgoing(moves, last):
    """For each lot, with beginning and ending inventory from the running stock."""
    book = book_of(moves)
    period = Period(START + timedelta(days=5), START + timedelta(days=5 + last))
    table = balance_period(book, period)
    beginning = stock_on(book, START + timedelta(days=4))
    ending = stock_on(book, period.end)

    for lot, row in table.droplevel("variety").iterrows():
        incoming = row[list(COLUMNS_IN[1:])].sum()
        outgoing = row[list(COLUMNS_OUT)].sum()
        assert beginning.get(lot, 0) + incoming - ending[lot] == outgoing


@settings(max_examples=30)
@given(MOVES)
def test_sqlite_agrees_on_every_total(moves):
    """Totals by lot and kind, and the closing stock, equal a database's sums."""
    table = balance_period(book_of(moves)).droplevel("variety")
    with sqlite3.connect(":memory:") as base:
        base.execute("create table moves (day int, lot text, kind text, mass int)")
        base.executemany("insert into moves values (?, ?, ?, ?)", moves)
        totals = base.execute("select lot, kind, sum(mass) from moves group by lot, kind").fetchall()
        marks = ", ".join("?" * len(IN_KINDS))
        closing = base.execute(
            f"select lot, sum(case when kind in ({marks}) then mass else -mass end) from moves group by lot",
            IN_KINDS,
        ).fetchall()
    base.close()

    assert dict(closing) == table["closing_mg"].to_dict()
    for lot, kind, total in totals:
        assert total == table.loc[lot, kind.replace(" ", "_") + "_mg"]
