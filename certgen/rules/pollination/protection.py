"""How long each bag kept foreign pollen out, and what shows it.

A bag protects from the day it was put on to the last look that found it intact, or to its removal. A failure
that a look finds reaches back to the look before it; after a storm only a look tells whether the bag held.
The stigma takes pollen until the petals have fallen, or for as many days as the crop's profile says; of a
crop whose profile says nothing, until somebody has seen them fall.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from certgen.records.columns import Columns, group_rows, is_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from certgen.records.columns import Array
    from certgen.rules.case import Case

FAILURES: Final = ("torn", "loose", "gone")
#: What a bag's days come to: it held; nobody looked; it came off too soon; a storm came and nobody looked
#: since; it was found open later than the flower needed it, or while it did; nobody knows when it was put on.
STATES: Final = ("held", "unwatched", "early", "storm", "doubtful", "failed", "undated")

#: So many stretches of land, and so many storms over the same bags, are known again.
_KEPT: Final = 4
_STORMS: Final = 400


def list_looks(case: Case) -> Columns:
    """One row a look at a bag: `row` and number (`bag`), `position` in its list, `date`, `condition`.

    An incident of torn bags is a look as well: it has no position in the bag's own list (-1).
    """
    own = case.season.elements("bagging", "checks")
    looks = own["value"].tolist()
    dates = np.array([look.get("date") or "NaT" for look in looks], dtype="datetime64[s]")
    words = np.array([look.get("condition") for look in looks], dtype=object)
    incidents, bags = case.columns("incidents"), case.columns("bagging")
    about = case.season.elements("incidents", "about")
    named = np.flatnonzero(incidents.at("kind", about["row"]) == "torn bags")
    torn = bags.find("bag", about["value"][named])
    there = torn >= 0
    return Columns(
        {
            "row": np.concatenate([own["row"], torn[there]]),
            "position": np.concatenate([own["position"], np.full(np.count_nonzero(there), -1)]),
            "bag": np.concatenate([own["id"], about["value"][named][there]]),
            "date": np.concatenate([dates, incidents.at("date", about["row"][named][there])]),
            "condition": np.concatenate([words, np.full(np.count_nonzero(there), "torn", dtype=object)]),
        },
        size=len(own) + int(np.count_nonzero(there)),
    )


class Storm(NamedTuple):
    """A storm: the bags that it went over, by row, its day, and who tells of it in words."""

    rows: Array
    day: Array
    source: str


def list_storms(case: Case) -> Iterator[Storm]:
    """The storms of rounds and then of incidents, each with the bags that it went over.

    Thousands of storms may each have gone over thousands of bags, so they come one after the other.
    """
    rounds, incidents = case.columns("rounds"), case.columns("incidents")
    storms = rounds["kind"] == "storm"
    torn = is_in(incidents["kind"], ("storm", "torn bags"))
    if not (storms.any() or torn.any()):
        return
    land = _Land(case)
    for at, name, *named in rounds.rows("round", "blocks", "trees", "bags", where=storms):
        yield Storm(land.under(*map(tuple, named)), rounds["date"][at], f"round {name}")
    for at, name, kind, about in incidents.rows("incident", "kind", "about", where=torn):
        rows = land.named(tuple(about), with_bags=kind == "storm")
        yield Storm(rows, incidents["date"][at], f"incident {name}")


class _Land:
    """Which bags hang on blocks, on plantings and on trees, and which are meant themselves."""

    def __init__(self, case: Case) -> None:
        bags = case.joined("bags")
        self._size = len(bags)
        self._trees, self._bags = case.ranges("trees"), case.ranges("bagging")
        self._tree_at = self._trees.places(bags["tree"].tolist())
        self._bag_at = self._bags.places(bags["bag"].tolist())
        self._by_name = {
            column: {name: np.array(rows) for name, rows in group_rows(bags[column]).items()}
            for column in ("block", "tree", "planting", "bag")
        }
        self._kept: dict[object, Array] = {}

    def under(self, blocks: Sequence[str], trees: Sequence[str], named: Sequence[str]) -> Array:
        """The bags on blocks, and those that numbers and ranges of trees or bags mean."""
        return self._keep((blocks, trees, named), lambda: self._find(blocks, trees, named))

    def _find(self, blocks: Sequence[str], trees: Sequence[str], named: Sequence[str]) -> Array:
        hit = self._mark(("block",), blocks)
        for entries, ranges, at in ((trees, self._trees, self._tree_at), (named, self._bags, self._bag_at)):
            if entries:
                hit |= ranges.mark(entries)[at]
        return np.flatnonzero(hit)

    def named(self, about: Sequence[str], *, with_bags: bool) -> Array:
        """The bags on blocks, trees and plantings of some names, and those that bear one."""
        columns = ("block", "tree", "planting", *(("bag",) if with_bags else ()))
        return self._keep((about, with_bags), lambda: np.flatnonzero(self._mark(columns, about)))

    def _mark(self, columns: Iterable[str], names: Iterable[str]) -> Array:
        hit = np.zeros(self._size, dtype=bool)
        for name in dict.fromkeys(names):
            for column in columns:
                rows = self._by_name[column].get(name)
                if rows is not None:
                    hit[rows] = True
        return hit

    def _keep(self, asked: object, find: Callable[[], Array]) -> Array:
        """Storms over the same land one after the other go over the same bags, which are the same array."""
        if asked not in self._kept:
            if len(self._kept) == _KEPT:
                self._kept.clear()
            self._kept[asked] = find()
        return self._kept[asked]


def judge_bags(case: Case) -> Columns:
    """Bags, row for row: `need` (the day until which the cover was needed), `state`, and what it rests on.

    `looked` is the last look that found the bag intact before any failure, `failed` and `failure` the first
    that didn't; `storm` is the day of a storm that no look followed, `storm_source` who tells of it.
    """
    bags, looks, picked = case.columns("bagging"), case.joined("checks"), case.joined("picked")
    practice = case.practice("days_covered")
    covered, uncovered = bags["covered"], bags["uncovered"]
    need = bags["petal_fall"]
    if practice is not None and practice.low is not None:
        least = np.timedelta64(round(practice.low * 86_400), "s")
        need = np.where(np.isnat(need), covered + least, need)
    # What was picked under its cover hung there until then.
    known = picked.known("bag_row")
    first = _extreme(np.fmin, picked["bag_row"][known].astype("int64"), picked["date"][known], len(bags))
    off = np.where(np.isnat(uncovered), first, uncovered)
    row, date = looks["row"], looks["date"]
    # Before it hung and after it came off a look says nothing.
    counts = ~(date < covered[row]) & ~(date > off[row])
    failed, failure = _first_failures(looks, counts & is_in(looks["condition"], FAILURES), len(bags))
    good = counts & (looks["condition"] == "intact") & ~(date >= failed[row])
    looked = _extreme(np.fmax, row[good], date[good], len(bags))
    storm, source = _unchecked_storms(case, bags, looked, need)
    broke = failure.astype(bool)
    state = np.full(len(bags), "unwatched", dtype=object)
    removed = (uncovered >= need) & ~broke
    state[removed] = np.where(np.isnat(storm), "held", "storm")[removed]
    state[uncovered < need] = "early"
    state[broke] = np.where(failed > need, "doubtful", "failed")[broke]
    state[looked >= need] = "held"
    state[np.isnat(covered)] = "undated"
    return Columns(
        {
            "need": need, "looked": looked, "failed": failed, "failure": failure, "storm": storm,
            "storm_source": source, "state": state,
        },
        size=len(bags),
    )  # fmt: skip


def _extreme(choose: np.ufunc, rows: Array, dates: Array, size: int) -> Array:
    """The first or last day of each row, absent where none is known; `choose` passes over what is absent."""
    found = np.full(size, np.datetime64("NaT"), dtype="datetime64[s]")
    choose.at(found, rows, dates)
    return found


def _first_failures(looks: Columns, bad: Array, size: int) -> tuple[Array, Array]:
    """By bag's row the first look that found it open: its day, and what was found."""
    at = np.flatnonzero(bad)
    at = at[np.lexsort((looks["date"][at], looks["row"][at]))]
    rows, first = np.unique(looks["row"][at], return_index=True)
    failed = np.full(size, np.datetime64("NaT"), dtype="datetime64[s]")
    failure = np.full(size, None)
    failed[rows], failure[rows] = looks["date"][at[first]], looks["condition"][at[first]]
    return failed, failure


def _unchecked_storms(case: Case, bags: Columns, looked: Array, need: Array) -> tuple[Array, Array]:
    """By bag's row the storm that it hung through while it was needed, and after which nobody looked: its
    day, and who tells of it."""
    day = np.full(len(bags), np.datetime64("NaT"), dtype="datetime64[s]")
    source = np.full(len(bags), None)
    covered, uncovered = bags["covered"], bags["uncovered"]
    # Each holds its rows, so that no others come to stand in their place.
    taken: dict[tuple[int, Any], Array] = {}
    for rows, when, told in list_storms(case):
        # A second storm on one day over the same bags finds none that the first left.
        if (id(rows), when) in taken:
            continue
        if len(taken) == _STORMS:
            taken.clear()
        taken[id(rows), when] = rows
        hung = (covered[rows] <= when) & ~(uncovered[rows] < when) & (when < need[rows])
        hit = rows[hung & ~(looked[rows] > when) & np.isnat(day[rows])]
        day[hit], source[hit] = when, told
    return day, source
