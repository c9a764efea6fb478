"""A whole document as one PDF: its parts set side by side on the cores, joined and numbered.

Order of work: this process and another have Typst set the chapters and the registers. Their pages are then
known, so the index and the manifest are set; then the cover (by WeasyPrint) and the contents, which name
pages; then all are joined, the running heads with 'page x of y' are drawn over them, and files are put
inside. What opens the document is set by `opening`.
"""

from __future__ import annotations

from concurrent.futures import BrokenExecutor
from itertools import count
from typing import TYPE_CHECKING, Final

from certgen.collector import pause_collector
from certgen.process_pool import Pool
from certgen.typeset.conformance import declare, embed, list_attached
from certgen.typeset.entries import Entries
from certgen.typeset.joining import JoinedFile
from certgen.typeset.opening import find_fitting, legible_covers, set_opening
from certgen.typeset.page_batch import number_files
from certgen.typeset.pango import hold_pango
from certgen.typeset.parts import GapCard, Grid
from certgen.typeset.registers import set_registers
from certgen.typeset.running_heads import draw_running_heads
from certgen.typeset.shared_setting import SharedChapters, leads_only_to, offer_registers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from certgen.process_pool import Promised
    from certgen.typeset.design import Settings
    from certgen.typeset.first_page import Cover
    from certgen.typeset.opening import Opening
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Document, RegisterSet, Section
    from certgen.typeset.registers import SetBatch

    #: Is given what was set, how many pieces are done by now and how many there are.
    Progress = Callable[[str, int, int], None]

#: A document of more pages has an index that takes much memory.
_MANY_PAGES: Final = 200


@pause_collector()
def compose(
    document: Document,
    settings: Settings,
    *,
    pool: Pool | None = None,
    begun: list[Promised[SetBatch]] | None = None,
    progress: Progress = lambda _what, _done, _all: None,
) -> bytes:
    """The document's bytes. The same document and settings give the same bytes.

    `pool` are the processes that help (None: this one sets all), `begun` the document's registers if they
    were begun, which are taken out of it. Raises `PangoMissingError` where the system can't set pages.
    """
    hold_pango()
    pool = pool or Pool(0)
    try:
        joined, summary, covers, done = _join_chapters(document, settings, pool, progress, begun or [])
    except BrokenExecutor:
        # A process ended before its work: the system may allow none, or have no memory left for two.
        pool.work_alone()
        joined, summary, covers, done = _join_chapters(document, settings, pool, progress, [])
    manifest = _set_registers(document.manifest, settings, joined.numbering, None, joined.files)
    opening = _set_opening(document, summary, joined, manifest, covers, settings, pool)
    if opening.index:
        joined.append_batch(opening.index)
    for batch in manifest:
        joined.append_batch(batch)
    joined.open_with(opening.parts)
    progress("index and contents", next(done), _count_steps(document))
    draw_running_heads(joined, document.head, document.foot, settings, code=document.code)
    joined.specs = embed(joined.pdf, document.attachments, settings.epoch)
    joined.finish(settings)
    list_attached(joined.pdf, joined.specs)
    declare(joined.pdf, settings, document.producer)
    data = joined.save()
    progress("file", next(done), _count_steps(document))
    return data


def _set_opening(
    document: Document,
    summary: Sequence[PageBatch],
    joined: JoinedFile,
    manifest: Sequence[PageBatch],
    covers: list[Cover],
    settings: Settings,
    pool: Pool,
) -> Opening:
    """The opening and the index. To set a long index takes the memory that the others hold: it has a process
    of its own, once they went home."""
    is_apart = pool.is_several and len(joined.pages) > _MANY_PAGES
    if is_apart:
        pool.work_alone()
    try:
        with Pool(int(is_apart), fresh=True) as apart:
            return set_opening(document, summary, joined, manifest, covers, settings, pool, apart)
    except BrokenExecutor:
        pool.work_alone()
        return set_opening(document, summary, joined, manifest, covers, settings, pool, Pool(0))


def _count_steps(document: Document) -> int:
    """Each chapter, the registers if there are any, the pages that name others, and the file."""
    return len(document.chapters) + bool(document.registers.registers) + 2


def _join_chapters(
    document: Document,
    settings: Settings,
    pool: Pool,
    progress: Progress,
    begun: list[Promised[SetBatch]],
) -> tuple[JoinedFile, list[PageBatch], list[Cover], Iterator[int]]:
    """All but the opening, the index and the manifest; the summary's pages; the covers that may fit; the
    counter of what is done. `begun` are the registers, set as if all anchors had a place.
    """
    joined = JoinedFile(files=number_files(attachment.name for attachment in document.attachments))
    done = count(1)
    known = known_anchors(document)

    def tell(name: str) -> None:
        progress(name, next(done), _count_steps(document))

    fitting = pool.offer(find_fitting, legible_covers(document), settings)
    if not (begun and leads_only_to(known.union(joined.files), document.registers)):
        begun = offer_registers(document.registers, settings, pool, known, joined.files)
    with SharedChapters(document, settings, pool, known, joined, tell) as chapters:
        batches = chapters.number_registers(begun)
        numbered = chapters.number_all()
    for chapter in document.front:
        joined.append_batch(numbered[id(chapter)])
    for batch in batches:
        joined.append_batch(batch)
    for chapter in document.back:
        joined.append_batch(numbered[id(chapter)])
    return joined, [numbered[id(chapter)] for chapter in document.summary], fitting.obtain(), done


def _set_registers(
    registers: RegisterSet,
    settings: Settings,
    start: Numbering,
    known: frozenset[str] | None,
    files: Mapping[str, int],
) -> list[PageBatch]:
    if not registers.registers:
        return []
    return list(set_registers(registers, settings, start, known, files))


def known_anchors(document: Document) -> frozenset[str]:
    """The anchors that have a place in the document: a register's link to any other is set as plain text."""
    sections = [*document.glossary, *(one for chapter in document.chapters for one in chapter.sections)]
    rows = {anchor for register in document.registers.registers for anchor in register.anchors}
    return frozenset(rows.union(*map(_anchors_in, sections)))


def _anchors_in(section: Section) -> Iterator[str]:
    yield section.anchor
    for part in section.parts:
        if isinstance(part, GapCard):
            yield from (entry.anchor for entry in part.entries)
        elif isinstance(part, Grid):
            yield from (row.anchor for row in part.rows if row.anchor)
        elif isinstance(part, Entries):
            for register in part.registers:
                yield from filter(None, (register.anchor, *register.anchors))
