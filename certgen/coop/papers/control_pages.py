"""The co-op's own control on paper: who signed, who is certified, who was inspected by whom, what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.coop.between.kinds import KINDS
from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.members.control import GROUP
from certgen.coop.papers.control_records import list_duties, list_open
from certgen.report.tables import Column, table
from certgen.report.wording import cell, say
from certgen.rules.wording import capital, day, join
from certgen.standards.loader import cite
from certgen.typeset.parts import Cell, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.members.control import Certificate, Control, Inspection
    from certgen.typeset.parts import Part

_LEAD: Final = (
    "What the co-op’s own control wrote down. What speaks for a member counts from its day on, with its "
    "paper on file; what speaks against one counts as it is written."
)
_CERTIFIER_DECIDES: Final = (
    f"{NOT_CERTIFICATION} That an agreement, an inspection or an answer stands here says no more. "
    "Whether they are enough the certifier decides."
)


def build_control(result: CoopResult) -> Iterator[Section]:
    """What the co-op's own control wrote down, where it keeps such records."""
    control = result.coop.control
    if control is None:
        return
    parts = [Prose((_CERTIFIER_DECIDES,)), _members(result, control)]
    open_ = list(_list_matters(result))
    if open_:
        parts.append(_matters(open_))
    if control.inspectors:
        parts.append(_inspectors(control))
    group = [one for one in control.certificates if one.holder == GROUP]
    if group:
        parts.append(_certificates(control, group, result.on))
    yield Section("control", "The co-op’s own control", 1, tuple(parts), lead=_LEAD, style="follow")


def build_duties(result: CoopResult) -> Part:
    """Which of a group's duties nothing here shows."""
    return table(
        "What a group does besides, and certgen doesn’t see",
        (
            Column("Clause", "text", lambda duty: duty[0]),
            Column("Left to people", "text", lambda duty: duty[2]),
            Column("How the clause was read", "text", lambda duty: duty[1]),
        ),
        list(list_duties(result)),
    )


def _members(result: CoopResult, control: Control) -> Part:
    on = result.on
    views = [view for view in result.members if not view.member.office]
    open_of = dict.fromkeys((view.member.key for view in views), 0)
    for matter in _list_matters(result):
        if matter.member in open_of:
            open_of[matter.member] += 1
    return table(
        "Member by member",
        (
            Column("Member", "key", lambda view: cell(view.member.key, f"member/{view.member.key}")),
            Column("Agreement", "text", lambda view: _say_agreement(control, view, on)),
            Column("Certificate", "text", lambda view: _say_certificate(control, view, on)),
            Column("Covers", "text", lambda view: _say_scope(control, view, on)),
            Column(
                "Inspected", "text", lambda view: _say_inspected(control.inspections_of(view.member.key, on))
            ),
            Column("In force", "text", lambda view: _say_sanctions(control, view, on)),
            Column("Open", "number", lambda view: open_of[view.member.key]),
        ),
        views,
    )


def _say_agreement(control: Control, view: MemberView, on: date) -> str:
    found = control.agreement_of(view.member.key, on)
    return "none on file" if found is None else day(found.signed)


def _valid(control: Control, view: MemberView, on: date) -> list[Certificate]:
    written = control.certificates_of(view.member.key)
    return (
        []
        if control.refuse_certificate(view.member.key, on)
        else [one for one in written if control.is_valid(one, on)]
    )


def _say_certificate(control: Control, view: MemberView, on: date) -> str:
    valid = _valid(control, view, on)
    until = [f"{one.certificate} until {day(one.until)}" if one.until else one.certificate for one in valid]
    return join(until) or "none valid on file"


def _say_scope(control: Control, view: MemberView, on: date) -> str:
    valid = _valid(control, view, on)
    areas = [one.area for one in valid if one.area]
    return ", ".join([*(name for one in valid for name in (*one.crops, *one.blocks)), *areas])


def _say_inspected(done: tuple[Inspection, ...]) -> str:
    return f"{day(done[-1].date)}, {done[-1].by}" if done else "not on file"


def _say_sanctions(control: Control, view: MemberView, on: date) -> str:
    in_force = [
        f"{one.measure} since {day(one.since)}"
        for one in control.sanctions_of(view.member.key)
        if one.since <= on and not control.is_lifted(one, on)
    ]
    return join(in_force)


class Matter(NamedTuple):
    """One thing that is open with a member, and the clauses it rests on."""

    member: str
    text: str
    remedy: str
    clauses: str


def _list_matters(result: CoopResult) -> Iterator[Matter]:
    for one in result.disagreements:
        if one.weight == "control":
            kind = KINDS[one.kind]
            yield Matter(one.members[0], one.message, kind.remedy, "; ".join(map(cite, kind.clauses)))
    for key, _, _, message, remedy in list_open(result):
        yield Matter(key, message, remedy, "")


def _matters(matters: list[Matter]) -> Part:
    return table(
        "What is open",
        (
            Column("Member", "key", lambda one: cell(one.member, f"member/{one.member}")),
            Column("What", "text", lambda one: Cell(say(capital(one.text)))),
            Column("To settle it", "text", lambda one: Cell(say(one.remedy))),
            Column("Rule", "text", lambda one: one.clauses),
        ),
        matters,
    )


def _inspectors(control: Control) -> Part:
    return table(
        "Who inspects",
        (
            Column("Name", "text", lambda one: one.inspector),
            Column(
                "Training",
                "text",
                lambda one: (
                    "; ".join(
                        f"{course.what}, {day(course.date)}"
                        + ("" if control.is_shown(course.paper) else " (no paper on file)")
                        for course in one.training
                    )
                    or "none written down"
                ),
            ),
            Column(
                "Ties declared", "text", lambda one: day(one.declared) if one.declared else "not declared"
            ),
            Column("Tied to", "text", lambda one: ", ".join((*one.own_holding, *one.family))),
        ),
        control.inspectors,
    )


def _certificates(control: Control, group: list[Certificate], on: date) -> Part:
    return table(
        "The group’s own certificate",
        (
            Column("Certificate", "text", lambda one: one.certificate),
            Column("Status", "text", lambda one: one.status),
            Column("From", "text", lambda one: day(one.since)),
            Column("Until", "text", lambda one: day(one.until) if one.until else ""),
            Column("Valid here", "text", lambda one: "yes" if control.is_valid(one, on) else "no"),
        ),
        group,
    )
