"""How long each bag kept foreign pollen out, and what shows it.

A bag protects from the day it was put on to the last look that found it intact, or to its removal. A failure
that a look finds reaches back to the look before it; after a storm only a look tells whether the bag held.
The stigma takes pollen until the petals have fallen, or for as many days as the crop's profile says; of a
crop whose profile says nothing, until somebody has seen them fall.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import Columns, is_in

if TYPE_CHECKING:
    from certgen.records.columns import Array
    from certgen.rules.case import Case

FAILURES: Final = ("torn", "loose", "gone")
#: What a bag's days come to: it held; nobody looked; it came off too soon; a storm came and nobody looked
#: since; it was found open later than the flower needed it, or while it did; nobody knows when it was put on.
STATES: Final = ("held", "unwatched", "early", "storm", "doubtful", "failed", "undated")


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


def list_storms(case: Case) -> Columns:
    """One row a bag and storm that it hung through: `row` of the bag, `date`, and `source` in words."""
    bags = case.joined("bags")
    rows: list[Array] = [np.zeros(0, dtype="int64")]
    dates: list[Array] = [np.zeros(0, dtype="datetime64[s]")]
    sources: list[str] = []

    def tell(when: Array, source: str, hit: Array) -> None:
        rows.append(np.flatnonzero(hit))
        dates.append(np.full(len(rows[-1]), when))
        sources.extend([source] * len(rows[-1]))

    rounds = case.columns("rounds")
    storms = rounds["kind"] == "storm"
    for at, name, blocks, trees, named in rounds.rows("round", "blocks", "trees", "bags", where=storms):
        hit = is_in(bags["block"], blocks) | is_in(bags["tree"], _named(case, "trees", trees))
        hit |= is_in(bags["bag"], _named(case, "bagging", named))
        tell(rounds["date"][at], f"round {name}", hit)
    incidents = case.columns("incidents")
    torn = is_in(incidents["kind"], ("storm", "torn bags"))
    for at, name, kind, about in incidents.rows("incident", "kind", "about", where=torn):
        told = set(about)
        hit = is_in(bags["block"], told) | is_in(bags["tree"], told) | is_in(bags["planting"], told)
        if kind == "storm":
            hit |= is_in(bags["bag"], told)
        tell(incidents["date"][at], f"incident {name}", hit)
    row = np.concatenate(rows)
    told_by = np.array(sources, dtype=object)
    return Columns({"row": row, "date": np.concatenate(dates), "source": told_by}, size=len(row))


def _named(case: Case, table: str, entries: tuple[str, ...]) -> set[str]:
    return {name for entry in entries for name in case.ranges(table).expand(entry)}


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
    storms = list_storms(case)
    row, date = storms["row"], storms["date"]
    hung = (bags["covered"][row] <= date) & ~(bags["uncovered"][row] < date)
    at = np.flatnonzero(hung & (date < need[row]) & ~(looked[row] > date))
    rows, first = np.unique(row[at], return_index=True)
    day = np.full(len(bags), np.datetime64("NaT"), dtype="datetime64[s]")
    source = np.full(len(bags), None)
    day[rows], source[rows] = date[at[first]], storms["source"][at[first]]
    return day, source
