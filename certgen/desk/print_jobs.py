"""Papers that are being made, each in a process of its own, and the files that came of it.

Such a process may crash, be cancelled or ask for more memory than it is given: only its paper is lost. The
files lie in a temporary folder outside the season, which goes with the desk, and so does whatever still runs.
"""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from multiprocessing.connection import wait
from pathlib import Path
from threading import RLock, Thread, Timer
from typing import TYPE_CHECKING, Any, Final, Literal

from certgen.limits import TOO_MUCH_MEMORY, Limits, fall_silent, hold_limits
from certgen.process_pool import ApartContext

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

    from certgen.desk.print_orders import PrintOrder

    #: Tells which stage begins, how many of its parts are done, and of how many.
    Tell = Callable[[str, int, int], None]
    #: What makes a paper, called in the fresh process: it leaves a file in a folder and tells its name.
    Work = Callable[[PrintOrder, "Source", Path, Tell], "Printed"]

State = Literal["waiting", "running", "ready", "refused", "failed", "cancelled"]

#: What one paper may take: a large season's whole report stays well below.
LIMITS: Final = Limits(seconds=3600, megabytes=4096)
#: So long a process has to end in order, in seconds.
_GRACE: Final = 3.0
#: So many are made at once, and so many may wait.
_RUNNING: Final = 2
_WAITING: Final = 6
#: Of what is over, so many are kept, and so many bytes; the oldest goes first.
_KEPT: Final = 12
_KEPT_BYTES: Final = 512 << 20


class RefusedOrderError(ValueError):
    """What was asked for can't be made; the message says why, in the words of the command."""


@dataclass(frozen=True, slots=True)
class Source:
    """What a paper is made of: a season's folder as of a day, and the folder of files parsed before."""

    folder: Path
    on: date
    cache: Path | None = None


@dataclass(frozen=True, slots=True)
class Printed:
    """A file that was made: its name, and what whoever uses it has to know."""

    name: str
    notes: tuple[str, ...] = ()


class BusyError(Exception):
    """Another paper of the kind is being made, or too many wait; the message says which."""


@dataclass(eq=False)
class PrintJob:
    """One paper on its way: what was asked for, how far it is, and what came of it.

    `stage` is what it is at, `done` of `whole` parts of that; `says` are sentences on what became of it.
    `version` is the season's when it was asked for; times are seconds of the clock that only goes on.
    """

    number: int
    order: PrintOrder
    source: Source
    version: str
    folder: Path
    state: State = "waiting"
    stage: str = "Waiting for its turn"
    done: int = 0
    whole: int = 0
    says: tuple[str, ...] = ()
    name: str = ""
    bytes: int = 0
    begun: float = 0.0
    ended: float = 0.0
    process: SpawnProcess | None = field(default=None, repr=False)

    @property
    def is_going(self) -> bool:
        """Whether it is waiting or being made."""
        return self.state in {"waiting", "running"}

    @property
    def seconds(self) -> int:
        """For how long it has been made, or was."""
        if not self.begun:
            return 0
        return int((self.ended or time.monotonic()) - self.begun)

    @property
    def size(self) -> str:
        """How large the file is, as people say it."""
        return f"{self.bytes / 1e6:.1f} MB" if self.bytes >= 1e6 else f"{self.bytes / 1e3:.0f} kB"

    @property
    def file(self) -> Path | None:
        """The file, if there is one and nobody took it away."""
        path = self.folder / "made" / self.name if self.name else None
        return path if path is not None and path.is_file() else None


class PrintJobs:
    """All papers of a desk. `work` makes one, under `limits`. Safe to be asked by several threads."""

    def __init__(self, work: Work, limits: Limits = LIMITS) -> None:
        self._work = work
        self._limits = limits
        self._lock = RLock()
        self._jobs: dict[int, PrintJob] = {}
        self._threads: list[Thread] = []
        self._number = 0
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._is_closed = False

    def list(self) -> list[PrintJob]:
        """All that are kept, the newest first."""
        with self._lock:
            return list(self._jobs.values())[::-1]

    def find(self, number: str) -> PrintJob | None:
        """One by its number, as an address gives it."""
        with self._lock:
            is_number = number.isascii() and number.isdecimal() and len(number) < 9
            return self._jobs.get(int(number)) if is_number else None

    def start(self, order: PrintOrder, source: Source, version: str) -> PrintJob:
        """Begins to make a paper, or lets it wait for its turn; the one that is being made if it is the same.

        Raises `BusyError` where another of its kind is being made, or too many wait.
        """
        with self._lock:
            going = [job for job in self._jobs.values() if job.is_going]
            for job in going:
                if job.order.kind.slug == order.kind.slug:
                    if job.order.chosen == order.chosen:
                        return job
                    raise BusyError(
                        f"{order.kind.title}: one is being made already. Wait for it, or cancel it first."
                    )
            if len(going) >= _RUNNING + _WAITING:
                raise BusyError(f"{len(going)} papers are being made or wait already. Let them end first.")
            if self._is_closed:
                raise BusyError("The desk is being closed.")
            self._number += 1
            folder = self._home() / str(self._number)
            for part in ("made", "scratch"):
                (folder / part).mkdir(parents=True)
            job = PrintJob(self._number, order, source, version, folder)
            self._jobs[job.number] = job
            self._begin_next()
            return job

    def cancel(self, job: PrintJob) -> None:
        """Ends a job, whatever it is at; what is over already stays as it is."""
        with self._lock:
            if not job.is_going:
                return
            self._close_job(job, "cancelled", ())
            _ask_to_end(job)
            self._drop_old()
            self._begin_next()
        timer = Timer(_GRACE, self._kill, (job,))
        timer.daemon = True
        timer.start()

    def close(self) -> None:
        """Ends all that runs and takes all files away; begins nothing more."""
        with self._lock:
            self._is_closed = True
            for job in self._jobs.values():
                if job.is_going:
                    self._close_job(job, "cancelled", ())
                _ask_to_end(job)
            jobs, threads = list(self._jobs.values()), self._threads
        last = time.monotonic() + _GRACE
        for thread in threads:
            thread.join(max(0.0, last - time.monotonic()))
        for job in jobs:
            self._kill(job)
        for thread in threads:
            thread.join()
        with self._lock:
            self._jobs.clear()
            folder, self._folder = self._folder, None
        if folder is not None:
            folder.cleanup()

    def _kill(self, job: PrintJob) -> None:
        """Ends what didn't end when it was asked to."""
        with self._lock:
            if job.process is not None:
                _kill_group(job.process)

    def _home(self) -> Path:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="certgen-desk-", ignore_cleanup_errors=True)
        return Path(self._folder.name)

    def _begin_next(self) -> None:
        """Begins the longest waiting as long as there is room; asked with the lock held."""
        running = sum(job.state == "running" for job in self._jobs.values())
        waiting = [job for job in self._jobs.values() if job.state == "waiting"]
        for job in waiting[: max(0, _RUNNING - running)] if not self._is_closed else ():
            job.state, job.stage, job.begun = "running", "Starting", time.monotonic()
            thread = Thread(target=self._follow, args=(job,), daemon=True)
            self._threads = [one for one in self._threads if one.is_alive()] + [thread]
            thread.start()

    def _follow(self, job: PrintJob) -> None:
        """Runs a job's process to its end and hears what it tells."""
        ours, theirs = ApartContext().Pipe(duplex=False)
        given = (theirs, self._work, job.order, job.source, job.folder, self._limits)
        process = ApartContext().Process(target=_serve, args=given)
        with ours:
            with theirs, self._lock:
                if job.state == "running":
                    self._start_process(job, process)
            if job.process is not None:
                self._hear(job, ours)
                # Only that it has ended: until it is joined nothing else can bear its number.
                wait([process.sentinel])
        with self._lock:
            if job.process is not None:
                _kill_group(process)
                process.join()
                if job.state == "running":
                    self._close_job(job, "failed", (self._say_end(process.exitcode),))
                job.process = None
                process.close()
            shutil.rmtree(job.folder / "scratch", ignore_errors=True)
            self._drop_old()
            self._begin_next()

    def _start_process(self, job: PrintJob, process: SpawnProcess) -> None:
        try:
            process.start()
        except OSError as fault:
            self._close_job(job, "failed", (f"The system starts no process for it: {fault.strerror}.",))
            return
        job.process = process

    def _hear(self, job: PrintJob, pipe: Connection[Any, Any]) -> None:
        with suppress(EOFError, OSError):
            while True:
                kind, *told = pipe.recv()
                with self._lock:
                    if job.state != "running":
                        continue
                    if kind == "stage":
                        job.stage, job.done, job.whole = told
                    elif kind == "ready":
                        (printed,) = told
                        job.name = printed.name
                        self._close_job(job, "ready", printed.notes)
                    else:
                        self._close_job(job, kind, tuple(told))

    def _close_job(self, job: PrintJob, state: State, says: tuple[str, ...]) -> None:
        job.state, job.says, job.ended = state, says, time.monotonic()
        job.bytes = job.file.stat().st_size if job.file else 0
        if state != "ready":
            job.name = ""
            shutil.rmtree(job.folder / "made", ignore_errors=True)

    def _say_end(self, code: int | None) -> str:
        """Why a process is gone that told nothing."""
        if code == TOO_MUCH_MEMORY:
            return _say_memory(self._limits)
        if code == -getattr(signal, "SIGXCPU", 0):
            return f"It takes longer than the {self._limits.seconds:g} seconds that it is given."
        return "Its process ended before its work, most likely for want of memory. Nothing else was touched."

    def _drop_old(self) -> None:
        """Takes the oldest of what is over away, as far as too much is kept."""
        over = [job for job in self._jobs.values() if not job.is_going][::-1]
        held = 0
        for at, job in enumerate(over):
            held += job.bytes
            if at >= _KEPT or (at and held > _KEPT_BYTES):
                del self._jobs[job.number]
                shutil.rmtree(job.folder, ignore_errors=True)


def _ask_to_end(job: PrintJob) -> None:
    """Lets a process end in order: those among which it shares its work end first, and leave nothing."""
    if job.process is not None:
        job.process.terminate()


def _kill_group(process: SpawnProcess) -> None:
    """Ends a process that wasn't joined yet, and all that it started."""
    if hasattr(os, "killpg") and process.pid is not None:
        # Until it has made a group of its own there is none of that number.
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()


def _say_memory(limits: Limits) -> str:
    return f"It needs more than the {limits.megabytes:,} MB of memory that it is given."


def _serve(
    pipe: Connection[Any, Any],
    work: Work,
    order: PrintOrder,
    source: Source,
    folder: Path,
    limits: Limits,
) -> None:
    """Make one paper and tell what becomes of it; called in the fresh process."""
    # Ctrl-C at the terminal is the desk's, which ends this process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    if hasattr(os, "setpgid"):
        os.setpgid(0, 0)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    tempfile.tempdir = str(folder / "scratch")
    fall_silent()

    def tell(stage: str, done: int, whole: int) -> None:
        pipe.send(("stage", stage, done, whole))

    pipe.send(_work(work, order, source, folder / "made", limits, tell))


def _leave(_sign: int, _frame: object) -> None:
    raise SystemExit(1)


def _work(
    work: Work, order: PrintOrder, source: Source, place: Path, limits: Limits, tell: Tell
) -> tuple[Any, ...]:
    """What became of it, as it is told."""
    try:
        with hold_limits(limits):
            return ("ready", work(order, source, place, tell))
    except RefusedOrderError as fault:
        return ("refused", *str(fault).splitlines())
    except MemoryError:
        return ("failed", _say_memory(limits))
    except OSError as fault:
        where = f" ({Path(fault.filename).name})" if isinstance(fault.filename, str) else ""
        return ("failed", f"{fault.strerror or fault}{where}.")
    except Exception as fault:  # noqa: BLE001 (told where the paper was asked for)
        said = f"certgen failed: {type(fault).__name__}: {fault}. This is a fault of certgen, not of your"
        return ("failed", f"{said} records. Please report it with this line.")
