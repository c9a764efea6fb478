"""Figures exactly on a bound, where a changed comparison once went unnoticed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from certgen.figures.hermetic import check_packing
from certgen.figures.rounding import round_component

COVERS = ("certgen.figures.hermetic", "certgen.figures.rounding")


@pytest.mark.parametrize(
    ("percent", "printed"), [("0.004", "0.01"), ("0.0149", "0.01"), ("0.015", "0.02"), ("0", "0.00")]
)
def test_a_trace_is_never_printed_as_nothing(percent, printed):
    """A component that is there shows; one that isn't stays at nought."""
    assert Decimal(printed) == round_component(percent)


def test_seed_packed_on_the_day_of_harvest_is_in_time():
    """The same day is not before."""
    day = date(2026, 6, 8)

    assert check_packing(day, day, vapour=0, moisture=5, most_moisture=6).packed_in_time
