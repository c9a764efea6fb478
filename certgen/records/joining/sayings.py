"""What rounds and letters say, laid into a column: who is believed, who says otherwise, what was seen.

A saying is of all its records at once. Thousands of rounds may each speak of thousands of bags, which are
too many pairs to look at one by one or to list: of very many disagreements each record tells the first, and
how many more there are; of very many looks on one day that found the same each bag keeps one, that says so,
and where that is still too many, those that tell how long it protected (`kept_looks`).
"""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from certgen.records.frames import objects
from certgen.records.joining.contradictions import shown
from certgen.records.joining.kept_looks import keep_looks
from certgen.records.rows import is_absent
from certgen.records.season import Contradiction

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.records.columns import Array, Columns

#: So many disagreements between a season's records and its rounds and letters are told one by one.
MOST_DISAGREEMENTS: Final = 20_000
#: So many looks at bags, of all rounds together, are kept one by one.
MOST_LOOKS: Final = 50_000
#: And so many where those of one day and one condition are one. Beyond, each bag keeps four at most.
MOST_KEPT: Final = 500_000


class Saying(NamedTuple):
    """That a round, a letter or the routine says a value of some records' field."""

    rows: Array
    value: Any
    source: str
    specific: bool


class _Told:
    """Of one column's records who said otherwise first, and how many did."""

    def __init__(self, size: int) -> None:
        self.first: dict[int, Contradiction] = {}
        self.count = np.zeros(size, dtype="int64")


class Disagreements:
    """Who says otherwise than the records, or than another who was believed."""

    def __init__(self) -> None:
        self._total = 0
        self._all: list[Contradiction] = []
        self._told: dict[tuple[str, str], _Told] = {}

    def add(
        self,
        place: tuple[str, str],
        here: Sequence[Any] | Array,
        rows: Array,
        source: str,
        says: str,
    ) -> None:
        """That a source says something else of some rows, each once, than what stands there.

        `place` is the table and the column, `here` what stands in all of its rows.
        """
        told = self._told.setdefault(place, _Told(len(here)))
        self._total += len(rows)
        few = self._total <= MOST_DISAGREEMENTS
        if not few:
            self._all.clear()
        wanted = range(len(rows)) if few else np.flatnonzero(told.count[rows] == 0).tolist()
        told.count[rows] += 1
        for at in wanted:
            row = int(rows[at])
            one = Contradiction(place[0], row, place[1], shown(here[row]), source, says)
            told.first.setdefault(row, one)
            if few:
                self._all.append(one)

    def list(self) -> list[Contradiction]:
        """All of them, or of each record and column the first with how many more there are."""
        if self._total <= MOST_DISAGREEMENTS:
            return self._all
        return [
            one._replace(more=int(told.count[row]) - 1)
            for told in self._told.values()
            for row, one in told.first.items()
        ]


def fill_silent(
    values: list[Any],
    said: Iterable[Saying],
    place: tuple[str, str],
    disagreements: Disagreements | None,
    *,
    always: bool = False,
) -> list[str]:
    """Lays what is said into a column's values where they are silent; gives who says each.

    Who says otherwise goes to the disagreements, if there are any to be told of; `always` tells also of a
    record that denies what is said of most.
    """
    return _Filling(values, place, disagreements, always=always).lay(said)


class _Filling:
    """A column that is being filled. What stands in a row is known by the number of its text, -1 for
    nothing: rows are compared together."""

    def __init__(
        self,
        values: list[Any],
        place: tuple[str, str],
        disagreements: Disagreements | None,
        *,
        always: bool,
    ) -> None:
        self.values = values
        self.place = place
        self.disagreements = disagreements
        self.always = always
        self.sources = [""] * len(values)
        self.texts: list[str] = []
        self.number_of: dict[str, int] = {}
        self.there = np.fromiter(
            (-1 if is_absent(value) else self.number(value) for value in values), "int64", len(values)
        )
        #: Filled by what was said of most, which gives way to the record and to an exception.
        self.loose = np.zeros(len(values), dtype=bool)

    def number(self, value: Any) -> int:
        text = shown(value)
        found = self.number_of.setdefault(text, len(self.texts))
        if found == len(self.texts):
            self.texts.append(text)
        return found

    def lay(self, said: Iterable[Saying]) -> list[str]:
        # What was said before of the same rows, and nobody had anything against.
        agreed: set[tuple[int, int, bool]] = set()
        # An exception names its record; it goes before what held for the rest.
        for one in sorted(said, key=lambda saying: not saying.specific):
            told = self.number(one.value)
            before = (id(one.rows), told, one.specific)
            if before not in agreed and self._say(one, told):
                agreed.add(before)
        return self.sources

    def _say(self, one: Saying, told: int) -> bool:
        """Lays in one saying; whether nobody says otherwise."""
        there = self.there[one.rows]
        empty = one.rows[there < 0]
        for row in empty.tolist():
            self.values[row], self.sources[row] = one.value, one.source
        self.there[empty] = told
        self.loose[empty] = not one.specific
        other = (there >= 0) & (there != told)
        if not (self.always or one.specific):
            # What held for most gives way to the record and to an exception; of two that say it one is wrong.
            other &= self.loose[one.rows]
        if not other.any():
            return True
        if self.disagreements is not None:
            rows = one.rows[other]
            self.disagreements.add(self.place, self.values, rows, one.source, self.texts[told])
        return False


class Looks:
    """What rounds saw of the bags, in their order."""

    def __init__(self) -> None:
        self._seen: list[tuple[Array, Mapping[str, Any]]] = []

    def __bool__(self) -> bool:
        return any(len(rows) for rows, _ in self._seen)

    def add(self, rows: Array, look: Mapping[str, Any]) -> None:
        """That each of some rows was looked at: `date`, `condition`, and `by` which round."""
        self._seen.append((rows, look))

    def first(self, size: int) -> list[str]:
        """For each of so many bags the round that looked at it first; an empty text where none did."""
        number = np.full(size, -1)
        for rows, ats in _by_rows({at: rows for at, (rows, _) in enumerate(self._seen)}):
            number[rows] = ats[0]
        return ["" if at < 0 else str(self._seen[at][1]["by"]) for at in number.tolist()]

    def add_to(self, bags: Columns) -> Columns:
        """Bags with the looks beside their own."""
        size = len(bags)
        if sum(len(rows) for rows, _ in self._seen) <= MOST_LOOKS:
            seen: list[list[Mapping[str, Any]]] = [[] for _ in range(size)]
            for rows, look in self._seen:
                for row in rows.tolist():
                    seen[row].append(look)
            of_row: Iterable[Sequence[Mapping[str, Any]]] = seen
        else:
            days = self._by_day_and_condition()
            if _count_kept(days, size) > MOST_KEPT:
                of_row = keep_looks(self._seen, bags)
            else:
                alike, heads = _group_alike([rows for rows, _ in self._seen], size)
                together = [tuple(found) for found in self._put_together(days, heads, size)]
                of_row = (together[at] for at in alike.tolist())
        both = zip(bags["checks"].tolist(), of_row, strict=True)
        return bags.adding(checks=objects([(*own, *found) if own else tuple(found) for own, found in both]))

    def _by_day_and_condition(self) -> dict[tuple[Any, Any], dict[int, Array]]:
        """What was seen on each day in each condition: by number of the look the rows."""
        found: dict[tuple[Any, Any], dict[int, Array]] = {}
        for at, (rows, look) in enumerate(self._seen):
            found.setdefault((look["date"], look["condition"]), {})[at] = rows
        return found

    def _put_together(
        self, days: Mapping[tuple[Any, Any], Mapping[int, Array]], heads: Array, size: int
    ) -> list[list[dict[str, Any]]]:
        """Of each bag that stands for those like it the looks, those of one day and one condition as one."""
        found: list[list[tuple[int, dict[str, Any]]]] = [[] for _ in heads]
        for (day, condition), seen in days.items():
            count, first = np.zeros(size, dtype="int64"), np.full(size, -1)
            for rows, ats in _by_rows(seen):
                count[rows] += len(ats)
                first[rows] = ats[0]
            for place in np.flatnonzero(count[heads]).tolist():
                number, at = int(count[heads[place]]), int(first[heads[place]])
                more = f" and {number - 1} more" if number > 1 else ""
                by = f"{self._seen[at][1]['by']}{more}"
                found[place].append((at, {"date": day, "condition": condition, "by": by}))
        return [[look for _, look in sorted(looks, key=itemgetter(0))] for looks in found]


def _by_rows(seen: Mapping[int, Array]) -> list[tuple[Array, list[int]]]:
    """The looks at the same rows together, by their numbers; those that begin last come first."""
    alike: dict[int, tuple[Array, list[int]]] = {}
    for at, rows in seen.items():
        alike.setdefault(id(rows), (rows, []))[1].append(at)
    return list(alike.values())[::-1]


def _count_kept(days: Mapping[tuple[Any, Any], Mapping[int, Array]], size: int) -> int:
    """How many looks so many bags have, those of one day and one condition counted once."""
    number = 0
    for seen in days.values():
        lists = {id(rows): rows for rows in seen.values()}.values()
        if len(lists) == 1:
            number += sum(map(len, lists))
            continue
        there = np.zeros(size, dtype=bool)
        for rows in lists:
            there[rows] = True
        number += int(np.count_nonzero(there))
    return number


def _group_alike(lists: Iterable[Array], size: int) -> tuple[Array, Array]:
    """For each of so many rows the group that it is in, and of each group one row.

    Rows that stand in the same lists are of one group.
    """
    group, members = np.zeros(size, dtype="int64"), np.zeros(size + 1, dtype="int64")
    members[0], groups = size, 1
    for rows in {id(one): one for one in lists}.values():
        old, of_row, here = np.unique(group[rows], return_inverse=True, return_counts=True)
        # Where a list holds a part of a group alone, that part is a group of its own.
        parted = here < members[old]
        new = groups + np.arange(np.count_nonzero(parted))
        members[old[parted]] -= here[parted]
        members[new] = here[parted]
        groups += len(new)
        old[parted] = new
        group[rows] = old[of_row]
    _, heads, group = np.unique(group, return_index=True, return_inverse=True)
    return group, heads
