"""What a change did to the records, told from the files before and after."""

from __future__ import annotations

from unittest import mock

import pytest
from histories import BASE, SECOND, THIRD, TREES
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.editing import differences
from certgen.exchange.editing.differences import (
    FieldChange,
    RecordChange,
    UntoldError,
    compare_files,
    compare_first,
)


def compare(before: bytes | None, after: bytes | None) -> list[tuple[str, str, str, list[tuple[str, ...]]]]:
    """The changes of one file, plainly."""
    told = compare_files({"a.yaml": before}, {"a.yaml": after})
    return [
        (
            one.table,
            one.record,
            one.what,
            [(part.field, part.old or "", part.new or "") for part in one.fields],
        )
        for one in told
    ]


def test_a_field_that_changes_is_told_with_both_values() -> None:
    """As they are typed; a field that comes or goes has nothing on the other side."""
    after = TREES.replace(b"hermaphrodite", b"female").replace(b"    planting: P1\n", b"    note: leans\n")
    told = [("planting", "P1", ""), ("sex", "hermaphrodite", "female"), ("note", "", "leans")]
    assert [("trees", "T1", "changed", told)] == compare(TREES, after)


def test_a_new_record_is_told_whole() -> None:
    """And the other way round it was taken out."""
    fields = [("tree", "", "T2"), ("planting", "", "P1"), ("sex", "", "female")]
    assert [("trees", "T2", "added", fields)] == compare(TREES, TREES + SECOND)
    gone = [(name, new, old) for name, old, new in fields]
    assert [("trees", "T2", "removed", gone)] == compare(TREES + SECOND, TREES)


def test_a_file_that_comes_or_goes_is_told_by_its_records() -> None:
    """The season's own mapping among them, nested fields dotted."""
    (told,) = compare(None, BASE)
    assert ("season", "", "added") == told[:3]
    assert ("operation.name", "", "Two Streams Seed Garden") in told[3]
    assert ("standards", "", "[us-nop]") in told[3]
    assert [] == compare(None, b"trees:\n")


def test_comments_order_and_layout_are_no_change() -> None:
    """A record that moved to another file is the same record."""
    other = b"trees:\n  - {sex: hermaphrodite, tree: T1, planting: P1}\n"
    assert [] == compare(TREES, other)
    assert [] == compare(TREES, b"# anew\n" + TREES.replace(b"# by the gate", b"# felled"))
    moved = compare_files({"a.yaml": TREES, "b.yaml": None}, {"a.yaml": None, "b.yaml": TREES})
    assert () == moved


def test_records_of_one_identifier_are_told_one_by_one() -> None:
    """Nobody could say which of the two was changed."""
    twice = TREES + SECOND + SECOND.replace(b"female", b"male")
    assert ["removed", "removed"] == [one[2] for one in compare(twice, TREES)]


def test_records_without_identifiers_are_added_and_taken_out() -> None:
    """They are known by what they say."""
    old = b"cleaning:\n  - {date: 2026-05-01, equipment: [mixer]}\n"
    told = compare(old, old.replace(b"mixer", b"dryer"))
    assert [("cleaning", "", "removed"), ("cleaning", "", "added")] == [one[:3] for one in told]


@pytest.mark.parametrize(
    "broken", [b"trees: [", b"\xff", b"just words", b"trees:\n  - T1\n", b"a: &x [1]\nb: *x\n", b"[" * 50_000]
)
def test_what_is_no_file_of_records_is_said(broken: bytes) -> None:
    """No traceback, whatever stood there."""
    with pytest.raises(UntoldError):
        compare_files({"a.yaml": broken}, {"a.yaml": TREES})


LONG = b"    note: |\n      - tree: T9\n      all is well\n"
QUOTED = b'    note: "a\n  - tree: T9\n  b"\n'
SINGLE = QUOTED.replace(b'"', b"'")
OWN = b"    party: the farm's own\n"
BOTH = b"    note: 'the farm''s\n      own'\n"
PIECES = st.lists(
    st.sampled_from([SECOND, THIRD, b"# a remark\n", LONG, b"\n", QUOTED, SINGLE, OWN, BOTH]), max_size=6
)


@given(PIECES, PIECES)
def test_the_short_way_tells_what_the_long_one_tells(before: list[bytes], after: list[bytes]) -> None:
    """To take only the differing parts apart changes nothing of what is told."""
    old, new = TREES + b"".join(before), TREES + b"".join(after)

    def tell() -> str:
        try:
            return "\n".join(sorted(map(repr, compare(old, new))))
        except UntoldError:
            return "untold"

    short = tell()
    with mock.patch.object(differences, "_split", return_value=None):
        whole = tell()
    assert whole in {"untold", short}


@given(PIECES, st.integers(0, 30), st.booleans())
def test_the_first_changes_are_those_of_all(added: list[bytes], fields: int, sound: bool) -> None:
    """As many as fit, with their number of fields and one for each; the others are counted."""
    # Records that say the same stand together unless they are sound.
    pieces = list(dict.fromkeys(added)) if sound else added
    before, after = {"a.yaml": TREES}, {"a.yaml": TREES + b"".join(pieces)}
    try:
        every = compare_files(before, after)
    except UntoldError:
        return
    told, others = compare_first(before, after, fields, sound=sound)
    assert len(every) == len(told) + others
    assert every[: len(told)] == told
    room = fields - sum(len(one.fields) + 1 for one in told)
    assert room >= 0
    assert not others or room < len(every[len(told)].fields) + 1


def test_of_sound_records_only_those_that_are_told_are_taken_apart() -> None:
    """Twenty thousand bags out of a sheet are read once, before they are written."""
    more = b"".join(SECOND.replace(b"T2", b"T%d" % number) + OWN for number in range(10, 60))
    with mock.patch.object(differences, "compose", wraps=differences.compose) as compose:
        told, others = compare_first({"a.yaml": TREES}, {"a.yaml": TREES + more}, 15, sound=True)
    assert (["T10", "T11", "T12"], 47) == ([one.record for one in told], others)
    assert 4 == compose.call_count


def test_a_value_of_many_letters_is_told_by_its_beginning() -> None:
    """The files hold it whole."""
    after = TREES + b"    note: " + b"x" * 5_000 + b"\n"
    (told,) = compare_files({"a.yaml": TREES}, {"a.yaml": after})
    expected = RecordChange("trees", "T1", "changed", (FieldChange("note", None, "x" * 1_000 + "…"),))
    assert expected == told
