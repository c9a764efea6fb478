"""Labels and field sheets as they are printed: whole, in our own faces, the same bytes for the same data."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pikepdf
import pypdfium2
import pytest
import segno
from pages import fonts_of, letters_of, overlapping, text_of

from certgen.exchange.field_paper import bag_sheets
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
        ("70x37", True, 6),
        ("66x35", True, 6),
        ("70x37", False, 6),
        ("52x30", True, 4),
        ("52x30", False, 2.5),
        ("99.1x67.7", False, 6),
    ],
)
def test_text_keeps_from_the_edge(result: Result, size: str, edge: float, *, cut: bool) -> None:
    """What is large enough has six millimetres on every side, a small tag that is cut by hand four; nothing
    is smaller than 6 points, and no letter stands over another.
    """
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
    assert 6 <= min(round(one.size, 2) for one in letters)
    assert [] == overlapping(letters)


def test_no_lot_label_prints_over_itself(result: Result) -> None:
    """Traced, unproven and rejected lots alike, on a full size and a small one: within six millimetres, or
    four where it is full; 6 points or more; and what may not be sold says so.
    """
    labels = list({label.code: label for label in lot_labels(result)}.values())
    for size, edge in (("99.1x67.7", 6), ("63.5x38.1", 4)):
        sheet = build_sheet("A4", size)
        pdf = set_labels(labels, sheet)
        letters = letters_of(pdf)
        assert [] == overlapping(letters)
        assert 6 <= min(round(one.size, 2) for one in letters)
        assert edge - 0.05 <= min(one.left for one in letters) - sheet.left
        assert "organic: rejected, not to be sold as such" in text_of(pdf)


@pytest.mark.parametrize(("size", "lines"), [("66x35", 10), ("70x60", 8)])
def test_only_what_is_cut_by_hand_bears_lines_to_cut_along(result: Result, size: str, lines: int) -> None:
    """Each once, and none on the edge of the paper; stickers are cut already. Three tags that fill the width
    have three lines above and three below, and four between; two of those lie on the edge of the paper where
    three tags are as wide as it is.
    """
    tags, sheet = bag_tags(result)[:3], build_sheet("A4", size, margins="9x6" if size == "66x35" else "9x0")
    long = (min(sheet.width, sheet.height) - 0.5) / 25.4 * 72

    assert (lines, 0) == tuple(
        sum(
            kind == pypdfium2.raw.FPDF_PAGEOBJ_PATH and max(across, down) > long
            for kind, across, down in outlines(set_labels(tags, sheet, cut=cut))
        )
        for cut in (True, False)
    )


def outlines(pdf: bytes) -> list[tuple[int, float, float]]:
    """Kind, width and height in points of each thing on the first page."""
    page = pypdfium2.PdfDocument(pdf)[0]
    bounds = [(one.type, one.get_bounds()) for one in page.get_objects(max_depth=1)]
    return [(kind, right - left, top - bottom) for kind, (left, bottom, right, top) in bounds]


@pytest.mark.parametrize(("kind", "size"), [("tags", "66x35"), ("tags", "52x30"), ("samples", "38.1x21.2"),
                                            ("lots", "99.1x67.7")])  # fmt: skip
def test_a_code_is_large_enough_and_stands_in_white(result: Result, kind: str, size: str) -> None:
    """Twelve millimetres or more, with four of its squares white on every side."""
    build = {"tags": bag_tags, "samples": sample_labels, "lots": lot_labels}[kind]
    labels, sheet, dots = build(result)[:1], build_sheet("A4", size), 12
    pdf = set_labels(labels, sheet, cut=kind == "tags")
    drawn = pypdfium2.PdfDocument(pdf)[0].render(scale=dots * 25.4 / 72, grayscale=True).to_numpy()
    left, top = (round(edge * dots) for edge in sheet.place(0))
    # The line to cut along is left out of what is looked at.
    ink = (
        drawn[top + 4 : top + round(sheet.height * dots) - 4, left + 4 : left + round(sheet.width * dots) - 4]
        < 128
    )
    across = ink.any(axis=0)
    right = max(at for at, inked in enumerate(across) if inked)
    white = next(at for at in range(right, 0, -1) if not across[at - dots : at].any())
    code = ink[:, white : right + 1]
    down = [at for at, inked in enumerate(code.any(axis=1)) if inked]
    side = (right + 1 - white) / dots
    square = side / segno.make(labels[0].code, error="m", micro=False).symbol_size(border=0)[0]

    assert side >= 11.9
    assert abs((max(down) + 1 - min(down)) / dots - side) < 0.3
    quiet = round(4 * square * dots) - 2
    assert not ink[:, max(0, white - quiet) : white].any()
    assert min(ink.shape[1] - right, *down, ink.shape[0] - max(down)) + 4 >= quiet


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
    monkeypatch.setattr(bag_sheets, "cleared_trees", lambda _result: (tree,))
    installed = {face.family.replace(" ", "") for face in faces.other_faces()}
    own = {"SourceSansPro"} | ({family} & installed)

    for pdf, more in ((set_label(name), set()), (set_sheet(result, "bagging-round"), {"SourceSerifPro"})):
        expected = own | more
        assert expected == {next(filter(font.startswith, expected), font) for font in fonts_of(pdf)}
        assert b"\0\0" not in glyphs_of(pdf)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("W" * 60, "99.1x67.7"),
        ("1234567890" * 6, "66x35"),
        ("Old Kitchen Garden Long Yellow of the Lower River Terraces 12", "66x35"),
        ("Old Kitchen Garden Long Yellow of the Lower River Terraces 12", "99.1x67.7"),
    ],
)
def test_a_long_name_is_printed_whole(name: str, size: str) -> None:
    """Broken where it must be, within the edge and over nothing; a code of so much text is no smaller."""
    label = Label(f"Lot {name}", (("Variety", name), ("Net weight", "")), code=name, place=f"block {name}")
    sheet = build_sheet("A4", size)
    pdf = set_labels([label], sheet)
    letters = letters_of(pdf)
    left, top = sheet.place(0)

    assert 3 == "".join(one.sign for one in letters).count(name.replace(" ", ""))
    assert [] == overlapping(letters)
    assert left + 3.9 <= min(one.left for one in letters)
    assert max(one.right for one in letters) <= left + sheet.width - 3.9
    assert max(one.bottom for one in letters) <= top + sheet.height - 3.9


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
