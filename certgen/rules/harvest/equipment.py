"""Equipment as a time line: between a use for other seed and a use for this seed stands a cleaning.

Each piece is used from the day of a run on; what seed dries on is taken until the seed is dry. The runs of
all years stand on one line.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING, Final

from certgen.rules.clauses import NOT_MIXED, TRUE_NAME
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.rules.case import Case

#: Lower than what stands before it.
_RANKS: Final = {status: rank for rank, status in enumerate(("conventional", "transitional", "organic"))}
#: Words for what seed lies on while it dries. Where a run names no such piece it may have lain on any.
_DRYING: Final = re.compile(
    r"tray|rack|screen|frame|dr[iy]er|oven|shelf|shelves|cloth|sheet|mat\b|net\b|table|tarp|drum",
    re.IGNORECASE,
)
_ANY: Final = "\0"
#: Before what a run held that is none of the farm's own.
_UNKNOWN: Final = "other seed: "


@dataclass(frozen=True, slots=True)
class Use:
    """A run on a piece of equipment. `until` is the last day on which its seed may have lain there."""

    batch: str
    row: int
    piece: str
    start: date
    until: date
    status: str
    #: The varieties of its fruit, and whatever other seed it held.
    sorts: frozenset[str]
    #: Whether its seed is known to have dried there, and not only may have.
    dried: bool = False

    def is_other_than(self, use: Use) -> bool:
        """Whether this run's seed must not get among that of the other."""
        return self.is_lower_than(use) or (bool(use.sorts) and not self.sorts <= use.sorts)

    def is_lower_than(self, use: Use) -> bool:
        """Whether this run's seed is of a lower status than the other's."""
        return _RANKS.get(self.status, 0) < _RANKS.get(use.status, 0)

    @property
    def is_of_known_sorts(self) -> bool:
        """Whether it held nothing but fruit of pickings."""
        return not any(sort.startswith(_UNKNOWN) for sort in self.sorts)


@dataclass(frozen=True, slots=True)
class Cleaning:
    """A cleaning of a piece, and the runs that it says it stood between."""

    day: date
    after: str | None
    before: str | None

    def parts(self, other: Use, use: Use) -> bool:
        """Whether it stands between the other run's seed and this run's.

        On the day of either run it counts only if it says on which side of it it was. Seed that lay on the
        piece until later can't have been cleaned off it, unless it only may have and the piece was made ready
        for this run by name.
        """
        follows = other.start < self.day or (other.start == self.day and self.after == other.batch)
        precedes = self.day < use.start or (self.day == use.start and self.before == use.batch)
        gone = other.until <= self.day or (not other.dried and self.before == use.batch)
        return follows and precedes and gone


def _group(
    cleanings: Iterable[Cleaning], told: Callable[[Cleaning], str | None]
) -> dict[str | None, list[Cleaning]]:
    found: dict[str | None, list[Cleaning]] = {}
    for cleaning in cleanings:
        found.setdefault(told(cleaning), []).append(cleaning)
    return found


@dataclass
class Piece:
    """The runs and cleanings of one piece of equipment."""

    uses: list[Use] = field(default_factory=list)
    cleanings: list[Cleaning] = field(default_factory=list)
    _others: dict[tuple[str, frozenset[str]], list[Use]] = field(default_factory=dict)

    @cached_property
    def _days(self) -> list[date]:
        return sorted(cleaning.day for cleaning in self.cleanings)

    @cached_property
    def _before(self) -> Mapping[str | None, list[Cleaning]]:
        """By the run that it made the piece ready for."""
        return _group(self.cleanings, lambda cleaning: cleaning.before)

    @cached_property
    def _after(self) -> Mapping[str | None, list[Cleaning]]:
        return _group(self.cleanings, lambda cleaning: cleaning.after)

    def find_dirt(self, use: Use, foreign: list[Use]) -> Use | None:
        """The last run of other seed from which nothing parts a run, if there is one.

        `foreign` are the runs that may have gone over any piece, the same each time.
        """
        at = bisect_left(self._days, use.start)
        last = self._days[at - 1] if at else None
        met = (
            other for other in self._list_others(use, foreign)
            if other.batch != use.batch and self._meets(other, use, last)
        )  # fmt: skip
        return next(met, None)

    def _list_others(self, use: Use, foreign: list[Use]) -> list[Use]:
        # Whose seed must not meet is the same for all runs of one status and the same varieties.
        key = (use.status, use.sorts)
        if key not in self._others:
            others = [other for other in (*self.uses, *foreign) if other.is_other_than(use)]
            self._others[key] = sorted(others, key=lambda other: other.start, reverse=True)
        return self._others[key]

    def _meets(self, other: Use, use: Use, last: date | None) -> bool:
        """Whether nothing parts two runs; `last` is the last cleaning on a day before this one."""
        if other.start > use.until:
            return False
        if other.start > use.start:
            # It came while this seed may have lain there.
            return not (use.until == use.start or self._emptied(use, other))
        if last is not None and other.start < last and other.until <= last:
            return False
        # Any other that parts them says so of one of them: of thousands these are few.
        telling = chain(self._before.get(use.batch, ()), self._after.get(other.batch, ()))
        if any(cleaning.parts(other, use) for cleaning in telling):
            return False
        # On one day the other run may also have been the later one, on a piece that was emptied for it.
        return other.start < use.start or not self._emptied(use, other)

    def _emptied(self, use: Use, other: Use) -> bool:
        """Whether the piece was emptied of this run's seed and cleaned before the other run."""
        return not use.dried and any(
            use.start <= cleaning.day <= other.start and other.batch == cleaning.before
            for cleaning in self._after.get(use.batch, ())
        )  # fmt: skip


def _pieces(case: Case) -> tuple[dict[str, Piece], list[Use]]:
    """Every piece by its name without letter case and needless spaces; and runs that name no equipment."""
    sorts, packed = _sorts(case), _days_of_packing(case)
    pieces: dict[str, Piece] = {}
    unnamed: list[Use] = []
    for row, batch, start, status, equipment, dried, on in case.columns("batches").rows(
        "batch", "date", "status", "equipment", "drying.to", "drying.on"
    ):
        told = frozenset(sorts.get(batch, ()))
        end = max(start, dried or packed.get(batch, date.max))
        for piece, dries, may_dry in _dryers(equipment or (), on or ()):
            use = Use(batch, row, piece, start, end if may_dry else start, status, told, dries)
            pieces.setdefault(_fold(piece), Piece()).uses.append(use)
        if not equipment and not on:
            unnamed.append(Use(batch, row, _ANY, start, start, status, told))
    for piece, cleaning in _cleanings(case):
        pieces.setdefault(_fold(piece), Piece()).cleanings.append(cleaning)
    return pieces, unnamed


def _days_of_packing(case: Case) -> dict[str, date]:
    """The last day on which seed of a run was packed, by the run's number."""
    found: dict[str, date] = {}
    for _, batch, when in case.joined("packed").rows("batch", "packed"):
        if batch is not None and when is not None:
            found[batch] = max(when, found.get(batch, when))
    return found


def _cleanings(case: Case) -> Iterator[tuple[str, Cleaning]]:
    cleaning = case.columns("cleaning")
    for _, when, equipment, after, before in cleaning.rows("date", "equipment", "after", "before"):
        for piece in equipment or ():
            yield piece, Cleaning(when, after, before)


def _sorts(case: Case) -> dict[str, set[str]]:
    """What seed each run holds: its varieties, and other seed by what it is called."""
    sorts: dict[str, set[str]] = {}
    for _, batch, variety in case.joined("batch_varieties").rows("batch", "variety"):
        sorts.setdefault(batch, set()).add(variety)
    batches = case.columns("batches")
    for _, batch, other in batches.rows("batch", "other_seed", where=batches.known("other_seed")):
        # Of another's seed the name says nothing: it is none of the farm's own.
        sorts.setdefault(batch, set()).add(f"{_UNKNOWN}{other}")
    return sorts


def _dryers(equipment: Sequence[str], on: Sequence[str]) -> Iterator[tuple[str, bool, bool]]:
    """Each piece of a run, whether seed dried on it, and whether it may have.

    Where no place to dry is named, a piece that is called one is; and any may be if none is called so.
    """
    places = {_fold(place) for place in on}
    called = any(map(is_called_dryer, equipment))
    for piece in dict.fromkeys((*equipment, *on)):
        dries = _fold(piece) in places if places else is_called_dryer(piece)
        yield piece, dries, dries or not (places or called)


def find_dirty(case: Case) -> dict[int, list[tuple[Use, Use]]]:
    """By row the runs that other seed may have got into: each use with the run that nothing parts it from."""
    pieces, unnamed = _pieces(case)
    dirty: dict[int, list[tuple[Use, Use]]] = {}
    for piece in pieces.values():
        for use in piece.uses:
            # Of a run that claims nothing nobody asks what went along with it.
            if use.status != "conventional" and (other := piece.find_dirt(use, unnamed)) is not None:
                dirty.setdefault(use.row, []).append((use, other))
    return dirty


def handles_other_seed(case: Case) -> bool:
    """Whether the farm runs seed of another status, sort or variety as well."""
    batches = case.columns("batches")
    other = (batches["status"] != "organic") | batches.known("other_seed")
    return bool(other.any()) or len(set(case.joined("batch_varieties")["variety"].tolist())) > 1


def _is_organic_too(other: Use, use: Use) -> bool:
    """Whether only the name of the seed is in question, since the other was no lower."""
    return other.is_of_known_sorts and not other.is_lower_than(use)


def is_called_dryer(piece: str) -> bool:
    """Whether a piece of equipment is called something that seed dries on."""
    return _DRYING.search(piece) is not None


def _fold(piece: str) -> str:
    return " ".join(piece.split()).casefold()


@rule(
    weight="unproven",
    clauses=(*NOT_MIXED, *TRUE_NAME),
    remedy="Write the cleaning under `cleaning`, with its day and the equipment, and with `after` and "
    "`before` where it was on the day of a run. If none was done, say what else kept the seed apart, and"
    " look through the seed for strangers.",
    after=("batch-mixed-status", "batch-mixed-variety"),
)
def equipment_not_cleaned(case: Case) -> Iterator[Finding]:
    """A piece of equipment held other seed before, or meanwhile, and no cleaning parts the two.

    Seed hides in sieves, in trays and behind blades. After other seed, of another variety or of a lower
    status, only a cleaning shows that nothing of it went along; what dries beside it is mixed by a draught. A
    run that names no equipment may have used any. Earlier seasons count as well. Where the other seed was
    organic too and of another variety, it is the name that isn't shown.
    """
    dirty: Mapping[int, list[tuple[Use, Use]]] = case.dirty_runs
    for row in sorted(dirty):
        found = dirty[row]
        use, other = max(found, key=lambda pair: pair[1].start)
        held = join(dict.fromkeys(one.piece for one, _ in found))
        of = f" ({other.status}{', ' + join(sorted(other.sorts)) if other.sorts else ''})"
        if other.piece == _ANY:
            may = f"of {day(other.start)} may have gone through {held}"
            told = f"Before batch {use.batch}, batch {other.batch}{of} {may}"
        elif other.start > use.start:
            run = f"batch {other.batch}{of} was run on it on {day(other.start)}"
            told = f"While batch {use.batch} lay on {held}, {run}"
        else:
            last = f"last held seed of batch {other.batch}{of} on {day(other.start)}"
            told = f"Before batch {use.batch}, {held} {last}"
        yield Finding(
            "batches",
            use.batch,
            row,
            ("equipment",),
            f"{told}, and no cleaning between the two is written down.",
            supply=f"the cleaning of {held} before batch {use.batch}",
            clauses=TRUE_NAME if all(_is_organic_too(one, use) for _, one in found) else None,
        )


@rule(
    weight="unproven",
    clauses=NOT_MIXED,
    remedy="Name under `equipment` everything that the seed touched, from the mixer to the trays.",
)
def equipment_unnamed(case: Case) -> Iterator[Finding]:
    """A run doesn't say what equipment the seed touched, on a farm that handles other seed too.

    Whether the equipment was clean can't be asked of a run that names none.
    """
    runs = case.columns("batches")
    silent = runs.absent("equipment")
    if not silent.any():
        return
    weight: Weight | None = None if handles_other_seed(case) else "advice"
    batches = runs["batch"][silent].tolist()
    for row, batch in runs.rows("batch", where=silent):
        yield Finding(
            "batches",
            batch,
            row,
            ("equipment",),
            f"Nothing says what equipment {name('batches', batches)} went through.",
            weight=weight,
            cause="equipment",
            supply=f"the equipment of {name('batches', batches)}",
        )
