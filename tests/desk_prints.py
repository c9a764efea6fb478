"""Ways to make a paper that do what a real one may: tell stages, wait, refuse, crash, take too much memory.

They are called in the process that the desk starts for a paper, so they can't be closures of a test.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from waiting import SECONDS

from certgen.desk.print_jobs import Printed, RefusedOrderError, Source
from certgen.desk.print_orders import PrintKind, PrintOrder

STAGES = ("Reading the records", "Checking the records", "Setting pages", "Writing the file")


def order(slug: str = "tags", **chosen: str) -> PrintOrder:
    """An order of a kind; what is chosen tells `make` what to do."""
    return PrintOrder(PrintKind(slug, slug.capitalize(), "", ()), chosen, {})


def source(folder: Path) -> Source:
    """A folder as a season's."""
    return Source(folder, date(2026, 11, 25))


def make(asked: PrintOrder, given: Source, place: Path, tell: Callable[[str, int, int], None]) -> Printed:
    """Goes through the stages; at the one that is chosen it does what is chosen."""
    for stage in STAGES:
        tell(stage, 0, 0)
        if asked.chosen.get("at") == stage:
            DOES[asked.chosen["does"]](given.folder)
    (place / "made.pdf").write_bytes(b"%PDF-1.7 made")
    return Printed("made.pdf", ("Look at it.",))


def _wait(folder: Path) -> None:
    end = time.monotonic() + SECONDS
    while not (folder / "go").exists() and time.monotonic() < end:
        time.sleep(0.01)


def _refuse(folder: Path) -> None:
    raise RefusedOrderError(f"There is nothing to print.\nLook into {folder.name}.")


def _fail(folder: Path) -> None:
    raise KeyError(folder.name)


def _fill_disk(folder: Path) -> None:
    raise OSError(28, "No space left on device", str(folder / "made.pdf"))


def _crash(_folder: Path) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _take_memory(_folder: Path) -> None:
    held = [bytearray(b"x" * (64 << 20)) for _ in range(64)]
    raise AssertionError(len(held))


def _start_another(folder: Path) -> None:
    waits = f"import time; time.sleep({SECONDS})"
    with subprocess.Popen([sys.executable, "-c", waits]) as other:
        (folder / "pid.part").write_text(str(other.pid), encoding="ascii")
        (folder / "pid.part").rename(folder / "pid")
        other.wait()


DOES = {
    "wait": _wait,
    "refuse": _refuse,
    "fail": _fail,
    "fill the disk": _fill_disk,
    "crash": _crash,
    "take memory": _take_memory,
    "start another": _start_another,
}


def make_when_told(
    asked: PrintOrder, given: Source, place: Path, tell: Callable[[str, int, int], None]
) -> Printed:
    """Makes it once a file `go` lies beside the season's folder."""
    tell("Setting pages", 2, 6)
    _wait(given.folder.parent)
    ending = {"workbook": "xlsx", "binder": "html"}.get(asked.kind.slug, "pdf")
    (place / f"made.{ending}").write_bytes(b"%PDF-1.7 made")
    return Printed(f"made.{ending}")
