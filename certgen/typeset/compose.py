"""The packet as one PDF: chapters and registers set side by side on the cores, then joined, numbered and
sealed in.

Order of work: chapters (WeasyPrint) and registers (drawn as quires) are set; their pages are then known, so
the index and the manifest are set; then the cover and the contents, which name pages; then all are joined,
and the running heads with 'page x of y' are drawn over them.
"""

from __future__ import annotations

import gc
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Final

from certgen.process_pool import Pool
from certgen.typeset.conformance import attach, declare
from certgen.typeset.design import SHEETS
from certgen.typeset.html_pages import set_chapter, set_opening
from certgen.typeset.index import set_index
from certgen.typeset.joining import Binding
from certgen.typeset.page_batch import FIRST_KEY, FIRST_OBJECT
from certgen.typeset.parts import GapCard, Grid
from certgen.typeset.running_heads import Running, draw_running_heads
from certgen.typeset.tables.layout import set_registers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from concurrent.futures import Future

    from certgen.typeset.page_batch import Quire
    from certgen.typeset.parts import Chapter, Cover, Packet, Register


@dataclass(frozen=True, slots=True)
class Manner:
    """How a packet is set: paper, language, and the one moment that stands for every date in the file."""

    title: str
    language: str
    sheet_name: str
    epoch: int


def epoch_of(day: str) -> int:
    """Noon (UTC) of an ISO day, in seconds: the one moment that the file carries."""
    return int(datetime.combine(date.fromisoformat(day), time(12), tzinfo=UTC).timestamp())


def compose_pdf(
    packet: Packet,
    *,
    page: str = "A4",
    chapters: Chapters | None = None,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet's bytes. The same packet, version and day give the same bytes.

    `page` is a name in `design.SHEETS`. `chapters` are those that are being set already, for this page, by
    their pool (None: this process sets all). `progress` is told what was set and how far the work is.
    """
    if page not in SHEETS:
        message = f"there is no paper size {page!r}; choose from {', '.join(SHEETS)}"
        raise ValueError(message)
    manner = Manner(packet.title, packet.language, page, epoch_of(packet.day))
    chapters = chapters or Chapters(Pool(1), manner)
    pool = chapters.pool
    count = len(packet.front) + len(packet.back) + 3
    done = 0

    def step(what: str) -> None:
        nonlocal done
        done += 1
        progress(what, done, count)

    try:
        body = _bind(packet, manner, chapters, step)
    except BrokenExecutor:
        # A process ended before its work: the system may allow none, or have no memory left for two.
        done = 0
        pool.work_alone()
        body = _bind(packet, manner, Chapters(pool, manner), step)
    if packet.identifiers is None:
        _bind_manifest(packet, manner, body)
    opening, index = _opening_and_index(packet, body, manner, pool)
    if index:
        body.append(index)
        _bind_manifest(packet, manner, body)
    body.open_with(opening)
    step("index and contents")
    foot = f"certgen {packet.version} · records as of {packet.day}"
    draw_running_heads(body, Running(packet.running, foot, page, packet.language, manner.epoch))
    body.finish(language=packet.language, spoken=spoken)
    attach(body.pdf, packet.attached, manner.epoch)
    declare(
        body.pdf, title=packet.title, language=packet.language, epoch=manner.epoch, version=packet.version
    )
    data = body.save()
    step("file")
    return data


class Chapters:
    """Chapters on their way: each is sent to the pool once, as soon as it is ready."""

    def __init__(self, pool: Pool, manner: Manner) -> None:
        self.pool = pool
        self._manner = manner
        #: By identity: a chapter is a tree of texts, and to compare two costs as much as to write one.
        self._sent: dict[int, tuple[Chapter, Future[bytes]]] = {}

    def start(self, chapter: Chapter) -> None:
        """Have a chapter set."""
        if id(chapter) not in self._sent:
            self._sent[id(chapter)] = (chapter, self.pool.send(_chapter, chapter, self._manner))

    def wait_for(self, chapter: Chapter) -> bytes:
        """The chapter's file. Raises BrokenExecutor if a process ended before its work."""
        self.start(chapter)
        return self._sent.pop(id(chapter))[1].result()


def _bind(packet: Packet, manner: Manner, chapters: Chapters, step: Callable[[str], None]) -> Binding:
    """All but the opening, the index and the manifest, set by the pool."""
    body = Binding()
    # Long registers keep one process busy for a while: begun last, they would end alone.
    registers = chapters.pool.send(
        _registers, packet.registers, "Registers", REGISTERS_LEAD, manner, known_anchors(packet),
        FIRST_OBJECT, FIRST_KEY, first=True,
    ) if packet.registers else None  # fmt: skip
    for chapter in (*packet.front, *packet.back):
        chapters.start(chapter)

    def bind(bound: Sequence[Chapter]) -> None:
        for chapter in bound:
            body.append(chapters.wait_for(chapter), levels=[section.level for section in chapter.sections])
            step(chapter.name)

    bind(packet.front)
    for quire in registers.result() if registers else ():
        body.append_quire(quire)
    step("registers")
    bind(packet.back)
    return body


def _bind_manifest(packet: Packet, manner: Manner, body: Binding) -> None:
    for quire in _registers(
        (packet.manifest,),
        "Manifest",
        packet.manifest_lead,
        manner,
        None,
        body.next_object,
        body.next_key,
    ):
        body.append_quire(quire)


def load_setters() -> None:
    """Load what sets pages, ahead of the first page: it takes a process two seconds."""
    import uharfbuzz
    import weasyprint

    _ = uharfbuzz, weasyprint


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


def _chapter(chapter: Chapter, manner: Manner) -> bytes:
    with _no_collecting():
        return set_chapter(
            chapter,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
        )


def _registers(
    registers: Sequence[Register],
    heading: str,
    lead: str,
    manner: Manner,
    known: frozenset[str] | None,
    first_object: int,
    first_key: int,
) -> list[Quire]:
    with _no_collecting():
        return list(
            set_registers(
                registers,
                heading=heading,
                lead=lead,
                language=manner.language,
                sheet_name=manner.sheet_name,
                epoch=manner.epoch,
                first_object=first_object,
                first_key=first_key,
                spoken=spoken,
                known=known,
            )
        )


def known_anchors(packet: Packet) -> frozenset[str]:
    """The anchors that have a place in the packet: a register's link to any other is set as plain text."""
    sections = [section for chapter in (*packet.front, *packet.back) for section in chapter.sections]
    parts = [part for section in sections for part in section.parts]
    known = {section.anchor for section in sections}
    known |= {part.anchor for part in parts if isinstance(part, GapCard)}
    known |= {row.anchor for part in parts if isinstance(part, Grid) for row in part.rows if row.anchor}
    known |= {anchor for register in packet.registers for anchor, _ in register.rows}
    return frozenset(known)


REGISTERS_LEAD: Final = (
    "Every record of the season as it was written down, table by table, in the order of reading. An"
    " identifier at"
    " the head of a row leads to where the thing is used; the others lead to their own rows. Fields that"
    " have no"
    " column of their own stand in the last one, so nothing that was recorded is left out."
)


def spoken(anchor: str) -> str:
    """What a screen reader says of a link to `anchor`."""
    table, _, name = anchor.partition("/")
    return f"Go to {table} {name}" if name else f"Go to {anchor}"


def _pages(file: bytes) -> int:
    import io

    import pikepdf

    with pikepdf.open(io.BytesIO(file)) as pdf:
        return len(pdf.pages)


def _opening_and_index(packet: Packet, body: Binding, manner: Manner, pool: Pool) -> tuple[bytes, bytes]:
    """The opening names pages of the index, the index counts the pages of the opening: repeat until both
    agree. A packet without identifiers has an empty index."""
    before = 2
    while True:
        index = set_index(
            packet.identifiers,
            body.places,
            before,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
        ) if packet.identifiers is not None else b""  # fmt: skip
        lines = [(mark.anchor, mark.title, mark.level, mark.page) for mark in body.marks]
        if index:
            lines.append((f"section/{len(lines)}", "Index of identifiers", 1, body.pages))
            lines.append((f"section/{len(lines)}", "Manifest", 1, body.pages + _pages(index)))
        contents = [
            {"anchor": anchor, "title": title, "level": str(level), "page": str(page + before + 1)}
            for anchor, title, level, page in lines
            if level <= 2 and title not in packet.unlisted
        ]
        opening = pool.send(_opening, packet.cover, contents, manner).result()
        count = _pages(opening)
        if count == before:
            return opening, index
        before = count


def _opening(cover: Cover, contents: Sequence[Mapping[str, str]], manner: Manner) -> bytes:
    return set_opening(
        cover,
        contents,
        title=manner.title,
        language=manner.language,
        sheet_name=manner.sheet_name,
        epoch=manner.epoch,
    )
