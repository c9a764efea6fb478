"""What the co-op's own control has open with a member, and what is settled, as its letter tells it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.coop.members.control import STOPPING, Control
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.coop.between.result import CoopResult


def count_open(result: CoopResult, member: str) -> int:
    """How many requests and findings the member has still to answer."""
    matters = _Matters(result, member)
    return len([*matters.requests(), *matters.findings()])


def list_open(result: CoopResult, member: str) -> Iterator[tuple[str, list[str]]]:
    """The letter's first lists: what stops its seed, what was asked, what an inspection found."""
    matters = _Matters(result, member)
    yield ("Since this is in force, none of the seed that it is about may leave you", list(matters.stops()))
    yield "We asked you for this", list(matters.requests())
    yield "Our inspection found this", list(matters.findings())


def list_settled(result: CoopResult, member: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was asked and answered, found and closed, each with its days and paper."""
    return (("This is settled", tuple(_Matters(result, member).settled())),)


class _Matters:
    def __init__(self, result: CoopResult, member: str) -> None:
        # Where no such records are kept nothing is open.
        self._control, self._on, self._member = result.coop.control or Control(), result.on, member

    def stops(self) -> Iterator[str]:
        for one in self._control.sanctions_of(self._member):
            in_force = one.since <= self._on and not self._control.is_lifted(one, self._on)
            if in_force and one.measure in STOPPING:
                about = f", lots {join(one.lots)}" if one.lots else ""
                until = f" We look at it again on {day(one.until)}." if one.until else ""
                what = f"{capital(one.measure)}{about} since {day(one.since)} ({one.sanction})"
                yield f"{what}: {one.ground}.{until}"

    def requests(self) -> Iterator[str]:
        for one in self._control.requests_of(self._member, self._on):
            if not self._control.is_answered(one, self._on):
                asked = f"{capital(one.what)} ({one.request}, asked on {day(one.asked)})"
                answered = self._say_unshown(one.answered, one.answered_with, "answered")
                yield f"{asked}. {self._by(one.deadline)}{answered}"

    def findings(self) -> Iterator[str]:
        for one in self._control.written_inspections(self._member):
            for finding in one.findings if one.date <= self._on else ():
                if not self._control.is_closed(finding, self._on):
                    ground = f" (ground: {finding.ground})" if finding.ground else ""
                    found = f"{capital(finding.finding)}{ground}, found on {day(one.date)}"
                    closed = self._say_unshown(finding.closed, finding.closed_with, "closed")
                    yield f"{found}. {self._by(finding.deadline)}{closed}"

    def settled(self) -> Iterator[str]:
        for one in self._control.requests_of(self._member, self._on):
            if one.answered is not None and self._control.is_answered(one, self._on):
                asked = f"{capital(one.what)} ({one.request}): asked on {day(one.asked)}"
                yield f"{asked}, answered on {day(one.answered)} with {one.answered_with}."
        for seen in self._control.written_inspections(self._member):
            for finding in seen.findings:
                if finding.closed is not None and self._control.is_closed(finding, self._on):
                    found = f"{capital(finding.finding)}: found on {day(seen.date)}"
                    yield f"{found}, closed on {day(finding.closed)} with {finding.closed_with}."

    def _by(self, deadline: date) -> str:
        if deadline < self._on:
            return f"It was due by {day(deadline)}; that day has passed."
        return f"Please do so by {day(deadline)}."

    def _say_unshown(self, when: date | None, paper: str, word: str) -> str:
        missing = self._control.say_missing(paper)
        return f" We have it as {word} on {day(when)}, but {missing}." if when is not None and missing else ""
