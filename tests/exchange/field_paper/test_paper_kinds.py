"""Papers for the field by their names: each is set, and what isn't on it is told."""

from __future__ import annotations

import io
from datetime import date
from typing import TYPE_CHECKING

import pikepdf
import pytest
import seasons

from certgen.examination import examine_season
from certgen.exchange.field_paper.label_sheets import SheetError, build_sheet, set_labels
from certgen.exchange.field_paper.labels import LabelError, lot_labels
from certgen.exchange.field_paper.paper_kinds import (
    KINDS,
    FieldPaper,
    say_missing,
    set_calibration_page,
    set_field_paper,
)

if TYPE_CHECKING:
    from certgen.examination import Result


def test_a_label_s_size_is_its_kind_s_unless_another_is_told(treated: Result) -> None:
    """The same bytes as of a sheet that was measured out."""
    only = ("L4", "L5")
    expected = set_labels(lot_labels(treated, only), build_sheet("A4", KINDS["lots"]))

    assert expected == set_field_paper(treated, FieldPaper("lots", only=only))
    assert expected == set_field_paper(treated, FieldPaper("lots", only=only, size="9.91x6.77cm"))


def test_places_that_are_used_up_are_counted_on_one_sheet(treated: Result) -> None:
    """A sheet of eight of which nine are used begins at the second place."""
    one, other = (set_field_paper(treated, FieldPaper("lots", skip=skip)) for skip in (1, 9))

    assert one == other


def test_a_calibration_page_needs_no_season() -> None:
    """One page, of the paper that was named."""
    with pikepdf.open(io.BytesIO(set_calibration_page(FieldPaper("calibration", "Letter")))) as page:
        assert (1, 612) == (len(page.pages), round(float(page.pages[0].mediabox[2])))


def test_what_can_t_be_set_says_why(treated: Result) -> None:
    """A measure that is none, a lot that nobody knows."""
    with pytest.raises(SheetError, match="'wide' is no measurement"):
        set_field_paper(treated, FieldPaper("lots", size="wide"))
    with pytest.raises(LabelError, match="no record bears the lot number L99"):
        set_field_paper(treated, FieldPaper("lots", only=("L99",)))


def test_what_a_paper_can_t_show_is_told(treated: Result) -> None:
    """Lots of which nothing is said of treatment, trees without a tag; of other papers nothing."""
    assert say_missing(treated, FieldPaper("lots")).startswith("No record says whether lot L5 was treated")
    assert "" == say_missing(treated, FieldPaper("lots", only=("L1",)))
    assert "" == say_missing(treated, FieldPaper("picking-list"))
    assert "" == say_missing(treated, FieldPaper("tags", blank=4))


def test_names_that_no_face_can_show_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the report tells them; where the faces are installed there is nothing to say."""
    lots = [seasons.lot("L1", [], 30, variety="\u6728\u74dc")]
    result = examine_season(seasons.season_of(lots=lots), date(2026, 11, 25))
    paper = FieldPaper("picking-list")
    monkeypatch.setattr("certgen.typeset.legibility.is_known", lambda letter: letter < "\u3000")
    said = say_missing(result, paper)
    assert said.startswith("2 letters that no installed face has stand in it as a code point")
    assert "Korean with ‘cjk’" in said
    monkeypatch.setattr("certgen.typeset.legibility.is_known", lambda _letter: True)
    assert "" == say_missing(result, paper)
