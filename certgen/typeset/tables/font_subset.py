"""Fonts cut down to the letters in use, and text as those letters in the bytes that a page shows.

HarfBuzz is asked once how two letters stand beside each other; from then on they are a few bytes. A register
of 20,000 rows has a few hundred different pairs. Only text whose letters stand side by side from left to
right is drawn this way; for all other text there are `forms`.
"""

from __future__ import annotations

import hashlib
import unicodedata
import zlib
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces

if TYPE_CHECKING:
    from collections.abc import Callable

#: The widths in a PDF's fonts are thousandths of the type's size.
_EM: Final = 1000
#: Texts kept as they were drawn: most of a register's are met again soon or never.
_KEPT: Final = 20_000
_FEATURES: Final = {"kern": True, "liga": False, "clig": False, "dlig": False, "calt": False, "ccmp": False}
#: What a letter must not be to stand beside others as it is: a mark on another letter, a control character.
_NOT_ALONE: Final = frozenset({"Mn", "Me", "Mc", "Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
#: Directions of writing that run from left to right, or take the direction of what is around them.
_LEFT_TO_RIGHT: Final = frozenset({"L", "EN", "ES", "ET", "CS", "B", "S", "WS", "ON"})


@cache
def _letters(path: str) -> frozenset[str]:
    """The letters of a face that can be drawn one after the other."""
    import uharfbuzz

    codes = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(path)).unicodes
    return frozenset(
        letter
        for letter in map(chr, codes)
        if unicodedata.category(letter) not in _NOT_ALONE
        and unicodedata.bidirectional(letter) in _LEFT_TO_RIGHT
    )


class FontSubset:
    """One face: its words in the bytes that a page shows, and in the end the font that holds their letters.

    A letter's code in the file is its place in the order of first use; so the same text gives the same file.
    """

    def __init__(self, face: faces.Face) -> None:
        import uharfbuzz

        self._face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(face.path)))
        self._font = uharfbuzz.Font(self._face)
        self._letters = _letters(str(face.path))
        #: (glyph, letter) -> code
        self._codes: dict[tuple[int, str], int] = {}
        self._advances: list[int] = []
        self._pairs: dict[str, tuple[int, bytes]] = {}
        self._known: dict[str, tuple[float, bytes]] = {}
        self._to_thousandths = _EM / self._face.upem
        self.cap_height: float = self._metric("CAP_HEIGHT") / self._face.upem
        self.name = face.path.stem

    def _metric(self, name: str) -> float:
        import uharfbuzz

        return float(self._font.get_metric_position(getattr(uharfbuzz.OTMetricsTag, name)) or 0)

    def can_show(self, text: str) -> bool:
        """Whether the text is nothing but letters of this face, side by side from left to right."""
        return self._letters.issuperset(text)

    def spell_out(self, text: str) -> str:
        """The text with each letter that the face cannot show as its code point, `[U+540D]`."""
        if self.can_show(text):
            return text
        return "".join(letter if letter in self._letters else f"[U+{ord(letter):04X}]" for letter in text)

    def show(self, text: str) -> tuple[float, bytes]:
        """A text's width for type of size 1, and what stands for it in the array that a page shows.

        `text` is anything that `can_show` says yes to. Raises ValueError for other text.
        """
        shown = self._known.get(text)
        if shown is None:
            if not self.can_show(text):
                message = f"{text!r} is more than letters of {self.name} side by side"
                raise ValueError(message)
            if len(self._known) >= _KEPT:
                self._known.clear()
            shown = self._known[text] = self._compose(text)
        return shown

    def _compose(self, text: str) -> tuple[float, bytes]:
        pairs = self._pairs
        width, pieces = 0, []
        for at in range(len(text)):
            # A letter stands as close to the one before it as the face wants these two to stand.
            pair = text[at - 1 : at + 1] if at else text[0]
            fitted = pairs.get(pair)
            if fitted is None:
                fitted = pairs[pair] = self._fit(pair)
            width += fitted[0]
            pieces.append(fitted[1])
        return width / _EM, b"<" + b"".join(pieces) + b">"

    def _fit(self, pair: str) -> tuple[int, bytes]:
        """How far the pair's last letter moves the pen, and its code, after what brings it nearer."""
        glyph, advance = self._shape(pair[-1])[0]
        code = self._code(glyph, pair[-1], advance)
        kern = self._shape(pair)[0][1] - self._shape(pair[0])[0][1] if len(pair) == 2 else 0
        return advance + kern, b">%d<%04x" % (-kern, code) if kern else b"%04x" % code

    def _shape(self, letters: str) -> list[tuple[int, int]]:
        """Glyph and advance of each letter, in thousandths."""
        import uharfbuzz

        buffer = uharfbuzz.Buffer()
        buffer.add_str(letters)
        buffer.direction, buffer.script, buffer.language = "ltr", "Latn", "en"
        uharfbuzz.shape(self._font, buffer, _FEATURES)
        return [
            (info.codepoint, round(position.x_advance * self._to_thousandths))
            for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
        ]

    def _code(self, glyph: int, letter: str, advance: int) -> int:
        key = (glyph, letter)
        code = self._codes.get(key)
        if code is None:
            # Code 0 stands for a letter that is missing, whatever a font makes of it.
            code = self._codes[key] = len(self._codes) + 1
            self._advances.append(advance)
        return code

    def font_objects(self, new_number: Callable[[], int]) -> tuple[int, dict[int, bytes]]:
        """The font as a PDF's objects (ISO 32000-1, 9.7), and the number of the one that stands for it."""
        font, descendant, about, file, meaning, pointing = (new_number() for _ in range(6))
        data = self._subset()
        name = _tag(data) + b"+" + self.name.encode()
        glyphs = b"\0\0" + b"".join(glyph.to_bytes(2, "big") for glyph, _ in self._codes)
        widths = b" ".join(b"%d" % advance for advance in self._advances)
        box = self._box()
        scale = self._to_thousandths
        extents = self._font.get_font_extents("ltr")
        return font, {
            font: b"<< /Type /Font /Subtype /Type0 /BaseFont /%b /Encoding /Identity-H"
            b" /DescendantFonts [ %d 0 R ] /ToUnicode %d 0 R >>" % (name, descendant, meaning),
            descendant: b"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /%b /CIDSystemInfo"
            b" << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> /FontDescriptor %d 0 R"
            b" /CIDToGIDMap %d 0 R /W [ 1 [ %b ] ] >>" % (name, about, pointing, widths),
            about: b"<< /Type /FontDescriptor /FontName /%b /Flags 4 /FontBBox [ %b ] /ItalicAngle 0"
            b" /Ascent %d /Descent %d /CapHeight %d /StemV 80 /FontFile2 %d 0 R >>"
            % (
                name,
                box,
                round(extents.ascender * scale),
                round(extents.descender * scale),
                round(self.cap_height * _EM),
                file,
            ),
            file: stream_of(data, b" /Length1 %d" % len(data)),
            meaning: stream_of(self._meaning()),
            pointing: stream_of(glyphs),
        }

    def _box(self) -> bytes:
        import io

        from fontTools.ttLib import TTFont

        with TTFont(io.BytesIO(self._face.blob.data), lazy=True) as font:
            head = font["head"]
            sides = (head.xMin, head.yMin, head.xMax, head.yMax)
        return b" ".join(b"%d" % round(side * self._to_thousandths) for side in sides)

    def _subset(self) -> bytes:
        """The face's file with the letters that were used and no others; glyphs keep their numbers."""
        import uharfbuzz

        subset = uharfbuzz.SubsetInput()
        subset.glyph_set.update({glyph for glyph, _ in self._codes})
        subset.flags = uharfbuzz.SubsetFlags.RETAIN_GIDS | uharfbuzz.SubsetFlags.NO_HINTING
        for table in ("GSUB", "GPOS", "GDEF", "name", "DSIG", "kern", "STAT"):
            subset.drop_table_tag_set.add(table_tag(table))
        return bytes(uharfbuzz.subset(self._face, subset).blob.data)

    def _meaning(self) -> bytes:
        """What each code means, so that text can be copied and read aloud (ISO 32000-1, 9.10.3)."""
        pairs = [
            b"<%04x> <%b>" % (code, letter.encode("utf-16-be").hex().encode())
            for (_, letter), code in self._codes.items()
        ]
        blocks = [
            b"%d beginbfchar\n%b\nendbfchar" % (len(block), b"\n".join(block))
            for block in (pairs[start : start + 100] for start in range(0, len(pairs), 100))
        ]
        return (
            b"/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
            b"/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
            b"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
            b"1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n%b\n"
            b"endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend" % b"\n".join(blocks)
        )


def table_tag(name: str) -> int:
    """A font table's name as the number that HarfBuzz knows it by."""
    return int.from_bytes(name.encode("ascii"), "big")


def stream_of(data: bytes, more: bytes = b"") -> bytes:
    """A compressed stream object holding `data`, with `more` entries in its dictionary."""
    packed = zlib.compress(data, 6)
    return b"<<%b /Filter /FlateDecode /Length %d >>\nstream\n%b\nendstream" % (more, len(packed), packed)


def _tag(data: bytes) -> bytes:
    """Six capitals that differ where the subset differs (ISO 32000-1, 9.6.4)."""
    number = int.from_bytes(hashlib.sha256(data).digest()[:8], "big")
    letters = []
    for _ in range(6):
        number, letter = divmod(number, 26)
        letters.append(ord("A") + letter)
    return bytes(letters)


def face_of(family: str, weight: int) -> faces.Face:
    """The upright face of one of our two families."""
    return next(
        face
        for face in faces.own_faces()
        if face.family == family and face.weight == weight and not face.italic
    )


@dataclass(slots=True)
class FontSubsets:
    """The fonts that pages are drawn in, opened when first needed: each has its name in the pages."""

    _open: dict[tuple[str, int], FontSubset] = field(default_factory=dict)

    def of(self, family: str, weight: int = 400) -> FontSubset:
        """The font of a family and weight."""
        key = (family, weight)
        if key not in self._open:
            self._open[key] = FontSubset(face_of(family, weight))
        return self._open[key]

    def name_of(self, font: FontSubset) -> bytes:
        """What the pages call a font."""
        return b"/F%d" % list(self._open.values()).index(font)

    def objects(self, number: int, new_number: Callable[[], int]) -> dict[int, bytes]:
        """All fonts as objects; the one of this `number` is the dictionary that pages name as their fonts."""
        objects: dict[int, bytes] = {}
        named = []
        for font in self._open.values():
            entry, parts = font.font_objects(new_number)
            objects |= parts
            named.append(b"%b %d 0 R" % (self.name_of(font), entry))
        return {number: b"<< %b >>" % b" ".join(named), **objects}
