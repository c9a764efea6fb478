"""The spot check depends on the agreed text and the items, and on nothing else."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.sampling import allocate, digest_item, draw, draw_by_stratum

ITEMS = st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=30, unique=True)
SIZES = st.dictionaries(st.text(min_size=1, max_size=4), st.integers(0, 60), min_size=1, max_size=6)


@given(ITEMS, st.randoms(), st.text(min_size=1, max_size=10), st.data())
def test_the_draw_does_not_depend_on_order(items, random, seed, data):
    """Any order of the items gives the same draw, and a larger sample begins with the smaller one."""
    shuffled = list(items)
    random.shuffle(shuffled)
    size = data.draw(st.integers(0, len(items)))

    assert draw(seed, items, size) == draw(seed, shuffled, size) == draw(seed, items, len(items))[:size]
    assert set(draw(seed, items, len(items))) == set(items)


def test_the_recipe_in_the_docstring():
    """Text, bar, item; SHA-256; smallest first."""
    by_hand = sorted(
        ["B1", "B2", "B3"], key=lambda item: hashlib.sha256(b"spring|" + item.encode()).hexdigest()
    )

    assert tuple(by_hand[:2]) == draw("spring", ["B3", "B1", "B2"], 2)
    assert hashlib.sha256("spring|é".encode()).hexdigest() == digest_item("spring", "é")


@given(SIZES, st.data())
def test_shares_add_up(sizes, data):
    """The whole sample is shared out, each stratum within one of its proportion and never beyond its size."""
    total = sum(sizes.values())
    size = data.draw(st.integers(0, total))
    shares = allocate(sizes, size)

    assert size == sum(shares.values())
    for name, count in sizes.items():
        assert 0 <= shares[name] <= count
        assert total == 0 or abs(shares[name] - size * count / total) < 1


def test_remainders_go_to_the_larger_stratum():
    """Equal remainders: the larger stratum first, then by name."""
    assert {"a": 1, "b": 2, "c": 0} == allocate({"a": 15, "b": 35, "c": 10}, 3)
    assert {"b": 0, "a": 1} == allocate({"b": 5, "a": 5}, 1)


def test_each_stratum_is_drawn_by_itself():
    """Within a stratum the draw is that of the stratum alone."""
    strata = {"bags": [f"bags/B{i}" for i in range(30)], "lots": [f"lots/L{i}" for i in range(10)]}
    drawn = draw_by_stratum("spring", strata, 8)

    assert {"bags": 6, "lots": 2} == {name: len(items) for name, items in drawn.items()}
    assert drawn["bags"] == draw("spring", strata["bags"], 6)


def test_nonsense_is_refused():
    """No text, an item twice, more than there are."""
    with pytest.raises(ValueError, match="text to start from"):
        draw("", ["a"], 1)
    with pytest.raises(ValueError, match="a stands twice"):
        draw("x", ["a", "b", "a"], 1)
    with pytest.raises(ValueError, match="cannot be drawn from 1"):
        draw("x", ["a"], 2)
    with pytest.raises(ValueError, match="cannot be drawn from 3"):
        allocate({"a": 3}, 4)


@pytest.mark.parametrize(
    ("sizes", "size", "shares"),
    [
        ({"a": 3, "b": 2}, 5, {"a": 3, "b": 2}),
        ({"a": 3, "b": 2}, 0, {"a": 0, "b": 0}),
        ({"a": 0, "b": 0}, 0, {"a": 0, "b": 0}),
        ({"a": 0, "b": 1}, 1, {"a": 0, "b": 1}),
        ({"a": 1, "b": 9}, 3, {"a": 0, "b": 3}),
        ({"a": 2, "b": 3, "c": 5}, 4, {"a": 1, "b": 1, "c": 2}),
        ({"b": 1, "a": 1, "c": 1}, 2, {"a": 1, "b": 1, "c": 0}),
    ],
)
def test_shares_by_hand(sizes, size, shares):
    """All, none, and the largest remainders."""
    assert shares == allocate(sizes, size)


def test_all_items_may_be_drawn():
    """And none; half an item or fewer than none may not."""
    assert ({"a", "b"}, ()) == (set(draw("x", ["a", "b"], 2)), draw("x", [], 0))
    for wrong in (-1, 0.5):
        with pytest.raises(ValueError, match="size of the sample"):
            draw("x", ["a"], wrong)
        with pytest.raises(ValueError, match="size of the sample"):
            allocate({"a": 3}, wrong)
    with pytest.raises(ValueError, match="size of a"):
        allocate({"a": -1, "b": 3}, 1)


def test_a_digest_is_known():
    """SHA-256 of 'abc|def' as another program gives it: 64 lower-case digits."""
    assert "0def6826e591afbb7b4431daaa6f2a78c1e5af533cb94b6db1635efbf255cb16" == digest_item("abc", "def")
