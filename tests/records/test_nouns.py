"""Numbers before nouns."""

from __future__ import annotations

import pytest

from certgen.records.nouns import count, noun


@pytest.mark.parametrize(
    ("number", "what", "said"),
    [
        (1, "month", "1 month"), (0, "month", "0 months"), (2, "pool", "2 pools"), (1, "seed", "1 seed"),
        (1.0, "point", "1 point"), (1.5, "point", "1.5 points"), (0.5, "month", "0.5 months"),
        (1, "harvests", "1 picking"), (3, "harvests", "3 pickings"), (3, "leaf", "3 leaves"),
        (1, "leaf", "1 leaf"), (2, "entry", "2 entries"), (4, "fruit", "4 fruit"),
        (1, "evidence", "1 evidence file"),
    ],
)  # fmt: skip
def test_a_number_and_its_noun_agree(number, what, said):
    """One is singular, and nothing else is."""
    assert said == count(number, what)
    assert said.endswith(noun(what, number))
