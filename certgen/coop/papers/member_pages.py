"""A page a member: how ready it is, its lots' lines across members, what is missing, what disagrees."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.papers.overview import READINESS_MARKS, list_first, show_readiness
from certgen.records.quantities import format_mass
from certgen.report.tables import Column, table
from certgen.report.wording import fact, key, whole
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.rules.wording import day, join
from certgen.typeset.parts import Chapter, Facts, Grid, Listing, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.typeset.parts import Part

#: Members set together: few enough for cores to share, many enough to be worth a process's start.
_A_CHAPTER: Final = 40
#: What a member's page shows of long lists; the member's own packet shows everything.
_GAPS_SHOWN: Final = 14
_LOTS_SHOWN: Final = 10
#: Members listed at the head of their pages.
_LISTED: Final = 120


def build_members(result: CoopResult) -> Iterator[Chapter]:
    """A page a member, below a list of all."""
    views = result.members
    listing = Section("members", "The members", 1, (_list_members(views),), style="chapter")
    for start in range(0, len(views), _A_CHAPTER):
        group = views[start : start + _A_CHAPTER]
        sections = [_member(result, view) for view in group]
        head = () if start else (listing,)
        yield Chapter(f"members from {group[0].member.key}", (*head, *sections))


def title_of(view: MemberView) -> str:
    """The heading of a member's page."""
    return f"{view.member.name} ({view.member.key})"


def _list_members(views: Sequence[MemberView]) -> Grid:
    """All members, or of many those that aren't ready."""

    def gaps(weight: str) -> Column[MemberView]:
        return Column(weight.capitalize(), "number", lambda view: view.open_counts.get(weight, 0))

    listed = views
    if len(views) > _LISTED:
        listed = [view for view in views if view.readiness != "ready"][:_LISTED]
    hidden = len(views) - len(listed)
    return table(
        "In the order of the co-op’s list",
        (
            Column("Member", "key", lambda view: key(view.member.key, f"member/{view.member.key}")),
            Column("Name", "text", lambda view: view.member.name),
            Column("Readiness", "text", lambda view: show_readiness(view.readiness)),
            Column("Seed", "number", lambda view: format_mass(view.standing.whole_mg)),
            *map(gaps, GAP_WEIGHTS),
            Column("Disagree", "number", lambda view: len(view.disagreements)),
        ),
        listed,
        note=f"{whole(hidden)} more members are in the manifest with their readiness." if hidden else "",
    )


def _member(result: CoopResult, view: MemberView) -> Section:
    return Section(
        f"member/{view.member.key}",
        title_of(view),
        2,
        tuple(_member_parts(result, view)),
        kicker=view.readiness,
        style="chapter",
    )


def _member_parts(result: CoopResult, view: MemberView) -> Iterator[Part]:
    summary, member = view.summary, view.member
    counts = view.open_counts
    yield Facts(
        (
            fact("Readiness", view.readiness, mark=READINESS_MARKS[view.readiness]),
            fact("Certificate", member.certificate),
            fact("Joined", day(member.joined)),
            fact("Season", summary.stated.label or "–"),
            fact(
                "Records",
                f"{whole(sum(summary.numbers.records.values()))}, {whole(summary.numbers.left_out)} left out",
            ),
            fact("Gaps", join(f"{counts.get(word, 0)} {word}" for word in GAP_WEIGHTS)),
            fact("Risk", _tell_risk(view)),
        )
    )
    if summary.errors:
        yield Prose(("What couldn’t be read:",))
        yield list_first([(Run(error),) for error in summary.errors[:_GAPS_SHOWN]], summary.error_count)
    if view.lots:
        yield _lots(view)
    if len(view.gaps) > len(view.waiting):
        yield _gaps(view)
    if view.answered:
        lots = ", ".join(dict.fromkeys(gap.outside for gap in view.answered))
        yield Prose((f"Lots that only other members’ records show, and they do, traced: {lots}.",))
    if view.disagreements:
        yield Prose(("Where its papers and others’ disagree:",))
        yield Listing(
            tuple((Run(result.disagreements[at].message),) for at in view.disagreements[:_GAPS_SHOWN])
        )


def _tell_risk(view: MemberView) -> str:
    reasons = ", ".join(f"{reason} ({points})" for reason, points in view.risk.reasons)
    return f"{view.risk.points}: {reasons}" if reasons else "0"


def _lots(view: MemberView) -> Grid:
    hidden = len(view.lots) - _LOTS_SHOWN
    return table(
        "Lots and their lines across members",
        (
            Column("Lot", "key", lambda line: line.fact.lot),
            Column("Variety", "text", lambda line: line.fact.variety),
            Column("Standing", "standing", lambda line: line.standing.standing),
            Column("Weight", "number", lambda line: format_mass(line.standing.whole_mg)),
            Column("By gram", "text", lambda line: join(line.standing.phrases())),
            Column("Parents cleared", "number", lambda line: f"{line.parents.cleared} of {line.parents.all}"),
            Column("Back", "text", lambda line: ", ".join(line.back)),
            Column("Forward", "text", lambda line: ", ".join(line.forward)),
        ),
        view.lots[:_LOTS_SHOWN],
        note=_say_hidden(hidden, "more lots"),
    )


def _gaps(view: MemberView) -> Grid:
    # What only another member's records can mend stands among the disagreements, in better words.
    own = [gap for gap in view.gaps if gap not in view.waiting]
    shown = own[:_GAPS_SHOWN]
    return table(
        "What is missing",
        (
            Column("Weight", "weight", lambda gap: gap.weight),
            Column("What", "text", lambda gap: gap.message),
            Column("Place", "text", lambda gap: f"{gap.file}, line {gap.line}" if gap.line else gap.file),
            Column("To mend it", "text", lambda gap: gap.remedy),
        ),
        shown,
        note=_say_hidden(sum(view.open_counts.values()) - len(view.waiting) - len(shown), "more"),
    )


def _say_hidden(count: int, what: str) -> str:
    return f"And {whole(count)} {what}, which the member’s own packet shows." if count > 0 else ""
