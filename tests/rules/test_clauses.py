from __future__ import annotations

import pytest

from certgen.rules import clauses
from certgen.standards import clause_of, load_profile

SHARED = {name: value for name, value in vars(clauses).items() if name.isupper()}


@pytest.mark.parametrize("name", SHARED)
def test_shared_clauses_stand_in_their_rulebooks(name) -> None:
    """Each once, whatever rule rests on them."""
    profile = load_profile("papaya")

    assert len(set(SHARED[name])) == len(SHARED[name])
    assert all(clause_of(clause, profile) for clause in SHARED[name])
