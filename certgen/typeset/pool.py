"""The processes that set a packet: chapters and registers are shared out, the joining is done by who asks."""

from __future__ import annotations

import gc
import os
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from heapq import heappop, heappush
from threading import RLock
from typing import TYPE_CHECKING, Any, Self

from certgen.typeset.processes import ApartContext

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


class Crew:
    """Worker processes, or this process alone when one is enough.

    `jobs` is how many (None: two, where there are two cores). A crew may be called together while there is
    nothing to set yet: it takes a process two seconds to load the setters.
    """

    def __init__(self, jobs: int | None = None) -> None:
        self._pool: ProcessPoolExecutor | None = None
        self._count = jobs or min(2, os.cpu_count() or 1)
        self._lock = RLock()
        #: Work that waits: whether it may wait, its turn, what is promised, the work and what it is given.
        self._waiting: list[tuple[bool, int, Future[Any], Callable[..., Any], tuple[object, ...]]] = []
        self._turn = 0
        self._under_way = 0
        if self._count > 1:
            # Fresh processes: a fork of one that has threads may hang.
            self._pool = ProcessPoolExecutor(self._count, mp_context=ApartContext())
            try:
                for _ in range(self._count):
                    self._pool.submit(load_setters)
            except (OSError, BrokenExecutor):
                # The system allows no more processes.
                self.work_alone()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.work_alone()

    @property
    def is_several(self) -> bool:
        """Whether others work too: alone, nothing is gained by beginning early."""
        return self._pool is not None

    def work_alone(self) -> None:
        """Send the others home: from now on this process does all itself. What waited is not done."""
        with self._lock:
            pool, self._pool = self._pool, None
            self._waiting.clear()
        if pool is not None:
            pool.shutdown(cancel_futures=True)

    def send(self, work: Callable[..., Any], *given: object, first: bool = False) -> Future[Any]:
        """Have work done by whichever process is free, and `first` before all that waits.

        The result raises BrokenExecutor if a process ended before its work.
        """
        if self._pool is None:
            return do_here(work, *given)
        promised: Future[Any] = Future()
        with self._lock:
            self._turn += 1
            heappush(self._waiting, (not first, self._turn, promised, work, given))
        self._hand_out()
        return promised

    def _hand_out(self) -> None:
        """Give the processes what waits: one piece each, and one to go on with."""
        with self._lock:
            while self._waiting and self._pool is not None and self._under_way <= self._count:
                _, _, promised, work, given = heappop(self._waiting)
                try:
                    piece = self._pool.submit(work, *given)
                except BrokenExecutor as fault:
                    promised.set_exception(fault)
                    continue
                self._under_way += 1
                piece.add_done_callback(partial(self._hand_in, promised))

    def _hand_in(self, promised: Future[Any], piece: Future[Any]) -> None:
        with self._lock:
            self._under_way -= 1
        if piece.cancelled():
            promised.cancel()
        elif (fault := piece.exception()) is not None:
            promised.set_exception(fault)
        else:
            promised.set_result(piece.result())
        self._hand_out()


def do_here(work: Callable[..., Any], *given: object) -> Future[Any]:
    """Have work done by this process, at once."""
    done: Future[Any] = Future()
    done.set_result(work(*given))
    return done


def load_setters() -> None:
    """Load what sets pages, ahead of the first page."""
    import uharfbuzz
    import weasyprint

    _ = uharfbuzz, weasyprint


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
