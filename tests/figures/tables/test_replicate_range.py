"""The table of ranges is whole and falls towards the ends."""

from __future__ import annotations

import pytest

from certgen.figures.tables.replicate_range import RANGE_BY_REPLICATES, spread_bands


@pytest.mark.parametrize("replicates", [2, 4])
def test_cells_fall_from_the_middle(replicates):
    """Every mean from 50 up allows no more than the one below it, and its mirror the same."""
    cells = RANGE_BY_REPLICATES[replicates]
    upper = [cells[mean] for mean in sorted(cells) if mean > 50]

    assert upper == sorted(upper, reverse=True)
    assert all(cells[101 - mean] == cell for mean, cell in cells.items())


def test_bands_spread_over_their_means():
    """A band from 51 to 52 fills 51, 52 and their mirrors 50 and 49."""
    assert {51: 7, 52: 7, 50: 7, 49: 7} == dict(spread_bands(((51, 52, 7),)))


def test_tables_cannot_be_changed():
    """Published data is read only."""
    with pytest.raises(TypeError):
        RANGE_BY_REPLICATES[4][99] = 1
