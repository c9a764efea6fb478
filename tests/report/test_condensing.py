"""A table told by its differences: nothing is lost, and nothing is said that isn't so."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.report.condensing import Plan, Told, condense, tell_again

#: Few values, so that records agree often enough for something to be shared.
VALUES = st.none() | st.sampled_from(["x", "y", "a long value that many share"]).map(
    lambda text: ((text, ""),)
)
NAMES = ("one", "two", "three", "four")


def said(text: str):
    """A value as runs."""
    return ((text, ""),)


@st.composite
def tables(draw):
    """Fields with their values, the rows that are told, and a plan for them."""
    count = draw(st.integers(0, 9))
    column = st.lists(VALUES, min_size=count, max_size=count)
    fields = draw(st.dictionaries(st.sampled_from(NAMES), column, max_size=4))
    rows = [row for row in range(count) if draw(st.booleans())]
    expected = {name: draw(column) for name in fields if draw(st.booleans())}
    chosen = st.lists(st.sampled_from(NAMES), unique=True, max_size=2).map(tuple)
    return fields, rows, Plan(draw(chosen), draw(chosen), expected)


@given(tables())
def test_every_record_can_be_told_again(table):
    """What is shared, what its group shares and what it says itself give each record back, and no other."""
    fields, rows, plan = table
    records = {
        row: {name: values[row] for name, values in fields.items() if values[row] is not None} for row in rows
    }

    assert records == tell_again(condense(fields, rows, plan), plan.expected)


@given(tables())
def test_each_record_stands_once(table):
    """Whatever groups there are, every row that is told has one place."""
    fields, rows, plan = table
    groups = condense(fields, rows, plan).groups

    assert sorted(rows) == sorted(member.row for group in groups for member in group.members)


@given(tables())
def test_nothing_is_told_twice(table):
    """A field is shared by all, or by the group, or groups it, or is the record's own word."""
    fields, rows, plan = table
    condensed = condense(fields, rows, plan)
    for group in condensed.groups:
        heads = [told.name for told in (*condensed.shared, *group.by, *group.shared)]
        assert len(heads) == len(set(heads))
        for member in group.members:
            names = [told.name for told in member.told]
            assert len(names) == len(set(names))
            assert set(names).isdisjoint(told.name for told in group.by)


def test_what_all_share_is_said_once():
    """One value throughout stands above the records, and no record repeats it."""
    condensed = condense(
        {"one": [said("x")] * 3, "two": [said("p"), said("q"), said("r")]}, [0, 1, 2], Plan()
    )
    (group,) = condensed.groups

    assert (Told("one", said("x")),) == condensed.shared
    assert [[Told("two", said(text))] for text in "pqr"] == [list(member.told) for member in group.members]


def test_a_record_that_says_nothing_where_others_do_says_so():
    """Silence must not pass for the word that most say."""
    condensed = condense({"one": [said("intact"), said("intact"), None]}, [0, 1, 2], Plan())

    assert (Told("one", None),) == condensed.groups[0].members[2].told


def test_what_is_expected_is_told_where_it_differs():
    """A tag that says what the log says is no news; the one that doesn't stands with the bag."""
    log = [said(f"T{number}") for number in range(5)]
    tags = [*log[:4], said("T9")]
    condensed = condense({"tag": tags}, range(5), Plan(expected={"tag": log}))

    assert (Told("tag", expected=True),) == condensed.shared
    assert [*[()] * 4, (Told("tag", said("T9")),)] == [member.told for member in condensed.groups[0].members]


def test_groups_of_one_are_none():
    """Where hardly two records agree, heads over each would take more room than they save."""
    condensed = condense({"one": [said("x"), said("y"), said("z")]}, [0, 1, 2], Plan(groups=("one",)))

    assert [()] == [group.by for group in condensed.groups]
