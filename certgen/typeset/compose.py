"""A whole document as one PDF: chapters and registers set side by side on the cores, joined and numbered.

Order of work: chapters (WeasyPrint) and registers (Typst, in page batches) are set; their pages are then
known, so the index and the manifest are set; then the cover and the contents, which name pages; then all are
joined, the running heads with 'page x of y' are drawn over them, and files are put inside.
"""

from __future__ import annotations

import gc
import io
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager
from itertools import count
from typing import TYPE_CHECKING, Final

import pikepdf

from certgen.process_pool import Pool
from certgen.typeset.conformance import declare, embed, list_attached
from certgen.typeset.html_pages import ContentsLine, set_chapter, set_opening
from certgen.typeset.index import set_index
from certgen.typeset.joining import JoinedFile
from certgen.typeset.legibility import fit_to_set, make_legible, tell_unset, unset_letters
from certgen.typeset.page_batch import number_files
from certgen.typeset.parts import GapCard, Grid
from certgen.typeset.registers import set_registers
from certgen.typeset.running_heads import draw_running_heads

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from concurrent.futures import Future

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Chapter, Document, RegisterSet, Section

    #: Is given what was set, how many pieces are done by now and how many there are.
    Progress = Callable[[str, int, int], None]

#: The deepest level of the headings that stand in the contents.
_DEEPEST: Final = 2


class ChapterQueue:
    """Chapters on their way: each is sent to the pool once, as soon as it is ready."""

    def __init__(self, pool: Pool, settings: Settings) -> None:
        self.pool = pool
        self._settings = settings
        #: By identity: a chapter is a tree of texts, and to compare two costs as much as to write one.
        self._sent: dict[int, tuple[Chapter, Future[bytes]]] = {}

    def start(self, chapter: Chapter) -> None:
        """Have a chapter set."""
        if id(chapter) not in self._sent:
            self._sent[id(chapter)] = (chapter, self.pool.send(_set_chapter, chapter, self._settings))

    def wait_for(self, chapter: Chapter) -> bytes:
        """The chapter's file. Raises BrokenExecutor if a process ended before its work."""
        self.start(chapter)
        return self._sent.pop(id(chapter))[1].result()


def compose(
    document: Document,
    settings: Settings,
    *,
    chapters: ChapterQueue | None = None,
    progress: Progress = lambda _what, _done, _all: None,
) -> bytes:
    """The document's bytes. The same document and settings give the same bytes.

    `chapters` are those that are being set already, with these settings, by their pool (None: this process
    sets all).
    """
    chapters = chapters or ChapterQueue(Pool(1), settings)
    try:
        joined, done = _join_chapters(document, settings, chapters, progress)
    except BrokenExecutor:
        # A process ended before its work: the system may allow none, or have no memory left for two.
        chapters.pool.work_alone()
        joined, done = _join_chapters(document, settings, ChapterQueue(chapters.pool, settings), progress)
    manifest = _set_registers(document.manifest, settings, joined.numbering, None, joined.files)
    opening, index = _set_opening_and_index(document, joined, manifest, settings, chapters.pool)
    if index:
        joined.append(index)
    for batch in manifest:
        joined.append_batch(batch)
    joined.open_with(opening)
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
    document: Document, settings: Settings, chapters: ChapterQueue, progress: Progress
) -> tuple[JoinedFile, Iterator[int]]:
    """All but the opening, the index and the manifest, and the counter of what is done."""
    joined = JoinedFile(files=number_files(attachment.name for attachment in document.attachments))
    done = count(1)
    # Long registers keep one process busy for a while: begun last, they would end alone.
    registers = chapters.pool.send(
        _set_registers,
        document.registers,
        settings,
        joined.numbering,
        known_anchors(document),
        joined.files,
        first=True,
    ) if document.registers.registers else None  # fmt: skip
    for chapter in document.chapters:
        chapters.start(chapter)

    def append(appended: Sequence[Chapter]) -> None:
        for chapter in appended:
            joined.append(chapters.wait_for(chapter), levels=[section.level for section in chapter.sections])
            progress(chapter.name, next(done), _count_steps(document))

    append(document.front)
    if registers:
        for batch in registers.result():
            joined.append_batch(batch)
        progress("registers", next(done), _count_steps(document))
    append(document.back)
    return joined, done


def load_engines() -> None:
    """Load what sets pages, ahead of the first page: it takes a process two seconds."""
    import typst
    import weasyprint

    _ = typst, weasyprint


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


def _set_chapter(chapter: Chapter, settings: Settings) -> bytes:
    with _no_collecting():
        return set_chapter(make_legible(chapter), settings)


def _set_registers(
    registers: RegisterSet,
    settings: Settings,
    start: Numbering,
    known: frozenset[str] | None,
    files: Mapping[str, int],
) -> list[PageBatch]:
    with _no_collecting():
        return list(set_registers(registers, settings, start, known, files))


def known_anchors(document: Document) -> frozenset[str]:
    """The anchors that have a place in the document: a register's link to any other is set as plain text."""
    sections = [section for chapter in document.chapters for section in chapter.sections]
    rows = {anchor for register in document.registers.registers for anchor, _ in register.rows}
    return frozenset(rows.union(*map(_anchors_in, sections)))


def _anchors_in(section: Section) -> Iterator[str]:
    yield section.anchor
    for part in section.parts:
        if isinstance(part, GapCard):
            yield part.anchor
        elif isinstance(part, Grid):
            yield from (row.anchor for row in part.rows if row.anchor)


def _set_opening_and_index(
    document: Document, joined: JoinedFile, manifest: Sequence[PageBatch], settings: Settings, pool: Pool
) -> tuple[bytes, bytes]:
    """The opening names pages of the index, the index counts the pages of the opening: repeat until both
    agree. Without an index its file is empty."""
    unset = {letter for chapter in document.chapters for letter in unset_letters(chapter)}
    cover = tell_unset(make_legible(document.cover), unset | unset_letters(document.cover))
    before, index = 2, b""
    while True:
        headings = [(mark.title, mark.level, mark.page) for mark in joined.bookmarks]
        start = len(joined.pages)
        if document.index:
            index = set_index(document.index, joined.places, before, settings)
            headings.append((document.index.heading, 1, start))
            start += _count_pages(index)
        headings += _headings_in(manifest, start)
        contents = _list_contents(headings, document.unlisted, before)
        opening = pool.send(set_opening, cover, contents, settings).result()
        pages = _count_pages(opening)
        if pages == before:
            return opening, index
        before = pages


def _headings_in(batches: Iterable[PageBatch], start: int) -> Iterator[tuple[str, int, int]]:
    """Title, level and page of the headings of page batches that begin on page `start`."""
    for batch in batches:
        yield from ((heading.title, 1 + heading.depth, start + heading.page) for heading in batch.headings)
        start += len(batch.pages)


def _list_contents(
    headings: Iterable[tuple[str, int, int]], unlisted: Iterable[str], before: int
) -> list[ContentsLine]:
    """The lines of the contents of all headings but the `unlisted`, which `before` pages come before."""
    left_out = {fit_to_set(title) for title in unlisted}
    return [
        ContentsLine(f"section/{number}", title, level, page + before + 1)
        for number, (title, level, page) in enumerate(headings)
        if level <= _DEEPEST and title not in left_out
    ]


def _count_pages(file: bytes) -> int:
    with pikepdf.open(io.BytesIO(file)) as pdf:
        return len(pdf.pages)
