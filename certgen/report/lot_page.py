"""One lot's packet for somebody else than the certifier as one HTML file, which opens without a network.

It holds the same parts as the packet's pages and no script: there are no registers to search.
"""

from __future__ import annotations

import base64
import hashlib
import re
from typing import TYPE_CHECKING
from urllib.parse import quote

from certgen.manifest import build_manifest
from certgen.report.binder.style import write_style
from certgen.report.packet import build_packet, find_maker, settings_of
from certgen.typeset.html_pages import environment, our_own
from certgen.typeset.parts import Picture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result
    from certgen.manifest import PacketOptions
    from certgen.typeset.parts import Document

#: How the parts name a drawing, and a place in the document; a record's text can't hold a bare quote.
_DRAWING = re.compile(r'<img src="drawing:([^"]*)"[^>]*>')
_PLACE = re.compile(r'<a href="packet:([^"]*)">([^<]*)</a>')


def compose_lot_page(result: Result, options: PacketOptions) -> str:
    """The page of a disclosed season. The same result and options give the same text."""
    from markupsafe import escape

    manifest = build_manifest(result, find_maker(result), options)
    document = build_packet(result, options, manifest=manifest, attachments=())
    jinja = environment()
    sections = [section for chapter in document.front for section in chapter.sections]
    style = write_style(jinja, set(repr(document)))
    html = jinja.get_template("lot.html").render(
        title=settings_of(result).title,
        style=our_own(style),
        style_hash=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        cover=document.cover,
        # The page's own heading stands above those of its sections.
        sections=[(section.level + 1, section) for section in sections],
        foot=document.foot,
    )
    drawings = _draw(document)
    html = _DRAWING.sub(lambda found: drawings[found[1]], html)
    there = {quote(section.anchor): str(escape(section.anchor)) for section in sections}
    return _PLACE.sub(lambda found: _link(found[1], found[2], there), html)


def _link(place: str, text: str, there: Mapping[str, str]) -> str:
    """A link to a place of the page; what has no place here is plain text."""
    return f'<a href="#{there[place]}">{text}</a>' if place in there else text


def _draw(document: Document) -> dict[str, str]:
    """The drawings, which say in words what they show, by name as it stands in the page."""
    from markupsafe import escape

    parts = [part for chapter in document.front for section in chapter.sections for part in section.parts]
    return {str(escape(part.name)): part.svg for part in parts if isinstance(part, Picture)}
