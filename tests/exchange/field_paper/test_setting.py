"""Labels and field sheets as they are printed: whole, in our own faces, the same bytes for the same data."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pikepdf
import pypdfium2
import pytest
from pages import Letter, fonts_of, letters_of, text_of

from certgen.exchange.field_paper import field_sheets
from certgen.exchange.field_paper.field_sheets import set_sheet
from certgen.exchange.field_paper.label_sheets import build_sheet, set_calibration, set_labels
from certgen.exchange.field_paper.labels import (
    ClearedTree,
    Label,
    LabelError,
    bag_tags,
    lot_labels,
    sample_labels,
)
from certgen.typeset import faces

if TYPE_CHECKING:
    from certgen.examination import Result

COVERS = ("certgen.exchange.field_paper.label_sheets",)
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
    return set_labels([Label(name, (("Variety", name),), place=f"block {name}, row 3")], SHEET)


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


@pytest.mark.parametrize(
    ("size", "cut", "edge"),
    [
        ("70x37", True, 4),
        ("70x37", False, 4),
        ("48x26", True, 4),
        ("48x26", False, 2),
        ("99.1x67.7", False, 4),
    ],
)
def test_text_keeps_from_the_edge(result: Result, size: str, edge: float, *, cut: bool) -> None:
    """What is cut by hand has four millimetres on every side, and so has what is large enough."""
    sheet = build_sheet("A4", size)
    tags = bag_tags(result)[: sheet.labels]
    places = [sheet.place(index) for index in range(len(tags))]

    letters = letters_of(set_labels(tags, sheet, cut=cut))

    nearest = min(
        min(one.left - x, x + sheet.width - one.right, one.top - y, y + sheet.height - one.bottom)
        for one in letters
        for x, y in places
        if x <= (one.left + one.right) / 2 < x + sheet.width
        and y <= (one.top + one.bottom) / 2 < y + sheet.height
    )
    assert edge - 0.05 <= nearest


def test_only_what_is_cut_by_hand_bears_lines_to_cut_along(result: Result) -> None:
    """A dashed outline each: stickers are cut already."""
    tags = bag_tags(result)[:3]

    assert (3, 0) == tuple(
        sum(
            kind == pypdfium2.raw.FPDF_PAGEOBJ_PATH and width > 190
            for kind, width in outlines(set_labels(tags, SHEET, cut=cut))
        )
        for cut in (True, False)
    )


def outlines(pdf: bytes) -> list[tuple[int, float]]:
    """Kind and width in points of each thing on the first page."""
    page = pypdfium2.PdfDocument(pdf)[0]
    return [(one.type, one.get_bounds()[2] - one.get_bounds()[0]) for one in page.get_objects(max_depth=1)]


def test_treated_seed_says_so_in_eight_point_and_over_nothing(treated: Result) -> None:
    """On any sheet that can hold it: the words in one piece, none smaller, no letter over another."""
    said = "Treated with thiram Do not use for food or feed or oil purposes."
    for size in ("99.1x67.7", "105x74", "105x148.5"):
        labels = lot_labels(treated, ["L1", "L3"])
        sheet = build_sheet("A4", size)
        pdf = set_labels(labels, sheet)
        letters = letters_of(pdf)
        shown = "".join(one.sign for one in letters)
        for words in (said, labels[0].cautions[1], "Treated with hot water and thiram and with"):
            start = shown.index(words.replace(" ", ""))
            part = letters[start : start + len(words.replace(" ", ""))]
            assert words in text_of(pdf)
            assert 8 <= min(round(one.size, 2) for one in part)
        assert [] == overlapping(letters)


def overlapping(letters: list[Letter]) -> list[tuple[Letter, Letter]]:
    """Pairs of letters whose boxes share more than a hair of each other's middle."""
    return [
        (one, other)
        for at, one in enumerate(letters)
        for other in letters[at + 1 :]
        if one.page == other.page
        and min(one.right, other.right) - max(one.left, other.left) > 0.1
        and min(one.bottom, other.bottom) - max(one.top, other.top) > 0.1
    ]


def test_a_label_too_small_for_the_words_of_treated_seed_is_refused(treated: Result) -> None:
    """They don't shrink with the rest."""
    sheet = build_sheet("A4", "63.5x38.1")

    assert 1 == pages(set_labels(lot_labels(treated, ["L4"]), sheet))
    with pytest.raises(LabelError, match="too small"):
        set_labels(lot_labels(treated, ["L1"]), sheet)


@pytest.mark.parametrize(("family", "name"), NAMES.items())
def test_a_script_is_set_in_its_face(
    result: Result, monkeypatch: pytest.MonkeyPatch, family: str, name: str
) -> None:
    """A label and a field sheet set a name in its script's face, and use no font but ours.

    Where no face for it is installed, they spell it out. Neither shows the box of a missing glyph.
    """
    tree = ClearedTree("T1", name, "female", name, "1", "2", "S1", "2026-06-01")
    monkeypatch.setattr(field_sheets, "cleared_trees", lambda _result: (tree,))
    installed = {face.family.replace(" ", "") for face in faces.other_faces()}
    expected = {"SourceSansPro"} | ({family} & installed)

    for pdf in (set_label(name), set_sheet(result, "bagging-round")):
        assert expected == {next(filter(font.startswith, expected), font) for font in fonts_of(pdf)}
        assert b"\0\0" not in glyphs_of(pdf)


@pytest.mark.parametrize(("letter", "spelled"), [("\U00016a40", "[U+16A40]"), ("\x07", "[U+0007]")])
def test_a_letter_without_a_shape_is_spelled_out(letter: str, spelled: str) -> None:
    """What no face has a shape for is set in letters and figures of our own."""
    assert set_label(f"Zoë {spelled}") == set_label(f"Zoë {letter}")


def test_no_substance_is_cut_off_at_the_edge() -> None:
    """A word wider than the label is refused like too many lines."""
    labels = [Label("Lot L1", (), treated=(("Treated with", "x" * 500),))]

    with pytest.raises(LabelError, match="too small"):
        set_labels(labels, build_sheet("A4", "99.1x67.7"))


def test_names_in_the_records_are_no_markup() -> None:
    """A variety with signs of the typesetter's language is set as it stands, and reads no file."""
    hostile = '#read("/etc/passwd") $x$ *b* \\ "q" <l> @r'

    assert 1 == pages(set_labels([Label(hostile, (("Variety", hostile),), code=hostile[:30])], SHEET))


def test_same_labels_same_bytes(result: Result) -> None:
    """No hour of the day finds its way in."""
    assert set_labels(lot_labels(result), SHEET) == set_labels(lot_labels(result), SHEET)
