"""Text as letters side by side: measured, kerned, and readable back from the font that is made."""

from __future__ import annotations

import io
import zlib

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.design import SANS, SERIF
from certgen.typeset.faces import text_width
from certgen.typeset.tables import font_subset as module
from certgen.typeset.tables.font_subset import FontSubset, FontSubsets, face_of

FONT = FontSubset(face_of(SANS, 400))


def codes_of(shown: bytes) -> list[int]:
    """The codes that stand in an array that a page shows."""
    digits = b"".join(part.partition(b">")[0] for part in shown.split(b"<")[1:])
    return [int(digits[at : at + 4], 16) for at in range(0, len(digits), 4)]


@given(st.text("ABTVaeno019-., ", min_size=1, max_size=40))
def test_every_letter_has_its_code(text):
    """A text shows as many codes as it has letters, and the same letter has the same code."""
    codes = codes_of(FONT.show(text)[1])

    assert len(text) == len(codes)
    assert len(set(text)) == len(set(codes))


def test_figures_stand_below_each_other():
    """All ten figures are of one width, and no two of them are moved together."""
    widths = {FONT.show(figure)[0] for figure in "0123456789"}

    assert 1 == len(widths)
    assert FONT.show("1174")[0] == pytest.approx(4 * widths.pop())


def test_pairs_are_kerned_as_the_face_says():
    """T and a stand closer than their own widths; HarfBuzz says by how much."""
    apart = FONT.show("T")[0] + FONT.show("a")[0]
    width, shown = FONT.show("Ta")

    assert width < apart
    assert f">{round((apart - width) * 1000)}<".encode() in shown


@pytest.mark.parametrize("text", ["2026-02-03", "hermaphrodite", "1174"])
def test_widths_are_close_to_those_without_kerning(text):
    """Kerning moves letters a little: what was measured for the columns holds."""
    assert text_width(text, 1) == pytest.approx(FONT.show(text)[0], rel=0.04)


@pytest.mark.parametrize(
    ("text", "can"),
    [
        ("Amber Kestrel, T-104", True),
        ("12.5\u00a0g", True),
        ("Wężyk, Ñandú, Ωμέγα, Ёлка", True),
        ("a\nb", False),
        ("بذور", False),
        ("שדה", False),
        ("e\u0301", False),
        ("田", False),
        ("\u202eabc", False),
        ("", True),
    ],
)
def test_what_can_be_shown(text, can):
    """Letters side by side from left to right can be; joined, stacked, turned or unknown ones can't."""
    assert can is FONT.can_show(text)


def test_other_text_is_refused():
    """Nothing is drawn as an empty box."""
    with pytest.raises(ValueError, match="side by side"):
        FONT.show("田")


def test_other_text_can_be_spelled_out():
    """A letter that the face lacks is spelled as its code point."""
    assert "Lot [U+7530] 3" == FONT.spell_out("Lot 田 3")


def test_what_is_kept_is_bounded(monkeypatch):
    """A season of any size is drawn in the same memory, and drawn the same."""
    monkeypatch.setattr(module, "_KEPT", 3)
    own = FontSubset(face_of(SANS, 400))
    shown = [own.show(f"B{number}") for number in range(20)]

    assert shown == [own.show(f"B{number}") for number in range(20)]
    assert len(own._known) <= 3


def test_the_font_holds_what_was_shown_and_says_what_it_means():
    """Code, glyph, width and meaning agree, read back by an independent library."""
    own = FontSubset(face_of(SERIF, 600))
    text = "Registers of 2026: Ñ"
    codes = codes_of(own.show(text)[1])
    numbers = iter(range(7, 99))
    font, objects = own.font_objects(lambda: next(numbers))
    streams = {
        number: zlib.decompress(body.partition(b"\nstream\n")[2].removesuffix(b"\nendstream"))
        for number, body in objects.items()
        if b"\nstream\n" in body
    }
    file, meaning, pointing = (streams[number] for number in sorted(streams))
    with TTFont(io.BytesIO(file)) as subset:
        names, cmap = subset.getGlyphOrder(), TTFont(face_of(SERIF, 600).path).getBestCmap()
        order = TTFont(face_of(SERIF, 600).path).getGlyphOrder()
        glyphs = [int.from_bytes(pointing[2 * code : 2 * code + 2], "big") for code in codes]
        drawn = [subset["glyf"][names[glyph]].numberOfContours for glyph in glyphs]

    assert 7 == font
    assert [cmap[ord(letter)] for letter in text] == [order[glyph] for glyph in glyphs]
    assert all(count != 0 for count, letter in zip(drawn, text, strict=True) if letter != " ")
    assert all(
        f"<{code:04x}> <{ord(letter):04x}>".encode() in meaning
        for code, letter in zip(codes, text, strict=True)
    )


def test_fonts_are_named_as_they_are_opened():
    """Pages name a font by its place, and the list of fonts has each under its name."""
    fonts = FontSubsets()
    first, second = fonts.of(SANS), fonts.of(SERIF, 600)
    first.show("a")
    second.show("b")
    numbers = iter(range(10, 99))
    objects = fonts.objects(9, lambda: next(numbers))

    assert first is fonts.of(SANS)
    assert [b"/F0", b"/F1"] == [fonts.name_of(first), fonts.name_of(second)]
    assert b"<< /F0 10 0 R /F1 16 0 R >>" == objects[9]
