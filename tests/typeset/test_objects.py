"""Objects as bytes: references are led on, and what only looks like one is left alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.objects import lead_references, pack, read_objects
from certgen.typeset.page_batch import string_of

#: What stands between references: numbers, names, strings as they are written, and strings of hex digits.
BETWEEN = st.one_of(
    st.integers(0, 99).map(b"/K %d ".__mod__),
    st.sampled_from([b"/Pg ", b"[", b"]>>", b"<</Type/Annot/Rect[0.5 -1 2 3]", b"\n", b"<feff0031> "]),
    st.text(max_size=8).map(string_of),
    st.builds(lambda text, number: string_of(f"{text} {number} 0 R)"), st.text(max_size=4), st.integers(0)),
)
PIECES = st.lists(st.one_of(BETWEEN, st.integers(1, 5)), max_size=12)


def write(pieces, numbers):
    """The pieces as one text, each number as a reference to what `numbers` makes of it."""
    return b"".join(
        b"%d 0 R " % numbers[piece] if isinstance(piece, int) else piece + b" " for piece in pieces
    )


@given(PIECES)
def test_references_are_led_on_and_strings_are_not(pieces):
    """Each reference gets its new number, and a string that speaks of one stays as it is written."""
    same, new = {number: number for number in range(1, 6)}, {number: 9 * number for number in range(1, 6)}
    led = {b"%d" % old: b"%d" % number for old, number in new.items()}

    assert write(pieces, new) == lead_references(write(pieces, same), led)


def test_a_reference_that_leads_nowhere_is_refused():
    """What isn't known is not left as it is: it would lead to another object of the document."""
    with pytest.raises(KeyError):
        lead_references(b"<< /P 7 0 R >>", {b"8": b"9"})


def test_each_packed_object_has_its_place():
    """Objects that are no streams lie together in the order in which they came, and each knows where."""
    objects = {number: b"<< /N %d >>" % number for number in range(1, 451)}
    objects[7] = b"<< /Length 1 >>\nstream\nx\nendstream"
    packed = pack(objects, 1000)

    assert [7, 1000, 1001, 1002] == [number for number, _ in packed.streams]
    assert [number for number in objects if number != 7] == [number for number, _, _ in packed.places()]
    assert [(1000 + at // 200, at % 200) for at in range(449)] == [one[1:] for one in packed.places()]


def test_an_object_that_stands_elsewhere_is_refused():
    """A file whose table is wrong isn't read as another file."""
    body = b"%PDF-1.7\n1 0 obj\n<< >>\nendobj\n"
    table = b"xref\n0 2\n0000000000 65535 f \n%010d 00000 n \ntrailer\n<< >>\nstartxref\n%d\n%%%%EOF\n"

    assert {1: b"<< >>"} == read_objects(body + table % (9, len(body)))
    with pytest.raises(ValueError, match="object 1 of a part"):
        read_objects(body + table % (10, len(body)))
