"""Processes that share no code with the program that starts them.

Python's fresh processes run the main program's file again, to know its names. A script that prints a packet
on its top level would print it again in each, and one that is read from standard input has no file at all.
The setters need no name of the main program, so theirs do without.
"""

from __future__ import annotations

import os
import sys
from multiprocessing import parent_process
from multiprocessing.context import SpawnContext, SpawnProcess
from threading import Lock, Thread
from types import ModuleType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

_STARTING: Final = Lock()


class Apart(SpawnProcess):
    """A fresh process that knows nothing of the main program, and that ends when the program does."""

    def run(self) -> None:
        """Do the work; called in the fresh process."""
        end_with_program()
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


def end_with_program() -> None:
    """See to it that this process ends when the program does that started it.

    One that is killed can't call its workers off, and they would wait for work for ever.
    """
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_after, args=(parent,), daemon=True).start()


def _end_after(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


class ApartContext(SpawnContext):
    """Where a pool gets such processes from."""

    Process = Apart
