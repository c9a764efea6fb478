"""Processes that share no code with the program that starts them.

Python's fresh processes run the main program's file again, to know its names. A script that prints a packet
on its top level would print it again in each, and one that is read from standard input has no file at all.
The setters need no name of the main program, so theirs do without.
"""

from __future__ import annotations

import sys
from multiprocessing.context import SpawnContext, SpawnProcess
from threading import Lock
from types import ModuleType
from typing import Final

_STARTING: Final = Lock()


class Apart(SpawnProcess):
    """A fresh process that knows nothing of the main program."""

    def start(self) -> None:
        """Start the process."""
        with _STARTING:
            main = sys.modules["__main__"]
            sys.modules["__main__"] = ModuleType("__main__")
            try:
                super().start()
            finally:
                sys.modules["__main__"] = main


class ApartContext(SpawnContext):
    """Where a pool gets such processes from."""

    Process = Apart
