"""The spot check, repeated without this project: digests from a command-line SHA-256 program."""

from __future__ import annotations

import pytest

from certgen.figures.sampling import digest_item, draw

COVERS = ("certgen.figures.sampling",)

# Each computed with `printf '%s' 'visit 2026-05-04|B17' | sha256sum` (GNU coreutils).
DIGESTS = {
    "B17": "17d976d3a06ab015827be8de1f395cda69252c276369566132d72171e7e49629",
    "B18": "7385b0a968207bcb5f27fef5f62e92b2fb95b7b4e774e27619e69d042ac05dc9",
    "trees/010": "1c9e5e5f2f267d47cbf1202d67631f6260e4b3602291ae2372e4eb9e8fbd3b8a",
    "lot-é": "5ed341df2f1d034052570b8293c746707e81d947724e22d6643ce0aac1442183",
    "harvests/H-2026/7": "4d1f857369cce8c87eeaf5067021d3ec790b4d04dcd1f7cac286d98db96f86d9",
}


@pytest.mark.parametrize(("item", "digest"), DIGESTS.items())
def test_digests(item, digest):
    """SHA-256 of the agreed text, a bar and the item."""
    assert digest == digest_item("visit 2026-05-04", item)


def test_the_draw_is_the_sorted_digests():
    """Sorting those digests by hand gives the draw."""
    by_hand = tuple(sorted(DIGESTS, key=DIGESTS.__getitem__)[:3])

    assert by_hand == draw("visit 2026-05-04", DIGESTS, 3)
