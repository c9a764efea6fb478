"""A season held in memory, read and checked again once anything in its folder has changed."""

from __future__ import annotations

import os
from dataclasses import dataclass
from hashlib import sha256
from threading import RLock
from typing import TYPE_CHECKING

from certgen.examination import ReadFailure, examine_season, read_case
from certgen.records.record_files.files import EVIDENCE, list_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date
    from pathlib import Path

    from certgen.examination import Result
    from certgen.records import ReadingError, Season
    from certgen.records.supplied import PacketReader
    from certgen.rules import Gap


@dataclass(frozen=True, eq=False)
class Snapshot:
    """The season as it stood when it was last looked at.

    `season` holds the records as they are typed, `result` what the checks say of them. `version` tells one
    state of the folder from another. `broken` says why the folder as it is now can't be read at all: then
    the rest is the last state that could. `come` and `gone` are the findings that the last change brought
    and settled.
    """

    season: Season
    result: Result
    version: str
    broken: tuple[ReadingError, ...] = ()
    come: tuple[Gap, ...] = ()
    gone: tuple[Gap, ...] = ()

    @property
    def folder(self) -> Path:
        """The season's folder."""
        return self.season.folder


class HeldSeason:
    """One season, looked at by many requests; `lock` is held by whoever changes it.

    `today` gives the day on which it is examined. Raises `ReadFailure` where nothing can be read to begin
    with.
    """

    def __init__(
        self,
        folder: Path,
        today: Callable[[], date],
        *,
        packets: PacketReader | None = None,
        cache: Path | None = None,
    ) -> None:
        self.folder = folder
        self.lock = RLock()
        self.today = today
        self._packets = packets
        self.cache = cache
        self._snapshot = self._examine(self._take_version(None), None)

    def look(self) -> Snapshot:
        """The season as its folder is now; examined again if anything there has changed, or the day has."""
        with self.lock:
            version = self._take_version(self._snapshot.season)
            if version != self._snapshot.version:
                self._snapshot = self._look_again(version)
            return self._snapshot

    def _look_again(self, version: str) -> Snapshot:
        last = self._snapshot
        try:
            return self._examine(version, last)
        except ReadFailure as failure:
            return Snapshot(last.season, last.result, version, failure.errors)

    def _examine(self, version: str, last: Snapshot | None) -> Snapshot:
        season, errors = read_case(self.folder, cache=self.cache)
        if season is None:
            raise ReadFailure(errors)
        if last is None:
            # Only now is it known which earlier seasons belong to it. A change while it was read leaves no
            # version, so that the next look reads it again.
            whole = self._take_version(season)
            version = whole if self._take_version(None) == version else ""
        result = examine_season(season, self.today(), errors, packets=self._packets)
        if last is None:
            return Snapshot(season, result, version)
        before, after = _by_name(last.result), _by_name(result)
        come = tuple(gap for name, gap in after.items() if name not in before)
        gone = tuple(gap for name, gap in before.items() if name not in after)
        return Snapshot(season, result, version, (), come, gone)

    def _take_version(self, season: Season | None) -> str:
        """A digest of the day and of every file's name, size and time, in this season and those before it."""
        seal = sha256(self.today().isoformat().encode())
        for folder in (self.folder, *_folders_before(season)):
            listed = list_folder(folder)
            for file in (*listed.records, *(f"{EVIDENCE}/{name}" for name in listed.evidence)):
                seal.update(f"{file}\0{_stamp(folder / file)}\0".encode())
            seal.update("".join(error.text() for error in listed.errors).encode())
        return seal.hexdigest()[:16]


def _by_name(result: Result) -> dict[tuple[object, ...], Gap]:
    """The findings by what makes each the same one before and after a change; their numbers don't."""
    return {(gap.rule, gap.table, gap.id, gap.field, gap.weight): gap for gap in result.gaps}


def _folders_before(season: Season | None) -> Iterator[Path]:
    while season is not None and season.previous is not None:
        season = season.previous
        yield season.folder


def _stamp(path: Path) -> str:
    try:
        status = os.stat(path)  # noqa: PTH116 (as quick as it can be, once a file)
    except OSError:
        return "?"
    return f"{status.st_size}.{status.st_mtime_ns}.{status.st_ino}"
