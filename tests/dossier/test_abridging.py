from __future__ import annotations

from certgen.dossier.abridging import ALL_TOLD, EACH_TOLD, most_told


def test_lists_are_told_whole_up_to_a_bound_on_all_of_them():
    """One name more, and each tells its first few."""
    half = range(ALL_TOLD // 2)

    assert most_told([]) is None
    assert most_told([half, half]) is None
    assert EACH_TOLD == most_told([half, half, range(1)])
