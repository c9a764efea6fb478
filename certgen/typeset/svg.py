"""A few primitives for writing SVG text: everything escaped, every number short."""

from __future__ import annotations

import hashlib
import io
import re
from html import escape as escape_markup

from certgen.typeset.design import COLOURS, RULE, RULE_HAIR, SANS
from certgen.typeset.faces import families

INK = COLOURS["ink"]
QUIET = COLOURS["quiet"]
#: Characters that XML does not allow, not even escaped.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def escape(words: str) -> str:
    """Text as it stands in XML; what XML does not allow becomes U+FFFD."""
    return escape_markup(_NO_XML.sub("\ufffd", words))


def number(value: float) -> str:
    """A coordinate with at most two decimals and no trailing zeros."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 7,
    weight: int = 400,
    anchor: str = "start",
    fill: str = INK,
) -> str:
    """A line of text on its baseline."""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" font-weight="{weight}"'
        f' text-anchor="{anchor}" fill="{fill}">{escape(words)}</text>'
    )


def line(
    x1: float, y1: float, x2: float, y2: float, *, width: float = RULE, stroke: str = INK, dash: str = ""
) -> str:
    """A straight stroke."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
        f' stroke="{stroke}" stroke-width="{number(width)}"{dashes}/>'
    )


def path(d: str, *, width: float = RULE, stroke: str = INK, fill: str = "none", dash: str = "") -> str:
    """A path; `d` is our own."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{d}" fill="{fill}" stroke="{stroke}" stroke-width="{number(width)}"{dashes}/>'


def rect(
    x: float,
    y: float,
    width: float,
    height: float,
    *,
    fill: str = "none",
    stroke: str = "none",
    stroke_width: float = RULE,
    dash: str = "",
) -> str:
    """A rectangle."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}"'
        f' fill="{fill}" stroke="{stroke}" stroke-width="{number(stroke_width)}"{dashes}/>'
    )


def circle(
    x: float, y: float, radius: float, *, fill: str = "none", stroke: str = "none", width: float = RULE
) -> str:
    """A circle."""
    return (
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{fill}"'
        f' stroke="{stroke}" stroke-width="{number(width)}"/>'
    )


def polygon(
    points: list[tuple[float, float]], *, fill: str = "none", stroke: str = "none", width: float = RULE
) -> str:
    """A closed polygon."""
    listed = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return f'<polygon points="{listed}" fill="{fill}" stroke="{stroke}" stroke-width="{number(width)}"/>'


def link(address: str, body: str) -> str:
    """What is drawn, leading to an address."""
    return f'<a href="{escape(address)}">{body}</a>'


def move(parts: list[str], right: float) -> list[str]:
    """The parts, moved to the right."""
    return [f'<g transform="translate({number(right)} 0)">', *parts, "</g>"]


def hatch(x: float, y: float, width: float, height: float, *, step: float = 2.6, cross: bool = False) -> str:
    """Diagonal strokes that fill a rectangle exactly, without clip paths, which some viewers drop."""
    strokes = []
    reach = width + height
    steps = int(reach / step) + 1
    for index in range(1, steps):
        offset = index * step
        # From the left or top edge to the bottom or right edge, rising to the right.
        x1, y1 = (x, y + offset) if offset <= height else (x + offset - height, y + height)
        x2, y2 = (x + offset, y) if offset <= width else (x + width, y + offset - width)
        strokes.append(f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}")
        if cross:
            strokes.append(
                f"M{number(2 * x + width - x1)} {number(y1)}L{number(2 * x + width - x2)} {number(y2)}"
            )
    return path("".join(strokes), width=RULE_HAIR) if strokes else ""


def document(
    width: float,
    height: float,
    title: str,
    description: str,
    body: list[str],
    *,
    ident: str,
    role: str = "img",
) -> str:
    """A whole SVG drawing, `width` × `height` points, with its words for those who don't see it.

    Its `role` is `img`, or `group` where parts of it lead somewhere.
    """
    # One file may hold many drawings: their names must differ.
    ident = f"{ident}-{hashlib.sha256(f'{title}{description}'.encode()).hexdigest()[:8]}"
    fonts = ", ".join(f"'{name}'" for name in families(SANS))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}pt" height="{number(height)}pt"'
        f' viewBox="0 0 {number(width)} {number(height)}" role="{role}"'
        f' aria-labelledby="{escape(ident)}-title {escape(ident)}-desc" font-family="{fonts}, sans-serif">'
        f'<title id="{escape(ident)}-title">{escape(title)}</title>'
        f'<desc id="{escape(ident)}-desc">{escape(description)}</desc>' + "".join(body) + "</svg>"
    )


def qr_code(text: str, *, quiet: int = 0, colour: str = "#000") -> str:
    """A QR code (ISO/IEC 18004) of a text, as small as the text allows, on `quiet` modules of white.

    Readers need four of them; where nothing else stands near, the paper is enough.
    """
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=quiet, xmldecl=False, svgns=True, nl=False, omitsize=not quiet, dark=colour
    )
    return out.getvalue().decode("ascii")
