"""The spot check depends on the agreed text and the items, and on nothing else."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.sampling import digest_item, draw

ITEMS = st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=30, unique=True)


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


def test_nonsense_is_refused():
    """No text, an item twice, more than there are."""
    with pytest.raises(ValueError, match="text to start from"):
        draw("", ["a"], 1)
    with pytest.raises(ValueError, match="a stands twice"):
        draw("x", ["a", "b", "a"], 1)
    with pytest.raises(ValueError, match="cannot be drawn from 1"):
        draw("x", ["a"], 2)


def test_all_items_may_be_drawn():
    """And none; half an item or fewer than none may not."""
    assert ({"a", "b"}, ()) == (set(draw("x", ["a", "b"], 2)), draw("x", [], 0))
    for wrong in (-1, 0.5):
        with pytest.raises(ValueError, match="size of the sample"):
            draw("x", ["a"], wrong)


def test_a_digest_is_known():
    """SHA-256 of 'abc|def' as another program gives it: 64 lower-case digits."""
    assert "0def6826e591afbb7b4431daaa6f2a78c1e5af533cb94b6db1635efbf255cb16" == digest_item("abc", "def")
