"""What screening leaves of the chance that a parent is transgenic, and what that means for each lot.

Planning figures: they rest on assumed shares and test performances, all listed by `list_assumptions`
and all changeable under `practice:` in the season.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from certgen.dossier.shares import share_parents
from certgen.figures.odds import LotOdds, MethodResult, Parent, judge_lot, update_events, weigh_untested
from certgen.rules.selection import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result

_PRIOR = "prior_transgene_pct"
_SELFED = "selfed_share_pct"
_MOTHER_SELFED = "hemizygous_selfed"


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
    profile = result.profile
    found = []
    prior = result.case.practice(_PRIOR)
    usual = 10.0 if prior is None or prior.usual is None else prior.usual
    found.append(
        _assume(
            result,
            _PRIOR,
            prior.title if prior else "Share of transgenic trees before any test",
            usual,
            prior.source if prior else "assumed",
            prior.mark if prior else "assumed",
        )
    )
    for key, method in profile.methods.items():
        for kind, value in (("sensitivity", method.sensitivity), ("specificity", method.specificity)):
            found.append(
                _assume(
                    result,
                    f"{key}_{kind}_pct",
                    f"{method.title}: {kind}",
                    100 * value,
                    method.source,
                    method.performance_mark,
                )
            )
    selfed = profile.inheritance[_MOTHER_SELFED]
    found.append(
        _assume(
            result, _SELFED, selfed.title, 100 * selfed.share, "Mendelian shares, one insert", selfed.mark
        )
    )
    return tuple(found)


def _assume(result: Result, key: str, title: str, percent: float, source: str, mark: str) -> Assumption:
    own: Any = result.season.details.practice.get(key, {})
    if isinstance(own, dict) and own.get("usual") is not None and 0 <= float(own["usual"]) <= 100:
        return Assumption(key, title, float(own["usual"]), str(own.get("reason", "")), "set by the operation")
    return Assumption(key, title, float(percent), source, mark)


def weigh_trees(result: Result) -> dict[str, TreeOdds]:
    """The odds of every tree in the register, from its counting results (negative or positive ones).

    The chance before is spread evenly over the events of concern; a method changes only those that it
    sees; repeats of one method count once. Where results contradict one another beyond doubt the chance
    before stands.
    """
    assumed = {one.key: one.percent / 100 for one in list_assumptions(result)}
    events = result.season.details.events_of_concern or result.profile.default_events
    prior = assumed[_PRIOR]
    priors = dict.fromkeys(events, prior / len(events)) if events else {"": prior}
    taken: dict[str, list[tuple[MethodResult, frozenset[str]]]] = {}
    samples = result.case.samples
    columns = ("tree", "method", "targets", "outcome")
    for tree, key, targets, outcome in zip(*(plain(samples[name]) for name in columns), strict=True):
        method = result.profile.methods.get(key)
        if tree is None or method is None or outcome not in {"negative", "positive"}:
            continue
        sees = frozenset(method.sees(targets or ())) & set(priors)
        told = MethodResult(
            key, outcome == "positive", assumed[f"{key}_sensitivity_pct"], assumed[f"{key}_specificity_pct"]
        )
        taken.setdefault(tree, []).append((told, sees))
    found = {}
    for tree in dict.fromkeys(plain(result.season.table("trees")["tree"])):
        results = taken.get(tree, [])
        try:
            after = sum(update_events(priors, results).values())
        except ValueError:
            after = prior
        seen = frozenset().union(*(events_seen for _, events_seen in results))
        words = tuple(f"{one.method} {'positive' if one.positive else 'negative'}" for one, _ in results)
        found[tree] = TreeOdds(
            tree, prior, after, tuple(dict.fromkeys(words)), tuple(e for e in events if e not in seen)
        )
    return found


def weigh_lots(result: Result) -> dict[str, LotChance]:
    """The odds of every lot whose parents are on record."""
    trees = weigh_trees(result)
    assumed = {one.key: one.percent / 100 for one in list_assumptions(result)}
    verdicts = {str(tree): str(verdict) for tree, verdict in result.case.verdicts["verdict"].items()}
    cleared_chance = _usual_clearing(trees, verdicts)
    found = {}
    for lot, shared in share_parents(result).items():
        parents = tuple(
            Parent(
                tree,
                float(share),
                trees[tree].after if tree in trees else assumed[_PRIOR],
                verdicts.get(tree) == "clear",
                assumed[_SELFED],
            )
            for tree, share in shared.shares.items()
        )
        untested = {}
        for parent in parents:
            if not parent.cleared and cleared_chance is not None:
                try:
                    untested[parent.name] = weigh_untested(parents, parent.name, cleared_chance)
                except ValueError:
                    continue
        found[lot] = LotChance(lot, judge_lot(parents), parents, untested)
    return found


def _usual_clearing(trees: Mapping[str, TreeOdds], verdicts: Mapping[str, str]) -> float | None:
    """The chance that a cleared tree of this season is left with: the median of those that are."""
    cleared = sorted(one.after for tree, one in trees.items() if verdicts.get(tree) == "clear")
    return cleared[len(cleared) // 2] if cleared else None
