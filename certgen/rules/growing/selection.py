"""What was seen on the trees, and which of them may be parents."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import is_in
from certgen.rules.clauses import PLAN, TRUE_NAME
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import day, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from certgen.records.columns import Array
    from certgen.rules.case import Case

#: What speaks against a tree as a parent.
_DOUBTFUL = ("off-type", "symptom")


def _kept(case: Case) -> Array:
    """Where a tree was kept, somebody says why, and a paper or photo shows what was seen."""
    seen = case.columns("observations")
    kept: Array = (seen["decision"] == "kept") & seen.known("because")
    if kept.any():
        kept = kept & case.filed(seen["evidence"])
    return kept


def list_unfit(case: Case) -> Mapping[str, date]:
    """The trees that are no parents from some day on, by what was seen on them, with that day.

    A later decision to keep a tree, with its reason and evidence, takes the earlier ones back.
    """
    seen, kept = case.columns("observations"), _kept(case)
    out = is_in(seen["decision"], ("not a parent", "felled")) | (is_in(seen["kind"], _DOUBTFUL) & ~kept)
    told = np.flatnonzero(out | kept)
    told = told[np.argsort(seen["date"][told], kind="stable")]
    unfit: dict[str, date] = {}
    for is_out, when, trees in zip(
        out[told].tolist(), seen.values("date", told), seen.values("trees", told), strict=True
    ):
        for tree in trees:
            if is_out:
                unfit.setdefault(tree, when)
            else:
                unfit.pop(tree, None)
    return unfit


def _parents_seen(case: Case, kind: str) -> Iterator[tuple[int, str, date, str, list[str]]]:
    """Observations of a kind on trees that bore seed: row, identifier, day, what was seen, those trees."""
    table = case.columns("observations")
    told = (table["kind"] == kind) & ~_kept(case)
    for row, identifier, when, seen, trees in table.rows("observation", "date", "seen", "trees", where=told):
        named = [tree for tree in trees if tree in case.parents]
        behind = [tree for tree in named if case.lineage.lots_reached(Node("trees", tree))]
        if behind:
            yield row, identifier, when, seen, behind


@rule(
    weight="unproven",
    clauses=TRUE_NAME,
    remedy="Keep the seed of an off-type out of lots that bear the variety's name. If a second look showed "
    "the tree true to the variety, write `kept` with the reason and name the photo or paper that shows it.",
)
def off_type_parent(case: Case) -> Iterator[Finding]:
    """A tree that was seen to be off-type bore seed that is called by the variety's name.

    What the tree is its seed will be too, in part or whole. Whether it was felled afterwards changes nothing
    of the seed that it gave before.
    """
    for row, identifier, when, seen, trees in _parents_seen(case, "off-type"):
        nodes = tuple(Node("trees", tree) for tree in trees)
        yield Finding(
            "observations",
            identifier,
            row,
            ("trees",),
            f"Observation {identifier} of {day(when)} calls {name('trees', trees)} off-type ({seen}). "
            f"{case.stands_behind(*nodes)}",
            reaches=nodes,
            supply=f"what shows {name('trees', trees)} to be true to the variety after all",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.206", *PLAN),
    remedy="Ask whoever knows the disease whether seed carries it, write the answer to the observation as "
    "its evidence, and say what was decided. Until then keep the seed apart.",
)
def diseased_parent(case: Case) -> Iterator[Finding]:
    """A tree on which signs of disease were seen bore seed.

    Some diseases go along with seed and others don't; which, no record here says.
    """
    for row, identifier, when, seen, trees in _parents_seen(case, "symptom"):
        yield Finding(
            "observations",
            identifier,
            row,
            ("trees",),
            f"Observation {identifier} of {day(when)} tells of {seen} on {name('trees', trees)}, whose seed "
            "is in a lot.",
            reaches=(),
        )


@rule(
    weight="advice",
    clauses=PLAN,
    remedy="Write under `decision` whether the trees were kept as parents, are no parents, or were felled, "
    "and why under `because`.",
)
def observation_undecided(case: Case) -> Iterator[Finding]:
    """Something that speaks against trees as parents was seen, and nothing says what became of them.

    Until a decision is written down they aren't on the list of trees to bag.
    """
    table = case.columns("observations")
    open_ = case.own("observations") & is_in(table["kind"], _DOUBTFUL) & table.absent("decision")
    for row, identifier, when, kind, trees in table.rows("observation", "date", "kind", "trees", where=open_):
        yield Finding(
            "observations",
            identifier,
            row,
            ("decision",),
            f"Observation {identifier} of {day(when)} ({kind}) is about {name('trees', trees)}, and nothing "
            "says what was decided.",
            reaches=(),
        )


@rule(
    weight="advice",
    clauses=PLAN,
    remedy="Look at the tree again in flower and correct the register or the observation. Trees change with "
    "the season; where this one did, say so in a note.",
    after=("reference-unknown",),
)
def sex_seen_differs(case: Case) -> Iterator[Finding]:
    """The sex that a tree's flowers showed isn't the one in the register.

    Which trees are bagged goes by the register. Flowers change with heat and drought, so both may be right on
    their days.
    """
    table, register = case.columns("observations"), case.columns("trees")
    told = case.own("observations") & (table["kind"] == "sex") & table.known("sex")
    rows, sexes = register.first("tree"), register["sex"]
    for row, identifier, when, trees, seen in table.rows("observation", "date", "trees", "sex", where=told):
        other = [tree for tree in trees if tree in rows and sexes[rows[tree]] not in {seen, "unknown"}]
        if other and seen != "unknown":
            yield Finding(
                "observations",
                identifier,
                row,
                ("sex",),
                f"Observation {identifier} of {day(when)} saw {seen} flowers on {name('trees', other)}; the "
                f"register says {sexes[rows[other[0]]]}.",
                reaches=(),
            )


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Write the day under `removed` in the tree register, or correct the decision.",
    after=("reference-unknown",),
)
def felled_tree_standing(case: Case) -> Iterator[Finding]:
    """A tree was felled, by an observation, and stands on in the register.

    Its number would come up again on lists of trees to sample and to bag, and in draws.
    """
    table, register = case.columns("observations"), case.columns("trees")
    felled = case.own("observations") & (table["decision"] == "felled")
    rows, gone = register.first("tree"), register.known("removed")
    for row, identifier, trees in table.rows("observation", "trees", where=felled):
        standing = [tree for tree in trees if tree in rows and not gone[rows[tree]]]
        if standing:
            yield Finding(
                "observations",
                identifier,
                row,
                ("decision",),
                f"Observation {identifier} says that {name('trees', standing)} "
                f"{'were' if len(standing) > 1 else 'was'} felled; the register gives no day of it.",
                reaches=(),
            )
