"""The processes that set a packet: chapters and registers are shared out, the joining is done by who asks."""

from __future__ import annotations

import gc
import os
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Self

from certgen.report.workers import ApartContext

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


class Crew:
    """Worker processes, or this process alone when one is enough.

    `jobs` is how many (None: two, where there are two cores). A crew may be called together while there is
    nothing to set yet: it takes a process two seconds to load the setters.
    """

    def __init__(self, jobs: int | None = None) -> None:
        self._pool: ProcessPoolExecutor | None = None
        count = jobs or min(2, os.cpu_count() or 1)
        if count > 1:
            # Fresh processes: a fork of one that has threads may hang.
            self._pool = ProcessPoolExecutor(count, mp_context=ApartContext())
            try:
                for _ in range(count):
                    self._pool.submit(load_setters)
            except (OSError, BrokenExecutor):
                # The system allows no more processes.
                self.work_alone()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.work_alone()

    def work_alone(self) -> None:
        """Send the others home: from now on this process does all itself."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None

    def send(self, work: Callable[..., Any], *given: object) -> Future[Any]:
        """Have work done by whichever process is free.

        Raises BrokenExecutor, then or when the result is asked for, if a process ended before its work.
        """
        return do_here(work, *given) if self._pool is None else self._pool.submit(work, *given)


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
