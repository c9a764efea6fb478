"""A draw in strata: each gets its part, a larger sample holds the smaller, the worst case is the worst."""

from __future__ import annotations

import hashlib
import json
import math
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.figures.draws import (
    allot,
    count_in_strata,
    draw_in_strata,
    freeze,
    mix_key,
    place_worst,
    plain_text,
    read_fingerprint,
    worst_miss,
    write_fingerprint,
)
from certgen.figures.sampling import miss_chance

SIZES = st.dictionaries(st.sampled_from("abcdef"), st.integers(0, 60), min_size=1)
FEW = st.lists(st.integers(1, 6), min_size=1, max_size=4)
RECORDS = "0" * 64


def named(sizes):
    """Strata by number."""
    return {f"S{number}": size for number, size in enumerate(sizes)}


@given(SIZES, st.data())
def test_each_stratum_has_at_least_one_and_at_most_all(sizes, data):
    """None that holds anything is left without, and the parts add up."""
    filled = [size for size in sizes.values() if size]
    size = data.draw(st.integers(len(filled), sum(filled)))
    taken = allot(sizes, size)

    assert size == sum(taken.values())
    assert all(min(1, sizes[name]) <= taken[name] <= sizes[name] for name in sizes)


@given(SIZES, st.data())
def test_a_larger_sample_holds_the_smaller(sizes, data):
    """One more item is one more in one stratum, and none fewer in any."""
    filled = [size for size in sizes.values() if size]
    size = data.draw(st.integers(len(filled), sum(filled)))
    if size == sum(filled):
        return
    one, more = allot(sizes, size), allot(sizes, size + 1)

    assert [1] == [more[name] - one[name] for name in sizes if more[name] != one[name]]


def test_the_rest_is_shared_out_by_highest_averages():
    """92 and 60 of 152: by hand 20 and 13 of 33, as 92/41 > 60/27 and 60/25 > 92/41."""
    assert {"TERRACE": 20, "UPPER": 13} == allot({"TERRACE": 92, "UPPER": 60}, 33)


def test_a_sample_too_small_for_its_strata_names_the_smallest_that_works():
    """Three groups need three."""
    with pytest.raises(ValueError, match="take 3 or more"):
        allot({"a": 50, "b": 50, "c": 1, "none": 0}, 2)
    assert {"a": 1, "b": 1, "c": 1, "none": 0} == allot({"a": 50, "b": 50, "c": 1, "none": 0}, 3)
    with pytest.raises(ValueError, match="cannot be drawn from 2"):
        allot({"a": 1, "b": 1}, 3)


@given(FEW, st.data())
def test_no_placement_of_the_faults_is_missed_more_likely(sizes, data):
    """Every placement tried, the greedy one among them and never beaten; in exact fractions."""
    strata = named(sizes)
    taken = allot(strata, data.draw(st.integers(len(sizes), sum(sizes))))
    faults = data.draw(st.integers(0, sum(sizes)))
    chances = [
        math.prod(
            (
                miss_chance(size, put, taken[name])
                for (name, size), put in zip(strata.items(), places, strict=True)
            ),
            start=Fraction(1),
        )
        for places in product(*(range(size + 1) for size in sizes))
        if sum(places) == faults
    ]

    assert max(chances) == worst_miss(strata, taken, faults)
    assert faults == sum(place_worst(strata, taken, faults).values())


@given(st.lists(st.integers(1, 30), min_size=1, max_size=5), st.sampled_from([0.02, 0.05, 0.1, 0.3, 0.5]))
def test_the_planned_size_is_the_smallest_that_keeps_its_word(sizes, share):
    """One fewer falls short, or leaves a stratum without any."""
    strata = named(sizes)
    size = count_in_strata(strata, share, 0.95)
    faults = max(1, math.ceil(round(share * sum(sizes), 9)))

    assert worst_miss(strata, allot(strata, size), faults) <= Fraction(1, 20)
    if size > len(sizes):
        assert worst_miss(strata, allot(strata, size - 1), faults) > Fraction(1, 20)
    assert len(sizes) <= size <= sum(sizes)


def test_one_stratum_is_the_plain_draw():
    """Hypergeometric, as ever: 28 of 152 find 16 faulty ones at 95 %, 24 don't."""
    assert miss_chance(152, 16, 24) == worst_miss({"all": 152}, {"all": 24}, 16)
    assert 0 == count_in_strata({}, 0.1)


def test_half_of_two_hundred_thousand_is_found_with_seven():
    """Little has to be drawn where there is much to find, however many there are."""
    assert 7 == count_in_strata({"a": 200_000}, 0.5, 0.99)
    assert 8 == count_in_strata({"a": 200_000, "b": 3}, 0.5, 0.99)


def test_more_faults_than_items_are_refused():
    """Nothing is placed where nothing is."""
    with pytest.raises(ValueError, match="3 out of 2"):
        place_worst({"a": 2}, {"a": 1}, 3)
    with pytest.raises(ValueError, match="share to detect"):
        count_in_strata({"a": 2}, 0)


def test_a_fingerprint_is_the_digest_of_what_its_docstring_says():
    """Made here anew with another program's JSON: keys sorted, no blanks."""
    written = '{"by":"block","kind":"bags","records":"' + RECORDS + '"}'
    assert json.loads(written) == {"records": RECORDS, "kind": "bags", "by": "block"}
    assert hashlib.sha256(written.encode()).hexdigest() == freeze(RECORDS, kind="bags", by="block")


def test_whatever_is_asked_for_is_frozen():
    """Another kind, another grouping, another digest of the records: another fingerprint each."""
    found = {
        freeze(records, kind=kind, by=by)
        for records, kind, by in product((RECORDS, "1" * 64), ("bags", "trees"), ("block", "all"))
    }
    assert 8 == len(found)


def test_a_noted_fingerprint_is_read_as_it_was_written():
    """Groups of four on two lines, in capitals or not."""
    fingerprint = freeze(RECORDS)
    lines = write_fingerprint(fingerprint)

    assert [39, 39] == [len(line) for line in lines]
    assert fingerprint == read_fingerprint("\n".join(lines).upper())


@pytest.mark.parametrize("typed", ["", "3f2a 9c", "g" * 64, "0" * 63, "0" * 65])
def test_a_part_of_a_fingerprint_is_refused(typed):
    """The first 80 bits could be met by two sets of records that were made for it."""
    with pytest.raises(ValueError, match="64 digits"):
        read_fingerprint(typed)


@pytest.mark.parametrize(
    "typed",
    ["rain at noon", "Rain at noon.", "  RAIN,\tAT NOON! ", "ra\u200bin at no\ufe0fon", "ráin at noön"],
)
def test_how_a_text_is_typed_has_no_say(typed):
    """Capitals, blanks, stops, accents and signs that nobody sees: one draw."""
    assert "rainatnoon" == plain_text(typed)


def test_a_letter_that_only_looks_the_same_is_seen():
    """A Cyrillic a is told by its code."""
    assert "r[U+0430]inatnoon" == plain_text("r\u0430in at noon")


@pytest.mark.parametrize("typed", ["", "x", "4 2 1", "rain !!!", "\u0301" * 20])
def test_a_text_that_could_be_prepared_for_is_refused(typed):
    """Seven letters or fewer."""
    with pytest.raises(ValueError, match="8 letters or digits"):
        plain_text(typed)


@given(st.text())
def test_what_is_hashed_is_plain_ascii(text):
    """Whatever is typed: refused, or printable without loss."""
    try:
        plain = plain_text(text)
    except ValueError:
        return
    assert plain.isascii()
    assert plain.isprintable()


def test_the_order_is_that_of_digests_taken_by_hand():
    """Fingerprint, bar, text, bar, item; the smallest first in each stratum."""
    fingerprint = freeze(RECORDS)
    strata = {"a": [f"A{n}" for n in range(9)], "b": [f"B{n}" for n in range(4)]}
    by_hand = {
        name: tuple(
            sorted(
                items,
                key=lambda item: hashlib.sha256(f"{fingerprint}|rainatnoon|{item}".encode()).hexdigest(),
            )
        )
        for name, items in strata.items()
    }
    found = draw_in_strata(mix_key(fingerprint, "Rain at noon"), strata, 6)

    assert {"a": by_hand["a"][:4], "b": by_hand["b"][:2]} == found
