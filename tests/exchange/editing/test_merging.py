"""Two who change one file don't lose each other's entries; where they touch, nothing is guessed."""

from __future__ import annotations

import pytest
from histories import SECOND, THIRD, TREES
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.editing.differences import compare_files
from certgen.exchange.editing.merging import merge_change

FOURTH = b"  - tree: T4\n    planting: P1\n    sex: female\n"


def merge(base: bytes, wanted: bytes, there: bytes) -> bytes | None:
    """What is there with the change from the first to the second."""
    return merge_change("trees.yaml", base, wanted, there)


def test_two_new_records_at_one_place_stand_one_behind_the_other() -> None:
    """Both browsers had read the same file."""
    assert TREES + THIRD + SECOND == merge(TREES, TREES + THIRD, TREES + SECOND)


def test_fields_of_one_record_are_merged() -> None:
    """One changes the sex, the other the planting, a third adds a note."""
    sex, planting = TREES.replace(b"hermaphrodite", b"female"), TREES.replace(b"P1", b"P2")
    assert planting.replace(b"hermaphrodite", b"female") == merge(TREES, sex, planting)
    note = b"    note: leans\n"
    assert planting + note == merge(TREES, TREES + note, planting)


@pytest.mark.parametrize(
    ("wanted", "there"),
    [
        (TREES.replace(b"hermaphrodite", b"female"), TREES.replace(b"hermaphrodite", b"male")),
        (TREES + SECOND, TREES + SECOND.replace(b"female", b"male")),
        (TREES + SECOND, TREES + SECOND),
        (b"# walked in January\ntrees:\n", TREES + b"    note: leans\n"),
        (TREES + SECOND, b"just words"),
        (b"\xff", TREES + SECOND),
        (TREES + SECOND, b""),
    ],
)
def test_what_touches_is_not_merged(wanted: bytes, there: bytes) -> None:
    """One field to two values, one new record twice, a record taken out that another worked on, noise."""
    assert merge(TREES, wanted, there) is None


def test_what_is_there_already_is_what_is_wanted() -> None:
    """Nothing came in between."""
    assert TREES + SECOND == merge(TREES, TREES + SECOND, TREES)
    assert TREES == merge(TREES + SECOND, TREES, TREES + SECOND)


def test_what_was_changed_all_over_is_not_held_against_everything() -> None:
    """A long file, every record of which was changed again: refused, rather than minutes of work."""
    records = b"".join(
        b"  - tree: X%d\n    planting: P1\n    sex: male\n" % number for number in range(2_000)
    )
    base = TREES + records
    assert merge(base, base + SECOND, base.replace(b"P1", b"P2")) is None
    assert base + SECOND + b"# mine\n" == merge(base, base + SECOND, base + b"# mine\n")


RECORDS = st.lists(st.sampled_from([SECOND, THIRD, FOURTH]), max_size=3, unique=True)


@given(RECORDS, RECORDS, RECORDS)
def test_what_is_merged_does_what_the_change_did(
    base: list[bytes], wanted: list[bytes], there: list[bytes]
) -> None:
    """To the records that are there, whoever wrote them."""
    files = [TREES + b"".join(records) for records in (base, wanted, there)]
    merged = merge(*files)
    if merged is not None:
        asked, done = (
            compare_files({"a.yaml": one}, {"a.yaml": other})
            for one, other in ((files[0], files[1]), (files[2], merged))
        )
        assert sorted(map(repr, asked)) == sorted(map(repr, done))
        assert 1 == max(merged.count(record) for record in (SECOND, THIRD, FOURTH, TREES))
