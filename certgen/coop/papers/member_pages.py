"""What each member's records show: its lots' lines across members, what is missing, what disagrees."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from certgen.coop.papers.between_pages import link_numbers
from certgen.coop.papers.readiness import READINESS_MARKS, show_readiness
from certgen.records.quantities import format_mass
from certgen.report.tables import Column, table
from certgen.report.wording import fact, key, say, whole
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.rules.wording import join, noun
from certgen.typeset.parts import Cell, Fact, Facts, Grid, Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.typeset.parts import Part

#: A record as the whole co-op names it.
_RECORD: Final = re.compile("^([^:]+):([a-z_]+)/(.+)$")
#: Members listed at the head of their pages.
_LISTED: Final = 120


def build_members(result: CoopResult) -> Iterator[Section]:
    """A stretch a member, below a list of all."""
    views = result.members
    yield Section("members", "The members", 1, (_list_members(result),), style="follow")
    yield from (_member(result, view) for view in views)


def title_of(view: MemberView) -> str:
    """The heading of a member's page."""
    return f"{view.member.name} ({view.member.key})"


def _list_members(result: CoopResult) -> Grid:
    """All members, or of many those that aren't ready."""

    def gaps(weight: str) -> Column[MemberView]:
        return Column(weight.capitalize(), "number", lambda view: view.open_counts.get(weight, 0))

    views: Sequence[MemberView] = result.members
    listed = views
    if len(views) > _LISTED:
        listed = [view for view in views if view.readiness != "ready"][:_LISTED]
    hidden = len(views) - len(listed)
    return table(
        "In the order of the co-op’s list",
        (
            Column("Member", "key", lambda view: key(view.member.key, f"member/{view.member.key}")),
            Column("Name", "text", lambda view: view.member.name),
            Column("Readiness", "text", lambda view: show_readiness(view.readiness), "18%"),
            Column("Certificate", "text", lambda view: view.member.certificate),
            Column("Joined", "date", lambda view: view.member.joined),
            Column("Seed", "number", lambda view: format_mass(view.standing.whole_mg)),
            *map(gaps, GAP_WEIGHTS),
            Column("Disagreements", "text", lambda view: Cell(link_numbers(result, view.disagreements))),
            Column("Risk", "number", lambda view: view.risk.points),
        ),
        listed,
        note=f"{whole(hidden)} more members are in the manifest with their readiness." if hidden else "",
    )


def _member(result: CoopResult, view: MemberView) -> Section:
    return Section(f"member/{view.member.key}", title_of(view), 2, tuple(_member_parts(result, view)))


def _member_parts(result: CoopResult, view: MemberView) -> Iterator[Part]:
    summary = view.summary
    count = f"{whole(sum(summary.numbers.records.values()))}, {whole(summary.numbers.left_out)} left out"
    facts = [
        fact("Readiness", view.readiness, mark=READINESS_MARKS[view.readiness]),
        fact("Records", f"season {summary.stated.label or 'not known'}: {count}"),
        fact("Risk", _tell_risk(view)),
    ]
    if view.disagreements and (numbers := link_numbers(result, view.disagreements)):
        facts.append(Fact("Disagreements", numbers))
    if view.answered:
        lots = ", ".join(dict.fromkeys(gap.outside for gap in view.answered))
        facts.append(
            fact("Led back elsewhere", f"lots that only other members’ records show, traced: {lots}")
        )
    yield Facts(tuple(facts))
    if summary.errors:
        yield Prose(("What couldn’t be read:",))
        hidden = summary.error_count - len(summary.errors)
        more = [(Run(f"And {whole(hidden)} more, which “certgen check” in its folder lists."),)]
        yield Listing((*((Run(error),) for error in summary.errors), *(more if hidden > 0 else ())))
    if view.lots:
        yield _lots(view)
    if view.held:
        yield _held(view)
    if len(view.gaps) > len(view.waiting):
        yield _gaps(view)


def _tell_risk(view: MemberView) -> str:
    reasons = ", ".join(f"{reason} ({points})" for reason, points in view.risk.reasons)
    return f"{view.risk.points}: {reasons}" if reasons else "0"


def _lots(view: MemberView) -> Grid:
    return table(
        "Lots and their lines across members",
        (
            Column("Lot", "key", lambda line: line.fact.lot),
            Column("Variety", "text", lambda line: line.fact.variety),
            Column("Standing", "standing", lambda line: line.standing.standing),
            Column("Weight", "number", lambda line: format_mass(line.standing.whole_mg)),
            Column("By gram", "text", lambda line: join(line.standing.phrases())),
            Column("Parents cleared", "number", lambda line: f"{line.parents.cleared} of {line.parents.all}"),
            Column("Back", "text", lambda line: _say_line(line.back)),
            Column("Forward", "text", lambda line: _say_line(line.forward)),
        ),
        view.lots,
    )


def _held(view: MemberView) -> Grid:
    return table(
        "Other members’ seed in its store, and what it is worth there",
        (
            Column("Lot", "key", lambda one: one.lot),
            Column("Of", "text", lambda one: one.holder),
            Column("Standing", "standing", lambda one: one.standing.standing),
            Column("Weight", "number", lambda one: format_mass(one.standing.whole_mg)),
            Column("By gram", "text", lambda one: join(one.standing.phrases())),
        ),
        view.held,
    )


def _say_line(names: Sequence[str]) -> str:
    """Records of other members in words: `ALDER:lots/AB-1` is the lot AB-1 of ALDER."""
    return ", ".join(_RECORD.sub(lambda one: f"{one[1]} {noun(one[2], 1)} {one[3]}", name) for name in names)


def _gaps(view: MemberView) -> Grid:
    # What only another member's records can mend stands among the disagreements, in better words.
    own = [gap for gap in view.gaps if gap not in view.waiting]
    hidden = sum(view.open_counts.values()) - len(view.waiting) - len(own)
    return table(
        "What is missing",
        (
            Column("Weight", "weight", lambda gap: gap.weight),
            Column("What", "text", lambda gap: Cell(say(gap.message))),
            Column("Place", "text", lambda gap: f"{gap.file}, line {gap.line}" if gap.line else gap.file),
            Column("To mend it", "text", lambda gap: Cell(say(gap.remedy))),
        ),
        own,
        note=f"And {whole(hidden)} more, which the member’s own packet shows." if hidden > 0 else "",
    )
