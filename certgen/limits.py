"""Work on what others wrote, in a process of its own under limits of time and memory.

A file can ask for more than a machine has, and nobody can tell before it has been read. So it is read in a
process that ends when it has had enough: whoever asked is told which limit was passed, and goes on. Memory is
limited by the system where it does that (Linux); elsewhere the process watches its own peak.
"""

from __future__ import annotations

import math
import os
import pickle
import re
import signal
import sys
import tempfile
import time
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from queue import LifoQueue
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING, Any, Final, Generic, Literal, NamedTuple, Self, TypeVar, cast

from certgen.process_pool import ApartContext, count_cores

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

Value = TypeVar("Value")

#: Which limit was passed; "process": it ended before its work, by a fault of its own or from outside.
Passed = Literal["", "time", "memory", "process"]


class Limits(NamedTuple):
    """What a piece of work may take: seconds by the clock, and megabytes beyond what it began with."""

    seconds: float
    megabytes: int


@dataclass(frozen=True, slots=True)
class Outcome(Generic[Value]):
    """What became of a piece of work: its value, or the limit that it passed."""

    limits: Limits
    passed: Passed = ""
    found: Value | None = None

    @property
    def value(self) -> Value:
        """The result. Raises ValueError where a limit was passed: ask `passed` first."""
        if self.passed:
            raise ValueError(self.reason)
        # None too may be a result.
        return cast("Value", self.found)

    @property
    def reason(self) -> str:
        """In words, what was passed, to follow the name of what was read; empty if all went well."""
        match self.passed:
            case "":
                return ""
            case "time":
                return f"takes longer than the {self.limits.seconds:g} seconds that it is given"
            case "memory":
                return f"needs more than the {self.limits.megabytes:,} MB of memory that it is given"
        return "ended the process that read it, most likely for want of memory"


def run_limited(work: Callable[..., Value], *given: object, seconds: float, megabytes: int) -> Outcome[Value]:
    """Do one piece of work in a fresh process under limits, and give its result or the limit it passed.

    `work`, what is given to it and its result must be picklable. Raises what the work raises.
    """
    with LimitedProcess(Limits(seconds, megabytes)) as process:
        return process.run(work, *given)


class LimitedProcess:
    """A process that does piece after piece, each under the same limits.

    It starts with the first piece, or when told to. One that passed a limit is ended, and the next piece gets
    a fresh process. What the process leaves in the temporary folder goes with it. `load` is what a fresh
    process does first, outside the limits: imports that are no piece's fault.
    """

    def __init__(self, limits: Limits, load: Callable[[], object] | None = None) -> None:
        self._limits = limits
        self._load = load
        self._process: SpawnProcess | None = None
        self._pipe: Connection[Any, Any] | None = None
        self._scratch: tempfile.TemporaryDirectory[str] | None = None
        self._lock = Lock()
        self._is_over = False
        self._is_ready = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """End the process, whatever it is at, and start no other."""
        self._is_over = True
        self._end()

    def begin(self) -> None:
        """Start the process before there is work for it."""
        with suppress(OSError, EOFError):
            self._start()

    def run(self, work: Callable[..., Value], *given: object) -> Outcome[Value]:
        """Do one piece of work. Raises what the work raises."""
        piece = pickle.dumps((self._limits, work, given))
        try:
            pipe = self._pipe or self._start()
            if not self._is_ready:
                pipe.recv_bytes()
                self._is_ready = True
            pipe.send_bytes(piece)
            if not pipe.poll(self._limits.seconds):
                self._end()
                return Outcome(self._limits, "time")
            kind, found = pickle.loads(pipe.recv_bytes())  # noqa: S301 (our own process's answer)
        except (EOFError, OSError):
            return Outcome(self._limits, self._find_cause())
        if kind == "fault":
            raise found
        if kind == "memory":
            # What it had gathered may still be held.
            self._end()
        return Outcome(self._limits, kind, found)

    def _start(self) -> Connection[Any, Any]:
        """A fresh process's pipe. Raises OSError or EOFError where the system allows none."""
        with self._lock:
            if self._is_over:
                raise EOFError
            self._scratch = tempfile.TemporaryDirectory(prefix="certgen-")
            ours, theirs = ApartContext().Pipe()
            given = (theirs, self._scratch.name, self._load, _system_limits_memory())
            process = ApartContext().Process(target=_serve, args=given)
            try:
                process.start()
            except OSError:
                ours.close()
                raise
            finally:
                theirs.close()
            self._process, self._pipe, self._is_ready = process, ours, False
        return ours

    def _find_cause(self) -> Passed:
        """Why the process is gone."""
        process = self._process
        if process is None:
            self._end()
            return "process"
        process.join()
        code = process.exitcode
        self._end()
        if code == TOO_MUCH_MEMORY:
            return "memory"
        return "time" if code == -getattr(signal, "SIGXCPU", 0) else "process"

    def _end(self) -> None:
        with self._lock:
            process, self._process = self._process, None
            pipe, self._pipe = self._pipe, None
            scratch, self._scratch = self._scratch, None
        if process is not None:
            process.kill()
            process.join()
        if pipe is not None:
            pipe.close()
        if scratch is not None:
            scratch.cleanup()


class LimitedPool:
    """So many limited processes, each at one piece at a time. They start at once."""

    def __init__(self, workers: int, limits: Limits, load: Callable[[], object] | None = None) -> None:
        self._processes = [LimitedProcess(limits, load) for _ in range(max(workers, 1))]
        self._threads = ThreadPoolExecutor(len(self._processes))
        self._free: LifoQueue[LimitedProcess] = LifoQueue()
        try:
            for process in self._processes:
                process.begin()
                self._free.put(process)
        except BaseException:
            self.__exit__()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._threads.shutdown(wait=False, cancel_futures=True)
        for process in self._processes:
            process.close()
        self._threads.shutdown()

    def send(self, work: Callable[..., Value], *given: object) -> Future[Outcome[Value]]:
        """Have work done by whichever process is free; the outcome raises what the work raised."""
        return self._threads.submit(self._do, work, *given)

    def _do(self, work: Callable[..., Value], *given: object) -> Outcome[Value]:
        process = self._free.get()
        try:
            return process.run(work, *given)
        finally:
            self._free.put(process)


#: What a process that watches its own peak ends with once that is too high.
TOO_MUCH_MEMORY: Final = 77
_MEGABYTE: Final = 1 << 20
#: How often a process looks at its own peak, in seconds.
_LOOK: Final = 0.02


def _system_limits_memory() -> bool:
    # Only there does RLIMIT_DATA count what is taken with mmap, as nearly all of it is.
    return sys.platform == "linux" and Path("/proc/self/statm").exists()


def _serve(pipe: Connection[Any, Any], scratch: str, load: Callable[[], object] | None, held: bool) -> None:
    """Do piece after piece until nobody asks; called in the fresh process."""
    # Ctrl-C reaches every process of a terminal; ours is ended by the one that was asked.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # A thread a core, each with room of its own, would count against the limit of memory.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    tempfile.tempdir = scratch
    fall_silent()
    if load is not None:
        with suppress(Exception):
            load()
    pipe.send_bytes(b"")
    while True:
        try:
            piece = pipe.recv_bytes()
        except EOFError:
            return
        pipe.send_bytes(_do(piece, held=held))


def fall_silent() -> None:
    """Say nothing: what a library prints while it ends for want of memory is no answer to anybody."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(nowhere, stream)
    os.close(nowhere)


def _do(piece: bytes, *, held: bool) -> bytes:
    """The answer to a piece of work: a kind of `Passed` or "fault", and the value or the exception."""
    limits, work, given = pickle.loads(piece)  # noqa: S301 (from the process that started this one)
    try:
        with _hold(limits) if held else _watch(limits):
            return pickle.dumps(("", work(*given)))
    except MemoryError:
        return pickle.dumps(("memory", None))
    except Exception as fault:  # noqa: BLE001 (raised where the result is asked for)
        try:
            answer = pickle.dumps(("fault", fault))
            pickle.loads(answer)  # noqa: S301 (not every exception can be made anew from what it holds)
        except Exception:  # noqa: BLE001 (whatever its own methods raise)
            answer = pickle.dumps(("fault", RuntimeError(f"{type(fault).__name__}: {fault}")))
        return answer


def hold_limits(limits: Limits) -> AbstractContextManager[None]:
    """Limits on this very process, for the length of a block: MemoryError where it asks for more memory, its
    end where that can't be raised or where it works on too long.
    """
    return _hold(limits) if _system_limits_memory() else _watch(limits)


@contextmanager
def _hold(limits: Limits) -> Iterator[None]:
    """The system refuses more memory, and ends what runs on when nobody is left to watch it."""
    import resource

    before = {kind: resource.getrlimit(kind) for kind in (resource.RLIMIT_DATA, resource.RLIMIT_CPU)}
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[5])
    wanted = {
        resource.RLIMIT_DATA: pages * resource.getpagesize() + limits.megabytes * _MEGABYTE,
        # As many threads as there are cores may work all the time.
        resource.RLIMIT_CPU: math.ceil(time.process_time() + limits.seconds * count_cores()),
    }
    for kind, most in wanted.items():
        soft, hard = before[kind]
        bounds = [most, *(bound for bound in (soft, hard) if bound != resource.RLIM_INFINITY)]
        resource.setrlimit(kind, (min(bounds), hard))
    try:
        yield
    finally:
        for kind, bound in before.items():
            resource.setrlimit(kind, bound)


@contextmanager
def _watch(limits: Limits) -> Iterator[None]:
    """Where the system refuses nothing, the process ends itself once its peak is too high."""
    try:
        import resource
    except ImportError:
        # A system without such figures: the clock alone holds.
        yield
        return
    # Kilobytes, on one system bytes.
    unit = 1 if sys.platform == "darwin" else 1024
    # Linux counts in ru_maxrss what the parent held when it made this process; its own figure doesn't.
    status = Path("/proc/self/status")
    own = re.compile(rb"^VmHWM:\s*(\d+) kB$", re.MULTILINE)
    over = Event()

    def peak() -> int:
        shown = own.search(status.read_bytes()) if status.exists() else None
        if shown is not None:
            return int(shown[1]) * 1024
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit

    most = peak() + limits.megabytes * _MEGABYTE

    def look() -> None:
        while not over.wait(_LOOK):
            if peak() > most:
                os._exit(TOO_MUCH_MEMORY)

    Thread(target=look, daemon=True).start()
    try:
        yield
    finally:
        over.set()
    # A library at work in C may have let nobody look.
    if peak() > most:
        raise MemoryError
