"""The germination tables are in order."""

from __future__ import annotations

import pytest

from certgen.figures.tables.germination import LABEL_TOLERANCE, TWO_TESTS


def test_label_tolerances_widen_downwards():
    """Lower means allow more, and the last step reaches nothing."""
    means, cells = zip(*LABEL_TOLERANCE, strict=True)

    assert (sorted(means, reverse=True), sorted(cells)) == (list(means), list(cells))
    assert 0 == means[-1]


@pytest.mark.parametrize("table", TWO_TESTS)
def test_tables_for_two_tests_are_whole(table):
    """A cell for each mean from 2 to 99, wider towards the middle."""
    cells = TWO_TESTS[table]

    assert list(range(2, 100)) == sorted(cells)
    upper = [cells[mean] for mean in range(51, 100)]
    assert upper == sorted(upper, reverse=True)
