"""The first page, set by WeasyPrint: a template in, tagged PDF out, and nothing fetched from anywhere."""

from __future__ import annotations

import atexit
import base64
import os
from contextlib import contextmanager
from dataclasses import asdict, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from certgen.resources import templates_dir
from certgen.typeset import faces
from certgen.typeset.addresses import PICTURE_ADDRESSES
from certgen.typeset.column_widths import FIGURE_INSET, GRID_INSET, with_widths
from certgen.typeset.design import COLOURS, MM, RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.marks import MARKS, draw_clip, draw_mark
from certgen.typeset.parts import Grid, Picture

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from jinja2 import Environment
    from markupsafe import Markup
    from weasyprint import CSS
    from weasyprint.document import Document as WeasyPrintDocument
    from weasyprint.text.fonts import FontConfiguration

    from certgen.typeset.design import Settings, Sheet
    from certgen.typeset.first_page import Cover
    from certgen.typeset.parts import Fact, Part


@cache
def environment() -> Environment:
    """The Jinja environment of every template: everything escaped, every name known."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(templates_dir()),
        # Every template escapes, whatever its suffix: a name in the records must never become markup.
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@contextmanager
def fixed_clock(epoch: int) -> Iterator[None]:
    """Libraries that write a date into a file take this one instead of the time of day."""
    before = os.environ.get("SOURCE_DATE_EPOCH")
    os.environ["SOURCE_DATE_EPOCH"] = str(epoch)
    try:
        yield
    finally:
        if before is None:
            del os.environ["SOURCE_DATE_EPOCH"]
        else:
            os.environ["SOURCE_DATE_EPOCH"] = before


def style_sheet(sheet: Sheet, text: str = "") -> str:
    """The style sheet for a paper size, every figure of the design filled in, with the faces of `text`."""
    known = (*faces.own_faces(), *faces.other_faces())
    needed = {*faces.own_faces(), *faces.faces_for(text)}
    return (
        environment()
        .get_template("packet.css")
        .render(
            faces=[
                {
                    "family": face.family,
                    "url": f"face:{number}",
                    "weight": face.weight,
                    "style": "italic" if face.italic else "normal",
                }
                for number, face in enumerate(known)
                if face in needed
            ],
            sheet={
                "width": sheet.width,
                "height": sheet.height,
                "top": sheet.top,
                "right": sheet.right,
                "bottom": sheet.bottom,
                "left": sheet.left,
                "column": sheet.column,
                "notes": sheet.notes,
            },
            cover_top=sheet.top + 10 * MM,
            notes_and_gutter=sheet.measure - sheet.column,
            type={name: asdict(step) for name, step in TYPE.items()},
            colour=COLOURS,
            rule={"heavy": RULE_HEAVY, "normal": RULE, "hair": RULE_HAIR},
            sans=css_families(SANS),
            serif=css_families(SERIF),
            marks=MARKS,
            grid_inset=GRID_INSET,
            figure_inset=FIGURE_INSET,
        )
    )


def css_families(first: str) -> Markup:
    """The families to try, as a style sheet lists them."""
    return our_own(", ".join(f'"{name}"' for name in faces.families(first)))


def our_own(text: str) -> Markup:
    """Text that certgen wrote itself and that must not be escaped: styles, scripts, drawings. Never a
    record's."""
    from markupsafe import Markup

    return Markup(text)  # noqa: S704


def _fetcher(drawings: Mapping[str, str]) -> Any:
    """An URL fetcher that knows a page's drawings, shapes and faces, and refuses everything else."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    known = (*faces.own_faces(), *faces.other_faces())

    class BundledOnly(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:  # noqa: ARG002
            scheme, _, name = url.partition(":")
            if scheme == "drawing" and name in drawings:
                return URLFetcherResponse(url, drawings[name], {"Content-Type": "image/svg+xml"})
            if scheme == "mark" and name == "clip":
                return URLFetcherResponse(url, draw_clip(), {"Content-Type": "image/svg+xml"})
            if scheme == "mark" and name in MARKS:
                return URLFetcherResponse(url, draw_mark(name), {"Content-Type": "image/svg+xml"})
            if scheme == "face" and name.isdigit() and int(name) < len(known):
                data = known[int(name)].path.read_bytes()
                return URLFetcherResponse(url, data, {"Content-Type": "font/ttf"})
            if url.startswith(PICTURE_ADDRESSES):
                kind, _, packed = url.removeprefix("data:").partition(";base64,")
                return URLFetcherResponse(url, base64.b64decode(packed), {"Content-Type": kind})
            message = f"the packet fetches nothing, and was asked for {url[:200]}"
            raise PermissionError(message)

    return BundledOnly()


@lru_cache(maxsize=8)
def read_style(text: str) -> tuple[CSS, FontConfiguration]:
    """A style sheet read, with its faces: to read it takes a sixth of the time of a page."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    return CSS(string=text, font_config=fonts, url_fetcher=_fetcher({}), base_url="packet:"), fonts


# What holds the faces takes its temporary folder along, as long as Python can.
atexit.register(read_style.cache_clear)


def _lay_out_pages(html: str, style: str, drawings: Mapping[str, str]) -> WeasyPrintDocument:
    """The pages of one HTML text with its style sheet and drawings."""
    from weasyprint import HTML

    css, fonts = read_style(style)
    document = HTML(string=html, url_fetcher=_fetcher(drawings), base_url="packet:")
    return document.render(font_config=fonts, stylesheets=[css], pdf_tags=True, pdf_version="1.7")


def _set_html(html: str, style: str, drawings: Mapping[str, str], epoch: int) -> bytes:
    """A tagged PDF of them."""
    with fixed_clock(epoch):
        pages = _lay_out_pages(html, style, drawings)
        data: bytes = pages.write_pdf(pdf_tags=True, pdf_version="1.7")
    return data


def _with_widths(parts: Iterable[Part], sheet: Sheet) -> tuple[Part, ...]:
    return tuple(with_widths(part, sheet) if isinstance(part, Grid) else part for part in parts)


def _drawings_in(parts: Iterable[Part]) -> dict[str, str]:
    return {part.name: part.svg for part in parts if isinstance(part, Picture)}


def set_cover(cover: Cover, settings: Settings) -> bytes:
    """The tagged PDF of the first page; nothing in it may wait for the number of a page any more."""
    return _set_html(*_show_cover(cover, settings), settings.epoch)


def count_cover_pages(cover: Cover, settings: Settings) -> int:
    """On how many pages a cover would stand: to lay them out takes half the time of setting them."""
    return len(_lay_out_pages(*_show_cover(cover, settings)).pages)


def _show_cover(cover: Cover, settings: Settings) -> tuple[str, str, dict[str, str]]:
    """The HTML of a cover with its style sheet and drawings."""
    bands = [replace(band, parts=_with_widths(band.parts, settings.sheet)) for band in cover.bands]
    html = (
        environment()
        .get_template("cover.html")
        .render(
            title=settings.title,
            language=settings.language,
            cover=replace(cover, bands=tuple(bands)),
            facts=[("Season and standards", _halve(cover.facts)), ("This file", _halve(cover.file))],
        )
    )
    drawings = _drawings_in(part for band in cover.bands for part in band.parts)
    if cover.code:
        drawings[cover.code.name] = cover.code.svg
    return html, style_sheet(settings.sheet, repr(cover)), drawings


def _halve(facts: Sequence[Fact]) -> tuple[Sequence[Fact], Sequence[Fact]]:
    """Facts for two columns, of which the first may be the shorter one: what is longest stands first."""
    half = len(facts) // 2
    return facts[:half], facts[half:]
