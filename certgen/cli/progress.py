"""A bar on a terminal that somebody watches, for work that takes longer than a second; nothing anywhere else.

It is drawn on standard error and taken away again, so that what a command says stays as it is.

Waiting for a season's folder to change, and looking again each time it does.
"""

from __future__ import annotations

import os
import sys
import time
from contextlib import ExitStack, contextmanager
from threading import Lock, Timer
from typing import TYPE_CHECKING, Final, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from rich.progress import Progress

#: Work that is over sooner shows nothing, in seconds.
PATIENCE: Final = 1.0


class Steps(Protocol):
    """Tells how far the work has come; `what` names the step that is under way."""

    def __call__(self, done: int, whole: int, what: str = "") -> None:
        """`done` of `whole` is done."""


def is_watched() -> bool:
    """Whether somebody sees standard error on a terminal that can take a line back."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


@contextmanager
def show_waiting(what: str) -> Iterator[None]:
    """A bar that only moves, from `PATIENCE` on: for work that cannot say how far it has come."""
    if not is_watched():
        yield
        return
    shown, lock, over = ExitStack(), Lock(), False

    def begin() -> None:
        bar = _build_bar(counted=False)
        with lock:
            if not over:
                shown.enter_context(bar)
                bar.add_task(what, total=None)

    timer = Timer(PATIENCE, begin)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        with lock:
            over = True
            shown.close()


@contextmanager
def show_steps(what: str) -> Iterator[Steps]:
    """A bar that fills as the work tells how far it has come."""
    if not is_watched():
        yield _say_nothing
        return
    with _build_bar(counted=True) as bar:
        task = bar.add_task(what, total=None)

        def advance(done: int, whole: int, what: str = what) -> None:
            bar.update(task, completed=done, total=whole, description=what)

        yield advance


def _say_nothing(done: int, whole: int, what: str = "") -> None:
    """Nobody watches."""


def _build_bar(*, counted: bool) -> Progress:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    # Whether somebody watches was asked before.
    console = Console(stderr=True, force_terminal=True, force_interactive=True)
    # Names come out of records: they are text, never markup.
    text = TextColumn("{task.description}", markup=False)
    columns = (text, BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    moving = (text, BarColumn(), TimeElapsedColumn())
    return Progress(*(columns if counted else moving), console=console, transient=True)


Fingerprint = tuple[tuple[str, int, int], ...]
_PAUSE = 0.25


def take_fingerprint(folder: Path) -> Fingerprint:
    """Every record and evidence file's name, size and time of change; cheap enough to take often."""
    from certgen.records.record_files.files import list_folder

    listing = list_folder(folder)
    found = []
    for path in (*listing.records, *(f"evidence/{name}" for name in listing.evidence)):
        try:
            state = os.stat(folder / path)  # noqa: PTH116 (twice as fast as Path.stat over thousands of files)
        except OSError:
            continue
        found.append((path, state.st_size, state.st_mtime_ns))
    return tuple(found)


def follow_changes(folder: Path, wait: Callable[[float], None] = time.sleep) -> Iterator[Fingerprint]:
    """The folder's fingerprint now, and again each time that it has changed and come to rest.

    A file that an editor is still writing changes from one look to the next: only a fingerprint seen
    twice in a row is given. Ends when `wait` raises KeyboardInterrupt.
    """
    given: Fingerprint | None = None
    before = take_fingerprint(folder)
    try:
        while True:
            now = take_fingerprint(folder)
            if now == before and now != given:
                given = now
                yield now
            before = now
            wait(_PAUSE)
    except KeyboardInterrupt:
        return
