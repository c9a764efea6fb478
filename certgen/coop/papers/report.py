"""The co-op's report as one PDF, set by the same means and in the same design as a season's packet."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Final

import pikepdf

from certgen.coop.papers.exports import as_json
from certgen.coop.papers.last_chapters import MANIFEST_LEAD, build_closing, build_manifest
from certgen.coop.papers.member_pages import build_members, title_of
from certgen.coop.papers.overview import build_cover, build_front
from certgen.process_pool import Pool, count_cores
from certgen.typeset.compose import epoch_of, spoken
from certgen.typeset.conformance import attach, declare
from certgen.typeset.design import SHEETS
from certgen.typeset.html_pages import set_chapter, set_opening
from certgen.typeset.joining import Binding
from certgen.typeset.parts import Attached
from certgen.typeset.running_heads import Running, draw_running_heads
from certgen.typeset.tables.layout import set_registers
from certgen.whole_files import write_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from certgen.coop.between.result import CoopResult
    from certgen.typeset.parts import Chapter

_LANGUAGE: Final = "en"
_IN_CONTENTS: Final = 60


def write_pdf(
    result: CoopResult,
    out: Path,
    *,
    page: str = "A4",
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> None:
    """Write the report to `out`, whole or not at all. `page` is a name in `design.SHEETS`. Raises OSError."""
    write_whole(out, compose_pdf(result, page=page, progress=progress))


def compose_pdf(
    result: CoopResult,
    *,
    page: str = "A4",
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> bytes:
    """The report's bytes. The same result gives the same bytes. The result as JSON travels inside."""
    if page not in SHEETS:
        message = f"there is no paper size {page!r}; choose from {', '.join(SHEETS)}"
        raise ValueError(message)
    title = f"Seed traceability report of {result.coop.name}"
    epoch = epoch_of(result.on.isoformat())
    chapters = [*build_front(result), *build_members(result), build_closing(result)]
    body = Binding()
    for number, (chapter, file) in enumerate(_set_all(chapters, title, page, epoch), start=1):
        body.append(file, levels=[section.level for section in chapter.sections])
        progress(number, len(chapters))
    manifest = set_registers(
        (build_manifest(result),),
        heading="Manifest",
        lead=MANIFEST_LEAD,
        language=_LANGUAGE,
        sheet_name=page,
        epoch=epoch,
        first_object=body.next_object,
        first_key=body.next_key,
        spoken=spoken,
    )
    for quire in manifest:
        body.append_quire(quire)
    body.open_with(_opening(result, body, title, page, epoch))
    foot = f"certgen {result.version} · records as of {result.on.isoformat()}"
    draw_running_heads(body, Running(result.coop.name, foot, page, _LANGUAGE, epoch))
    body.finish(language=_LANGUAGE, spoken=spoken)
    content = json.dumps(as_json(result), ensure_ascii=False, indent=1).encode()
    attach(
        body.pdf, [Attached("coop.json", content, "application/json", "Data", "This report as data")], epoch
    )
    declare(body.pdf, title=title, language=_LANGUAGE, epoch=epoch, version=result.version)
    return body.save()


def _set_all(chapters: list[Chapter], title: str, page: str, epoch: int) -> Iterator[tuple[Chapter, bytes]]:
    """Each chapter set, in order; long reports on every core."""
    with Pool(count_cores() if len(chapters) > 6 else 1) as pool:
        waiting = [pool.send(_set, chapter, title, page, epoch) for chapter in chapters]
        for chapter, future in zip(chapters, waiting, strict=True):
            yield chapter, future.result()


def _set(chapter: Chapter, title: str, page: str, epoch: int) -> bytes:
    return set_chapter(chapter, title=title, language=_LANGUAGE, sheet_name=page, epoch=epoch)


def _opening(result: CoopResult, body: Binding, title: str, page: str, epoch: int) -> bytes:
    """The cover and the contents; the contents name pages, so they are set until their own length fits."""
    before = 2
    # A large co-op's members would fill pages of contents; they are among the bookmarks, and listed.
    many = len(result.members) > _IN_CONTENTS
    hidden = {title_of(view) for view in result.members} if many else set()
    while True:
        contents = [
            {
                "anchor": mark.anchor,
                "title": mark.title,
                "level": str(mark.level),
                "page": str(mark.page + before + 1),
            }
            for mark in body.marks
            if mark.level <= 2 and mark.title not in hidden
        ]
        opening = set_opening(
            build_cover(result), contents, title=title, language=_LANGUAGE, sheet_name=page, epoch=epoch
        )
        with pikepdf.open(io.BytesIO(opening)) as pdf:
            count = len(pdf.pages)
        if count == before:
            return opening
        before = count
