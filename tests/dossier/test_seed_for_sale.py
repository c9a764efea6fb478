"""Seed still to sell, of no lot more than is there, is traced, and isn't promised."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import seasons as built
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.dossier.seed_for_sale import offer_seed
from certgen.examination import examine, examine_season

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def example(example_season):
    """The example season, examined."""
    return examine(example_season, ON)


def season(*moves, on=ON, **changes):
    """One line from block to a lot of 8 g, with movements."""
    tables = {**built.one_line(), "movements": list(moves), **changes}
    return examine_season(built.season_of(**tables), on)


def offer(result, **given):
    """The one lot's offer."""
    (one,) = offer_seed(result, **given)
    return one


def test_the_examples_stock_is_what_was_counted(example):
    """Each lot's last count is what is there; only lots that are traced as a whole offer any."""
    moves = example.season.table("movements")
    counted = dict(
        zip(*(moves[moves["kind"] == "counted"][name].tolist() for name in ("lot", "weight_mg")), strict=True)
    )
    offers = {one.lot: one for one in offer_seed(example)}

    assert counted == {lot: one.seed.there_mg for lot, one in offers.items()}
    assert {lot for lot, one in offers.items() if one.seed.offered_mg} == {
        lot for lot, one in example.lots.items() if one.standing == "traced"
    }
    assert all(bool(one.why) != bool(one.seed.offered_mg) for one in offers.values())


def test_what_left_is_taken_off():
    """8 g packed, 2 sold, 1 kept as a file sample, half a gram sampled: 4.5 g."""
    one = offer(
        season(
            built.sale("M1", "L1", 2),
            built.movement("M2", "L1", "retained", 1),
            built.movement("M3", "L1", "sampled", 0.5),
        )
    )

    assert (8000, {"sold": 2000, "retained": 1000, "sampled": 500}) == (one.packed_mg, dict(one.gone))
    assert (4500, 4500) == (one.seed.there_mg, one.seed.offered_mg)


def test_promises_and_a_test_come_off_before_the_offer():
    """3 g promised; a test of 1 % takes 299 seeds at 16 g a thousand in pools."""
    one = offer(season(), promised={"L1": 3000}, detect=0.01)

    assert one.test is not None
    assert 8000 - 3000 - one.seed.test_mg == one.seed.offered_mg > 0
    assert one.seed.test_mg == pytest.approx(1000 * one.test.cost_g, abs=1)


def test_more_promised_than_there_is_offers_nothing():
    """And says so; below nothing is free."""
    one = offer(season(), promised={"L1": 9000})

    assert (-1000, 0) == (one.seed.free_mg, one.seed.offered_mg)
    assert "more is promised" in one.why


def test_an_unproven_lot_offers_nothing():
    """A parent that nobody screened."""
    one = offer(season(screening=[]))

    assert ("unproven", 0) == (one.standing, one.seed.offered_mg)
    assert "unproven" in one.why


def test_missing_grams_leave_the_lot_unoffered():
    """A count below the book: the lot isn't traced as a whole, and its traced grams can't be told apart."""
    one = offer(season(built.movement("M1", "L1", "counted", 5)))

    assert 3000 == one.missing_mg
    assert (5000, 0) == (one.seed.there_mg, one.seed.offered_mg)
    assert "can't be told from the others" in one.why


def test_a_sale_of_days_to_come_is_no_longer_there():
    """Written down ahead: it leaves, and is said to."""
    ahead = {**built.sale("M1", "L1", 3), "date": ON + timedelta(5)}
    one = offer(season(ahead))

    assert (3000, 5000) == (one.ahead_mg, one.seed.there_mg)


def test_seed_that_is_still_to_come_in_is_not_offered():
    """A return written down ahead isn't there yet."""
    sale = built.sale("M1", "L1", 6)
    back = built.movement(
        "M2", "L1", "returned", 6, party="Quillmere Growers", opened=False, document="RET-1"
    )
    one = offer(season(sale, {**back, "date": ON + timedelta(5)}))

    assert 2000 == one.seed.there_mg


def test_a_lot_that_is_not_known_is_refused(example):
    """Neither asked for nor promised."""
    with pytest.raises(KeyError):
        offer_seed(example, lots=["L9"])
    with pytest.raises(KeyError):
        offer_seed(example, promised={"L9": 1})


def test_a_test_that_cannot_be_planned_is_said(example, monkeypatch):
    """The offer stands without it."""

    def refuse(*_given, **_more):
        raise ValueError("No weight of a thousand seeds is known.")

    monkeypatch.setattr("certgen.dossier.seed_for_sale.plan_seed_test", refuse)
    one, *_ = offer_seed(example, detect=0.01)

    assert (None, 0) == (one.test, one.seed.test_mg)
    assert "No weight" in one.test_fault


@given(built.clean_tables(), st.integers(0, 20_000))
@settings(max_examples=20)
def test_no_lot_offers_more_than_is_traced_and_there(tables, promised):
    """Whatever the season, whatever is promised."""
    result = examine_season(built.season_of(**tables), ON)
    for one in offer_seed(result, promised=dict.fromkeys(result.lots, promised), detect=0.05):
        least = min(result.books[one.lot].on_hand_mg, result.lots[one.lot].traced_mg)
        assert one.seed.offered_mg <= max(0, least - promised - one.seed.test_mg)
