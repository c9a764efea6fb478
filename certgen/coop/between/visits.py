"""What rulebooks ask of a group of producers, as figures for this one; and whom to visit, drawn so that
anybody can draw it again.

Collecting members' paperwork is no group certification. Where a group itself holds the certificate these
figures bind its internal controls; for any other co-op they are a measure of what that would take.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.figures.sampling import digest_item
from certgen.standards import clause_of, demand_kinds, load_rulebook

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.standards.rulebook import Demand, DemandKind

NOT_CERTIFICATION: Final = (
    "Collecting members' paperwork is no group certification. That needs a certifier's decision, internal "
    "controls, visits and agreements, none of which this report makes or replaces."
)
#: What a group that holds a certificate does itself; no draw takes its place.
OWN_INSPECTIONS: Final = (
    "A group that itself holds the certificate inspects every member at least once a year. The draw is of "
    "the size of the sample that a certifier or control body takes of the group, and replaces none of "
    "these inspections."
)
#: Figures of the sample that a certifier or control body takes; the group's own inspections reach everyone.
_SAMPLES: Final = (
    "group_certifier_root",
    "group_certifier_pct",
    "group_reinspected_pct",
    "group_reinspected_min",
)


@dataclass(frozen=True, slots=True)
class GroupFigure:
    """One thing that a rulebook asks of a group; `here` is what it comes to for this number of members."""

    rulebook: str
    key: str
    title: str
    value: str
    here: str
    clause: str
    mark: str
    note: str


def list_figures(standards: Iterable[str], members: int) -> tuple[GroupFigure, ...]:
    """Every group figure of the rulebooks, in the order of the standards' data."""
    return tuple(
        GroupFigure(
            standard,
            key,
            kind.title,
            _say_value(demand, kind),
            _here(key, float(demand.value) if isinstance(demand.value, int | float) else 0.0, members),
            clause_of(demand.clause if ":" in demand.clause else f"{standard}:{demand.clause}").key,
            demand.mark,
            demand.note,
        )
        for standard in standards
        for key, kind in demand_kinds().items()
        if key.startswith("group_") and (demand := load_rulebook(standard).demands.get(key)) is not None
    )


def _say_value(demand: Demand, kind: DemandKind) -> str:
    if isinstance(demand.value, tuple):
        return ", ".join(demand.value)
    if isinstance(demand.value, str):
        return ""
    return f"{demand.value:g} {demand.unit or kind.unit}".strip()


def _here(key: str, value: float, members: int) -> str:
    if key == "group_members_max":
        over = members - value
        return f"{members} of at most {value:g}" if over <= 0 else f"{members}: too many by {over:g}"
    if key == "group_internal_inspections":
        return f"all {members} members, by the group itself"
    if key in _SAMPLES:
        return f"{_count(key, value, members)} of {members} members, by the certifier or control body"
    if key == "group_members_sampled_pct":
        return f"{math.ceil(value / 100 * members)} of {members} members"
    return ""


def _count(key: str, value: float, members: int) -> int:
    """How many members a figure about a sample comes to: all of them where there are fewer.

    A part of a member is rounded up; a standard's own way of rounding was not found.
    """
    if key == "group_reinspected_min":
        return min(members, int(value))
    exact = value * math.sqrt(members) if key == "group_certifier_root" else value * members / 100
    # What is whole but for the last digits of a float is whole.
    return min(members, math.ceil(round(exact, 9)))


def size_sample(standards: Iterable[str], members: int) -> tuple[int, str]:
    """How many members a certifier's sample takes: the largest of the rulebooks' figures, and its source."""
    size, basis = 0, ""
    for standard in standards:
        rulebook = load_rulebook(standard)
        for key in _SAMPLES:
            demand = rulebook.demands.get(key)
            if demand is None or not isinstance(demand.value, int | float):
                continue
            count = _count(key, float(demand.value), members)
            if count > size:
                clause = demand.clause.partition(":")[2] or demand.clause
                size, basis = count, f"{rulebook.title}, {clause} ({demand.mark})"
    if not size:
        # No rulebook here says: the square root, which several others use, rounded up.
        return math.ceil(math.sqrt(members)), "the square root of the number of members, a common practice"
    return size, basis


@dataclass(frozen=True, slots=True)
class Risk:
    """What makes a visit to a member more urgent: points, each with its reason."""

    member: str
    reasons: tuple[tuple[str, int], ...]
    high: bool

    @property
    def points(self) -> int:
        """All points together; a member without any may be drawn too."""
        return sum(points for _, points in self.reasons)


@dataclass(frozen=True, slots=True)
class Visit:
    """A member to visit. `why` says whether the draw fell on it or its risk alone put it there."""

    member: str
    points: int
    why: str


def draw_sample(seed: str, risks: Sequence[Risk], size: int) -> tuple[Visit, ...]:
    """Every member at high risk, and as many others as the size leaves room for, drawn by their risk.

    The draw: u is the SHA-256 of 'seed|key' divided by 2²⁵⁶ (`figures.sampling.digest_item`), the weight w is
    1 + points, and the members with the smallest −ln(u)/w are drawn. So a member with w = 4 is four times
    as likely to be drawn next as one with w = 1 (Efraimidis and Spirakis, 2006).
    """
    high = [risk for risk in risks if risk.high]
    rest = [risk for risk in risks if not risk.high]
    others = sorted(rest, key=lambda risk: (_lot(seed, risk), risk.member))
    high.sort(key=lambda risk: -risk.points)
    taken = [Visit(risk.member, risk.points, "high risk") for risk in high]
    left = max(0, size - len(taken))
    return (*taken, *(Visit(risk.member, risk.points, "drawn") for risk in others[:left]))


def _lot(seed: str, risk: Risk) -> float:
    u = (int(digest_item(seed, risk.member), 16) + 1) / (2**256 + 1)
    return -math.log(u) / (1 + risk.points)


def standards_of(chosen: Sequence[str], seasons: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The rulebooks whose group figures count: those chosen, else those that any season names."""
    if chosen:
        return tuple(chosen)
    return tuple(dict.fromkeys(standard for named in seasons.values() for standard in named))
