"""What the tests can't rule out, and what clean results do rule out, for a tree or a lot."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import is_in
from certgen.rules.samples.soundness import are_vouched
from certgen.rules.wording import capital, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.records.columns import Columns
    from certgen.rules.case import Case
    from certgen.standards.screening import Method


@dataclass(frozen=True, slots=True)
class Assay:
    """One way of testing that came out negative: the method's key, its targets as typed, leaves in the pool.

    `leaves` is 1 for a leaf that was tested singly, `method` None where nobody wrote it down: then nobody
    knows what the test could see.
    """

    method: str | None
    targets: tuple[str, ...] = ()
    leaves: int = 1


@dataclass(frozen=True, slots=True)
class Scope:
    """What the negative results on a tree, or on every parent of a lot, speak to.

    `seen` are the events of concern that they would have shown, `unseen` those that they could not have.
    `assays` are the tests behind it; of a lot those made on all its parents or some. `open_parents` are a
    lot's parents without a negative that counts: while there are any, nothing is ruled out. `sentence` says
    all this and no more, for the page.
    """

    about: Node
    seen: tuple[str, ...]
    unseen: tuple[str, ...]
    assays: tuple[Assay, ...]
    open_parents: tuple[str, ...]
    sentence: str


def scope_of_negative(case: Case, table: str, identifier: str) -> Scope:
    """The scope for one tree (`trees`) or one lot (`lots`) of the season; KeyError for another table."""
    if table not in {"trees", "lots"}:
        raise KeyError(table)
    scopes = Scopes(case)
    return scopes.of_tree(identifier) if table == "trees" else scopes.of_lot(identifier)


#: A positive or doubtful tree has no negative that counts, whatever one of its samples said.
_COUNTS: Final = "clear"
_NO_METHOD: Final = "test of a method that nobody wrote down"


class Scopes:
    """The scopes of a season's trees and lots; the samples are gone through once."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._profile = case.profile
        self.events = case.events_of_concern
        trees = case.joined("trees")
        judged = trees["verdict"]
        self._verdicts = {tree: judged[row] for tree, row in trees.first("tree").items()}
        self._assays = _negatives(case.joined("samples"))
        self._of_trees: dict[str, Scope] = {}
        self._of_parents: dict[tuple[Node, ...], tuple[Scope, str, str]] = {}

    def of_tree(self, tree: str) -> Scope:
        """What the negatives on one tree speak to; a tree that nobody knows has none."""
        # A tree is a parent of many lots.
        if tree not in self._of_trees:
            self._of_trees[tree] = self._find_of_tree(tree)
        return self._of_trees[tree]

    def _find_of_tree(self, tree: str) -> Scope:
        assays, verdict = self._assays.get(tree, ()), self._verdicts.get(tree, "unscreened")
        node = Node("trees", tree)
        if verdict != _COUNTS:
            return Scope(node, (), self.events, (), (), _open_tree(tree, verdict))
        seen = self._seen(assays)
        ruled, left = self._split(seen)
        what = f"In the leaf of tree {tree} {self._tell(assays)} found nothing"
        return Scope(node, ruled, left, assays, (), f"{what}, which {_speaks(ruled, left)}.")

    def of_lot(self, lot: str) -> Scope:
        """What the negatives on every parent of a lot, of seed and of pollen, speak to together."""
        lineage, node = self._case.lineage, Node("lots", lot)
        parents = dict.fromkeys(lineage.seed_parents(lot))
        if self._crosses:
            parents |= dict.fromkeys(lineage.pollen_parents(lot))
        if not parents:
            told = f"The records lead lot {lot} back to no parent, so no negative result speaks for it."
            return Scope(node, (), self.events, (), (), told)
        # Thousands of lots may have the same parents.
        shared = tuple(parents)
        if shared not in self._of_parents:
            self._of_parents[shared] = self._find_of_parents([self.of_tree(one.id) for one in shared])
        scope, before, behind = self._of_parents[shared]
        told = f"{before} of lot {lot}{behind}{'' if scope.open_parents else self._tell_seed_tests(lot)}."
        return Scope(node, scope.seen, scope.unseen, scope.assays, scope.open_parents, told)

    def _find_of_parents(self, scopes: Sequence[Scope]) -> tuple[Scope, str, str]:
        """The scope of any lot of some parents, and the words before and behind the lot's name."""
        open_ = tuple(scope.about.id for scope in scopes if not scope.assays)
        assays = tuple(dict.fromkeys(assay for scope in scopes for assay in scope.assays))
        about = scopes[0].about
        if open_:
            before, behind = _say_open(len(scopes), open_)
            scope = Scope(about, (), self.events, assays, open_, "")
            return scope, before, f"{behind}, so nothing is ruled out for the lot"
        ruled, left = self._split(set.intersection(*(set(scope.seen) for scope in scopes)))
        before, behind = self._tell_of_all(scopes)
        return (
            Scope(about, ruled, left, assays, (), ""),
            before,
            f"{behind} found nothing, which {_speaks(ruled, left)}",
        )

    def _tell_of_all(self, scopes: Sequence[Scope]) -> tuple[str, str]:
        """Which tests speak in the leaves of a lot's parents, each with how many it speaks for."""
        total = len(scopes)
        counted = Counter(assay for scope in scopes for assay in scope.assays)
        tests = join(
            self._tell([assay]) + (f" in {number} of them" if number < total else "")
            for assay, number in counted.items()
        )
        whose = f"all {total} parents" if total > 1 else f"tree {scopes[0].about.id}, the one parent"
        return f"In the leaves of {whose}", f" {tests}"

    @cached_property
    def _crosses(self) -> bool:
        """Whether any bag names a giver of pollen, in this season or an earlier one."""
        return bool(self._case.columns("bagging").known("pollen_parent").any())

    @cached_property
    def _tested(self) -> frozenset[str]:
        """The lots whose own seed was tested for a transgene."""
        tests = self._case.columns("tests")
        return frozenset(tests["lot"][tests["kind"] == "transgene"].tolist())

    def _seen(self, assays: Iterable[Assay]) -> set[str]:
        known = [(self._method_of(assay), assay.targets) for assay in assays]
        return {event for method, targets in known if method is not None for event in method.sees(targets)}

    def _method_of(self, assay: Assay) -> Method | None:
        return None if assay.method is None else self._profile.methods.get(assay.method)

    def _split(self, seen: set[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        return (
            tuple(event for event in self.events if event in seen),
            tuple(event for event in self.events if event not in seen),
        )

    def _tell(self, assays: Iterable[Assay]) -> str:
        """ "the DNA test (PCR) for 35S and NOS, and the blue stain"."""
        told: dict[tuple[str, int], dict[str, None]] = {}
        for assay in assays:
            method = self._method_of(assay)
            title = (assay.method or _NO_METHOD) if method is None else method.title
            named = assay.targets if method is None or method.needs_targets else ()
            told.setdefault((title, assay.leaves), {}).update(dict.fromkeys(named))
        return join(
            f"the {title[0].lower() if title[1:2].islower() else title[0]}{title[1:]}"
            + (f" for {join(targets, 'or')}" if targets else "")
            + (f" in a pool of {leaves}" if leaves > 1 else "")
            for (title, leaves), targets in told.items()
        )

    def _tell_seed_tests(self, lot: str) -> str:
        """What sound transgene tests of the lot's own seed add."""
        if lot not in self._tested:
            return ""
        tests = self._case.columns("tests")
        own = (tests["lot"] == lot) & (tests["kind"] == "transgene")
        void = is_in(tests["controls"], ("failed", "not run"))
        if (tests["positive_pools"][own & ~void] > 0).any():
            return "; a test of its own seed was positive"
        # A negative counts where somebody answers for its controls.
        counts = own & are_vouched(self._case, tests)
        seeds = int(np.nansum((tests["pools"] * tests["seeds_per_pool"])[counts]))
        targets = dict.fromkeys(target for named in tests["targets"][counts] for target in named)
        return (
            f"; of its own seed {seeds} were tested for {join(targets, 'or')}, and none showed it"
            if seeds
            else ""
        )


def _negatives(samples: Columns) -> dict[str, tuple[Assay, ...]]:
    """By tree, every way of testing that came out negative on it, each once."""
    negative = samples["outcome"] == "negative"
    found: dict[str, dict[Assay, None]] = {}
    known: dict[tuple[Any, ...], Assay] = {}
    columns = ("tree", "method", "targets", "leaves")
    for _, tree, method, targets, leaves in samples.rows(*columns, where=negative):
        key = (method, tuple(targets or ()), int(leaves))
        assay = known.setdefault(key, Assay(*key))
        found.setdefault(tree, {})[assay] = None
    return {tree: tuple(assays) for tree, assays in found.items()}


def _open_tree(tree: str, verdict: str) -> str:
    """Why nothing is ruled out for a tree."""
    reasons = {
        "positive": f"tree {tree} tested positive",
        "conflicting": f"the results of tree {tree} contradict one another",
    }
    reason = reasons.get(verdict, f"no negative result that counts stands for tree {tree}")
    return f"{capital(reason)}, so nothing is ruled out for it."


def _speaks(seen: tuple[str, ...], unseen: tuple[str, ...]) -> str:
    """ "speaks against event A; of B or any other event it claims nothing"."""
    if not seen:
        return f"speaks against none of the events to be ruled out ({join(unseen)})"
    against = f"speaks against {noun('event', len(seen))} {join(seen)}"
    other = f"{join(unseen, 'or')} or any other event" if unseen else "any other event"
    return f"{against}; of {other} it claims nothing"


def _say_open(total: int, open_: Sequence[str]) -> tuple[str, str]:
    which = name("trees", open_)
    if total == 1:
        return "The only parent", f", {which}, has no negative result that counts"
    lack = "has" if len(open_) == 1 else "have"
    return f"Of the {total} parents", f", {which} {lack} no negative result that counts"
