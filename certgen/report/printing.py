"""The packet as one PDF: chapters and registers set side by side on the cores, then joined, numbered and
sealed in.

Order of work: chapters (WeasyPrint) and registers (Typst, as quires) are set; their pages are then known, so
the index and
the manifest are set; then the cover and the contents, which name pages; then all are joined, and the running
heads with 'page x of y' are laid over them.
"""

from __future__ import annotations

import gc
import os
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Any, Final, Self

from certgen.report.design import SHEETS
from certgen.report.joining import Binding, lay_over
from certgen.report.packet import GapCard, Grid
from certgen.report.quires import FIRST_KEY, FIRST_OBJECT, Quire, make_quire
from certgen.report.registers import compile_typst, design_of, rows_on_last_page, set_in_chunks, set_registers
from certgen.report.setting import set_chapter, set_opening
from certgen.report.standard import attach, declare
from certgen.report.workers import ApartContext

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from concurrent.futures import Executor

    from certgen.report.packet import Chapter, Packet, Register

#: What the index is called, and how many columns it has.
_INDEX_COLUMNS: Final = 4
#: Chunks of a register set by one process.
_CHUNKS: Final = 2


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
    jobs: int | None = None,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet's bytes. The same packet, version and day give the same bytes.

    `page` is a name in `design.SHEETS`. `progress` is told what was set and how far the work is.
    """
    if page not in SHEETS:
        message = f"there is no paper size {page!r}; choose from {', '.join(SHEETS)}"
        raise ValueError(message)
    manner = Manner(packet.title, packet.language, page, epoch_of(packet.day))
    workers = jobs or min(2, os.cpu_count() or 1)
    count = len(packet.front) + len(packet.back) + 3
    done = 0

    def step(what: str) -> None:
        nonlocal done
        done += 1
        progress(what, done, count)

    try:
        body = _bind(packet, manner, workers, step)
    except BrokenExecutor:
        # A process ended before its work: the system may allow none, or have no memory left for two.
        done = 0
        body = _bind(packet, manner, 1, step)
    manifest = _registers((packet.manifest,), manner, MANIFEST_LEAD, "Manifest")
    opening, index = _opening_and_index(packet, body, manner)
    body.append(index)
    for file, drop_last in manifest:
        body.append(file, drop_last=drop_last)
    body.open_with(opening)
    step("index and contents")
    body.finish(language=packet.language, spoken=spoken)
    lay_over(body, _running_heads(packet, body, manner))
    attach(body.pdf, packet.attached, manner.epoch)
    declare(
        body.pdf, title=packet.title, language=packet.language, epoch=manner.epoch, version=packet.version
    )
    data = body.save()
    step("file")
    return data


def _bind(packet: Packet, manner: Manner, workers: int, step: Callable[[str], None]) -> Binding:
    """All but the opening, the index and the manifest, set by so many processes."""
    body = Binding()
    with _Crew(workers) as crew:
        chapters = [crew.send(_chapter, chapter, manner) for chapter in (*packet.front, *packet.back)]
        registers = crew.send_beside(
            set_quires, packet.registers, known_anchors(packet), manner, crew.send_chunk
        )

        def bind(bound: Sequence[Chapter]) -> None:
            for chapter in bound:
                body.append(chapters.pop(0).result(), level=chapter.sections[0].level)
                step(chapter.name)

        bind(packet.front)
        for quire in registers.result():
            body.append_quire(quire)
        step("registers")
        bind(packet.back)
    return body


class _Crew:
    """Worker processes for chapters and one for registers, or this process alone when one is enough."""

    def __init__(self, workers: int) -> None:
        self._chapters: Executor | None = None
        if workers > 1:
            # Fresh processes: a fork of one that has threads may hang.
            context = ApartContext()
            self._chapters = ProcessPoolExecutor(workers, mp_context=context)
            # Typst keeps what it has set; a process is thrown away after a few chunks of a long register.
            self._registers = ProcessPoolExecutor(1, mp_context=context, max_tasks_per_child=_CHUNKS)
            self._beside = ThreadPoolExecutor(1)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._chapters is not None:
            for one in (self._chapters, self._beside, self._registers):
                one.shutdown(cancel_futures=True)

    def send(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done by whichever process is free."""
        return do_here(work, *given) if self._chapters is None else self._chapters.submit(work, *given)

    def send_beside(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done in this process while others set chapters."""
        return do_here(work, *given) if self._chapters is None else self._beside.submit(work, *given)

    def send_chunk(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have a chunk of registers set, where there are processes in one that is thrown away."""
        return do_here(work, *given) if self._chapters is None else self._registers.submit(work, *given)


def do_here(work: Callable[..., Any], *given: object) -> Future[Any]:
    """Have work done by this process, at once."""
    done: Future[Any] = Future()
    done.set_result(work(*given))
    return done


def _chapter(chapter: Chapter, manner: Manner) -> bytes:
    with no_collecting():
        return set_chapter(
            chapter,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
        )


@contextmanager
def no_collecting() -> Iterator[None]:
    """Python looks for no garbage meanwhile: hardly any arises while pages are laid out, and looking for it
    takes a fifth of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _registers(
    registers: Sequence[Register], manner: Manner, lead: str, heading: str
) -> list[tuple[bytes, bool]]:
    return list(
        set_registers(
            registers,
            heading=heading,
            lead=lead,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
        )
    )


def set_quires(
    registers: Sequence[Register],
    known: frozenset[str] | None,
    manner: Manner,
    send: Callable[..., Future[Any]],
) -> list[Quire]:
    """The registers as quires: each is numbered where the one before it ends.

    `known` are the anchors that links may lead to (None: all); `send` has a function's work done somewhere.
    """
    object_number, key = FIRST_OBJECT, FIRST_KEY

    def run(data: Mapping[str, Any], *, headed: bool, goes_on: bool) -> tuple[Quire, int]:
        nonlocal object_number, key
        quire: Quire
        quire, left = send(_quire, data, manner.epoch, headed, goes_on, object_number, key).result()
        object_number, key = quire.next_object, quire.next_key
        return quire, left

    chunks = set_in_chunks(
        registers,
        design_of(manner.sheet_name, manner.language, manner.title),
        {"title": "Registers", "lead": REGISTERS_LEAD},
        SHEETS[manner.sheet_name].measure,
        run,
        known,
    )
    return [quire for quire, _ in chunks]


def _quire(
    data: Mapping[str, Any], epoch: int, headed: bool, goes_on: bool, object_number: int, key: int
) -> tuple[Quire, int]:
    file = compile_typst("registers.typ", data, epoch=epoch, headed=headed)
    left = rows_on_last_page(file) if goes_on else 0
    quire = make_quire(file, left, headed=headed, first_object=object_number, first_key=key, spoken=spoken)
    return quire, left


def known_anchors(packet: Packet) -> frozenset[str]:
    """The anchors that have a place in the packet: a register's link to any other is set as plain text.

    A row of a register has its place where one of its links stands, so one without links has none.
    """
    sections = [section for chapter in (*packet.front, *packet.back) for section in chapter.sections]
    parts = [part for section in sections for part in section.parts]
    known = {section.anchor for section in sections}
    known |= {part.anchor for part in parts if isinstance(part, GapCard)}
    known |= {row.anchor for part in parts if isinstance(part, Grid) for row in part.rows if row.anchor}
    leads = {
        anchor: {href for cell in cells for _, href in cell if href}
        for register in packet.registers
        for anchor, cells in register.rows
    }
    placed = set(leads)
    while True:
        all_known = known | placed
        lost = {anchor for anchor in placed if all_known.isdisjoint(leads[anchor])}
        if not lost:
            return frozenset(all_known)
        placed -= lost


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


def _opening_and_index(packet: Packet, body: Binding, manner: Manner) -> tuple[bytes, bytes]:
    """The opening names pages of the index, the index counts the pages of the opening: repeat until both
    agree."""
    before = 2
    while True:
        index = _index(packet, body, before, manner)
        lines = [(mark.anchor, mark.title, mark.level, mark.page) for mark in body.marks]
        lines.append((f"section/{len(lines)}", "Index of identifiers", 1, body.pages))
        lines.append((f"section/{len(lines)}", "Manifest", 1, body.pages + _pages(index)))
        contents = [
            {"anchor": anchor, "title": title, "level": str(level), "page": str(page + before + 1)}
            for anchor, title, level, page in lines
            if level <= 2
        ]
        opening = set_opening(
            packet.cover,
            contents,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
        )
        count = _pages(opening)
        if count == before:
            return opening, index
        before = count


def _index(packet: Packet, body: Binding, before: int, manner: Manner) -> bytes:
    """The index of identifiers; neighbours on the same pages share an entry, so that 20,000 tags fit a few
    pages."""
    groups = []
    for title, entries in packet.identifiers:
        listed: list[tuple[str, str, tuple[tuple[str, str], ...]]] = []
        for name, anchors in entries:
            pages = tuple(
                (str(number + 1), f"packet:{anchor}")
                for number, anchor in sorted(
                    {
                        body.places[anchor][0] + before: anchor for anchor in anchors if anchor in body.places
                    }.items()
                )
            )
            if not pages:
                continue
            if listed and [page for page, _ in listed[-1][2]] == [page for page, _ in pages]:
                listed[-1] = (listed[-1][0], name, listed[-1][2])
            else:
                listed.append((name, name, pages))
        if listed:
            groups.append(
                {
                    "title": title,
                    "entries": [
                        {"text": first if first == last else f"{first} … {last}", "pages": pages}
                        for first, last, pages in listed
                    ],
                }
            )
    data = {
        **design_of(manner.sheet_name, manner.language, manner.title),
        "heading": "Index of identifiers",
        "lead": INDEX_LEAD,
        "columns": _INDEX_COLUMNS,
        "groups": groups,
    }
    return compile_typst("index.typ", data, epoch=manner.epoch)


MANIFEST_LEAD: Final = (
    "Every record file and evidence file that this packet rests on, with its SHA-256. The record files"
    " themselves"
    " are attached to this PDF, so what is printed here can be held against what was written down."
)
INDEX_LEAD: Final = (
    "Where each tag, tree, lot or document stands in this packet. “B001 … B040” means every identifier of"
    " that table from the first to the last in the order of the register."
)


def _running_heads(packet: Packet, body: Binding, manner: Manner) -> bytes:
    total = body.pages
    heads = [""] * total
    sheet = SHEETS[manner.sheet_name]
    for mark in body.marks:
        if mark.level == 1:
            # A chapter that begins further down leaves the page's head to the one that the page opens with.
            follows = mark.top < sheet.height - 2 * sheet.top
            for number in range(mark.page + int(follows), total):
                heads[number] = mark.title
    heads[0] = ""
    data = {
        **design_of(manner.sheet_name, manner.language, manner.title),
        "running": packet.running,
        "foot": f"certgen {packet.version} · records as of {packet.day}",
        "pages": [
            {"head": head, "foot": f"Page {number} of {total}"} for number, head in enumerate(heads, start=1)
        ],
    }
    return compile_typst("running.typ", data, epoch=manner.epoch, tagged=False)
