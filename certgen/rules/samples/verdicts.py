"""What a tree's samples say of it, taken together, of all years.

A result counts when its controls passed, or when nothing is written about controls; a result whose
controls failed or weren't run is inconclusive, as is a negative of a pool larger than its method bears or of
a stain far outside its protocol. A negative pool clears each of its trees, unless it holds a tree that is
known to carry; a positive pool leaves each of them inconclusive, for it doesn't say which. A result settles
one that contradicts it if it is later, of the tree alone, by another method, no less sensitive, and sees at
least the same events.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.records.columns import Columns, group_rows, is_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from certgen.records.columns import Array
    from certgen.rules.case import Case
    from certgen.standards import Profile

VERDICTS: Final = ("clear", "positive", "inconclusive", "conflicting", "unscreened")
_COLUMNS: Final = ("collected", "method", "targets", "result", "controls", "incubation_s", "temperature_c")
_VOID: Final = ("failed", "not run")


def list_samples(case: Case) -> Columns:
    """One row a sample and tree: the outcome that counts, and why a result doesn't (`doubt`).

    `doubt` is empty, or one of `controls`, `pool` (too large), `protocol` (of a stain), `carrier` (a
    negative pool that holds a tree known to carry).
    """
    screening, pools = case.columns("screening"), case.season.elements("screening", "trees")
    single = np.flatnonzero(screening.known("tree"))
    row = np.concatenate([single, pools["row"]])
    sizes = np.bincount(pools["row"], minlength=len(screening))
    leaves = np.concatenate([np.ones(len(single), dtype="int64"), sizes[pools["row"]]])
    both = Columns(
        {
            "sample": np.concatenate([screening["sample"][single], pools["id"]]),
            "tree": np.concatenate([screening["tree"][single], pools["value"]]),
            "row": row,
            "leaves": leaves,
            **{name: screening.at(name, row) for name in _COLUMNS},
            # A pool of one tree is a sample of that tree.
            "pooled": leaves > 1,
        },
        size=len(row),
    )
    result = both["result"]
    doubt = np.full(len(row), "", dtype=object)
    doubt[_outside_protocol(both, case)] = "protocol"
    doubt[_too_large(both, case)] = "pool"
    doubt[is_in(both["controls"], _VOID)] = "controls"
    # A stain that went wrong may be pale for that; what it shows blue is blue.
    spoilt = (doubt == "controls") | (is_in(doubt, ("protocol", "pool")) & (result == "negative"))
    outcome = np.where(both.known("result"), result, "pending")
    outcome[both.known("result") & spoilt | both["pooled"] & (result == "positive")] = "inconclusive"
    return _doubt_pools_with_carriers(both.adding(outcome=outcome, doubt=doubt))


def _outside_protocol(samples: Columns, case: Case) -> Array:
    """Stains that stood far too short, too long, too cold or too warm to show anything."""
    wrong = np.zeros(len(samples), dtype=bool)
    for key, values in (
        ("incubation_h", samples["incubation_s"] / 3600),
        ("incubation_c", samples["temperature_c"]),
    ):
        practice = case.profile.practice.get(key)
        if practice is not None:
            low, high = practice.limits
            wrong |= (values < low) | (values > high)
    return wrong


def _too_large(samples: Columns, case: Case) -> Array:
    """Pools of more leaves than their method bears, as the crop's profile has it."""
    wrong = np.zeros(len(samples), dtype=bool)
    for method in case.profile.methods:
        most = case.practice(f"pool_leaves_{method}")
        if most is not None and most.high is not None:
            wrong |= (samples["method"] == method) & (samples["leaves"] > most.high)
    return wrong


def _doubt_pools_with_carriers(samples: Columns) -> Columns:
    """A negative pool that holds a tree whose own sample is positive missed what it was to find."""
    pooled, outcome = samples["pooled"], samples["outcome"]
    carriers = set(samples["tree"][~pooled & (outcome == "positive")].tolist())
    missed = pooled & (outcome == "negative") & is_in(samples["tree"], carriers)
    void = pooled & np.isin(samples["row"], samples["row"][missed])
    return samples.adding(
        outcome=np.where(void, "inconclusive", outcome), doubt=np.where(void, "carrier", samples["doubt"])
    )


def list_verdicts(case: Case) -> Columns:
    """What the samples say of each tree of the farm (see `judge_trees`)."""
    trees = list(case.columns("trees").first("tree"))
    return judge_trees(
        case.joined("samples"), trees, case.profile, case.events_of_concern, case.told_positive
    )


def judge_trees(
    samples: Columns,
    trees: Sequence[str],
    profile: Profile,
    events: Sequence[str] = (),
    told_positive: Sequence[str] = (),
) -> Columns:
    """`verdict`, `cleared` (day) and `clearing_sample` of each `tree`.

    A tree is cleared on the day on which the last sample was taken that it takes to see all `events`;
    where some can't be seen, on the day of the first. `told_positive` are trees that an incident calls
    positive, whatever their samples say.
    """
    outcomes = samples["outcome"].tolist()
    rows = group_rows(samples["tree"])
    clearing = _find_clearing(samples, trees, _able(samples, profile, events))
    doubted, told = set(_doubted_by_pools(samples, profile)), set(told_positive)
    judged: list[tuple[str, date | None, str | None]] = []
    for tree in trees:
        of_tree = rows.get(tree, ())
        found = {outcomes[row] for row in of_tree}
        verdict, (when, by) = _judge(found, called_positive=tree in told), clearing[tree]
        if {"negative", "positive"} <= found:
            verdict, when, by = _settle(samples, of_tree, profile)
        if verdict == "clear" and tree in doubted:
            verdict = "conflicting"
        judged.append((verdict, when, by) if verdict == "clear" else (verdict, None, None))
    return Columns(
        {
            "tree": np.array(trees, dtype=object),
            "verdict": np.array([verdict for verdict, _, _ in judged], dtype=object),
            "cleared": np.array([day or "NaT" for _, day, _ in judged], dtype="datetime64[s]"),
            "clearing_sample": np.array([by for _, _, by in judged], dtype=object),
        },
        size=len(trees),
    )


def _judge(outcomes: set[str], *, called_positive: bool) -> str:
    """The verdict on a tree whose outcomes don't contradict one another.

    An incident that no positive sample stands behind speaks against a tree all the same.
    """
    if "positive" in outcomes:
        return "positive"
    if called_positive:
        return "conflicting" if "negative" in outcomes else "positive"
    if "negative" in outcomes:
        return "clear"
    return "inconclusive" if outcomes else "unscreened"


def _find_clearing(
    samples: Columns, trees: Sequence[str], able: Mapping[str, Sequence[int]]
) -> dict[str, tuple[date | None, str | None]]:
    """By tree the day and the sample that complete the search for the events; `able` is `_able`'s."""
    days, names, of_tree = samples.values("collected"), samples["sample"].tolist(), samples["tree"].tolist()
    seen_first = _first_of(_negative(samples), of_tree)
    seen = [_first_of(rows, of_tree) for rows in able.values()]
    found: dict[str, tuple[date | None, str | None]] = {}
    for tree in trees:
        last = seen_first.get(tree)
        for rows in seen:
            row = rows.get(tree)
            if row is not None and last is not None and _is_later(days[row], days[last]):
                last = row
        found[tree] = (None, None) if last is None else (days[last], names[last])
    return found


def _is_later(day: date | None, than: date | None) -> bool:
    return day is not None and than is not None and day > than


def _first_of(rows: Sequence[int], keys: Sequence[str]) -> dict[str, int]:
    """By key the first of some rows that bears it."""
    return {keys[row]: row for row in reversed(rows)}


def find_clearing(
    samples: Columns, trees: Sequence[str], profile: Profile, events: Sequence[str]
) -> dict[str, date | None]:
    """By tree the day on which samples, all of them good, have seen every event; None where one is left."""
    able = _able(samples, profile, events)
    of_tree = samples["tree"].tolist()
    seen = [{of_tree[row] for row in rows} for rows in able.values()]
    clearing = _find_clearing(samples, trees, able)
    return {tree: clearing[tree][0] if all(tree in one for one in seen) else None for tree in trees}


def _negative(samples: Columns) -> list[int]:
    """The rows of negative samples, oldest first, those without a day last."""
    rows = np.flatnonzero(samples["outcome"] == "negative")
    ordered: list[int] = rows[np.argsort(samples["collected"][rows], kind="stable")].tolist()
    return ordered


def _able(samples: Columns, profile: Profile, events: Sequence[str]) -> dict[str, list[int]]:
    """For each event the rows of the negative samples that could have seen it, oldest first."""
    rows = _negative(samples)
    methods, targets = samples["method"].tolist(), samples["targets"].tolist()
    kinds = [(methods[row], tuple(targets[row])) for row in rows]
    sees = {kind: _sees(profile, *kind) for kind in dict.fromkeys(kinds)}
    return {
        event: [row for row, kind in zip(rows, kinds, strict=True) if event in sees[kind]] for event in events
    }


def _doubted_by_pools(samples: Columns, profile: Profile) -> list[str]:
    """Trees of a positive pool in which no tree was found, and whose own tests can't make up for that."""
    spoke = samples["pooled"] & (samples["result"] == "positive") & ~is_in(samples["controls"], _VOID)
    if not spoke.any():
        return []
    of_tree, outcome, alone = samples["tree"].tolist(), samples["outcome"], ~samples["pooled"]
    carriers = set(samples["tree"][alone & (outcome == "positive")].tolist())
    clean = group_rows(samples["tree"], alone & (outcome == "negative"))
    doubted: list[str] = []
    for _, pool in sorted(group_rows(samples["row"], spoke).items()):
        trees = [of_tree[row] for row in pool]
        own = [row for tree in dict.fromkeys(trees) for row in clean.get(tree, ())]
        # A tree of the pool that was found to be the one, or has no result of its own and may be.
        explained = carriers & set(trees) or set(trees) - {of_tree[row] for row in own}
        if not explained and set(trees) - _outdone(samples, pool[0], own, profile):
            doubted += trees
    return doubted


def _outdone(samples: Columns, pool: int, own: Sequence[int], profile: Profile) -> set[str]:
    """The trees whose own sample is younger than the pool, and sees at least as much at least as well."""
    methods, targets, days = samples["method"], samples["targets"], samples.values("collected")
    wanted, strength = _sees(profile, methods[pool], targets[pool]), _sensitivity(profile, methods[pool])
    return {
        samples["tree"][row]
        for row in own
        if _is_later(days[row], days[pool])
        and _sees(profile, methods[row], targets[row]) >= wanted
        and _sensitivity(profile, methods[row]) >= strength
    }


def _settle(samples: Columns, rows: Sequence[int], profile: Profile) -> tuple[str, date | None, str | None]:
    """The verdict on one tree whose results contradict one another, and what clears it."""
    every = _list_results(samples, rows, "negative", profile)
    negatives, positives = _extremes(every), _extremes(_list_results(samples, rows, "positive", profile))
    settling = [one for one in every if all(one.settles(other) for other in positives)]
    if settling:
        first = min(settling, key=lambda one: one.day)
        return "clear", first.collected, first.sample
    unsettled = [one for one in positives if not any(other.settles(one) for other in negatives)]
    if any(all(one.outweighs(other) for other in negatives) for one in unsettled):
        return "positive", None, None
    return "conflicting", None, None


def _extremes(results: Iterable[_Result]) -> list[_Result]:
    """Of results that differ in nothing but their days the first and the last: what settles or outweighs
    both, or is by either, does so with all between."""
    alike: dict[tuple[object, ...], list[_Result]] = {}
    for one in results:
        alike.setdefault((one.method, one.sees, one.sensitivity, one.pooled), []).append(one)
    ends = (
        (min(some, key=lambda one: one.day), max(some, key=lambda one: one.day)) for some in alike.values()
    )
    return [one for pair in ends for one in pair]


def _list_results(samples: Columns, rows: Sequence[int], outcome: str, profile: Profile) -> list[_Result]:
    chosen = np.array([row for row in rows if samples["outcome"][row] == outcome], dtype="int64")
    names = ("collected", "method", "targets", "pooled", "sample")
    columns = (samples.values(name, chosen) for name in names)
    return [
        _Result(
            collected, method, _sees(profile, method, targets), _sensitivity(profile, method), pooled, sample
        )
        for collected, method, targets, pooled, sample in zip(*columns, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Result:
    collected: date | None
    method: str | None
    sees: frozenset[str]
    sensitivity: float
    pooled: bool
    sample: str

    @property
    def day(self) -> str:
        return "" if self.collected is None else self.collected.isoformat()

    def settles(self, other: _Result) -> bool:
        """Whether it confirms or overturns the other: later, alone, otherwise, seeing no less."""
        return (
            bool(other.day)
            and self.day > other.day
            and not self.pooled
            and self.method != other.method
            and self.sees >= other.sees
            and self.sensitivity >= other.sensitivity
        )

    def outweighs(self, other: _Result) -> bool:
        """Whether the other can't cast doubt on it: it settles the other, or the other sees less."""
        return self.settles(other) or (self.method != other.method and self.sees > other.sees)


def _sees(profile: Profile, method: str | None, targets: Sequence[str]) -> frozenset[str]:
    known = profile.methods.get(method or "")
    return known.sees(targets) if known is not None else frozenset()


def _sensitivity(profile: Profile, method: str | None) -> float:
    known = profile.methods.get(method or "")
    return known.sensitivity if known is not None else 0.0


def list_called_positive(case: Case) -> tuple[str, ...]:
    """The trees that an incident calls positive, by their number or that of a sample or bag."""
    about = case.season.elements("incidents", "about")
    of_kind = case.columns("incidents").at("kind", about["row"]) == "positive screening"
    if not of_kind.any():
        return ()
    named = set(about["value"][of_kind].tolist())
    samples, trees, bags = case.joined("samples"), case.columns("trees")["tree"], case.columns("bagging")
    # Of a pool that its own record calls positive the samples of its trees tell more.
    telling = ~(samples["pooled"] & (samples["result"] == "positive"))
    hung = is_in(bags["bag"], named)
    found = [
        *trees[is_in(trees, named)].tolist(),
        *samples["tree"][is_in(samples["sample"], named) & telling].tolist(),
        *bags["tree"][hung].tolist(),
        *bags["pollen_parent"][hung].tolist(),
    ]
    return tuple(dict.fromkeys(tree for tree in found if tree is not None))
