"""The binder's style sheet: the design's colours by day and by night, and the faces that its letters need."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.typeset import faces
from certgen.typeset.design import COLOURS, SANS, SERIF
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

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


def write_style(jinja: Environment, letters: set[str]) -> str:
    """The style sheet with its faces, cut down to these letters and those a reader may type."""
    others = faces.faces_for("".join(letters))
    typed = {chr(code) for code in range(32, 127)}
    upright = [face for face in (*faces.own_faces(), *others) if not face.italic and face.weight != 700]
    return jinja.get_template("binder.css").render(
        faces=[(face, _embed(face.path, frozenset(letters | typed))) for face in upright],
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


@lru_cache(maxsize=24)
def _embed(path: Path, letters: frozenset[str]) -> str:
    """A face cut down to `letters`, packed as WOFF, as a data address: pages of one season are often made of
    the same ones.
    """
    import uharfbuzz as hb
    from fontTools.ttLib import TTFont

    wanted = hb.SubsetInput()
    wanted.unicode_set.update(ord(letter) for letter in letters)
    # Every feature of the layout, where HarfBuzz would leave out what pages seldom ask for.
    features = wanted.sets(hb.SubsetInputSets.LAYOUT_FEATURE_TAG)
    features.clear()
    features.invert()
    # No hints, and a shape for what the face lacks.
    wanted.flags = hb.SubsetFlags.NO_HINTING | hb.SubsetFlags.NOTDEF_OUTLINE
    cut = hb.subset(hb.Face(hb.Blob.from_file_path(str(path))), wanted).blob.data
    out = io.BytesIO()
    with TTFont(io.BytesIO(cut), recalcTimestamp=False) as font:
        font.flavor = "woff"
        font.save(out)
    return f"data:font/woff;base64,{base64.b64encode(out.getvalue()).decode()}"
