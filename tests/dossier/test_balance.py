"""The season's account and its runs."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from printed import plain

from certgen.dossier.balance import HEADINGS, account_runs, recorded_step, take_account
from certgen.examination import examine, examine_season
from certgen.figures.balance import COLUMNS_IN, COLUMNS_OUT, WITHIN, Period, balance_period, join_balances

SLOW = settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def result(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def test_every_column_has_a_name_on_paper():
    """Nothing of a balance goes without a heading."""
    assert {*COLUMNS_IN, *COLUMNS_OUT, "closing_mg", WITHIN} == set(HEADINGS)


@pytest.mark.parametrize("by", ["lot", "variety", "all"])
def test_what_came_in_is_what_went_out_and_what_is_left(by, result):
    """To the milligram, for every line."""
    balance = take_account(result.season, by).balance
    came = balance[list(COLUMNS_IN)].sum(axis="columns")
    went = balance[list(COLUMNS_OUT)].sum(axis="columns")

    assert came.tolist() == (went + balance["closing_mg"]).tolist()


def test_lines_add_up_to_the_total(result):
    """By lot, by variety and in all: the same grams, but for the 40 that one lot took from another."""
    lots, *others = [take_account(result.season, by).balance.sum() for by in ("lot", "variety", "all")]
    for total in others:
        differ = lots - total

        assert {"blended_from_mg": 40_000, "blended_into_mg": 40_000, WITHIN: -40_000} == {
            name: differ[name] for name in differ.index if differ[name]
        }


def counted(result, step_mg):
    """The account, and the count that found 2.5 g less than the book."""
    account = take_account(result.season, on=ON, step_mg=step_mg)
    (short,) = (count for count in account.counted if count.difference_mg)
    return account, short


@pytest.mark.parametrize(
    ("step_mg", "judged"),
    [(None, None), (100, "beyond"), (700, None), (500, None), (20, "beyond")],
)
def test_a_difference_is_held_against_the_scale_that_is_on_record(result, step_mg, judged):
    """Seven readings: 2.5 g is beyond 0.35 g. A step that the weights themselves deny judges nothing: with
    0.5 or 0.7 g none of the tenths could have been read.
    """
    account, short = counted(result, step_mg)

    assert (7, judged) == (short.readings, account.judge(short))


def test_the_words_say_what_the_scale_can_tell(result):
    """Beyond, unknown for want of a step, unknown for weights of another scale."""
    told = [
        account.say_tolerance(short)
        for account, short in (counted(result, step) for step in (100, None, 700))
    ]

    assert plain(told[0]).startswith("That is beyond what the scale can tell: 7 readings in steps of 0.1 g")
    assert "" == told[1]
    assert "another scale or unit was used" in told[2]


def test_a_scale_is_named_or_said_to_be_missing(result):
    """Where the records tell none, nothing is judged, and the sentence says why."""
    assert "No scale's step is on record" in take_account(result.season).scale
    assert "counts as 0.1 g" in plain(take_account(result.season, step_mg=100).scale)


def small_count(seasons, counted_g, step):
    """A lot of 24 g of which 10 g were sold, and a count."""
    details = {"scale_step": step} if step else {}
    season = seasons.season_of(
        details=details,
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1")],
        bagging=[seasons.bag(f"B{at}", "T1") for at in range(3)],
        harvests=[seasons.harvest("H1", ["B0", "B1", "B2"])],
        batches=[seasons.batch("X1", ["H1"], 3)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "24 g"}], 24)],
        movements=[
            {"movement": "M1", "date": date(2026, 9, 1), "lot": "L1", "kind": "sampled", "weight": "10 g"},
            {
                "movement": "M2",
                "date": date(2026, 9, 2),
                "lot": "L1",
                "kind": "counted",
                "weight": f"{counted_g} g",
            },
        ],
    )
    return examine_season(season, date(2026, 10, 1))


@pytest.mark.parametrize(
    ("counted_g", "step", "judged"),
    [
        (14, "0.1 g", "within"),
        (13.9, "0.1 g", "within"),
        (13.8, "0.1 g", "beyond"),
        (14.1, "0.1 g", "within"),
        (13.9, None, None),
        (13.9, "0 g", None),
        (13.9, "1 g", None),
        (13, "1 g", "within"),
        # More than the profile lets a seed scale have counts as the most that it lets: 1 g.
        (12, "50 g", "beyond"),
    ],
)
def test_what_is_judged_changes_no_standing(seasons, counted_g, step, judged):
    """Three readings in steps of 0.1 g: 0.1 g is likely, 0.15 g the most. Whatever is said of a difference,
    what the lot is worth is what the rules make of it.
    """
    result = small_count(seasons, counted_g, step)
    account = take_account(result.season, on=result.on, step_mg=recorded_step(result))
    (count,) = account.counted

    assert (3, judged) == (count.readings, account.judge(count))
    assert account.meets == (counted_g == 14)
    assert result.lots["L1"].unaccounted_mg == (
        round(1000 * (14 - counted_g)) if 14 - counted_g > _slack(step) else 0
    )


def _slack(step):
    """What the rules let pass as a scale's last digit: one step, 0.1 g for want of it, 1 g at most."""
    return {"0 g": 0, "1 g": 1, "50 g": 1}.get(step, 0.1) + 1e-9


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
