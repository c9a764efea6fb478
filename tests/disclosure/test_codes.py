from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.disclosure.codes import Codes


def settled(key, names, kind="trees", kept=()):
    """Codes of one kind of name."""
    codes = Codes(key, {kind: frozenset(kept)})
    for name in names:
        codes.code(kind, name)
    codes.settle()
    return codes


@given(st.sets(st.text("abc019-", min_size=1, max_size=6), min_size=1, max_size=30))
def test_each_name_has_a_code_of_its_own_and_none_is_left_out(names):
    """Codes run from 1 to the number of names, so a reader learns how many are shown and no more."""
    codes = settled(b"k", sorted(names))
    assert sorted(f"Tree-{number}" for number in range(1, len(names) + 1)) == sorted(
        codes.code("trees", name) for name in names
    )


def test_the_order_follows_the_key_and_not_the_names():
    """Under other keys the same trees stand in other orders, and under one key always in the same."""
    names = [f"T-{number:03}" for number in range(40)]
    orders = {key: [settled(key, names).code("trees", name) for name in names] for key in (b"a", b"b")}
    assert orders[b"a"] != orders[b"b"]
    assert orders[b"a"] == [settled(b"a", names[::-1]).code("trees", name) for name in names]
    assert orders[b"a"] != sorted(orders[b"a"], key=lambda code: int(code[5:]))


def test_a_name_that_the_reader_knows_stays_and_its_like_is_no_code():
    """A lot that is itself called Lot-1 keeps its name, and no other lot is given it."""
    codes = settled(b"k", ["A", "B"], "lots", kept=["Lot-1"])
    assert {"Lot-2", "Lot-3"} == {codes.code("lots", "A"), codes.code("lots", "B")}
    assert codes.code("lots", "Lot-1") == "Lot-1"


def test_one_name_is_one_code_whoever_it_is():
    """A laboratory that is also the buyer is recognised as one; letter case and spaces make no other."""
    codes = Codes(b"k", {})
    for kind, name in (("laboratory", "Fen Lab"), ("party", "FEN  LAB"), ("laboratory", "Other")):
        codes.code(kind, name)
    codes.settle()
    assert codes.code("laboratory", "fen lab") == codes.code("party", "Fen Lab") == "Party-1"
    assert codes.code("laboratory", "Other") == "Laboratory-1"


def test_numbers_that_differ_in_a_letter_are_two():
    """010 and 10 are two trees, and so are t1 and T1."""
    codes = settled(b"k", ["010", "10", "t1", "T1"])
    assert len({codes.code("trees", name) for name in ("010", "10", "t1", "T1")}) == 4


def test_what_seed_dries_on_is_called_a_dryer():
    """The rules know by the name of a piece whether seed lies on it for days."""
    codes = settled(b"k", ["tray 7", "pulper"], "equipment")
    assert (codes.code("equipment", "tray 7"), codes.code("equipment", "pulper")) == (
        "Dryer-1",
        "Equipment-1",
    )
