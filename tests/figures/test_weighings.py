"""What a scale's step leaves open of a sum of readings, and which readings a count rests on."""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ledgers import ENTRIES, day, ledger

from certgen.figures.ledger import COUNT_KIND, Entry, pack_lot
from certgen.figures.weighings import Tolerance, count_readings, tolerate


@pytest.mark.parametrize("weighings", [1, 2, 3, 7, 40])
def test_sums_of_rounded_weights_keep_to_what_is_said(weighings):
    """Weights drawn at random, each read to the step, against their true sum: 20,000 times, stated seed.

    None is off by more than the worst, at least 95 % keep to the likely, and the spread is the standard one.
    """
    draw, step = Random(1603), 100
    tolerance = tolerate(weighings, step)
    errors = []
    for _ in range(20_000):
        true = [draw.uniform(0, 50_000) for _ in range(weighings)]
        errors.append(sum(step * round(one / step) for one in true) - sum(true))

    assert max(map(abs, errors)) <= tolerance.worst_mg + 1e-6
    assert sum(abs(one) <= tolerance.likely_mg for one in errors) >= 0.95 * len(errors)
    assert tolerance.standard_mg == pytest.approx(
        math.fsum(one * one for one in errors) ** 0.5 / 20_000**0.5, rel=0.02
    )


@given(st.integers(0, 10**4), st.integers(0, 10**4), st.integers(-(10**6), 10**6))
def test_judging_knows_three_words_in_their_order(weighings, step, difference):
    """Nothing likely is beyond the worst; a larger difference is never judged milder; its sign has no say."""
    order = ["within", "possible", "beyond"]
    tolerance = Tolerance(weighings, step)
    judged = tolerance.judge(difference)

    assert tolerance.likely_mg <= tolerance.worst_mg
    assert judged == tolerance.judge(-difference)
    assert order.index(judged) <= order.index(tolerance.judge(abs(difference) + 1))
    assert "within" == tolerance.judge(0)


def test_less_than_nothing_is_refused():
    """Neither readings nor steps are negative."""
    with pytest.raises(ValueError, match="weighings"):
        tolerate(-1, 100)
    with pytest.raises(ValueError, match="step"):
        tolerate(1, -100)


def readings(*entries, step_mg=100):
    """Readings behind each count of lot A, and those off the step."""
    found = count_readings(ledger(*entries), step_mg)
    found = found[(found["kind"] == COUNT_KIND) & (found["lot"] == "A")]
    return list(zip(found["readings"].tolist(), found["off_step"].tolist(), strict=True))


def test_a_count_rests_on_all_readings_since_the_last():
    """Opening, two that left, the count: four. Then one that left, both counts: three."""
    found = readings(
        Entry(day(0), "A", "Red", "opening stock", 50_000),
        Entry(day(1), "A", "Red", "sold", 10_000),
        Entry(day(2), "B", "Red", "sold", 10_000),
        Entry(day(2), "A", "Red", "sampled", 5_000),
        Entry(day(3), "A", "Red", "counted", 34_900),
        Entry(day(4), "A", "Red", "sold", 1_000),
        Entry(day(5), "A", "Red", "counted", 33_900),
    )

    assert [(4, 0), (3, 0)] == found


def test_a_packing_is_one_reading():
    """Whatever it was blended from: the lot was weighed once."""
    blended = {("B", "Red"): 3_000, ("C", "Gold"): 2_000}
    found = readings(
        *pack_lot(day(0), "A", "Red", 9_000, blended, record="A"), Entry(day(1), "A", "Red", "counted", 9_000)
    )

    assert [(2, 0)] == found


def test_a_weight_that_the_scale_cannot_show_is_counted():
    """An ounce turned into grams is no tenth of a gram."""
    found = readings(
        Entry(day(0), "A", "Red", "opening stock", 50_000),
        Entry(day(1), "A", "Red", "sold", 28_350),
        Entry(day(2), "A", "Red", "counted", 21_700),
    )

    assert [(3, 1)] == found


def test_an_entry_of_nothing_was_not_weighed():
    """A count of nothing was."""
    found = readings(
        Entry(day(0), "A", "Red", "opening stock", 0),
        Entry(day(1), "A", "Red", "sold", 0),
        Entry(day(2), "A", "Red", "counted", 0),
    )

    assert [(1, 0)] == found


@given(ENTRIES)
def test_readings_are_counted_as_by_hand(entries):
    """Lot by lot, entry by entry, as one would with a pencil."""
    book = ledger(*entries)
    found = count_readings(book, 7)
    expected, running, packed = [], {}, set()
    for entry in zip(*(book[name] for name in ("lot", "date", "kind", "mass_mg")), strict=True):
        lot, when, kind, mass = entry
        new = kind == COUNT_KIND or mass > 0
        if mass > 0 and kind in {"produced", "blended from", "lost in packing"}:
            new = (lot, when) not in packed
            packed.add((lot, when))
        read, off = running.get(lot, (0, 0))
        expected.append((read + new, off + (mass % 7 != 0)))
        running[lot] = (1, int(mass % 7 != 0)) if kind == COUNT_KIND else expected[-1]

    assert expected == list(zip(found["readings"].tolist(), found["off_step"].tolist(), strict=True))
