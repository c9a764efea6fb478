"""A whole document as one PDF: its parts set side by side on the cores, joined and numbered.

Order of work: this process and another have Typst set the chapters and the registers. Their pages are then
known, so the index and the manifest are set; then the cover (by WeasyPrint) and the contents, which name
pages; then all are joined, the running heads with 'page x of y' are drawn over them, and files are put
inside. What opens the document is set by `opening`.
"""

from __future__ import annotations

import gc
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager
from itertools import count
from typing import TYPE_CHECKING, Final

from certgen.process_pool import Pool, work_apart
from certgen.typeset.conformance import declare, embed, list_attached
from certgen.typeset.entries import Entries
from certgen.typeset.joining import JoinedFile
from certgen.typeset.legibility import make_legible
from certgen.typeset.opening import find_fitting, legible_covers, set_opening
from certgen.typeset.page_batch import number_files
from certgen.typeset.pango import hold_pango
from certgen.typeset.parts import GapCard, Grid
from certgen.typeset.registers import set_registers
from certgen.typeset.running_heads import draw_running_heads
from certgen.typeset.typst_chapters import count_rows, number_chapter, set_chapter

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping

    from certgen.typeset.design import Settings
    from certgen.typeset.first_page import Cover
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Chapter, Document, RegisterSet, Section
    from certgen.typeset.typst_chapters import SetChapter

    #: Is given what was set, how many pieces are done by now and how many there are.
    Progress = Callable[[str, int, int], None]


#: A chapter of more rows is set in a process of its own, which gives its memory back.
_MANY_ROWS: Final = 500
#: And so is a file of more bytes taken apart.
_LONG_FILE: Final = 3_000_000


def compose(
    document: Document,
    settings: Settings,
    *,
    pool: Pool | None = None,
    progress: Progress = lambda _what, _done, _all: None,
) -> bytes:
    """The document's bytes. The same document and settings give the same bytes.

    `pool` are the processes that help (None: this one sets all). Raises `PangoMissingError` where the system
    can't set pages.
    """
    hold_pango()
    pool = pool or Pool(0)
    try:
        joined, summary, covers, done = _join_chapters(document, settings, pool, progress)
    except BrokenExecutor:
        # A process ended before its work: the system may allow none, or have no memory left for two.
        pool.work_alone()
        joined, summary, covers, done = _join_chapters(document, settings, pool, progress)
    manifest = _set_registers(document.manifest, settings, joined.numbering, None, joined.files)
    opening = set_opening(document, summary, joined, manifest, covers, settings, pool)
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


def _count_steps(document: Document) -> int:
    """Each chapter, the registers if there are any, the pages that name others, and the file."""
    return len(document.chapters) + bool(document.registers.registers) + 2


def _join_chapters(
    document: Document, settings: Settings, pool: Pool, progress: Progress
) -> tuple[JoinedFile, list[PageBatch], list[Cover], Iterator[int]]:
    """All but the opening, the index and the manifest; the summary's pages; the covers that may fit; the
    counter of what is done.
    """
    joined = JoinedFile(files=number_files(attachment.name for attachment in document.attachments))
    done = count(1)
    known = known_anchors(document)

    def tell(name: str) -> None:
        progress(name, next(done), _count_steps(document))

    # What is sent first is done first; this process begins with the longest chapter, and takes what nobody
    # is at yet.
    fitting = pool.offer(find_fitting, legible_covers(document), settings)
    numbering = joined.numbering
    registers = (
        pool.offer(_set_registers, document.registers, settings, numbering, known, joined.files)
        if document.registers.registers
        else None
    )
    longest_last = sorted(document.chapters, key=lambda chapter: count_rows(chapter.sections))
    sent = [
        (chapter, pool.offer(_set_alone, chapter, settings, known, joined.files)) for chapter in longest_last
    ]
    by_chapter: dict[int, SetChapter] = {}
    for chapter, promised in reversed(sent):
        # By identity: a chapter is a tree of texts, and to compare two costs as much as to write one.
        by_chapter[id(chapter)] = promised.obtain()
        tell(chapter.name)

    def number(chapter: Chapter) -> PageBatch:
        file = by_chapter.pop(id(chapter))
        given = (file, settings, joined.numbering, joined.files)
        is_long = len(file.file) > _LONG_FILE
        batch = work_apart(number_chapter, *given) if is_long else number_chapter(*given)
        joined.take_numbers([batch])
        return batch

    batches = registers.obtain() if registers else []
    if registers:
        tell("registers")
    # Those of the registers are numbered already.
    joined.take_numbers(batches)
    for before in document.front:
        joined.append_batch(number(before))
    for batch in batches:
        joined.append_batch(batch)
    for after in document.back:
        joined.append_batch(number(after))
    summary = [number(chapter) for chapter in document.summary]
    return joined, summary, fitting.obtain(), done


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Python looks for no garbage meanwhile: hardly any arises while pages are laid out, and looking for it
    takes a fifth of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _set_alone(
    chapter: Chapter, settings: Settings, known: frozenset[str], files: Collection[str]
) -> SetChapter:
    """A chapter set; a long one in a process of its own, which gives its memory back."""
    given = (chapter, settings, known, files)
    is_long = count_rows(chapter.sections) > _MANY_ROWS
    return work_apart(_set_chapter, *given) if is_long else _set_chapter(*given)


def _set_chapter(
    chapter: Chapter, settings: Settings, known: frozenset[str], files: Collection[str]
) -> SetChapter:
    with _no_collecting():
        return set_chapter(make_legible(chapter), settings, known, files)


def _set_registers(
    registers: RegisterSet,
    settings: Settings,
    start: Numbering,
    known: frozenset[str] | None,
    files: Mapping[str, int],
) -> list[PageBatch]:
    if not registers.registers:
        return []
    with _no_collecting():
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
