"""What screening leaves of the chance that a parent is transgenic, and what that means for each lot.

Planning figures: they rest on assumed shares and test performances, all listed by `list_assumptions`
and all changeable under `practice:` in the season.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from certgen.dossier.shares import share_parents
from certgen.figures.odds import LotOdds, MethodResult, Parent, judge_lot, update_events, weigh_each_untested
from certgen.records.rows import plain_rows, plain_values
from certgen.standards.practice import PRIOR, SELFED_SHARE, list_assumed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.dossier.shares import LotParents
    from certgen.examination import Result


@dataclass(frozen=True, slots=True)
class Assumption:
    """A figure that the odds rest on: the name to change it by, what it is, its per cent, its source."""

    key: str
    title: str
    percent: float
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class TreeOdds:
    """A tree's chance of carrying an event of concern, before and after its results, from 0 to 1.

    `unseen` are the events of concern that none of its counting results can see.
    """

    tree: str
    before: float
    after: float
    results: tuple[str, ...]
    unseen: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LotChance:
    """A lot's odds; `untested` says for each parent without a clearing result how many times the expected
    share it makes, against the same parent cleared by the season's usual method."""

    lot: str
    odds: LotOdds
    parents: tuple[Parent, ...]
    untested: Mapping[str, float]


def list_assumptions(result: Result) -> tuple[Assumption, ...]:
    """Every assumed figure, the season's own in place of the profile's."""
    assumptions = []
    for key in list_assumed(result.profile):
        practice = result.case.practice(key)
        if practice is not None and practice.usual is not None:
            assumptions.append(
                Assumption(key, practice.title, practice.usual, practice.source, practice.mark)
            )
    return tuple(assumptions)


def weigh_trees(result: Result) -> dict[str, TreeOdds]:
    """The odds of every tree in the register, from its counting results (negative or positive ones).

    The chance before is spread evenly over the events of concern; a method changes only those that it
    sees; repeats of one method count once. Where results contradict one another beyond doubt the chance
    before stands. A pool of n leaves finds one carrier among them with the method's chance for a single
    leaf to the power of n: an assumption, for no study of pooled papaya leaves was read.
    """
    assumed = {assumption.key: assumption.percent / 100 for assumption in list_assumptions(result)}
    events = result.season.details.events_of_concern or result.profile.default_events
    prior = assumed[PRIOR]
    priors = dict.fromkeys(events, prior / len(events)) if events else {"": prior}
    by_tree = _list_evidence(result, assumed, frozenset(priors))
    trees = dict.fromkeys(plain_values(result.season.table("trees")["tree"]))
    return {tree: _weigh_tree(tree, by_tree.get(tree, []), priors, prior) for tree in trees}


class _Evidence(NamedTuple):
    """A counting result on a tree, the events of concern that its method sees, and the result in words."""

    result: MethodResult
    sees: frozenset[str]
    words: str


def _list_evidence(
    result: Result, assumed: Mapping[str, float], events: frozenset[str]
) -> dict[str, list[_Evidence]]:
    by_tree: dict[str, list[_Evidence]] = {}
    columns = ("tree", "method", "targets", "outcome", "leaves")
    for tree, key, targets, outcome, leaves in plain_rows(result.case.samples, *columns):
        method = result.profile.methods.get(key)
        if tree is None or method is None or outcome not in {"negative", "positive"}:
            continue
        finds, spares = (assumed[f"{key}_{name}_pct"] for name in ("sensitivity", "specificity"))
        pooled = f" in a pool of {leaves}" if leaves > 1 else ""
        evidence = _Evidence(
            MethodResult(key, outcome == "positive", finds**leaves, spares),
            frozenset(method.sees(targets or ())) & events,
            f"{key} {outcome}{pooled}",
        )
        by_tree.setdefault(tree, []).append(evidence)
    return by_tree


def _weigh_tree(
    tree: str, evidence: Sequence[_Evidence], priors: Mapping[str, float], prior: float
) -> TreeOdds:
    try:
        after = sum(update_events(priors, [(piece.result, piece.sees) for piece in evidence]).values())
    except ValueError:
        after = prior
    seen = frozenset().union(*(piece.sees for piece in evidence))
    words = tuple(dict.fromkeys(piece.words for piece in evidence))
    unseen = tuple(event for event in priors if event and event not in seen)
    return TreeOdds(tree, prior, after, words, unseen)


def weigh_lots(result: Result, shared: Mapping[str, LotParents] | None = None) -> dict[str, LotChance]:
    """The odds of every lot whose parents are on record; `shared` are their shares, if they are known."""
    trees = weigh_trees(result)
    assumed = {assumption.key: assumption.percent / 100 for assumption in list_assumptions(result)}
    verdicts = {str(tree): str(verdict) for tree, verdict in result.case.verdicts["verdict"].items()}
    cleared_chance = _usual_clearing(trees, verdicts)
    chances = {}
    for lot, of in (share_parents(result) if shared is None else shared).items():
        parents = tuple(
            Parent(
                tree,
                float(share),
                trees[tree].after if tree in trees else assumed[PRIOR],
                verdicts.get(tree) == "clear",
                assumed[SELFED_SHARE],
            )
            for tree, share in of.shares.items()
        )
        untested = {} if cleared_chance is None else weigh_each_untested(parents, cleared_chance)
        chances[lot] = LotChance(lot, judge_lot(parents), parents, untested)
    return chances


def _usual_clearing(trees: Mapping[str, TreeOdds], verdicts: Mapping[str, str]) -> float | None:
    """The chance that a cleared tree of this season is left with: the median of those that are."""
    cleared = sorted(odds.after for tree, odds in trees.items() if verdicts.get(tree) == "clear")
    return cleared[len(cleared) // 2] if cleared else None
