"""The chapters and registers of a document, set by several processes and numbered as they come.

A long chapter, or a batch of registers with very many links, takes 150 to 300 MB while it is set, and most of
that stays with the process for the next one. So the process that joins the document sets none of them: each
of its share has a process of its own, and so has the batch with most links.
"""

from __future__ import annotations

from concurrent.futures import FIRST_COMPLETED, wait
from typing import TYPE_CHECKING, Any, Final, Self

from certgen.collector import pause_collector
from certgen.process_pool import Pool, work_apart
from certgen.typeset.entries import CompactRegister
from certgen.typeset.legibility import make_legible
from certgen.typeset.page_batch import number_files
from certgen.typeset.registers import number_batch, set_batch, share_out
from certgen.typeset.typst_chapters import count_rows, number_chapter, set_chapter

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator
    from concurrent.futures import Future

    from certgen.process_pool import Promised
    from certgen.typeset.design import Settings
    from certgen.typeset.joining import JoinedFile
    from certgen.typeset.page_batch import PageBatch
    from certgen.typeset.parts import Chapter, Document, RegisterSet
    from certgen.typeset.registers import RegisterBatch, SetBatch
    from certgen.typeset.typst_chapters import SetChapter

#: A chapter of more rows is long.
_MANY_ROWS: Final = 500
#: A batch of registers with more links has a process of its own.
_MANY_LINKS: Final = 10_000
#: So many chapters are with the process at the side, so that it goes on while this one numbers.
_AHEAD: Final = 2


def leads_only_to(anchors: frozenset[str], registers: RegisterSet) -> bool:
    """Whether all links of registers lead to one of these anchors."""
    return all(href in anchors for href in _leads_of(registers) if href)


def _leads_of(registers: RegisterSet) -> Iterator[str]:
    for register in registers.registers:
        if isinstance(register, CompactRegister):
            yield from (run.href for run in register.common)
            for group in register.groups:
                yield from (run.href for run in group.head)
                yield from (run.href for entry in group.entries for run in entry.runs)
        else:
            yield from (href for _, cells in register.rows for cell in cells for _, href in cell)


def begin_registers(
    registers: RegisterSet, names: Iterable[str], settings: Settings, pool: Pool
) -> list[Promised[SetBatch]]:
    """Have the registers set while the rest of the document isn't there yet, as if all anchors had a place;
    `names` are those of the files that will be attached. Nothing is begun where this process is alone.
    """
    return offer_registers(registers, settings, pool, None, number_files(names)) if pool.is_several else []


def offer_registers(
    registers: RegisterSet,
    settings: Settings,
    pool: Pool,
    known: frozenset[str] | None,
    files: Collection[str],
) -> list[Promised[SetBatch]]:
    """The batches of the registers in order; they are begun with the one that takes most memory, while other
    processes hold little.
    """
    batches = list(share_out(registers, settings)) if registers.registers else []
    links = [batch.links for batch in batches]
    order = sorted(range(len(batches)), key=links.__getitem__, reverse=True)
    offered = {
        at: pool.offer(_set_batch, batches[at], settings, known, files, links[at] > _MANY_LINKS)
        for at in order
    }
    return [offered[at] for at in range(len(batches))]


def _set_batch(
    batch: RegisterBatch,
    settings: Settings,
    known: frozenset[str] | None,
    files: Collection[str],
    apart: bool,
) -> SetBatch:
    if apart:
        return work_apart(_set_batch, batch, settings, known, files, False)
    with pause_collector():
        return set_batch(batch, settings, known, files)


def _set_chapter(
    chapter: Chapter, settings: Settings, known: frozenset[str], files: Collection[str]
) -> SetChapter:
    with pause_collector():
        return set_chapter(make_legible(chapter), settings, known, files)


class SharedChapters:
    """The chapters, offered to other processes in the order in which they are numbered; this one begins with
    the longest, takes what nobody is at yet, and numbers what is next as soon as it is set.

    A chapter is known by its identity: it is a tree of texts, and to compare two costs as much as to write
    one.
    """

    def __init__(
        self,
        document: Document,
        settings: Settings,
        pool: Pool,
        known: frozenset[str],
        joined: JoinedFile,
        tell: Callable[[str], None],
    ) -> None:
        self._order = (*document.front, *document.back, *document.summary)
        self._rows = {id(chapter): count_rows(chapter.sections) for chapter in self._order}
        self._promised = {
            id(chapter): pool.offer(_set_chapter, chapter, settings, known, joined.files)
            for chapter in self._order
        }
        self._longest_last = sorted(self._order, key=lambda chapter: self._rows[id(chapter)])
        self._made: dict[int, Future[SetChapter]] = {**self._promised}
        self._settings, self._joined, self._tell = settings, joined, tell
        is_long = any(rows > _MANY_ROWS for rows in self._rows.values())
        self._side = Pool(1 if pool.is_several and is_long else 0, fresh=True)
        self._at_side: list[Future[SetChapter]] = []
        self._told: set[int] = set()
        #: Batches of registers beside which no chapter is begun.
        self._alone: list[Promised[SetBatch]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, fault: object, *_: object) -> None:
        self._side.work_alone(at_once=fault is not None)

    def number_registers(self, offered: list[Promised[SetBatch]]) -> list[PageBatch]:
        """The registers in finished pages; each is taken out of what was offered, so that its file goes."""
        batches: list[PageBatch] = []
        # The batch that takes most memory is begun first, and may not be done yet.
        self._alone = (
            [promised for promised in offered if promised.running()] if self._side.is_several else []
        )
        while offered:
            promised = offered.pop(0)
            while not promised.done() and self._go_on(promised):
                pass
            file, joined = promised.obtain(), self._joined
            batches.append(number_batch(file, self._settings, joined.numbering, joined.files))
            joined.take_numbers(batches[-1:])
        if batches:
            self._tell("registers")
        return batches

    def number_all(self) -> dict[int, PageBatch]:
        """All chapters in finished pages, by identity."""
        numbered = {}
        for chapter in self._order:
            while not self._find(chapter).done() and self._go_on(self._find(chapter)):
                pass
            file, joined = self._find(chapter).result(), self._joined
            # So that its file goes once it is numbered.
            del self._made[id(chapter)], self._promised[id(chapter)]
            self._tell_once(chapter)
            batch = number_chapter(file, self._settings, joined.numbering, joined.files)
            joined.take_numbers([batch])
            numbered[id(chapter)] = batch
        return numbered

    def _find(self, chapter: Chapter) -> Future[SetChapter]:
        return self._made[id(chapter)]

    def _go_on(self, asked: Future[Any]) -> bool:
        """Have the longest chapter set that nobody is at, or wait until there is something new.

        False where nothing is left but to wait for what is asked for.
        """
        self._alone = [promised for promised in self._alone if not promised.done()]
        self._at_side = [promised for promised in self._at_side if not promised.done()]
        if self._alone:
            wait([asked, *self._alone], return_when=FIRST_COMPLETED)
            return True
        # Of the last long ones none waits at the side: another process would have nothing to do.
        if len(self._at_side) >= (_AHEAD if self._count_free() > _AHEAD else 1):
            wait([asked, *self._at_side], return_when=FIRST_COMPLETED)
            return True
        while self._longest_last:
            chapter = self._longest_last.pop()
            promised = self._promised.get(id(chapter))
            if promised is not None and promised.cancel():
                self._made[id(chapter)] = self._side.send(promised.work)
                self._at_side.append(self._made[id(chapter)])
                if self._made[id(chapter)].done():
                    self._tell_once(chapter)
                return True
        return False

    def _count_free(self) -> int:
        """How many long chapters nobody is at."""
        promised = self._promised.items()
        free = [chapter for chapter, one in promised if not (one.running() or one.done())]
        return sum(self._rows[chapter] > _MANY_ROWS for chapter in free)

    def _tell_once(self, chapter: Chapter) -> None:
        if id(chapter) not in self._told:
            self._told.add(id(chapter))
            self._tell(chapter.name)
