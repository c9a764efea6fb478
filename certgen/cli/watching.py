"""Waiting for a season's folder to change, and looking again each time it does."""

from __future__ import annotations

import os
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

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
