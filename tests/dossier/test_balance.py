"""The season's account and its runs."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.dossier.balance import HEADINGS, account_runs, take_account
from certgen.examination import examine
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, Period, balance_period, join_balances

SLOW = settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def result(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_every_column_has_a_name_on_paper():
    """Nothing of a balance goes without a heading."""
    assert {*COLUMNS_IN, *COLUMNS_OUT, "closing_mg"} == set(HEADINGS)


@pytest.mark.parametrize("by", ["lot", "variety", "all"])
def test_what_came_in_is_what_went_out_and_what_is_left(by, result):
    """To the milligram, for every line."""
    balance = take_account(result.season, by).balance
    came = balance[list(COLUMNS_IN)].sum(axis="columns")
    went = balance[list(COLUMNS_OUT)].sum(axis="columns")

    assert came.tolist() == (went + balance["closing_mg"]).tolist()


def test_lines_add_up_to_the_total(result):
    """By lot, by variety and in all: the same grams."""
    totals = [take_account(result.season, by).balance.sum().tolist() for by in ("lot", "variety", "all")]

    assert totals[0] == totals[1] == totals[2]


def test_periods_between_counts_join_into_the_whole(result):
    """The account of the whole is the account of its stretches, one after another."""
    account = take_account(result.season)
    parts = [balance_period(account.ledger, period, "all") for period in account.periods]

    assert len(parts) > 1
    assert account.total.equals(join_balances(parts))


def test_only_counts_within_the_period_are_shown(result):
    """A count before or after it says nothing of it."""
    day = date(2026, 11, 20)
    account = take_account(result.season, "lot", Period(day, day))

    assert {day} == set(account.counts["date"].dt.date)
    assert 0 == len(take_account(result.season, "lot", Period(day + timedelta(1), date(2026, 12, 31))).counts)


def test_a_season_without_a_count_or_a_movement(seasons):
    """No ledger, no counts, no runs, and no error."""
    season = seasons.season_of()
    account = take_account(season)

    assert (0, 0, 0) == (len(account.balance), len(account.counts), len(account.negative))
    assert () == account_runs(season) == account.lines


@SLOW
@given(data=st.data())
def test_clean_seasons_balance_whatever_the_period(seasons, data):
    """The identity holds over any days, and what is carried forward is what was left."""
    season = data.draw(seasons.clean_seasons())
    first = data.draw(st.dates(date(2026, 5, 1), date(2026, 9, 1)))
    middle = first + timedelta(data.draw(st.integers(0, 60)))
    last = middle + timedelta(1 + data.draw(st.integers(0, 60)))
    one = take_account(season, "all", Period(first, middle))
    other = take_account(season, "all", Period(middle + timedelta(1), last))

    for account in (one, other):
        assert [0] * len(account.balance) == account.balance["difference_mg"].tolist()
    if len(one.total):
        assert one.total["closing_mg"].tolist() == other.total["brought_forward_mg"].tolist()


def test_a_run_has_the_fruit_of_its_pickings(seasons):
    """Three fruits, 96 g wet, 24 g dry: a quarter, 8 g a fruit."""
    bags = [seasons.bag(f"B{at}", "T1") for at in range(3)]
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=bags,
        harvests=[seasons.harvest("H1", ["B0"]), seasons.harvest("H2", ["B1", "B2"])],
        batches=[seasons.batch("X1", ["H1", "H2"], 3)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "20 g"}], 20)],
    )
    (run,) = account_runs(season)

    assert ("X1", ("Amber Kestrel",), 3, 2_850_000) == (
        run.batch, run.varieties, run.run.fruits, run.run.fruit_mg,
    )  # fmt: skip
    assert (0.25, 8000, 20 / 24) == (
        run.yields.dry_of_wet, run.yields.dry_per_fruit_mg, run.yields.packed_of_dry,
    )  # fmt: skip


def test_one_unknown_weight_leaves_the_sum_unknown(seasons):
    """A picking without a weight: the fruit's weight isn't known, its number is."""
    bags = [seasons.bag(f"B{at}", "T1") for at in range(2)]
    light = seasons.harvest("H2", ["B1"])
    del light["weight"]
    season = seasons.season_of(
        bagging=bags,
        harvests=[seasons.harvest("H1", ["B0"]), light],
        batches=[seasons.batch("X1", ["H1", "H2"], 2)],
    )
    (run,) = account_runs(season)

    assert (2, None) == (run.run.fruits, run.run.fruit_mg)
