"""Chapters set by WeasyPrint: templates in, tagged PDF out, and nothing fetched from anywhere."""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from certgen.resources import templates_dir
from certgen.typeset import faces
from certgen.typeset.column_widths import FIGURE_INSET, GRID_INSET, with_widths
from certgen.typeset.design import COLOURS, MM, RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.marks import MARKS, draw_clip, draw_mark
from certgen.typeset.parts import Grid, Picture

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from jinja2 import Environment
    from markupsafe import Markup

    from certgen.typeset.design import Settings, Sheet
    from certgen.typeset.parts import Chapter, Cover


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
    """An URL fetcher that knows a chapter's drawings, shapes and faces, and refuses everything else."""
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
            message = f"the packet fetches nothing, and was asked for {url}"
            raise PermissionError(message)

    return BundledOnly()


def set_html(html: str, drawings: Mapping[str, str], epoch: int) -> bytes:
    """A tagged PDF of one HTML text with its drawings."""
    from weasyprint import HTML
    from weasyprint.text.fonts import FontConfiguration

    with fixed_clock(epoch):
        data: bytes = HTML(string=html, url_fetcher=_fetcher(drawings), base_url="packet:").write_pdf(
            font_config=FontConfiguration(), pdf_tags=True, pdf_version="1.7"
        )
    return data


def chapter_html(chapter: Chapter, settings: Settings) -> str:
    """The HTML of a chapter."""
    sections = [
        replace(
            section,
            parts=tuple(
                with_widths(part, settings.sheet) if isinstance(part, Grid) else part
                for part in section.parts
            ),
        )
        for section in chapter.sections
    ]
    return (
        environment()
        .get_template("chapter.html")
        .render(
            title=settings.title,
            language=settings.language,
            style=our_own(style_sheet(settings.sheet, repr(sections))),
            sections=sections,
        )
    )


def set_chapter(chapter: Chapter, settings: Settings) -> bytes:
    """The tagged PDF of a chapter."""
    html = chapter_html(chapter, settings)
    parts = [part for section in chapter.sections for part in section.parts]
    drawings = {part.name: part.svg for part in parts if isinstance(part, Picture)}
    return set_html(html, drawings, settings.epoch)


@dataclass(frozen=True, slots=True)
class ContentsLine:
    """A line of the contents: the heading, its level, and the anchor and number of its page."""

    anchor: str
    title: str
    level: int
    page: int


def set_opening(cover: Cover, contents: Sequence[ContentsLine], settings: Settings) -> bytes:
    """The tagged PDF of the cover and the contents, whose lines stand in reading order."""
    html = (
        environment()
        .get_template("opening.html")
        .render(
            title=settings.title,
            language=settings.language,
            style=our_own(style_sheet(settings.sheet, repr((cover, contents)))),
            cover=cover,
            contents=contents,
        )
    )
    drawings = {cover.code.name: cover.code.svg} if cover.code else {}
    return set_html(html, drawings, settings.epoch)
