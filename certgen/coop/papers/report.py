"""The co-op's report as one PDF, set by the same means and in the same design as a season's packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.papers.between_pages import build_between, build_chase
from certgen.coop.papers.control_pages import build_control
from certgen.coop.papers.cover import build_cover, print_of
from certgen.coop.papers.exports import as_json
from certgen.coop.papers.last_pages import (
    build_figures,
    build_manifest,
    build_method,
    build_visits,
)
from certgen.coop.papers.member_pages import build_members, title_of
from certgen.coop.papers.overview import build_balance, build_overview, build_yields
from certgen.exchange.interchange.layout import render_json
from certgen.report.packet import GO_TO, LANGUAGE
from certgen.typeset.compose import compose
from certgen.typeset.design import Settings, find_sheet
from certgen.typeset.parts import Attachment, Chapter, Document, RegisterSet
from certgen.typeset.setting_pool import open_setting_pool

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from certgen.coop.between.result import CoopResult
    from certgen.typeset.parts import Section

#: Members whose pages stand among the contents; more would fill pages of them.
_IN_CONTENTS: Final = 60
#: Rows of tables after which a new page begins, and how many a heading counts for.
_ROWS_TOGETHER: Final = 600
_ROWS_OF_HEADING: Final = 6
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
    with open_setting_pool(page, None if len(report.chapters) >= _WORTH_SHARING else 1) as pool:
        return compose(report, settings, pool=pool, progress=progress)


def settings_of(result: CoopResult, page: str = "A4") -> Settings:
    """How the report is set on `page`. Raises ValueError for an unknown paper."""
    title = f"Seed traceability report of {result.coop.name}"
    return Settings(title, LANGUAGE, find_sheet(page), result.on, GO_TO)


def build_summary(result: CoopResult) -> tuple[Section, ...]:
    """What stands on the contents' page: the co-op at a glance."""
    return (build_overview(result),)


def build_sections(result: CoopResult) -> Iterator[Section]:
    """All sections below the contents' page, in reading order."""
    yield build_chase(result)
    yield build_between(result)
    yield from build_control(result)
    yield build_balance(result)
    yield build_yields(result)
    yield from build_members(result)
    yield build_visits(result)
    yield build_figures(result)
    yield build_method()
    yield build_manifest(result)


def _set_together(sections: Iterable[Section]) -> Iterator[Chapter]:
    """Sections that follow on one another on a page; so many rows together that cores can share the rest."""
    together: list[Section] = []
    rows = 0
    for section in sections:
        if rows > _ROWS_TOGETHER:
            yield Chapter(f"from {together[0].anchor}", tuple(together))
            together, rows = [], 0
        together.append(section)
        rows += _ROWS_OF_HEADING + sum(len(getattr(part, "rows", ())) for part in section.parts)
    yield Chapter(f"from {together[0].anchor}", tuple(together))


def build_report(result: CoopResult) -> Document:
    """The report ready to be set. The result as JSON travels inside."""
    content = render_json(as_json(result)).removesuffix("\n").encode()
    many = len(result.members) > _IN_CONTENTS
    return Document(
        head=result.coop.name,
        foot=f"certgen {result.version} · records as of {result.on.isoformat()} · {print_of(result)}",
        producer=f"certgen {result.version}",
        cover=build_cover(result),
        front=tuple(_set_together(build_sections(result))),
        glossary=build_summary(result),
        # What was handed in stands in a table like the others: few members would leave its pages empty.
        manifest=RegisterSet(),
        attachments=(Attachment("coop.json", content, "application/json", "Data", "This report as data"),),
        unlisted=frozenset(map(title_of, result.members)) if many else frozenset(),
    )
