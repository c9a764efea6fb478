"""Pests in the orchard, what was tried before a material, what its label asks, and the water that is used."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.columns import Columns, days_from, group_rows, is_in
from certgen.rules.findings import Finding
from certgen.rules.growing.approvals import find_approvals
from certgen.rules.growing.inputs import claimed_inputs
from certgen.rules.pollination.spelling import fold_name
from certgen.rules.registry import rule
from certgen.rules.wording import capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.records.columns import Array
    from certgen.rules.case import Case

_DAY_S: Final = 86_400
_WALK: Final = ("scouting", "date", "block", "done")
_AGAINST_PESTS: Final = ("pest control", "weed control", "disease control")
_PEST: Final = re.compile(
    r"\b(?:pests?|aphids?|mites?|scales?|whitefl(?:y|ies)|mealybugs?|thrips|hoppers?|fruit fl(?:y|ies)|"
    r"moths?|caterpillars?|borers?|snails?|slugs?|nematodes?|mildew|mould|rot|blight|anthracnose|rust|"
    r"leaf spot|phytophthora|weeds?|fung(?:us|i)|disease)\b",
    re.IGNORECASE,
)


def _own_inputs(case: Case, *columns: str) -> Iterator[tuple[Any, ...]]:
    """The rows of this season's own inputs on land that claims, and what the named columns say there."""
    return case.columns("inputs").rows(*columns, where=claimed_inputs(case) & case.own("inputs"))


@rule(
    weight="advice",
    clauses=("us-nop:205.206", "us-nop:205.201(a)(1)"),
    remedy="Enter the walk under `scouting`, with what was found and what was done first, and name it at the "
    "input.",
)
def material_before_scouting(case: Case) -> Iterator[Finding]:
    """A material was used against a pest, and no walk shows that it was needed or what was tried first.

    Growing practice comes first, then hands, water and traps, then living things; a material is the last
    of them. A count from a walk is what shows it.
    """
    span = case.practice("scouting_before_material_days")
    if span is None:
        return
    days = int(span.high or 0)
    walks = _Walks(case, days)
    approvals = find_approvals(case)
    columns = ("input", "material", "purpose", "block", "date", "scouting")
    for row, identifier, material, purpose, block, when, cited in _own_inputs(case, *columns):
        kind = approvals[row].kind if row in approvals else ""
        if not (cited or _is_against_pests(kind, purpose)):
            continue
        why = walks.miss(block, when, tuple(cited or ()))
        if why is None:
            continue
        yield Finding(
            "inputs",
            identifier,
            row,
            ("scouting",),
            f"{capital(material)} was used on block {block} on {day(when)} (input {identifier}), and {why}.",
            reaches=(),
        )


def _is_against_pests(kind: str, purpose: str | None) -> bool:
    """By its kind on the list of approved materials, else by the words of its purpose."""
    return kind in _AGAINST_PESTS or (not kind and purpose is not None and bool(_PEST.search(purpose)))


@dataclass(frozen=True, slots=True)
class Walk:
    """A walk for pests: its number, day and block, and what was done against what it found."""

    number: str
    on: date
    block: str
    done: tuple[Mapping[str, Any], ...]

    def tried(self, when: date) -> bool:
        """Whether something other than a material was done by a day."""
        return any(
            step["kind"] != "material" and (step.get("date") is None or step["date"] <= when)
            for step in self.done
        )


class _Walks:
    """The walks for pests by block. Very many inputs on a block ask the same of them."""

    def __init__(self, case: Case, days: int) -> None:
        """`days` is how long before a material a walk may have been that no input names."""
        self._days = timedelta(days)
        self._by_block: dict[str, list[Walk]] = {}
        self._by_number: dict[tuple[str, str], list[tuple[int, Walk]]] = {}
        for row, *told in case.columns("scouting").rows(*_WALK):
            walk = Walk(*told)
            self._by_block.setdefault(walk.block, []).append(walk)
            self._by_number.setdefault((walk.block, walk.number), []).append((row, walk))
        self.miss = cache(self._miss)

    def _miss(self, block: str, when: date, cited: tuple[str, ...]) -> str | None:
        """Why no walk shows what was tried before a material on a day; None if one does."""
        before = self._before(block, when, cited)
        if any(walk.tried(when) for walk in before):
            return None
        if before:
            return f"{name('scouting', [walk.number for walk in before])} told of nothing else done first"
        return f"no walk through it in the {count(self._days.days, 'day')} before is on record"

    def _before(self, block: str, when: date, cited: Sequence[str]) -> list[Walk]:
        """The walks up to a day: those that the input names, else those of the days before."""
        if not cited:
            first = when - self._days
            return [walk for walk in self._by_block.get(block, ()) if first <= walk.on <= when]
        named = [told for number in dict.fromkeys(cited) for told in self._by_number.get((block, number), ())]
        return [walk for _, walk in sorted(named, key=itemgetter(0)) if walk.on <= when]


@rule(
    weight="advice",
    clauses=("us-nop:205.201(a)(1)",),
    remedy="Read the label: it decides, and so does whoever is licensed to apply it. If people were in the "
    "block too early, say under `note` what was done for them; keep fruit back as the label says.",
)
def label_time_short(case: Case) -> Iterator[Finding]:
    """People worked in a block, or fruit was picked, within the time that a label keeps them out.

    It is for their safety, and no lot's standing rests on it. Records give days, not hours: work on the same
    day may have been done before the material was used.
    """
    approvals = find_approvals(case)
    work: dict[str, Columns] | None = None
    columns = ("input", "material", "block", "date", "reentry_interval_s", "days_to_harvest_s")
    for row, identifier, material, block, when, keep_out, wait in _own_inputs(case, *columns):
        listed = approvals.get(row)
        longest = (
            _longest(keep_out, listed.reentry if listed else 0),
            _longest(wait, listed.harvest if listed else 0),
        )
        if not any(longest):
            continue
        work = _work_by_block(case) if work is None else work
        parts = list(_early(work[block], when, *longest)) if block in work else []
        if parts:
            yield Finding(
                "inputs",
                identifier,
                row,
                (parts[0][0],),
                f"{capital(material)} was used on block {block} on {day(when)} (input {identifier}). Its"
                f" label {'; it '.join(words for _, words in parts)}.",
                reaches=(),
            )


def _longest(stated: float | None, listed: float | None) -> float:
    return max(stated or 0, listed or 0)


def _early(work: Columns, when: date, keep_out: float, wait: float) -> Iterator[tuple[str, str]]:
    """What was done in a block before a label's times were over: the field of the time, and words."""
    passed = days_from(np.array(when, dtype="datetime64[D]"), work["date"]) * _DAY_S
    # On the last day of a time nobody can tell whether it was over; fruit waits for whole days.
    there = (passed >= 0) & (passed <= keep_out) & (keep_out > 0)
    if there.any():
        told = join(_tell_work(work, there))
        yield "reentry_interval", f"keeps people out for {_time(keep_out)}, and {told} on those days"
    fruit = (work["kind"] == "harvests") & (passed >= 0) & (passed < wait)
    if fruit.any():
        yield "days_to_harvest", f"asks {_time(wait)} to picking, and {join(_tell_work(work, fruit))} sooner"


def _time(seconds: float) -> str:
    if seconds >= 2 * _DAY_S and seconds % _DAY_S == 0:
        return count(int(seconds // _DAY_S), "day")
    return count(round(seconds / 3600, 1), "hour") if seconds % 3600 else count(int(seconds // 3600), "hour")


_DONE: Final = {"bagging": "covered or looked at", "screening": "taken", "harvests": "picked"}


def _tell_work(work: Columns, where: Array) -> Iterator[str]:
    for kind, rows in group_rows(work["kind"], where).items():
        names = list(dict.fromkeys(work["id"][rows].tolist()))
        yield f"{name(kind, names)} {'was' if len(names) == 1 else 'were'} {_DONE[kind]}"


def _work_by_block(case: Case) -> dict[str, Columns]:
    """By block each day that somebody worked at a tree there: `kind` (the table), `id`, `date`."""
    bags, trees, looks = case.columns("bagging"), case.joined("trees"), case.joined("checks")
    samples, picked = case.joined("samples"), case.joined("picked")
    parts = [
        ("bagging", bags["bag"], bags["covered"], bags["tree"]),
        ("bagging", looks["bag"], looks["date"], bags.look_up("bag", looks["bag"], "tree")),
        ("screening", samples["sample"], samples["collected"], samples["tree"]),
        ("harvests", picked["harvest"], picked["date"], picked["tree"]),
    ]
    kinds, names, days, worked_at = (list(part) for part in zip(*parts, strict=True))
    work = Columns(
        {
            "kind": np.repeat(np.array(kinds, dtype=object), [len(part) for part in names]),
            "id": np.concatenate(names),
            "date": np.concatenate(days),
            "block": trees.look_up("tree", np.concatenate(worked_at), "block"),
        },
        size=sum(map(len, names)),
    )
    whole = work.known("id") & work.known("date")
    return {
        block: work.where(np.array(rows), "kind", "id", "date")
        for block, rows in group_rows(work["block"], whole).items()
    }


@rule(
    weight="advice",
    clauses=("us-nop:205.203",),
    remedy="Write under `action` what was done with the water since, or enter the test that found it fit.",
)
def water_unfit(case: Case) -> Iterator[Finding]:
    """Water was found unfit for what it is used for, and nothing says what was done.

    It goes onto plants, fruit and seed. A later test of the same source that finds it fit settles it.
    """
    tests = case.columns("water_tests")
    last: dict[str, date] = {}
    for _, source, when in tests.rows("source", "date", where=is_in(tests["fit"], (True,))):
        last[fold_name(source)] = max(when, last.get(fold_name(source), when))
    unfit = is_in(tests["fit"], (False,)) & tests.absent("action")
    columns = ("water_test", "source", "date", "used_for", "found")
    for row, identifier, source, when, uses, found in tests.rows(*columns, where=unfit):
        if last.get(fold_name(source), when) > when:
            continue
        use = join(uses) if uses else "what it is used for"
        told = f" ({found})" if found else ""
        yield Finding(
            "water_tests",
            identifier,
            row,
            ("fit",),
            f"Water of the {source} was found unfit for {use} on {day(when)}{told}, and nothing says what"
            " was done.",
            reaches=(),
        )
