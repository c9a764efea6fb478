"""Waiting for what another process does, and never for ever."""

from __future__ import annotations

import time
from collections.abc import Callable

#: Ample on a busy machine; whoever waits longer waits for what never comes.
SECONDS = 300.0


def wait_until(holds: Callable[[], bool]) -> None:
    """Returns as soon as it holds, and fails the test if it doesn't within the time."""
    end = time.monotonic() + SECONDS
    while not holds():
        assert time.monotonic() < end, f"still not so after {SECONDS:.0f} seconds"
        time.sleep(0.01)
