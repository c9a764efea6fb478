"""The binder's style sheet: the design's colours by day and by night, and the faces that its letters need."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.disk_cache import DiskCache, hash_files
from certgen.typeset import faces
from certgen.typeset.design import COLOURS, SANS, SERIF
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Iterable

    from jinja2 import Environment
    from markupsafe import Markup

#: The same colours on a dark page: text at 4.5:1 at least, strokes that mean something at 3:1.
DARK: Final = MappingProxyType(
    {
        "ink": "#e7ebe8",
        "quiet": "#aab5b1",
        "rule": "#75817c",
        "hair": "#3a4441",
        "wash": "#1e2623",
        "paper": "#131816",
        "traced": "#7fc7b1",
        "unproven": "#e3b055",
        "rejected": "#f28f7d",
        "unaccounted": "#c2c6c4",
        "accent": "#7fc7b1",
    }
)
#: What a drawing names by figures, and the page by words: a drawing follows the page into the dark.
_NAMED: Final = {figure: name for name, figure in reversed(list(COLOURS.items())) if name in DARK}
_FIGURES: Final = re.compile("|".join(map(re.escape, _NAMED)))


#: What all kept faces may take on disk, in bytes, and what one may.
_KEPT_BYTES: Final = 16 << 20
_FACE_BYTES: Final = 4 << 20


@dataclass(frozen=True, slots=True)
class _CutFace:
    """A face with some letters, as WOFF."""

    data: bytes


def write_style(jinja: Environment, letters: set[str], *, cache: Path | None = None) -> str:
    """The style sheet with its faces, cut down to these letters and those a reader may type.

    To cut them takes seconds: `cache` is a folder where they are kept from run to run, None for none.
    """
    others = faces.faces_for("".join(letters))
    typed = {chr(code) for code in range(32, 127)}
    upright = [face for face in (*faces.own_faces(), *others) if not face.italic and face.weight != 700]
    return jinja.get_template("binder.css").render(
        faces=[(face, _embed(face, frozenset(letters | typed), cache)) for face in upright],
        light=[(name, COLOURS[name]) for name in DARK],
        dark=list(DARK.items()),
        sans=_families(SANS, others),
        serif=_families(SERIF, others),
    )


def follow_colours(drawing: str) -> Markup:
    """A drawing of ours whose colours are the page's own, by day and by night."""
    return our_own(_FIGURES.sub(lambda found: f"var(--{_NAMED[found[0]]})", drawing))


def hash_text(text: str) -> str:
    """A script's or a style's SHA-256 as a content-security policy names it."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _families(first: str, others: Iterable[faces.Face]) -> Markup:
    """The families as the style sheet lists them; a name that they lack is set as the device sets it."""
    names = dict.fromkeys((first, *(face.family for face in others)))
    return our_own(", ".join(f'"{name}"' for name in names))


def _embed(face: faces.Face, letters: frozenset[str], cache: Path | None) -> str:
    """A face cut down to `letters`, as a data address."""
    kept = DiskCache(cache, ".face", _CutFace, most_bytes=_KEPT_BYTES, entry_bytes=_FACE_BYTES)
    key = ("", "", "")
    if cache is not None:
        key = (hash_files([face.path, Path(__file__)]), version("fonttools"), "".join(sorted(letters)))
        found = kept.load(*key)
        if found is not None:
            return _address(found.data)
    data = _cut(face.path, letters)
    if cache is not None:
        kept.store(_CutFace(data), *key)
        kept.prune()
    return _address(data)


def _address(data: bytes) -> str:
    return f"data:font/woff;base64,{base64.b64encode(data).decode()}"


@lru_cache(maxsize=24)
def _cut(path: Path, letters: frozenset[str]) -> bytes:
    """A face cut down to `letters`. Pages of one season are often made of the same ones."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    out = io.BytesIO()
    with TTFont(path, recalcTimestamp=False) as font:
        cutter = Subsetter(Options(layout_features=["*"], hinting=False, notdef_outline=True))
        cutter.populate(unicodes=[ord(letter) for letter in letters])
        cutter.subset(font)
        font.flavor = "woff"
        font.save(out)
    return out.getvalue()
