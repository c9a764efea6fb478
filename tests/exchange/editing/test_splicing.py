"""A change to a file leaves every other byte of it as it was."""

from __future__ import annotations

import datetime as dt

import pytest

from certgen.exchange.editing.splicing import REMOVED, SpliceError, change_records, insert_records

BAGS = """bagging:
  - bag: B1        # the first
    tree: T1
    covered: 2026-02-11
    tag: {date: 2026-02-11,   tree: T1}   # copied
    checks:
      - date: 2026-02-18
        # windy
        condition: intact
    note: |
      two
      lines

  # between
  - bag: B2
    tree: T1
    covered: 2026-02-12
trees:
  - {tree: T1, planting: P1, sex: female}
"""


def changed(**changes: object) -> str:
    """The file with the first bag changed."""
    return change_records(BAGS, "f", [("bagging", 0, changes)])


def test_a_value_is_exchanged_where_it_stands() -> None:
    """Its comment, and everything around it, stays."""
    assert BAGS.replace("bag: B1        # the first", 'bag: "010"        # the first') == changed(bag="010")


def test_a_mapping_in_braces_stays_in_braces() -> None:
    """Field by field, with the comment behind it; one that a field's value holds needs a hand."""
    assert BAGS.replace("date: 2026-02-11,   tree: T1}", "tree: T2}") == changed(tag={"tree": "T2"})
    text = "bagging:\n  - bag: B1\n    tag: {tree: T1, # as painted\n      date: 2026-02-11} # copied\n"
    with pytest.raises(SpliceError, match="move the comment"):
        change_records(text, "f", [("bagging", 0, {"tag": {"tree": "T2"}})])


def test_an_entry_of_a_list_is_changed_where_it_stands() -> None:
    """Field by field, with what is said between them; another entry comes behind it."""
    old = "      - date: 2026-02-18\n        # windy\n        condition: intact\n"
    new = old.replace("18", "19").replace("intact", "torn")
    check: dict[str, object] = {"date": dt.date(2026, 2, 19), "condition": "torn"}

    longer = new + "        by: KV\n      - date: 2026-02-20\n        condition: torn\n"

    assert BAGS.replace(old, new) == changed(checks=[check])
    assert BAGS.replace(old, longer) == changed(
        checks=[{**check, "by": "KV"}, {"date": dt.date(2026, 2, 20), "condition": "torn"}]
    )


def test_entries_that_go_leave_the_others_as_they_are() -> None:
    """Whichever of them goes; where others are changed too the list is written anew."""
    entries = [f"      - {{date: 2026-02-{day},  condition: intact}}  # {day}\n" for day in (18, 19, 20)]
    entries[2] = entries[2].replace("  # 20", "")
    text = f"bagging:\n  - bag: B1\n    checks:\n{''.join(entries)}    tree: T1\n"
    checks = [{"date": dt.date(2026, 2, day), "condition": "intact"} for day in (18, 19, 20)]

    for number, entry in enumerate(entries):
        left = [one for at, one in enumerate(checks) if at != number]
        assert text.replace(entry, "") == change_records(text, "f", [("bagging", 0, {"checks": left})])
    anew = change_records(text, "f", [("bagging", 0, {"checks": [{**checks[1], "condition": "torn"}]})])
    assert "    # 18\n    # 19\n" in anew


def test_an_entry_that_begins_with_another_field_is_written_anew() -> None:
    """The dash stands before the field that goes."""
    text = "lots:\n  - lot: L1\n    sources:\n      - batch: X1\n        weight: 2 g\n"

    after = change_records(text, "f", [("lots", 0, {"sources": [{"lot": "L0", "weight": "2 g"}]})])

    assert "lots:\n  - lot: L1\n    sources:\n      - {lot: L0, weight: 2 g}\n" == after


def test_a_list_of_names_keeps_its_comments_above() -> None:
    """What was said inside it is said above it when it is exchanged."""
    text = "harvests:\n  - harvest: H1\n    bags:\n      - B1\n      # the small one\n      - B2\n"

    after = change_records(text, "f", [("harvests", 0, {"bags": ["B1", "B3"]})])

    assert "harvests:\n  - harvest: H1\n    # the small one\n    bags: [B1, B3]\n" == after


def test_a_block_of_text_is_exchanged() -> None:
    """The empty line behind it stays."""
    assert BAGS.replace("note: |\n      two\n      lines\n", "note: one\n") == changed(note="one")


def test_a_field_is_added_at_the_records_end() -> None:
    """Before the empty line and the comment that follow it."""
    assert BAGS.replace("      lines\n", "      lines\n    outcome: set\n") == changed(outcome="set")


def test_a_field_is_taken_out() -> None:
    """Its line goes, a comment on it stays; the first field cannot go."""
    assert BAGS.replace("    tree: T1\n    covered: 2026-02-11\n", "    covered: 2026-02-11\n", 1) == changed(
        tree=REMOVED
    )
    with pytest.raises(SpliceError, match="first field"):
        changed(bag=REMOVED)


def test_records_go_behind_the_last_of_their_table() -> None:
    """Also when another table follows in the file."""
    new = {"bag": "B3", "tree": "T1"}

    assert BAGS.replace("02-12\n", "02-12\n  - bag: B3\n    tree: T1\n") == insert_records(
        BAGS, "f", "bagging", [new]
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("trees:\n", "trees:\n  - tree: A\n"),
        ("trees:", "trees:\n  - tree: A\n"),
        ("trees: []  # none yet\n", "trees:  # none yet\n  - tree: A\n"),
        ("trees: # none\n\nlots:\n", "trees: # none\n  - tree: A\n\nlots:\n"),
        ("trees:\n- tree: B", "trees:\n- tree: B\n- tree: A\n"),
        ("trees:\r\n  - tree: B\r\n", "trees:\r\n  - tree: B\r\n  - tree: A\r\n"),
    ],
)
def test_records_go_into_empty_tables_and_odd_ends(text: str, expected: str) -> None:
    """Nothing, an empty list, a missing line end: each takes records."""
    assert expected == insert_records(text, "f", "trees", [{"tree": "A"}])


def test_a_list_in_brackets_takes_none() -> None:
    """A table written in brackets on one line is left to its owner."""
    with pytest.raises(SpliceError, match="dash before each record"):
        insert_records("trees: [{tree: A}]\n", "f", "trees", [{"tree": "B"}])
