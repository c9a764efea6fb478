"""A season held in memory, read and checked again once anything in its folder has changed."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from itertools import chain
from threading import RLock
from typing import TYPE_CHECKING

from certgen.examination import ReadFailure, examine_season
from certgen.records.record_files.files import EVIDENCE, list_folder
from certgen.standards.season_reading import read_case
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping
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


@dataclass(frozen=True, slots=True)
class _State:
    """A day, and every file by its path with its size and time, in a season's folder and those before it."""

    day: date
    files: Mapping[str, str]
    refused: tuple[str, ...]

    def version(self) -> str:
        """A digest, which tells one state from another."""
        told = "\0".join((self.day.isoformat(), *chain(*self.files.items()), *self.refused))
        return sha256(told.encode("utf-8", "surrogateescape")).hexdigest()[:16]

    def follows(self, before: _State, written: Collection[str]) -> bool:
        """Whether nothing is otherwise than before but these files, which are there."""
        kept = [
            {name: stamp for name, stamp in one.files.items() if name not in written}
            for one in (self, before)
        ]
        return kept[0] == kept[1] and self.refused == before.refused and self.files.keys() >= set(written)


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
        before = self._take_state(None)
        season, errors = self._read()
        # Only now is it known which earlier seasons belong to it. After a change while it was read the next
        # look finds another state, and reads it again.
        self._state = self._take_state(season) if self._take_state(None) == before else before
        self._snapshot = self._examine(season, errors, self._state, None)

    def look(self) -> Snapshot:
        """The season as its folder is now; examined again if anything there has changed, or the day has."""
        with self.lock:
            state = self._take_state(self._snapshot.season)
            if state != self._state:
                self._state, self._snapshot = state, self._look_again(state)
            return self._snapshot

    def take_over(
        self, season: Season, errors: tuple[ReadingError, ...], written: Mapping[str, bytes]
    ) -> Snapshot:
        """The season after a change of one's own, which has been read with these files as they are written.

        It isn't read a second time, unless the folder holds anything else than it did at the last look and
        those files.
        """
        with self.lock:
            state = self._take_state(season)
            is_so = state.follows(self._state, written) and self._holds(written)
            if is_so and self._take_state(season) == state:
                # What can't be examined is told by the look that follows.
                with suppress(ReadFailure):
                    self._snapshot = self._examine(season, errors, state, self._snapshot)
                    self._state = state
            return self.look()

    def _holds(self, written: Mapping[str, bytes]) -> bool:
        """Whether files hold what was written to them."""
        try:
            return all(read_ordinary(self.folder / name) == data for name, data in written.items())
        except OSError:
            return False

    def _look_again(self, state: _State) -> Snapshot:
        last = self._snapshot
        try:
            return self._examine(*self._read(), state, last)
        except ReadFailure as failure:
            return Snapshot(last.season, last.result, state.version(), failure.errors)

    def _read(self) -> tuple[Season, tuple[ReadingError, ...]]:
        season, errors = read_case(self.folder, cache=self.cache)
        if season is None:
            raise ReadFailure(errors)
        return season, errors

    def _examine(
        self, season: Season, errors: tuple[ReadingError, ...], state: _State, last: Snapshot | None
    ) -> Snapshot:
        result = examine_season(season, state.day, errors, packets=self._packets)
        if last is None:
            return Snapshot(season, result, state.version())
        before, after = _by_name(last.result), _by_name(result)
        come = tuple(gap for name, gap in after.items() if name not in before)
        gone = tuple(gap for name, gap in before.items() if name not in after)
        return Snapshot(season, result, state.version(), (), come, gone)

    def _take_state(self, season: Season | None) -> _State:
        """The folder as it is now, with those of the seasons before."""
        files: dict[str, str] = {}
        refused: list[str] = []
        for folder in (self.folder, *_folders_before(season)):
            home = "" if folder == self.folder else f"{folder}/"
            listed = list_folder(folder)
            for file in (*listed.records, *(f"{EVIDENCE}/{name}" for name in listed.evidence)):
                files[f"{home}{file}"] = _stamp(folder / file)
            refused += [f"{home}{error.text()}" for error in listed.errors]
        return _State(self.today(), files, tuple(refused))


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
