"""The faces of the packet, taken from installed packages, never from the machine.

Text in Latin, Greek and Cyrillic is set in two open families that come with certgen. Names in other
scripts use an open face from whichever of the packages in `OTHER_SCRIPTS` is installed; when none
covers a script the machine's own fonts are asked, and only then the page may look different elsewhere.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from certgen.report.design import SANS, SERIF

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
#: Packages of open faces for other scripts: (package, file pattern, family).
OTHER_SCRIPTS: Final = (
    ("fontpkg_noto_sans_arabic", "files/NotoSansArabic*.ttf", "Noto Sans Arabic"),
    ("fontpkg_heebo", "files/Heebo*.ttf", "Heebo"),
    ("fontpkg_noto_sans_devanagari", "files/NotoSansDevanagari*.ttf", "Noto Sans Devanagari"),
    ("fontpkg_noto_sans_tamil", "files/NotoSansTamil*.ttf", "Noto Sans Tamil"),
    ("fontpkg_noto_sans_telugu", "files/NotoSansTelugu*.ttf", "Noto Sans Telugu"),
    ("fontpkg_noto_sans_thai", "files/NotoSansThai*.ttf", "Noto Sans Thai"),
    ("fontpkg_noto_sans_khmer", "files/NotoSansKhmer*.ttf", "Noto Sans Khmer"),
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
    found = [Face(family, folder / "files" / name, weight, italic) for name, weight, italic in files]
    for face in found:
        if not face.path.is_file():
            message = f"the font file {face.path.name} is missing; install {package.replace('_', '-')} again"
            raise FaceMissingError(message)
    return found


@cache
def own_faces() -> tuple[Face, ...]:
    """The two families that every page is set in. Raises `FaceMissingError`."""
    return (
        *_family("font_source_sans_pro", SANS, _SANS_FILES),
        *_family("font_source_serif_pro", SERIF, _SERIF_FILES),
    )


@cache
def other_faces() -> tuple[Face, ...]:
    """Faces for other scripts, as far as their packages are installed."""
    found: list[Face] = []
    for package, pattern, family in OTHER_SCRIPTS:
        folder = _package_folder(package)
        if folder is not None:
            found.extend(Face(family, path, 400) for path in sorted(folder.glob(pattern))[:1])
    return tuple(found)


def families(first: str) -> tuple[str, ...]:
    """The families to try, in order, where text is mainly set in `first`."""
    return (first, *dict.fromkeys(face.family for face in other_faces()))


def folders() -> tuple[Path, ...]:
    """The folders of all faces, for a setter that searches folders."""
    return tuple(dict.fromkeys(face.path.parent for face in (*own_faces(), *other_faces())))


@cache
def _advances(family: str, weight: int) -> tuple[Mapping[int, int], int]:
    from fontTools.ttLib import TTFont

    faces = [face for face in own_faces() if face.family == family and not face.italic]
    face = min(faces, key=lambda one: abs(one.weight - weight))
    with TTFont(face.path) as font:
        widths: Any = font["hmtx"].metrics
        advances = {code: widths[glyph][0] for code, glyph in font.getBestCmap().items()}
        return advances, font["head"].unitsPerEm


def text_width(text: str, size: float, family: str = SANS, weight: int = 400) -> float:
    """The width of `text` in points at `size`, without kerning; an unknown letter counts as a wide one."""
    advances, em = _advances(family, weight)
    return sum(advances.get(ord(letter), em) for letter in text) * size / em


def shorten(text: str, room: float, size: float, family: str = SANS, weight: int = 400) -> str:
    """`text`, or its beginning with an ellipsis when it is wider than `room` points."""
    if text_width(text, size, family, weight) <= room:
        return text
    kept = text
    while kept and text_width(kept + "…", size, family, weight) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"
