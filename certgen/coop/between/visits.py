"""What rulebooks ask of a group of producers, as figures for this one; and whom to visit, drawn so that
anybody can draw it again.

Collecting members' paperwork is no group certification. Where a group itself holds the certificate these
figures bind its internal controls; for any other co-op they are a measure of what that would take.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from certgen.figures.sampling import digest_item, draw
from certgen.figures.two_stage import Stage, miss_lots, miss_members
from certgen.records.nouns import agree
from certgen.standards import clause_of, demand_kinds, load_rulebook

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.dossier.spot_check import DrawKey
    from certgen.standards.rulebook import Demand, DemandKind

NOT_CERTIFICATION: Final = (
    "Collecting members' papers is no group certification. That needs a certifier's decision, internal "
    "controls, visits and agreements. This report makes and replaces none of them: it shows what was written "
    "down."
)
#: What a group that holds a certificate does itself; no draw takes its place.
OWN_INSPECTIONS: Final = (
    "A group that itself holds the certificate inspects every member at least once a year. The draw is of "
    "the size of the sample that a certifier or control body takes of the group, and replaces none of "
    "these inspections."
)
#: Lots looked at with a member unless more are asked for: certgen's own choice, no standard's.
LOTS_EACH: Final = 3
#: What the chances to miss take for granted.
MISS_BASIS: Final = (
    "At worst: the fault lies with the members least likely to be drawn, or with the one where a lot is. A "
    "visit is taken to show what is wrong with a member as a whole, and a look what is wrong with a lot. "
    "Computed; how many lots are looked at is certgen’s own choice and no standard’s."
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
    return agree(f"{demand.value:g} {demand.unit or kind.unit}".strip())


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
    """A member to visit. `why` says whether the draw fell on it or its risk alone put it there; `lots` are
    those of its `of_lots` to look at.
    """

    member: str
    points: int
    why: str
    lots: tuple[str, ...] = ()
    of_lots: int = 0


@dataclass(frozen=True, slots=True)
class Sample:
    """Whom to visit and which lots to look at there: the `key` that decided it, the `basis` of its size, at
    most `each` lots of a member, and by what could be faulty the chance, at worst, that no visit shows it.
    """

    key: DrawKey
    basis: str
    each: int
    visits: tuple[Visit, ...]
    misses: tuple[tuple[str, float], ...]


def draw_sample(hashed: str, risks: Sequence[Risk], size: int) -> tuple[Visit, ...]:
    """Every member at high risk, and as many others as the size leaves room for, drawn by their risk.

    The draw: u is the SHA-256 of 'hashed|key' divided by 2²⁵⁶ (`figures.sampling.digest_item`), the weight w
    is 1 + points, and the members with the smallest −ln(u)/w are drawn. So a member with w = 4 is four times
    as likely to be drawn next as one with w = 1 (Efraimidis and Spirakis, 2006).
    """
    high = [risk for risk in risks if risk.high]
    rest = [risk for risk in risks if not risk.high]
    others = sorted(rest, key=lambda risk: (_lot(hashed, risk), risk.member))
    high.sort(key=lambda risk: -risk.points)
    taken = [Visit(risk.member, risk.points, "high risk") for risk in high]
    left = max(0, size - len(taken))
    return (*taken, *(Visit(risk.member, risk.points, "drawn") for risk in others[:left]))


def _lot(hashed: str, risk: Risk) -> float:
    u = (int(digest_item(hashed, risk.member), 16) + 1) / (2**256 + 1)
    return -math.log(u) / (1 + risk.points)


def draw_two_stages(
    key: DrawKey,
    risks: Sequence[Risk],
    lots: Mapping[str, Sequence[str]],
    size: tuple[int, str],
    each: int = LOTS_EACH,
) -> Sample:
    """Members by their risk, and `each` lots of everyone drawn, or all it has; by one key.

    `lots` gives each member's lots by names that are its own in the whole co-op: the draw within a member
    takes those with the smallest SHA-256 of 'hashed|name'. `size` is how many members, and on what basis.
    """
    count, basis = size
    visits = tuple(
        replace(
            visit,
            lots=draw(key.hashed, lots[visit.member], min(each, len(lots[visit.member]))),
            of_lots=len(lots[visit.member]),
        )
        for visit in draw_sample(key.hashed, risks, count)
    )
    stages = [
        Stage(
            None if risk.high else 1 + risk.points, len(lots[risk.member]), min(each, len(lots[risk.member]))
        )
        for risk in risks
    ]
    return Sample(key, basis, each, visits, tuple(_list_misses(stages, count)))


def say_order(sample: Sample) -> str:
    """Whether what members handed in was fixed before the text was known, and what that is worth."""
    if sample.key.noted:
        return (
            "What the members handed in was frozen before the text was told. That holds if whoever visits "
            "noted this very fingerprint, and told the text after it."
        )
    return (
        "Nothing shows that what the members handed in was fixed before the text was known: it may have been "
        "written to suit it. Whoever visits notes the fingerprint and only then tells a text; --frozen and "
        "--seed draw by both."
    )


def say_visits(visit: Visit) -> str:
    """The lots of a member to look at: "3 of 7 lots: …"."""
    if not visit.of_lots:
        return "no lot on record"
    noun = "lot" if visit.of_lots == 1 else "lots"
    names = ", ".join(lot.partition(":lots/")[2] for lot in visit.lots)
    return f"{len(visit.lots)} of {visit.of_lots} {noun}: {names}"


def _list_misses(stages: Sequence[Stage], size: int) -> Iterator[tuple[str, float]]:
    """What could be faulty, and the chance at worst that no visit shows it, to the digits that are sure."""
    for faulty in (1, 2, 3):
        if faulty <= len(stages):
            what = "a member with" if faulty == 1 else f"{faulty} members with"
            yield f"{what} nothing in order", round(miss_members(stages, faulty, size), 9)
    for faulty in (1, 2, 5):
        chance = miss_lots(stages, faulty, size)
        if chance is not None:
            yield f"{faulty} faulty {'lot' if faulty == 1 else 'lots'} of one member", round(chance, 9)


def standards_of(chosen: Sequence[str], seasons: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The rulebooks whose group figures count: those chosen, else those that any season names."""
    if chosen:
        return tuple(chosen)
    return tuple(dict.fromkeys(standard for named in seasons.values() for standard in named))
