"""Labels and field sheets as they are printed: whole, in our own faces, the same bytes for the same data."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pikepdf
import pytest
from pages import fonts_of

from certgen.exchange.field_paper import field_sheets
from certgen.exchange.field_paper.field_sheets import set_bagging_round, set_sample_round
from certgen.exchange.field_paper.label_sheets import build_sheet, set_calibration, set_labels
from certgen.exchange.field_paper.labels import ClearedTree, Label, LabelError, lot_labels, sample_labels
from certgen.typeset import faces

if TYPE_CHECKING:
    from certgen.examination import Result

COVERS = ("certgen.exchange.field_paper.field_sheets",)
SHEET = build_sheet("A4", "70x37")
#: A name in each script that needs more than letters side by side, with the face it is set in.
NAMES = {
    "NotoSansThai": "สวนมะละกอ",
    "NotoSansTamil": "பப்பாளி விதை",
    "NotoSansKhmer": "ចំការល្ហុង",
    "NotoSansArabic": "مزرعة وادي الفانوس",
    "NotoSansSC": "瓜园",
}


def pages(pdf: bytes) -> int:
    """How many pages a PDF has."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return len(document.pages)


def glyphs_of(pdf: bytes) -> set[bytes]:
    """The glyphs that a PDF's pages show, by their numbers; 0 is the box of a missing one."""
    glyphs = set()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            for operands, operator in pikepdf.parse_content_stream(page):
                if str(operator) not in {"Tj", "TJ"}:
                    continue
                shown = operands[0] if str(operator) == "TJ" else operands
                texts = [bytes(piece) for piece in shown if isinstance(piece, pikepdf.String)]
                glyphs |= {text[at : at + 2] for text in texts for at in range(0, len(text), 2)}
    return glyphs


def set_label(name: str) -> bytes:
    """One label with a name as title, variety and place."""
    return set_labels([Label(name, (("Variety", name),), foot=f"block {name}, row 3")], SHEET)


def test_a_label_that_cannot_hold_its_text_is_refused(result: Result) -> None:
    """Letters shrink until all lines have room side by side; below a readable size the sheet is refused."""
    labels = lot_labels(result)

    assert pages(set_labels(labels, build_sheet("A4", "63.5x38.1"))) >= 1
    with pytest.raises(LabelError, match=r"38\.1 x 21\.2 mm is too small"):
        set_labels(labels, build_sheet("A4", "38.1x21.2"))


def test_sheets_are_filled_in_order(result: Result) -> None:
    """24 labels a sheet; places that are used up are skipped."""
    labels = sample_labels(result)[:24]

    assert (1, 2) == (pages(set_labels(labels, SHEET)), pages(set_labels(labels, SHEET, skip=1)))
    assert 1 == pages(set_calibration(SHEET))


def test_rounds_are_set(result: Result) -> None:
    """Both sheets to walk with, on either paper."""
    assert pages(set_bagging_round(result)) >= 1
    assert pages(set_sample_round(result, "Letter")) >= 1


@pytest.mark.parametrize(("family", "name"), NAMES.items())
def test_a_script_is_set_in_its_face(
    result: Result, monkeypatch: pytest.MonkeyPatch, family: str, name: str
) -> None:
    """A label and a field sheet set a name in its script's face, and use no font but ours.

    Where no face for it is installed, they spell it out. Neither shows the box of a missing glyph.
    """
    tree = ClearedTree("T1", name, name, "1", "2", "S1", "2026-06-01")
    monkeypatch.setattr(field_sheets, "cleared_trees", lambda _result: (tree,))
    installed = {face.family.replace(" ", "") for face in faces.other_faces()}
    expected = {"SourceSansPro"} | ({family} & installed)

    for pdf in (set_label(name), set_bagging_round(result)):
        assert expected == {next(filter(font.startswith, expected), font) for font in fonts_of(pdf)}
        assert b"\0\0" not in glyphs_of(pdf)


@pytest.mark.parametrize(("letter", "spelled"), [("\U00016a40", "[U+16A40]"), ("\x07", "[U+0007]")])
def test_a_letter_without_a_shape_is_spelled_out(letter: str, spelled: str) -> None:
    """What no face has a shape for is set in letters and figures of our own."""
    assert set_label(f"Zoë {spelled}") == set_label(f"Zoë {letter}")


def test_names_in_the_records_are_no_markup() -> None:
    """A variety with signs of the typesetter's language is set as it stands, and reads no file."""
    hostile = '#read("/etc/passwd") $x$ *b* \\ "q" <l> @r'

    assert 1 == pages(set_labels([Label(hostile, (("Variety", hostile),), code=hostile[:30])], SHEET))


def test_same_labels_same_bytes(result: Result) -> None:
    """No hour of the day finds its way in."""
    assert set_labels(lot_labels(result), SHEET) == set_labels(lot_labels(result), SHEET)
