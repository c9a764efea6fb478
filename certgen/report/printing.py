"""The packet as one PDF: chapters and registers set side by side on the cores, then joined, numbered and
sealed in.

Order of work: chapters (WeasyPrint) and registers (Typst) are set; their pages are then known, so the
index and
the manifest are set; then the cover and the contents, which name pages; then all are joined, and the running
heads with 'page x of y' are laid over them.
"""

from __future__ import annotations

import os
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Final, Self

from certgen.report.design import SHEETS
from certgen.report.joining import Binding, lay_over
from certgen.report.registers import compile_typst, design_of, set_registers
from certgen.report.setting import set_chapter, set_opening
from certgen.report.standard import attach, declare, save

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from concurrent.futures import Executor

    from certgen.report.packet import Chapter, Packet, Register
    from certgen.report.registers import Compose

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

    body = Binding()
    with _Crew(workers) as crew:
        chapters = [crew.send(_chapter, chapter, manner) for chapter in (*packet.front, *packet.back)]
        registers = crew.send_beside(
            _registers, packet.registers, manner, REGISTERS_LEAD, "Registers", crew.compose
        )

        def bind(bound: Sequence[Chapter]) -> None:
            for chapter in bound:
                body.append(chapters.pop(0).result(), level=chapter.sections[0].level)
                step(chapter.name)

        bind(packet.front)
        for file, drop_last in registers.result():
            body.append(file, drop_last=drop_last)
        step("registers")
        bind(packet.back)
    del registers

    manifest = _registers((packet.manifest,), manner, MANIFEST_LEAD, "Manifest")
    opening, index = _opening_and_index(packet, body, manner)
    body.append(index)
    for file, drop_last in manifest:
        body.append(file, drop_last=drop_last)
    body.open_with(opening)
    step("index and contents")
    body.finish(language=packet.language, spoken=spoken)
    lay_over(body.pdf, _running_heads(packet, body, manner))
    attach(body.pdf, packet.attached, manner.epoch)
    declare(
        body.pdf, title=packet.title, language=packet.language, epoch=manner.epoch, version=packet.version
    )
    data = save(body.pdf)
    step("file")
    return data


class _Crew:
    """Worker processes for chapters and one for registers, or this process alone when one is enough."""

    def __init__(self, workers: int) -> None:
        self._chapters: Executor | None = None
        if workers > 1:
            # Fresh processes: a fork of one that has threads may hang.
            context = get_context("spawn")
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
        return _done(work, *given) if self._chapters is None else self._chapters.submit(work, *given)

    def send_beside(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done in this process while others set chapters."""
        return _done(work, *given) if self._chapters is None else self._beside.submit(work, *given)

    def compose(self, template: str, data: Mapping[str, Any], *, epoch: int, headed: bool) -> bytes:
        """Run Typst, where there are processes in one that is thrown away."""
        if self._chapters is None:
            return compile_typst(template, data, epoch=epoch, headed=headed)
        return self._registers.submit(compile_typst, template, data, epoch=epoch, headed=headed).result()


def _done(work: Callable[..., Any], *given: object) -> Future[Any]:
    done: Future[Any] = Future()
    done.set_result(work(*given))
    return done


def _chapter(chapter: Chapter, manner: Manner) -> bytes:
    return set_chapter(
        chapter,
        title=manner.title,
        language=manner.language,
        sheet_name=manner.sheet_name,
        epoch=manner.epoch,
    )


def _registers(
    registers: Sequence[Register], manner: Manner, lead: str, heading: str, compose: Compose | None = None
) -> list[tuple[bytes, bool]]:
    if not registers:
        return []
    return list(
        set_registers(
            registers,
            heading=heading,
            lead=lead,
            title=manner.title,
            language=manner.language,
            sheet_name=manner.sheet_name,
            epoch=manner.epoch,
            compose=compose,
        )
    )


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
