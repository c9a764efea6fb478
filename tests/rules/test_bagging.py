from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("left", "said"),
    [
        ((), "has no tag"),
        (("variety",), "doesn't say its date or tree"),
        (("date", "tree"), "doesn't say its variety"),
    ],
)
def test_a_tag_is_told_apart_from_half_a_tag(seasons, stocked, find, left, said) -> None:
    """No tag at all, or what is missing on it."""
    bag = seasons.bag("B1", "T1")
    bag = {**bag, "tag": {key: value for key, value in bag["tag"].items() if key in left}}
    (gap,) = find(stocked(bagging=[bag]), "bag-untagged")

    assert said in gap.message


def test_a_whole_tag_is_no_gap(stocked, find) -> None:
    """Date, variety and tree stand on it."""
    assert () == find(stocked(), "bag-untagged")
