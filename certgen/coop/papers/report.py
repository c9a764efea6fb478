"""The co-op's report as one PDF, set by the same means and in the same design as a season's packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.papers.exports import as_json
from certgen.coop.papers.member_pages import build_members, title_of
from certgen.coop.papers.overview import (
    MANIFEST_LEAD,
    build_cover,
    build_front,
    build_last_chapter,
    build_manifest,
)
from certgen.exchange.interchange.layout import render_json
from certgen.process_pool import Pool, count_cores
from certgen.report.packet import GO_TO, LANGUAGE
from certgen.typeset.compose import ChapterQueue, compose, load_engines
from certgen.typeset.design import Settings, find_sheet
from certgen.typeset.parts import Attachment, Document, RegisterSet

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult

#: Members whose pages stand among the contents; more would fill pages of them.
_IN_CONTENTS: Final = 60
#: With fewer chapters one process is done before others have loaded what sets pages.
_WORTH_SHARING: Final = 7


def set_report(
    result: CoopResult,
    *,
    page: str = "A4",
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The report as PDF. `page` is a name in `design.SHEETS`."""
    settings = settings_of(result, page)
    report = build_report(result)
    workers = count_cores() if len(report.chapters) >= _WORTH_SHARING else 1
    with Pool(workers, load_engines) as pool:
        return compose(report, settings, chapters=ChapterQueue(pool, settings), progress=progress)


def settings_of(result: CoopResult, page: str = "A4") -> Settings:
    """How the report is set on `page`. Raises ValueError for an unknown paper."""
    title = f"Seed traceability report of {result.coop.name}"
    return Settings(title, LANGUAGE, find_sheet(page), result.on, GO_TO)


def build_report(result: CoopResult) -> Document:
    """The report ready to be set. The result as JSON travels inside."""
    content = render_json(as_json(result)).removesuffix("\n").encode()
    many = len(result.members) > _IN_CONTENTS
    return Document(
        head=result.coop.name,
        foot=f"certgen {result.version} · records as of {result.on.isoformat()}",
        producer=f"certgen {result.version}",
        cover=build_cover(result),
        front=(*build_front(result), *build_members(result), build_last_chapter(result)),
        manifest=RegisterSet("Manifest", MANIFEST_LEAD, (build_manifest(result),)),
        attachments=(Attachment("coop.json", content, "application/json", "Data", "This report as data"),),
        unlisted=frozenset(map(title_of, result.members)) if many else frozenset(),
    )
