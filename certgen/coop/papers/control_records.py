"""What the co-op's own control wrote of each member, for other programs: and what of it counts on the day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.coop.between.numbers import qualify
from certgen.coop.members.control import GROUP
from certgen.rules.wording import capital, day
from certgen.standards import coverage, load_rulebook
from certgen.standards.loader import how_read

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.coop.between.result import CoopResult
    from certgen.coop.members.control import Certificate, Control, Inspection, Inspector, Request, Sanction

#: The page of the report on which a group's clauses are answered, as far as they are.
_PAGE: Final = "coop"


def list_duties(result: CoopResult) -> Iterator[tuple[str, str, str]]:
    """What clauses about groups leave to people and no record here shows: clause, how it was read, what."""
    for standard in dict.fromkeys(figure.rulebook for figure in result.figures):
        for clause in load_rulebook(standard).clauses:
            met = coverage()[clause]
            if _PAGE in met.pages and met.person:
                yield clause, how_read(clause), met.person


def describe_control(result: CoopResult) -> dict[str, Any]:
    """All of it as JSON, each thing with whether it counts on the day, and the duties that aren't seen."""
    control, on = result.coop.control, result.on
    duties = [{"clause": clause, "mark": mark, "what": what} for clause, mark, what in list_duties(result)]
    if control is None:
        return {"kept": False, "members": [], "group": [], "inspectors": [], "unseen_duties": duties}
    return {
        "kept": True,
        "members": [_member(control, view.member.key, on) for view in result.members],
        "group": [_certificate(control, one, on) for one in control.certificates if one.holder == GROUP],
        "inspectors": [_inspector(control, one) for one in control.inspectors],
        "unseen_duties": duties,
    }


def _member(control: Control, key: str, on: date) -> dict[str, Any]:
    agreement, seen = control.agreement_of(key, on), control.inspections_of(key, on)
    return {
        "member": key,
        "agreement": None
        if agreement is None
        else {"signed": agreement.signed.isoformat(), "by": agreement.signed_by, "paper": agreement.paper},
        "certificates": [
            _certificate(control, one, on) for one in control.certificates_of(key) if one.holder == key
        ],
        "inspected": seen[-1].date.isoformat() if seen else None,
        "inspections": [_inspection(control, one, on) for one in control.written_inspections(key)],
        "sanctions": [_sanction(control, one, on) for one in control.sanctions_of(key)],
        "requests": [_request(control, one, on) for one in control.requests_of(key, on)],
    }


def _certificate(control: Control, one: Certificate, on: date) -> dict[str, Any]:
    return {
        "certificate": one.certificate,
        "status": one.status,
        "from": one.since.isoformat(),
        "until": _iso(one.until),
        "crops": list(one.crops),
        "blocks": list(one.blocks),
        "area": one.area,
        "paper": one.paper,
        "valid": control.is_valid(one, on),
    }


def _inspection(control: Control, one: Inspection, on: date) -> dict[str, Any]:
    return {
        "inspection": one.inspection,
        "date": one.date.isoformat(),
        "by": one.by,
        "blocks": list(one.blocks),
        "paper": one.paper,
        "filed": control.is_shown(one.paper),
        "findings": [
            {
                "finding": finding.finding,
                "ground": finding.ground,
                "deadline": finding.deadline.isoformat(),
                "closed": _iso(finding.closed),
                "paper": finding.closed_with,
                "open": not control.is_closed(finding, on),
            }
            for finding in one.findings
        ],
    }


def _sanction(control: Control, one: Sanction, on: date) -> dict[str, Any]:
    return {
        "sanction": one.sanction,
        "measure": one.measure,
        "from": one.since.isoformat(),
        "ground": one.ground,
        "lots": list(one.lots),
        "until": _iso(one.until),
        "lifted": _iso(one.lifted),
        "paper": one.paper,
        "in_force": one.since <= on and not control.is_lifted(one, on),
    }


def _request(control: Control, one: Request, on: date) -> dict[str, Any]:
    return {
        "request": one.request,
        "asked": one.asked.isoformat(),
        "what": one.what,
        "deadline": one.deadline.isoformat(),
        "answered": _iso(one.answered),
        "paper": one.answered_with,
        "open": not control.is_answered(one, on),
    }


def _inspector(control: Control, one: Inspector) -> dict[str, Any]:
    return {
        "inspector": one.inspector,
        "declared": _iso(one.declared),
        "tied_to": [*one.own_holding, *one.family],
        "training": [
            {"date": course.date.isoformat(), "what": course.what, "filed": control.is_shown(course.paper)}
            for course in one.training
        ],
    }


def _iso(when: date | None) -> str | None:
    return None if when is None else when.isoformat()


def list_open(result: CoopResult) -> Iterator[tuple[str, str, str, str, str]]:
    """What is open but not due, so that no disagreement tells it: member, kind, record, message and help."""
    control, on = result.coop.control, result.on
    if control is None:
        return
    for view in result.members:
        key = view.member.key
        for asked in control.requests_of(key, on):
            if on <= asked.deadline and not control.is_answered(asked, on):
                message = f"{capital(asked.what)} was asked for on {day(asked.asked)}."
                record = qualify(key, "control", asked.request)
                yield key, "request-open", record, message, f"Answer by {day(asked.deadline)}."
        for one in control.written_inspections(key):
            for finding in one.findings if one.date <= on else ():
                if on <= finding.deadline and not control.is_closed(finding, on):
                    record = qualify(key, "control", one.inspection)
                    message = f"{capital(finding.finding)}."
                    yield key, "finding-open", record, message, f"Mend it by {day(finding.deadline)}."
