"""The shed: what lay on which piece of equipment from when to when, and the cleanings between."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from random import Random

Record = dict[str, Any]
ONE = timedelta(days=1)


@dataclass(frozen=True)
class Lying:
    """Seed of a run on a piece: from the run's day until it was gone from there."""

    batch: str
    kind: tuple[str, str]
    start: date
    until: date


@dataclass
class Shed:
    """What lay on each piece, run by run. A run's kind is its status and variety."""

    lay: dict[str, list[Lying]] = field(default_factory=dict)
    #: By piece the day of the last cleaning and the run that it made ready for.
    cleaned: dict[str, tuple[date, str]] = field(default_factory=dict)
    spare: int = 0

    def prepare(
        self, random: Random, run: Lying, tools: tuple[str, ...], rack: str, since: date
    ) -> tuple[list[str], str, list[Record]]:
        """Tools and a rack for a run, and the cleanings that make them ready.

        `since` is the first day of the season, in whose folder a cleaning is written down.
        """
        chosen = [one for one in tools if random.randrange(10) < 7] or [tools[0]]
        pieces = [one if self._can_follow(one, run) else self._new(one) for one in chosen]
        racks = [one for one in self.lay if one.startswith(rack) and self._is_free(one, run)]
        on = random.choice(racks) if racks else self._new(rack)
        made: dict[tuple[date, str], Record] = {}
        for piece in (*pieces, on):
            end = run.until if piece == on else run.start
            told = self._clean(random, piece, run, since)
            if told is not None:
                record = made.setdefault((told["date"], told.get("after", "")), {**told, "equipment": []})
                record["equipment"].append(piece)
                self.cleaned[piece] = (told["date"], run.batch)
            self.lay.setdefault(piece, []).append(Lying(run.batch, run.kind, run.start, end))
        return pieces, on, list(made.values())

    def _new(self, piece: str) -> str:
        self.spare += 1
        return f"{piece} {self.spare}"

    def _other(self, piece: str, run: Lying) -> list[Lying]:
        return [one for one in self.lay.get(piece, ()) if one.kind != run.kind]

    def _can_follow(self, piece: str, run: Lying) -> bool:
        """Whether one cleaning parts the run from all other seed: of its own day at most the last."""
        same = [one for one in self._other(piece, run) if one.start == run.start]
        last = self.lay.get(piece, [None])[-1]
        return not same or (len(same) == 1 and same[0] is last)

    def _is_free(self, piece: str, run: Lying) -> bool:
        """Whether all other seed was gone from a rack on the day before at the latest."""
        return all(one.until < run.start for one in self._other(piece, run))

    def _clean(self, random: Random, piece: str, run: Lying, since: date) -> Record | None:
        other = self._other(piece, run)
        if not other:
            return None if random.randrange(10) else self._on_the_day(run)
        last = max(other, key=lambda one: (one.until, one.start))
        day, ready = self.cleaned.get(piece, (date.min, ""))
        after = max(one.until for one in other)
        if day > after and (day < run.start or ready == run.batch):
            return None
        if after == run.start:
            return {"date": run.start, "after": last.batch, "before": run.batch}
        if random.randrange(2):
            first = max(after + ONE, since)
            if first < run.start:
                cleaned: Record = {"date": first + random.randrange((run.start - first).days) * ONE}
                return cleaned | ({"before": run.batch} if random.randrange(2) else {})
        return self._on_the_day(run)

    @staticmethod
    def _on_the_day(run: Lying) -> Record:
        return {"date": run.start, "before": run.batch}
