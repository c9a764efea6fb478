"""What the co-op's own control wrote: agreements, certificates, inspectors, inspections, sanctions, requests.

What speaks for a member counts from its day on, with its paper; what speaks against one counts as written.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Final

from certgen.records.joining.placeholders import says_nothing

#: The holder of the group's own certificate.
GROUP: Final = "group"
#: Measures that stop a member's seed.
STOPPING: Final = frozenset({"sales stopped", "suspended", "excluded"})


@dataclass(frozen=True, slots=True)
class Agreement:
    """What a member signed with the co-op."""

    member: str
    signed: date
    signed_by: str
    paper: str = ""
    until: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate in a stretch of days. `holder` is a member's key or GROUP; empty lists bound nothing."""

    holder: str
    certificate: str
    status: str
    since: date
    until: date | None = None
    crops: tuple[str, ...] = ()
    blocks: tuple[str, ...] = ()
    area: str = ""
    paper: str = ""
    note: str = ""

    def holds_on(self, day: date) -> bool:
        """Whether the day is one of these days."""
        return self.since <= day and (self.until is None or day <= self.until)


@dataclass(frozen=True, slots=True)
class Training:
    """One training of an inspector."""

    date: date
    what: str
    paper: str = ""


@dataclass(frozen=True, slots=True)
class Inspector:
    """Who inspects for the co-op, with the members that this person is tied to."""

    inspector: str
    own_holding: tuple[str, ...] = ()
    family: tuple[str, ...] = ()
    declared: date | None = None
    declaration: str = ""
    training: tuple[Training, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class InspectionFinding:
    """What wasn't in order at an inspection, and until when it is to be mended."""

    finding: str
    deadline: date
    ground: str = ""
    closed: date | None = None
    closed_with: str = ""


@dataclass(frozen=True, slots=True)
class Inspection:
    """One inspection of a member by the co-op itself."""

    inspection: str
    member: str
    date: date
    by: str
    blocks: tuple[str, ...]
    paper: str = ""
    findings: tuple[InspectionFinding, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Sanction:
    """A measure against a member. Without `lots` it is about everything of that member."""

    sanction: str
    member: str
    measure: str
    since: date
    ground: str
    lots: tuple[str, ...] = ()
    until: date | None = None
    paper: str = ""
    lifted: date | None = None
    lifted_with: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Request:
    """What the office asked of a member."""

    request: str
    member: str
    asked: date
    what: str
    deadline: date
    answered: date | None = None
    answered_with: str = ""
    note: str = ""


@dataclass(frozen=True)
class Control:
    """All of it. `filed` are the named papers that lie in the co-op's `evidence`, sorted."""

    agreements: tuple[Agreement, ...] = ()
    certificates: tuple[Certificate, ...] = ()
    inspectors: tuple[Inspector, ...] = ()
    inspections: tuple[Inspection, ...] = ()
    sanctions: tuple[Sanction, ...] = ()
    requests: tuple[Request, ...] = ()
    filed: tuple[str, ...] = ()

    @cached_property
    def _papers(self) -> frozenset[str]:
        return frozenset(self.filed)

    @cached_property
    def _by_member(self) -> dict[tuple[str, str], list[Any]]:
        found: dict[tuple[str, str], list[Any]] = defaultdict(list)
        for name in ("agreements", "inspections", "sanctions", "requests"):
            for one in getattr(self, name):
                found[name, one.member].append(one)
        for one in self.certificates:
            found["certificates", one.holder].append(one)
        return dict(found)

    def _of(self, name: str, member: str) -> list[Any]:
        return self._by_member.get((name, member), [])

    def is_shown(self, paper: str) -> bool:
        """Whether a paper is named and filed."""
        return paper in self._papers

    def say_missing(self, paper: str) -> str:
        """Why a paper shows nothing, empty if it does."""
        if self.is_shown(paper):
            return ""
        return f"the paper {paper} isn't in the co-op's evidence" if paper else "no paper is named"

    def written_agreements(self, member: str) -> list[Agreement]:
        """The agreements of a member as written, shown or not."""
        return self._of("agreements", member)

    def written_inspections(self, member: str) -> list[Inspection]:
        """The inspections of a member as written, shown or not."""
        return self._of("inspections", member)

    def agreement_of(self, member: str, on: date) -> Agreement | None:
        """The agreement of a member that holds on a day: signed by somebody before its end, on file."""
        for one in reversed(self.written_agreements(member)):
            is_signed = one.signed <= on and not says_nothing(one.signed_by)
            if is_signed and (one.until is None or on <= one.until) and self.is_shown(one.paper):
                return one
        return None

    def certificates_of(self, member: str) -> tuple[Certificate, ...]:
        """The member's own certificates; where none is written, the group's."""
        return tuple(self._of("certificates", member) or self._of("certificates", GROUP))

    def is_valid(self, one: Certificate, on: date) -> bool:
        """Whether an entry says, and shows, that a certificate is valid on a day."""
        return one.status == "valid" and one.holds_on(on) and self.is_shown(one.paper)

    def refuse_certificate(self, member: str, on: date) -> str:
        """Why no certificate covers a member's seed on a day, empty if one does or none is written of."""
        written = self.certificates_of(member)
        for one in written:
            if one.status != "valid" and one.holds_on(on):
                return f"certificate {one.certificate} was {one.status} then"
        if not written or any(self.is_valid(one, on) for one in written):
            return ""
        unshown = [one for one in written if one.status == "valid" and one.holds_on(on)]
        if unshown:
            return f"of certificate {unshown[0].certificate} {self.say_missing(unshown[0].paper)}"
        return "no certificate on the co-op's list was valid then"

    def inspections_of(self, member: str, on: date) -> tuple[Inspection, ...]:
        """The inspections of a member up to a day whose record is filed, the latest last."""
        found = [
            one for one in self._of("inspections", member) if one.date <= on and self.is_shown(one.paper)
        ]
        return tuple(sorted(found, key=lambda one: one.date))

    def sanctions_of(self, member: str) -> tuple[Sanction, ...]:
        """The sanctions of a member."""
        return tuple(self._of("sanctions", member))

    def is_lifted(self, one: Sanction, on: date) -> bool:
        """Whether a sanction is over on a day: lifted before it, with the paper. No end by itself counts."""
        return one.lifted is not None and one.lifted < on and self.is_shown(one.lifted_with)

    def requests_of(self, member: str, on: date) -> tuple[Request, ...]:
        """What a member had been asked by a day, the earliest deadline first."""
        asked = [one for one in self._of("requests", member) if one.asked <= on]
        return tuple(sorted(asked, key=lambda one: (one.deadline, one.request)))

    def is_answered(self, one: Request, on: date) -> bool:
        """Whether a request was answered by a day, on a paper that is filed."""
        return one.answered is not None and one.answered <= on and self.is_shown(one.answered_with)

    def is_closed(self, one: InspectionFinding, on: date) -> bool:
        """Whether a finding was closed by a day, on a paper that is filed."""
        return one.closed is not None and one.closed <= on and self.is_shown(one.closed_with)
