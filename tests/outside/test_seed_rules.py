"""Dates, rounding, bags, weeds and hermetic packing as 7 CFR part 201 and an ISTA table print them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from certgen.figures.containers import count_primary_samples, sample_bags
from certgen.figures.distributions import round_component
from certgen.figures.purity import most_found
from certgen.figures.tables.hermetic import AGRICULTURAL, VEGETABLE
from certgen.figures.validity import MONTHS_TO_PACKING, MOST_VAPOUR, last_ship_day

COVERS = ("certgen.figures.containers", "certgen.figures.purity", "certgen.figures.validity")


# Derived from 7 CFR 201.30a (vegetable) and 201.22(a) (agricultural): calendar months after the end
# of the test's month.
@pytest.mark.parametrize(
    ("tested", "ordinary", "hermetic"),
    [(date(2025, 1, 1), date(2025, 6, 30), date(2027, 1, 31)),
     (date(2025, 1, 31), date(2025, 6, 30), date(2027, 1, 31)),
     (date(2024, 9, 12), date(2025, 2, 28), date(2026, 9, 30)),
     (date(2025, 8, 3), date(2026, 1, 31), date(2027, 8, 31)),
     (date(2025, 12, 24), date(2026, 5, 31), date(2027, 12, 31))],
)  # fmt: skip
def test_last_ship_days(tested, ordinary, hermetic):
    """Five months in ordinary containers, twenty-four in hermetic ones."""
    assert (ordinary, hermetic) == (last_ship_day(tested), last_ship_day(tested, 24))


# 7 CFR 201.47; the last two are derived (half up).
@pytest.mark.parametrize(
    ("percent", "rounded"),
    [("0.004", "0.01"), ("0.0149", "0.01"), ("0.015", "0.02"), ("98.744", "98.74"), ("98.745", "98.75")],
)
def test_rounding_of_components(percent, rounded):
    """Two decimals, half up, and 0.01 % for anything present below 0.015 %; a float is read as typed."""
    assert Decimal(rounded) == round_component(percent) == round_component(float(percent))


# 7 CFR 201.41 (a state's copy).
@pytest.mark.parametrize(
    ("bags", "chosen"), [(7, 6), (10, 6), (23, 7), (50, 10), (100, 15), (200, 25), (300, 30), (400, 30)]
)
def test_bags_to_sample(bags, chosen):
    """Five and a tenth, thirty at most."""
    assert chosen == sample_bags(bags).bags


@pytest.mark.parametrize("bags", range(1, 7))
def test_few_bags_are_all_sampled(bags):
    """7 CFR 201.41: up to six bags all of them, with five probes at least."""
    assert (bags, max(bags, 5)) == (sample_bags(bags).bags, sample_bags(bags).probes)


# ISTA's table for containers of 15 to 100 kg, as printed in United Kingdom law.
@pytest.mark.parametrize(
    ("containers", "samples"),
    [
        (1, 3),
        (4, 12),
        (5, 10),
        (8, 16),
        (9, 9),
        (15, 15),
        (16, 15),
        (30, 15),
        (31, 20),
        (59, 20),
        (60, 30),
        (900, 30),
    ],
)
def test_primary_samples(containers, samples):
    """Each step at its edges."""
    assert samples == count_primary_samples(containers)


# 7 CFR 201.65.
WEEDS = {
    0: 2, 1: 4, 2: 6, 3: 8, 4: 9, 5: 11, 6: 12, 7: 13, 8: 14, 9: 16, 10: 17, 11: 18, 12: 20, 13: 21,
    14: 22, 15: 23,
    16: 24, 17: 25, 18: 27, 19: 28, 20: 29, 21: 30, 22: 32, 23: 33, 24: 34, 25: 35, 26: 37, 27: 38,
    28: 39, 29: 41,
    30: 42,
}  # fmt: skip


@pytest.mark.parametrize(("labelled", "found"), WEEDS.items())
def test_noxious_weeds(labelled, found):
    """Each row of the table."""
    assert (float(found), True) == most_found(labelled)


def test_noxious_weeds_beyond_the_table():
    """X + 1 + 1.96·sqrt(X), not rounded: 100 labelled allow 120.6."""
    assert (120.6, False) == most_found(100)


# 7 CFR 201.36c.
def test_hermetic_conditions():
    """Nine months, 0.05 g, and every moisture cap."""
    agricultural = {"beet": 7.5, "kentucky bluegrass": 6, "crimson clover": 8, "red fescue": 8,
    "india mustard": 5,
                    "ryegrasses": 8, "all others": 6}  # fmt: skip
    vegetable = {"garden bean": 7, "lima bean": 7, "beet": 7.5, "broccoli": 5, "carrot": 7, "celery": 7,
    "chard": 7.5,
                 "chives": 6.5, "sweet corn": 8, "cucumber": 6, "eggplant": 6, "leek": 6.5,
                 "lettuce": 5.5, "melon": 6,
                 "onion": 6.5, "parsley": 6.5, "parsnip": 6, "pea": 7, "pepper": 4.5,
                 "pumpkin": 6, "all others": 6}  # fmt: skip

    assert (9, 0.05) == (MONTHS_TO_PACKING, float(MOST_VAPOUR))
    assert agricultural == {kind: float(cap) for kind, cap in AGRICULTURAL.items()}
    assert vegetable == {kind: float(cap) for kind, cap in VEGETABLE.items()}
    assert "papaya" not in AGRICULTURAL.keys() | VEGETABLE.keys()
