"""Stock ledgers of a season of three lots: entries at random, and what runs through them."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st

from certgen.figures.ledger import SIGNS, Entry, run_stock, tabulate_entries

START = date(2026, 1, 1)
LOTS = {"A": "Red", "B": "Red", "C": "Gold"}
ENTRIES = st.lists(
    st.builds(
        lambda lot, kind, number, mass: Entry(day(number), lot, LOTS[lot], kind, mass),
        st.sampled_from(sorted(LOTS)), st.sampled_from(sorted(SIGNS)), st.integers(0, 20),
        st.integers(0, 10**9),
    ),
    max_size=40,
)  # fmt: skip


def day(number):
    """A day of the season, counted from its first."""
    return START + timedelta(days=number)


def ledger(*entries):
    """The running ledger of the entries."""
    return run_stock(tabulate_entries(entries))
