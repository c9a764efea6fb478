"""What screening leaves open of each lot: what a carrier among its parents would have passed with, into how
much of the seed it would carry, what the lot's own test rules out, and what none of this covers.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.odds import (
    SEED_METHOD,
    TreeOdds,
    find_chances,
    find_floor,
    gather_evidence,
    list_priors,
    weigh_trees,
)
from certgen.dossier.seed_tests import Transgene, compute_tests
from certgen.dossier.shares import share_parents
from certgen.figures.odds import pass_chance, seed_negative_chance, update_by_seed
from certgen.figures.pooled_trees import Chance
from certgen.figures.transmission import (
    Pair,
    Span,
    any_carrier,
    carried_by,
    expected_share,
    worst_share,
)
from certgen.standards.practice import HANDLING, SELFED_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.dossier.odds import Evidence
    from certgen.dossier.seed_tests import SeedTest
    from certgen.dossier.shares import LotParents
    from certgen.examination import Result

_VOID: Final = ("failed", "not run")


@dataclass(frozen=True, slots=True)
class LotParent:
    """A parent of a lot, of seed or pollen.

    `cleared` says whether its results clear it, `found` whether they are positive. `one` and `two` are the
    shares of the lot's seed that would carry if it alone did, with one copy and with two. `passing` is, by
    event, the chance that it would have passed its screening as a carrier.
    """

    tree: str
    cleared: bool
    found: bool
    one: Span
    two: Span
    passing: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class EventOdds:
    """What the screening of a lot's cleared parents leaves of some events of which the same can be said.

    `passing` is the chance that a carrier among them would have passed, from the best to the least screened
    parent; None where no method could see the events. `blind` is the share of seed of cleared parents on
    which nobody could see them. `worst` is the share that may carry if all that is open did.
    """

    events: tuple[str, ...]
    passing: Span | None
    blind: float
    worst: float


@dataclass(frozen=True, slots=True)
class SeedCheck:
    """The lot's own pooled seed test that looked at most seed, without a positive pool.

    `bound` is the share that it rules out more than (one-sided, 95 %); None where it rules nothing out, for
    the `reasons`, in words that follow a colon.
    `missing` is the chance that it would have missed one carrier parent with one copy, from the parent of
    most seed to that of least.
    """

    test: str
    targets: tuple[str, ...]
    events: tuple[str, ...]
    pools: int
    seeds_per_pool: int
    bound: float | None
    reasons: tuple[str, ...]
    missing: Span | None


@dataclass(frozen=True, slots=True)
class LotOdds:
    """All of a lot. Shares and chances from 0 to 1, none of them to be told below `floor`.

    `one` and `two` go from the lightest to the heaviest parent (None: no parent on record). `unknown` is the
    share of seed without a parent on record, `open_pollen` that of seed whose pollen nothing shows.
    """

    lot: str
    floor: float
    parents: tuple[LotParent, ...]
    pairs: tuple[Pair, ...]
    events: tuple[EventOdds, ...]
    one: Span | None
    two: Span | None
    check: SeedCheck | None
    positive_tests: tuple[str, ...]
    unknown: float
    open_pollen: float

    @property
    def open_parents(self) -> tuple[LotParent, ...]:
        """The parents that no result clears, those first that give most seed."""
        left = [parent for parent in self.parents if not parent.cleared]
        return tuple(sorted(left, key=lambda parent: (-parent.two.high, parent.tree)))

    @property
    def unseen(self) -> tuple[str, ...]:
        """The events of concern that no method could see on any cleared parent."""
        return tuple(event for one in self.events if one.passing is None for event in one.events)

    @property
    def worst(self) -> float:
        """The share of seed that may carry if all that is open did."""
        return max((one.worst for one in self.events), default=1.0)


def weigh_lots(
    result: Result,
    shared: Mapping[str, LotParents] | None = None,
    lots: Iterable[str] | None = None,
    evidence: Evidence | None = None,
    tests: Iterable[SeedTest] | None = None,
) -> dict[str, LotOdds]:
    """What is left open of every lot of the season, or of those named.

    `shared` are their parents' shares, `tests` all tests of seed, each found here if None.
    """
    known = gather_evidence(result) if evidence is None else evidence
    trees = weigh_trees(result, known)
    verdicts = {str(tree): str(verdict) for tree, verdict in result.case.verdicts["verdict"].items()}
    parents = share_parents(result) if shared is None else shared
    checks = _list_checks(result, compute_tests(result) if tests is None else tests)
    wanted = result.lots if lots is None else dict.fromkeys(lots)
    return {
        lot: _weigh_lot(result, lot, known, trees, verdicts, parents.get(lot), checks.get(lot, []))
        for lot in wanted
    }


def _weigh_lot(
    result: Result,
    lot: str,
    known: Evidence,
    trees: Mapping[str, TreeOdds],
    verdicts: Mapping[str, str],
    of: LotParents | None,
    checks: Sequence[tuple[SeedCheck, bool]],
) -> LotOdds:
    pairs = () if of is None else tuple(Pair(*pair, float(share)) for pair, share in of.pairs.items())
    parents = _list_parents(pairs, known, trees, verdicts)
    return LotOdds(
        lot,
        find_floor(result),
        parents,
        pairs,
        _weigh_events(known.events, parents, pairs),
        _range([parent.one for parent in parents]),
        _range([parent.two for parent in parents]),
        _choose_check(checks, parents, known),
        tuple(check.test for check, positive in checks if positive),
        1.0 if of is None else max(0.0, 1 - float(of.known)),
        math.fsum(pair.share for pair in pairs if pair.pollen is None),
    )


def _list_parents(
    pairs: Sequence[Pair], known: Evidence, trees: Mapping[str, TreeOdds], verdicts: Mapping[str, str]
) -> tuple[LotParent, ...]:
    """The parents of seed and pollen, each once. One that isn't in the register has no result."""
    by_tree: defaultdict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        for tree in dict.fromkeys((pair.mother, pair.pollen)):
            if tree is not None:
                by_tree[tree].append(pair)
    selfed = known.shares[SELFED_SHARE]
    return tuple(
        LotParent(
            tree,
            verdicts.get(tree) == "clear",
            verdicts.get(tree) == "positive",
            carried_by(own, tree, 1, selfed),
            carried_by(own, tree, 2),
            trees[tree].passing if tree in trees else dict.fromkeys(known.events, 1.0),
        )
        for tree, own in by_tree.items()
    )


def _range(spans: Sequence[Span]) -> Span | None:
    if not spans:
        return None
    return Span(min(span.low for span in spans), max(span.high for span in spans))


def _weigh_events(
    events: Sequence[str], parents: Sequence[LotParent], pairs: Sequence[Pair]
) -> tuple[EventOdds, ...]:
    """Each event's odds; those of which the same can be said stand together."""
    cleared = [parent for parent in parents if parent.cleared]
    found: dict[tuple[Span | None, float, float], list[str]] = {}
    for event in events:
        seen = {parent.tree: parent.passing[event] for parent in cleared if parent.passing[event] < 1}
        blind = {parent.tree for parent in cleared} - set(seen)
        share = math.fsum(pair.share for pair in pairs if pair.mother in blind or pair.pollen in blind)
        passing = Span(min(seen.values()), max(seen.values())) if seen else None
        found.setdefault((passing, min(share, 1.0), worst_share(pairs, seen)), []).append(event)
    return tuple(EventOdds(tuple(names), *figures) for figures, names in found.items())


def _list_checks(result: Result, tests: Iterable[SeedTest]) -> dict[str, list[tuple[SeedCheck, bool]]]:
    """By lot its pooled tests of seed, and whether a pool was positive; positives of a void run are none."""
    found: defaultdict[str, list[tuple[SeedCheck, bool]]] = defaultdict(list)
    for test in tests:
        figure = test.figure
        if not isinstance(figure, Transgene):
            continue
        pools = figure.estimate
        void = (result.season.record("tests", test.test) or {}).get("controls") in _VOID
        if pools.positive and void:
            continue
        check = SeedCheck(
            test.test,
            figure.targets,
            figure.assay.seen,
            pools.pools,
            pools.seeds_per_pool,
            figure.bound,
            figure.reasons,
            None,
        )
        found[test.lot].append((check, pools.positive > 0))
    return found


def _choose_check(
    checks: Sequence[tuple[SeedCheck, bool]], parents: Sequence[LotParent], known: Evidence
) -> SeedCheck | None:
    """The negative test of most seed, one that bounds before one that doesn't, with what it would have missed
    of the parents."""
    sound = [check for check, positive in checks if not positive]
    check = max(sound, key=lambda one: (one.bound is not None, one.pools * one.seeds_per_pool), default=None)
    if check is None or check.bound is None or not parents:
        return check
    misses = [
        pass_chance(
            [seed_negative_chance(share, check.pools, check.seeds_per_pool, _seed_figures(known)[0])],
            known.shares[HANDLING],
        )
        for share in (min(parent.one.low for parent in parents), max(parent.one.high for parent in parents))
    ]
    return SeedCheck(
        check.test,
        check.targets,
        check.events,
        check.pools,
        check.seeds_per_pool,
        check.bound,
        check.reasons,
        Span(misses[1], misses[0]),
    )


def _seed_figures(known: Evidence) -> tuple[float, float]:
    """A pool's sensitivity and specificity: those of a leaf by the same method."""
    named = (f"{SEED_METHOD}_sensitivity_pct", f"{SEED_METHOD}_specificity_pct")
    return known.shares.get(named[0], 1.0), known.shares.get(named[1], 1.0)


@dataclass(frozen=True, slots=True)
class LotChance:
    """For one chance before: the chance that at least one parent of a lot carries one of the events.

    `any_parent` lies between all standing or falling together and each for itself; `with_seed` is the same
    with the lot's own seed test taken in (None without one that sees the events). `average` is the share of
    seed, averaged over many such lots, for carriers with one copy. Seed without a parent on record is in
    none of them.
    """

    lot: str
    events: tuple[str, ...]
    prior: float
    any_parent: Span
    with_seed: Span | None
    average: Span


def list_chances(result: Result, lots: Mapping[str, LotOdds], known: Evidence) -> tuple[LotChance, ...]:
    """What lots with parents on record are left with, for each chance before; by lot, event and chance."""
    found = []
    chances = [(prior, find_chances(known, prior)) for prior in list_priors(result)]
    for name, lot in lots.items():
        if not lot.parents:
            continue
        for prior, by_event in chances:
            alike: dict[tuple[Span, Span | None, Span], list[str]] = {}
            for event in known.events:
                own = {
                    parent.tree: by_event[event].get(parent.tree, Chance(prior, prior))
                    for parent in lot.parents
                }
                alike.setdefault(_weigh_any(lot, event, own, known), []).append(event)
            found += [LotChance(name, tuple(events), prior, *spans) for spans, events in alike.items()]
    return tuple(found)


def _weigh_any(
    lot: LotOdds, event: str, chances: Mapping[str, Chance], known: Evidence
) -> tuple[Span, Span | None, Span]:
    """The chance of any, the same with the seed test taken in, and the average share."""
    lows = {tree: chance.low for tree, chance in chances.items()}
    highs = {tree: chance.high for tree, chance in chances.items()}
    selfed = known.shares[SELFED_SHARE]
    average = Span(
        expected_share(lot.pairs, lows, 1, selfed).low, expected_share(lot.pairs, highs, 1, selfed).high
    )
    return _span_of_any(lows, highs), _take_in_seed(lot, event, lows, highs, known), average


def _span_of_any(lows: Mapping[str, float], highs: Mapping[str, float]) -> Span:
    return Span(any_carrier(list(lows.values())).low, any_carrier(list(highs.values())).high)


def _take_in_seed(
    lot: LotOdds, event: str, lows: Mapping[str, float], highs: Mapping[str, float], known: Evidence
) -> Span | None:
    """The chance of any, each parent's own updated by the lot's seed test."""
    check = lot.check
    if check is None or check.bound is None or event not in check.events or lot.positive_tests:
        return None
    finds, spares = _seed_figures(known)
    shares = {parent.tree: parent.one.low for parent in lot.parents}

    def update(chances: Mapping[str, float]) -> dict[str, float]:
        return {
            tree: update_by_seed(
                chance, shares[tree], check.pools, check.seeds_per_pool, finds, spares, known.shares[HANDLING]
            )
            for tree, chance in chances.items()
        }

    return _span_of_any(update(lows), update(highs))
