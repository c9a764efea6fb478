"""The faces that everything is set in, taken from installed packages, never from the machine.

Text in Latin, Greek and Cyrillic is set in two open families. Names in other scripts use an open face from
whichever of the packages in `OTHER_SCRIPTS` is installed, and only where a text needs it. A letter that no
face has is spelled out as its code point, so that nothing vanishes and every machine prints the same page.
"""

from __future__ import annotations

import importlib.util
import unicodedata
from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from certgen.typeset.design import SANS, SERIF

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Face:
    """One font file as @font-face sees it."""

    family: str
    path: Path
    weight: int
    italic: bool = False


class FaceMissingError(RuntimeError):
    """A font file that certgen sets its pages in is not where its package should have put it."""


_SANS_FILES: Final = (
    ("SourceSansPro-Regular.ttf", 400, False),
    ("SourceSansPro-It.ttf", 400, True),
    ("SourceSansPro-Semibold.ttf", 600, False),
    ("SourceSansPro-Bold.ttf", 700, False),
)
_SERIF_FILES: Final = (
    ("SourceSerifPro-Regular.ttf", 400, False),
    ("SourceSerifPro-It.ttf", 400, True),
    ("SourceSerifPro-Semibold.ttf", 600, False),
)


@dataclass(frozen=True, slots=True)
class Script:
    """Where a face for another script lies, and the code points (first, last) that it is there for."""

    package: str
    pattern: str
    family: str
    ranges: tuple[tuple[int, int], ...]


_HAN: Final = ((0x2E80, 0x303F), (0x31C0, 0x31EF), (0x3200, 0x9FFF), (0xF900, 0xFAFF), (0xFF00, 0xFFEF))
_KANA: Final = ((0x3040, 0x30FF), (0x31F0, 0x31FF))
_HANGUL: Final = ((0x1100, 0x11FF), (0x3130, 0x318F), (0xA960, 0xA97F), (0xAC00, 0xD7FF))
#: Faces of other scripts: small ones come with the extra `scripts`, those of the Far East (30 MB) with `cjk`.
OTHER_SCRIPTS: Final = (
    Script(
        "fontpkg_noto_sans_arabic",
        "files/NotoSansArabic*.ttf",
        "Noto Sans Arabic",
        ((0x0600, 0x06FF), (0x0750, 0x077F), (0x08A0, 0x08FF), (0xFB50, 0xFDFF), (0xFE70, 0xFEFF)),
    ),
    Script("fontpkg_heebo", "files/Heebo*.ttf", "Heebo", ((0x0590, 0x05FF), (0xFB1D, 0xFB4F))),
    Script(
        "fontpkg_noto_sans_devanagari",
        "files/NotoSansDevanagari*.ttf",
        "Noto Sans Devanagari",
        ((0x0900, 0x097F), (0xA8E0, 0xA8FF)),
    ),
    Script("fontpkg_noto_sans_tamil", "files/NotoSansTamil*.ttf", "Noto Sans Tamil", ((0x0B80, 0x0BFF),)),
    Script("fontpkg_noto_sans_telugu", "files/NotoSansTelugu*.ttf", "Noto Sans Telugu", ((0x0C00, 0x0C7F),)),
    Script("fontpkg_noto_sans_thai", "files/NotoSansThai*.ttf", "Noto Sans Thai", ((0x0E00, 0x0E7F),)),
    Script(
        "fontpkg_noto_sans_khmer",
        "files/NotoSansKhmer*.ttf",
        "Noto Sans Khmer",
        ((0x1780, 0x17FF), (0x19E0, 0x19FF)),
    ),
    Script("justmytype_intl_cjk", "fonts/ofl/notosansjp/*.ttf", "Noto Sans JP", _KANA),
    Script("justmytype_intl_cjk", "fonts/ofl/notosanskr/*.ttf", "Noto Sans KR", _HANGUL),
    Script("justmytype_intl_cjk", "fonts/ofl/notosanssc/*.ttf", "Noto Sans SC", _HAN),
)


def _package_folder(package: str) -> Path | None:
    # find_spec reads no code of the package: a folder of fonts needs none.
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        return None
    return Path(next(iter(spec.submodule_search_locations)))


def _family(package: str, family: str, files: tuple[tuple[str, int, bool], ...]) -> list[Face]:
    folder = _package_folder(package)
    if folder is None:
        message = f"the font package {package.replace('_', '-')} is missing; install certgen again"
        raise FaceMissingError(message)
    faces = [Face(family, folder / "files" / name, weight, italic) for name, weight, italic in files]
    for face in faces:
        if not face.path.is_file():
            message = f"the font file {face.path.name} is missing; install {package.replace('_', '-')} again"
            raise FaceMissingError(message)
    return faces


@cache
def own_faces() -> tuple[Face, ...]:
    """The two families that every page is set in. Raises `FaceMissingError`."""
    return (
        *_family("font_source_sans_pro", SANS, _SANS_FILES),
        *_family("font_source_serif_pro", SERIF, _SERIF_FILES),
    )


@cache
def _installed() -> tuple[tuple[Script, Face], ...]:
    installed: list[tuple[Script, Face]] = []
    for script in OTHER_SCRIPTS:
        folder = _package_folder(script.package)
        if folder is not None:
            installed.extend(
                (script, Face(script.family, path, 400)) for path in sorted(folder.glob(script.pattern))[:1]
            )
    return tuple(installed)


@cache
def other_faces() -> tuple[Face, ...]:
    """Faces for other scripts, as far as their packages are installed."""
    return tuple(face for _, face in _installed())


def faces_for(text: str) -> tuple[Face, ...]:
    """Those of `other_faces` that some letter of `text` needs: to load one that nothing uses costs time."""
    codes = {ord(letter) for letter in set(text) if ord(letter) > 0x58F}
    return tuple(
        face
        for script, face in _installed()
        if any(first <= code <= last for code in codes for first, last in script.ranges)
    )


def families(first: str) -> tuple[str, ...]:
    """The families to try, in order, where text is mainly set in `first`."""
    return tuple(dict.fromkeys((first, SANS, SERIF, *(face.family for face in other_faces()))))


def folders() -> tuple[Path, ...]:
    """The folders of all faces, for an engine that searches folders."""
    return tuple(dict.fromkeys(face.path.parent for face in (*own_faces(), *other_faces())))


@cache
def _covered() -> frozenset[int]:
    """Code points that some face has: what the first family lacks is set in the next."""
    from fontTools.ttLib import TTFont

    covered: set[int] = set()
    for face in (*own_faces(), *other_faces()):
        with TTFont(face.path, lazy=True) as font:
            covered.update(font.getBestCmap())
    # Some faces claim code point 0, which no page may hold, and the mark at a file’s head, no letter either.
    # Of those that are newer than this Python nobody knows whether they are letters, or marks at one.
    return frozenset(
        code for code in covered - {0, 0xFEFF} if unicodedata.category(chr(code)) not in {"Cn", "Cs"}
    )


#: What has no shape and steers the setting: it joins letters, or says which way a stretch runs. Signs of this
#: kind that no name needs are spelled out: some would turn words round unseen, some no engine takes.
_STEERING: Final = frozenset("\t\n\r\xad\u061c\u200c\u200d\u200e\u200f\u2066\u2067\u2068\u2069")
#: Ends of lines that are none of ASCII's.
_LINE_ENDS: Final = str.maketrans({"\x85": "\n", "\u2028": "\n", "\u2029": "\n"})


def is_known(letter: str) -> bool:
    """Whether some face has the letter, or it needs none."""
    return ord(letter) in _covered() or letter in _STEERING


def spell_out(text: str) -> str:
    """`text` with each letter that no face has as its code point, `[U+540D]`, rather than left out.

    So is a mark above or below a letter that stands at none.
    """
    shown, before = [], ""
    for letter in text.translate(_LINE_ENDS):
        is_set = is_known(letter)
        if is_set and letter > "\u02ff" and _is_mark(letter):
            is_set = bool(before) and (before.isalnum() or _is_mark(before))
        shown.append(letter if is_set else f"[U+{ord(letter):04X}]")
        before = letter if is_set else ""
    return "".join(shown)


def _is_mark(letter: str) -> bool:
    return unicodedata.category(letter) in {"Mn", "Mc", "Me"}


@cache
def _advances(family: str, weight: int) -> tuple[Mapping[str, int], int]:
    """How wide each letter is, an unknown one as wide as an em; and the em."""
    from fontTools.ttLib import TTFont

    faces = [face for face in own_faces() if face.family == family and not face.italic]
    face = min(faces, key=lambda face: abs(face.weight - weight))
    with TTFont(face.path) as font:
        widths: Any = font["hmtx"].metrics
        known = {chr(code): widths[glyph][0] for code, glyph in font.getBestCmap().items()}
        em: int = font["head"].unitsPerEm
        return defaultdict(lambda: em, known), em


def text_width(text: str, size: float, family: str = SANS, weight: int = 400) -> float:
    """The width of `text` in points at `size`, without kerning; an unknown letter counts as a wide one."""
    advances, em = _advances(family, weight)
    return sum(map(advances.__getitem__, text)) * size / em


def shorten(text: str, room: float, size: float, family: str = SANS, weight: int = 400) -> str:
    """`text`, or its beginning with an ellipsis when it is wider than `room` points."""
    if text_width(text, size, family, weight) <= room:
        return text
    advances, em = _advances(family, weight)
    widths = accumulate(map(advances.__getitem__, text))
    left = room - text_width("…", size, family, weight)
    return text[: bisect_right([width * size / em for width in widths], left)].rstrip() + "…"
