"""Which trees and bags a list of work leaves out, and why: whoever walks along it misses them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import plain_rows
from certgen.rules.growing.selection import list_unfit
from certgen.rules.wording import capital, count

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.examination import Result

#: A verdict on a tree, as a list says why the tree isn't on it.
_VERDICTS = {
    "positive": "positive",
    "conflicting": "results contradict one another",
    "inconclusive": "no clear result",
    "unscreened": "not screened",
}


def say_screening(result: Result) -> dict[str, str]:
    """What each tree's screening came to by the day, in a word or two: the verdict, or that its result is
    outstanding.
    """
    reported = dict(plain_rows(result.case.season.table("screening"), "sample", "reported"))
    waiting = set()
    for sample, tree, collected in plain_rows(result.case.samples, "sample", "tree", "collected"):
        came = reported.get(sample)
        if collected is not None and collected <= result.on and (came is None or came > result.on):
            waiting.add(tree)
    told = {}
    columns = ("tree", "verdict", "clearing_sample")
    for tree, verdict, clearing in plain_rows(result.case.trees, *columns):
        came = reported.get(clearing)
        later = verdict == "unscreened" or (verdict == "clear" and came is not None and came > result.on)
        told[tree] = "result outstanding" if later and tree in waiting else verdict
    return told


def say_why_no_parent(result: Result) -> dict[str, str]:
    """Why each of the farm's trees can't be a parent on the day; a tree that can is not among them."""
    roles = result.profile.role
    bearing = {*roles("seed_parents"), *roles("needs_pollen_parent")}
    unfit = {tree for tree, since in list_unfit(result.case).items() if since <= result.on}
    screening = say_screening(result)
    why: dict[str, str] = {}
    for tree, sex, removed, verdict in plain_rows(result.case.trees, "tree", "sex", "removed", "verdict"):
        # A tree that two seasons tell of is gone if one of them says so.
        if why.get(tree) == "removed" or (removed is not None and removed <= result.on):
            why[tree] = "removed"
        elif verdict == "positive":
            why[tree] = "positive"
        elif tree in unfit:
            why[tree] = "no parent, by what was seen on it"
        elif sex not in bearing:
            why[tree] = _say_sex(sex)
        elif screening[tree] != "clear":
            why[tree] = _VERDICTS.get(screening[tree], screening[tree])
    return why


def _say_sex(sex: str | None) -> str:
    return "sex not known" if sex in {None, "unknown"} else f"{sex}, which bears no seed"


def say_why_no_seed(result: Result, bags: Iterable[tuple[str, str | None]]) -> dict[str, str]:
    """Why the fruit under each of these bags (number, tree) gives no seed of a lot, as far as the day's
    records tell: its tree, or what rejects the bag itself. A bag that may is not among them.
    """
    trees, known = say_why_no_parent(result), set(result.case.tree_of.index)
    against = {
        node.id
        for gap in result.gaps
        if gap.weight == "rejects" and gap.explanation is None
        for node in gap.starts
        if node == Node("bagging", node.id)
    }
    why = {}
    for bag, tree in bags:
        if bag in against:
            why[bag] = "its own record speaks against it"
        elif tree not in known:
            why[bag] = "its tree is not on record"
        elif tree in trees:
            why[bag] = f"tree {trees[tree]}"
    return why


def say_left_out(by_reason: Mapping[str, Sequence[str]], noun: str) -> str:
    """How many stand on no line of a list, reason by reason, and each by its number; empty if none is."""
    told = [(why, names) for why, names in by_reason.items() if names]
    if not told:
        return ""
    each = "; ".join(f"{why} ({len(names)}): {', '.join(sorted(names))}" for why, names in told)
    return f"{capital(count(sum(len(names) for _, names in told), noun))} left out: {each}."


def gather(why: Mapping[str, str]) -> dict[str, list[str]]:
    """What is left out, by reason."""
    gathered: dict[str, list[str]] = {}
    for identifier, reason in why.items():
        gathered.setdefault(reason, []).append(identifier)
    return dict(sorted(gathered.items()))
