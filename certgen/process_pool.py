"""The processes among which work is shared out: pages that are set, members of a co-op that are examined.

They share no code with the program that starts them. Python's fresh processes run the main program's file
again, to know its names: a script that prints a packet on its top level would print it again in each, and one
that is read from standard input has no file at all. The work sent here needs no name of the main program, so
its processes do without.
"""

from __future__ import annotations

import os
import sys
import tempfile
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import suppress
from functools import partial
from itertools import count
from multiprocessing import parent_process
from multiprocessing.context import SpawnContext, SpawnProcess
from queue import Empty, PriorityQueue
from tempfile import TemporaryDirectory
from threading import Event, Lock, Thread
from types import ModuleType
from typing import TYPE_CHECKING, Any, Final, Self, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.process import BaseProcess

    #: Whether it may wait, its turn, what is promised (None: nothing, go home), and the work.
    Piece = tuple[bool, int, Future[Any] | None, Callable[[], Any]]

Value = TypeVar("Value")


def count_cores() -> int:
    """How many processes this machine has cores for, as far as this process may use them."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


class Promised(Future[Value]):
    """The result of work that is offered to other processes."""

    def __init__(self, work: Callable[[], Value]) -> None:
        super().__init__()
        self.work = work

    def obtain(self) -> Value:
        """The result: made now, here, if nobody is at it yet.

        Raises what the work raises, and BrokenExecutor if a process ended before its work.
        """
        return self.work() if self.cancel() else self.result()


class Pool:
    """So many worker processes, or this process alone (0).

    `load` is what each does first, so that a pool may be made while there is nothing to share out yet. A
    worker that is killed takes along only the piece of work that it was at, and a fresh one takes its place.
    With `fresh` each piece has a process of its own, which gives its memory back.
    """

    def __init__(
        self, workers: int, load: Callable[[], object] | None = None, *, fresh: bool = False
    ) -> None:
        self._waiting: PriorityQueue[Piece] = PriorityQueue()
        self._turns = count()
        # What a worker that is ended leaves in the temporary folder goes with the pool.
        self._scratch = TemporaryDirectory(prefix="certgen-") if workers else None
        scratch = self._scratch.name if self._scratch else ""
        self._workers = [_Worker(self._waiting, load, scratch, fresh=fresh) for _ in range(workers)]
        for worker in self._workers:
            worker.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, fault: object, *_: object) -> None:
        self.work_alone(at_once=fault is not None)

    @property
    def is_several(self) -> bool:
        """Whether others work too: alone, nothing is gained by beginning early."""
        return bool(self._workers)

    def send(self, work: Callable[..., Any], *given: object, first: bool = False) -> Future[Any]:
        """Have work done by whichever process is free, and `first` before all that waits.

        The result raises BrokenExecutor if the process ended before its work. Alone, the work is done now.
        """
        promised: Future[Any] = Future()
        if self._workers:
            self._waiting.put((not first, next(self._turns), promised, partial(work, *given)))
        else:
            promised.set_result(work(*given))
        return promised

    def offer(self, work: Callable[..., Value], *given: object) -> Promised[Value]:
        """Have work done by whichever process is free first: another, or this one once it obtains the
        result. Alone, it is done then."""
        promised = Promised[Value](partial(work, *given))
        if self._workers:
            self._waiting.put((True, next(self._turns), promised, promised.work))
        return promised

    def work_alone(self, *, at_once: bool = False) -> None:
        """Send the others home: from now on this process does all itself. What waited is not done.

        What is under way is waited for, or ended `at_once`.
        """
        workers, self._workers = self._workers, []
        while workers:
            try:
                _, _, promised, _ = self._waiting.get_nowait()
            except Empty:
                break
            if promised is not None:
                promised.cancel()
        for _ in workers:
            self._waiting.put((False, next(self._turns), None, int))
        for worker in workers if at_once else ():
            worker.end_process()
        for worker in workers:
            worker.join()
        if self._scratch is not None:
            self._scratch.cleanup()


class _Worker(Thread):
    """A process of its own, and the thread that hands it piece after piece."""

    def __init__(
        self,
        waiting: PriorityQueue[Piece],
        load: Callable[[], object] | None,
        scratch: str,
        *,
        fresh: bool,
    ) -> None:
        super().__init__(daemon=True)
        self._waiting = waiting
        self._load = load
        self._scratch = scratch
        self._fresh = fresh
        self._executor = _hire(scratch, ending=fresh)

    def run(self) -> None:
        """Have all work done, until there is to be no more."""
        if self._load is not None:
            with suppress(Exception):
                self._do(self._load)
        while True:
            _, _, promised, work = self._waiting.get()
            if promised is None:
                break
            if not promised.set_running_or_notify_cancel():
                continue
            try:
                promised.set_result(self._do(work))
            except BaseException as fault:  # noqa: BLE001 (raised where the result is asked for)
                promised.set_exception(fault)
        self._executor.shutdown()

    def _do(self, work: Callable[[], Any]) -> Any:
        try:
            try:
                piece = self._executor.submit(work)
            except OSError as fault:
                # The system allows no more processes.
                raise BrokenExecutor(str(fault)) from fault
            found = piece.result()
        except BrokenExecutor:
            self._replace()
            raise
        if self._fresh:
            self._replace()
        return found

    def _replace(self) -> None:
        """End the process; what comes next starts another."""
        # Its own thread ends before this program may: otherwise each closes what the other still uses.
        self._executor.shutdown()
        self._executor = _hire(self._scratch, ending=self._fresh)

    def end_process(self) -> None:
        """End the process, whatever it is at."""
        for process in list((getattr(self._executor, "_processes", None) or {}).values()):
            process.terminate()


def _hire(scratch: str, *, ending: bool) -> ProcessPoolExecutor:
    # A fresh process: a fork of one that has threads may hang.
    return ProcessPoolExecutor(1, ApartContext(), _settle_in, (scratch, ending))


_ENDING: Final = Event()


def _settle_in(scratch: str, ending: bool) -> None:
    """Keep what is temporary in the pool's own folder, if it has one; called in the fresh process."""
    tempfile.tempdir = scratch or None
    if ending:
        _ENDING.set()


def ends_with_its_work() -> bool:
    """Whether this process does one piece of work and ends, so that nothing need be tidied up for another."""
    return _ENDING.is_set()


_STARTING: Final = Lock()


class Apart(SpawnProcess):
    """A fresh process that knows nothing of the main program, and that ends when the program does."""

    def run(self) -> None:
        """Do the work; called in the fresh process."""
        parent = parent_process()
        if parent is not None:
            # A program that is killed can't call its workers off; they would wait for work for ever.
            Thread(target=_end_after, args=(parent,), daemon=True).start()
        super().run()

    def start(self) -> None:
        """Start the process."""
        with _STARTING:
            main = sys.modules["__main__"]
            sys.modules["__main__"] = ModuleType("__main__")
            try:
                super().start()
            finally:
                sys.modules["__main__"] = main


def _end_after(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


class ApartContext(SpawnContext):
    """Where a pool gets such processes from."""

    Process = Apart


def work_apart(work: Callable[..., Value], *given: object, **more: object) -> Value:
    """Have work done in a process of its own, which gives its memory back when it ends."""
    with _hire("", ending=True) as process:
        return process.submit(work, *given, **more).result()
