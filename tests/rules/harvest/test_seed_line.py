from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("fruits", "trees", "loose"),
    [
        # The one fruit hung in its bag; the tree is named once more.
        (1, ("T1",), []),
        (2, ("T1",), [("T1", 0)]),
        # A tree of which no bag is named is other fruit.
        (1, ("T2",), [("T2", 0)]),
        (1, ("T2", "T1"), [("T2", 0)]),
        (2, ("T2", "T1"), [("T2", 0), ("T1", 1)]),
    ],
)
def test_what_was_picked_is_one_row_a_bag_and_a_loose_tree(
    seasons, stocked, case_of, fruits, trees, loose
) -> None:
    """Each row has a number of its own, for it is what a rule selects by; fruit that is told by its bag and
    its tree is told once."""
    harvests = [seasons.harvest("H0", []), seasons.harvest("H1", ["B1"], trees=trees, fruits=fruits)]
    picked = case_of(stocked(trees=[seasons.tree("T1"), seasons.tree("T2")], harvests=harvests)).picked

    assert list(range(1 + len(loose))) == picked.index.tolist()
    assert [("H1", 1, 0, "T1", False), *(("H1", 1, at, tree, True) for tree, at in loose)] == list(
        picked[["harvest", "harvest_row", "position", "tree", "loose"]].itertuples(index=False)
    )
    assert [True] + [False] * len(loose) == picked["bag"].notna().tolist()
