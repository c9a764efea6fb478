"""The co-op's report as one PDF, set by the same means and in the same design as a season's packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.papers.exports import as_json
from certgen.coop.papers.last_chapters import MANIFEST_LEAD, build_last_chapter, build_manifest
from certgen.coop.papers.member_pages import build_members, title_of
from certgen.coop.papers.overview import build_cover, build_front
from certgen.exchange.interchange.layout import render_json
from certgen.process_pool import Pool, count_cores
from certgen.typeset.compose import Chapters, Manner, compose_pdf, epoch_of, load_setters
from certgen.typeset.legibility import make_legible, tell_unset, unset_letters
from certgen.typeset.parts import Attached, Packet
from certgen.whole_files import write_whole

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.between.result import CoopResult

#: Members whose pages stand among the contents; more would fill pages of them.
_IN_CONTENTS: Final = 60
#: With fewer chapters one process is done before others have loaded the setters.
_WORTH_SHARING: Final = 7


def write_pdf(
    result: CoopResult,
    out: Path,
    *,
    page: str = "A4",
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> None:
    """Write the report to `out`, whole or not at all. `page` is a name in `design.SHEETS`. Raises OSError."""
    packet = build_packet(result)
    workers = count_cores() if len(packet.front) >= _WORTH_SHARING else 1
    with Pool(workers, load_setters) as pool:
        manner = Manner(packet.title, packet.language, page, epoch_of(packet.day))
        data = compose_pdf(packet, page=page, chapters=Chapters(pool, manner), progress=progress)
    write_whole(out, data)


def build_packet(result: CoopResult) -> Packet:
    """The report ready to be set. The result as JSON travels inside."""
    written = (*build_front(result), *build_members(result), build_last_chapter(result))
    cover = build_cover(result)
    unset = unset_letters(cover).union(*(unset_letters(chapter) for chapter in written))
    content = render_json(as_json(result)).removesuffix("\n").encode()
    *front, last = map(make_legible, written)
    many = len(result.members) > _IN_CONTENTS
    return Packet(
        title=f"Seed traceability report of {result.coop.name}",
        language="en",
        running=result.coop.name,
        day=result.on.isoformat(),
        version=result.version,
        cover=tell_unset(make_legible(cover), unset),
        front=tuple(front),
        registers=(),
        back=(last,),
        identifiers=None,
        manifest=build_manifest(result),
        manifest_lead=MANIFEST_LEAD,
        attached=(Attached("coop.json", content, "application/json", "Data", "This report as data"),),
        unlisted=frozenset(title_of(view) for view in result.members) if many else frozenset(),
    )
