"""Draft notices and recalls: whole letters, and each notice's weights in one unit."""

from __future__ import annotations

from datetime import date

import pytest
from printed import cell_text

from certgen.dossier.notices import draft_notices
from certgen.examination import examine
from certgen.report.chapters.notices import build_notices, build_recalls
from certgen.report.context import Context
from certgen.typeset.entries import Entries
from certgen.typeset.parts import Grid


@pytest.fixture(scope="module")
def context(example_season):
    """The example season, ready to be told."""
    return Context(examine(example_season, date(2026, 11, 25)))


def test_each_draft_stands_in_whole(context):
    """Every line of each letter, in its order, below the name of whom it is to."""
    (chapter,) = build_notices(context)
    (entries,) = (part for part in chapter.sections[0].parts if isinstance(part, Entries))
    drafts = draft_notices(context.result)

    assert [f"To {notice.party}" for notice in drafts] == [one.title for one in entries.registers]
    assert [list(notice.lines) for notice in drafts] == [
        ["".join(run.text for run in entry.runs) for group in one.groups for entry in group.entries]
        for one in entries.registers
    ]


def test_weights_of_notices_are_grams_with_what_was_typed_beside(context):
    """An ounce is told in grams and as it was typed; columns that nobody filled are left out."""
    (chapter,) = build_recalls(context)
    _, told = (part for part in chapter.sections[0].parts if isinstance(part, Grid))
    heads = [head.text.replace("\u00a0", " ") for head in told.heads]
    rows = {
        cell_text(row.cells[0]): dict(zip(heads, map(cell_text, row.cells), strict=True)) for row in told.rows
    }

    assert "28.35" == rows["DR26-01/1"]["Weight, g"].strip("\u2007\u202f")
    assert "1 oz, 0.5 oz there, 0.5 oz sown" == rows["DR26-01/1"]["As typed"]
    assert "–" == rows["CP26-01/1"]["As typed"]
    assert "Booked as" not in heads


def test_recalls_stand_once_with_their_anchors(context):
    """The record of each recall is told here, without the notices that stand above it."""
    (chapter,) = build_recalls(context)
    (entries,) = (part for part in chapter.sections[0].parts if isinstance(part, Entries))
    (register,) = entries.registers

    assert ["recalls/CP26-01", "recalls/DR26-01"] == list(register.anchors)
    assert "INV-26-003" not in str(register)
