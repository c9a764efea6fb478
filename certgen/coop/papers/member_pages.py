"""A page a member: how ready it is, its lots' lines across members, what is missing, what disagrees."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.papers.overview import READINESS_MARKS
from certgen.records.quantities import format_mass
from certgen.report.wording import cell, fact, figure, key, whole
from certgen.rules import WEIGHTS as GAP_WEIGHTS
from certgen.rules.wording import day, join
from certgen.typeset.parts import Chapter, Facts, Grid, Head, Listing, Prose, Row, Run, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.members.facts import GapFact
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
    listed = (
        views if len(views) <= _LISTED else [view for view in views if view.readiness != "ready"][:_LISTED]
    )
    rows = []
    for view in listed:
        name = view.member.key
        words = cell(view.readiness, mark=READINESS_MARKS[view.readiness])
        counts = [figure(whole(view.open_counts.get(weight, 0))) for weight in GAP_WEIGHTS]
        papers = figure(whole(len(view.disagreements)))
        weight = figure(format_mass(view.standing.whole_mg))
        rows.append(
            Row((key(name, f"member/{name}"), cell(view.member.name), words, weight, *counts, papers))
        )
    heads = (Head("Member", "key"), Head("Name"), Head("Readiness"), Head("Seed", "number"),
             *(Head(weight.capitalize(), "number") for weight in GAP_WEIGHTS),
             Head("Disagree", "number"))  # fmt: skip
    hidden = len(views) - len(rows)
    note = f"{whole(hidden)} more members are in the manifest with their readiness." if hidden else ""
    return Grid("In the order of the co-op’s list", heads, tuple(rows), note=note)


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
        shown = [(Run(error),) for error in summary.errors[:_GAPS_SHOWN]]
        hidden = summary.error_count - len(shown)
        yield Listing((*shown, *([(Run(f"and {whole(hidden)} more"),)] if hidden > 0 else [])))
    if view.lots:
        yield _lots(view)
    if view.gaps:
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
    rows = []
    for line in view.lots[:_LOTS_SHOWN]:
        fact_ = line.fact
        rows.append(
            Row((
                key(fact_.lot), cell(fact_.variety),
                cell(line.standing.standing, mark=line.standing.standing),
                figure(format_mass(line.standing.whole_mg)), cell(join(line.standing.phrases())),
                figure(f"{fact_.cleared} of {fact_.parents}"),
                cell(", ".join(line.back)), cell(", ".join(line.forward)),
            ))
        )  # fmt: skip
    hidden = len(view.lots) - len(rows)
    return Grid(
        "Lots and their lines across members",
        (Head("Lot", "key"), Head("Variety"), Head("Standing"), Head("Weight", "number"), Head("By gram"),
         Head("Parents cleared", "number"), Head("Back"), Head("Forward")),
        tuple(rows),
        note=f"And {whole(hidden)} more lots, which the member’s own packet shows." if hidden > 0 else "",
    )  # fmt: skip


def _gaps(view: MemberView) -> Grid:
    shown = view.gaps[:_GAPS_SHOWN]
    hidden = sum(view.open_counts.values()) - len(shown)
    return Grid(
        "What is missing",
        (Head("Weight"), Head("What"), Head("Place"), Head("To mend it")),
        tuple(
            Row((
                cell(gap.weight, mark="rejected" if gap.weight == "rejects" else gap.weight),
                cell(gap.message), cell(_place(gap)), cell(gap.remedy),
            ))
            for gap in shown
        ),
        note=f"And {whole(hidden)} more, which the member’s own packet shows." if hidden > 0 else "",
    )  # fmt: skip


def _place(gap: GapFact) -> str:
    return f"{gap.file}, line {gap.line}" if gap.line else gap.file
