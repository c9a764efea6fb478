"""Sections of the appendix as entries: nothing of a table or a paragraph is lost."""

from __future__ import annotations

import pytest

from certgen.report.dense_sections import set_small
from certgen.report.tables import Amount, Column, table
from certgen.typeset.parts import Listing, Prose, Section


def words(runs):
    """Runs as one text."""
    return "".join(run.text for run in runs)


def lines_of(register):
    """Each group's head and entries as texts."""
    return [
        (
            "".join(run.text for run in group.head),
            ["".join(run.text for run in one.runs) for one in group.entries],
        )
        for group in register.groups
    ]


def test_a_table_is_told_by_its_rows():
    """What all say stands above; a heading's unit stands behind each figure again."""
    rows = [("a", 1, "assumed"), ("b", 2, "assumed"), ("c", 3, "read")]
    grid = table(
        "Figures",
        (
            Column("Name", "text", lambda row: row[0]),
            Column("At most", "number", lambda row: Amount(str(row[1]), "%")),
            Column("Kind", "text", lambda row: row[2]),
        ),
        rows,
        note="A note.",
    )
    register = set_small(Section("x", "X", 2, (grid,)))

    assert [
        (
            "Figures. Unless a line says otherwise: assumed. A note.",
            ["a at most 1\u00a0%", "b at most 2\u00a0%", "c at most 3\u00a0%; read"],
        )
    ] == lines_of(register)


def test_a_paragraph_stays_as_it_is():
    """Few words before the first stop are its heading, and nothing else is."""
    register = set_small(
        Section(
            "x",
            "X",
            2,
            (
                Prose(
                    ("Pools. Twelve are one.", "All of it is one sentence."),
                ),
            ),
        )
    )
    (group,) = register.groups

    assert ["Pools. Twelve are one.", "All of it is one sentence."] == lines_of(register)[0][1]
    assert ["Pools.", ""] == [entry.runs[0].text for entry in group.entries]


def test_other_parts_are_refused():
    """A picture would vanish silently."""
    with pytest.raises(TypeError, match="Listing"):
        set_small(Section("x", "X", 2, (Listing(()),)))
