"""The moisture caps are figures that can be computed with."""

from __future__ import annotations

from certgen.figures.arguments import exact
from certgen.figures.tables.hermetic import AGRICULTURAL, VEGETABLE


def test_caps_are_percentages():
    """Every cap lies between 4 and 8 %, in half points."""
    caps = [exact(cap) for cap in (*AGRICULTURAL.values(), *VEGETABLE.values())]

    assert all(4 <= cap <= 8 and (2 * cap).denominator == 1 for cap in caps)
