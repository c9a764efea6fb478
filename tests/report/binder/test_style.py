"""The style sheet and its faces, cut down to the letters that a page needs."""

from __future__ import annotations

import base64
import io
import re

import pytest
import uharfbuzz
from fontTools.config import Config
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

from certgen.report.binder.style import write_style
from certgen.typeset import faces
from certgen.typeset.html_pages import environment

TYPED = {chr(code) for code in range(32, 127)}


def embedded(letters: str) -> list[TTFont]:
    """The faces of a style sheet for these letters, in its order."""
    found = re.findall(r'url\("data:font/woff;base64,([^"]+)"\)', write_style(environment(), set(letters)))
    return [TTFont(io.BytesIO(base64.b64decode(data))) for data in found]


def cut_by_font_tools(letters: str) -> list[TTFont]:
    """The same faces as another library cuts them down, by itself."""
    cut = []
    alone = {"fontTools.ttLib.tables.otBase:USE_HARFBUZZ_REPACKER": False}
    for face in (*faces.own_faces(), *faces.faces_for(letters)):
        if not face.italic and face.weight != 700:
            font = TTFont(face.path, cfg=Config(alone))
            cutter = Subsetter(Options(layout_features=["*"], hinting=False, notdef_outline=True))
            cutter.populate(unicodes=[ord(letter) for letter in TYPED | set(letters)])
            cutter.subset(font)
            cut.append(font)
    return cut


def shape(font: TTFont, text: str) -> list[tuple[float, ...]]:
    """Advance, place, width and height of each glyph that a text is set in."""
    out = io.BytesIO()
    font.flavor = None
    font.save(out)
    drawn = uharfbuzz.Font(uharfbuzz.Face(out.getvalue()))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(drawn, buffer, {"tnum": True, "lnum": True})
    extents = [drawn.get_glyph_extents(one.codepoint) for one in buffer.glyph_infos]
    return [
        (at.x_advance, at.x_offset, at.y_offset, of.width, of.height)
        for at, of in zip(buffer.glyph_positions, extents, strict=True)
    ]


@pytest.mark.parametrize(
    "text", ["AVATAR fi ½ 12/34 “To Wave” é", "Người Việt", "नामक्ष त्रि श्री", "ภาษาไทย น้ำ", "العربية"]
)
def test_cut_faces_set_a_text_as_another_library_cuts_them(text: str) -> None:
    """Kerning, ligatures, figures and marks stay: as fontTools leaves them."""
    ours, theirs = embedded(text), cut_by_font_tools(text)

    assert [shape(font, text) for font in theirs] == [shape(font, text) for font in ours]
    assert [len(font.getGlyphOrder()) for font in theirs] == [len(font.getGlyphOrder()) for font in ours]


def test_a_face_has_the_letters_of_the_page_and_those_typed_and_no_others() -> None:
    """Else a name would be set as the device sets it, or the page be larger than it need be."""
    for font in embedded("Bell é"):
        assert {ord(letter) for letter in TYPED | {"é"}} == set(font.getBestCmap())


def test_the_same_letters_give_the_same_sheet() -> None:
    """Whatever the order in which they come."""
    assert write_style(environment(), set("Bell é14")) == write_style(environment(), set("41é lleB"))
