"""The co-op's own control held against what members' records show: what is missing in it, and what is open.

What speaks for a member counts from its day on, and with its paper on file. A day past is the day after it:
whatever is due on a day can still be done on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import qualify
from certgen.coop.between.spelling import fold
from certgen.coop.members.control import STOPPING
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from certgen.coop.members.control import Certificate, Control, Inspection, Inspector
    from certgen.coop.members.facts import MemberSummary
    from certgen.coop.members.member_list import Coop, Member

#: Days after which an inspection is more than a year old, whichever years lie between.
_YEAR: Final = 366


def compare_control(coop: Coop, summaries: Mapping[str, MemberSummary], on: date) -> Iterator[Disagreement]:
    """All that the co-op's own control lacks or has open on a day, member by member.

    A co-op without a certificate of its own and without such records inspects nobody, and is asked nothing.
    """
    if not coop.has_control:
        return
    for member in coop.members:
        summary = summaries[member.key]
        if coop.control is None:
            if not member.office:
                yield from _ask_by_list(member, on)
            continue
        of = _OfMember(coop.control, member, summary, on)
        yield from of.check_certificate()
        if not member.office:
            # The co-op signs nothing with itself, and whoever inspects its office is the certifier.
            yield from of.check_agreement()
            yield from of.check_inspections()
            yield from of.check_inspectors()
        yield from of.check_findings()
        yield from of.check_sanctions()
        yield from of.check_requests()


def _ask_by_list(member: Member, on: date) -> Iterator[Disagreement]:
    """Without records of inspections the list of members says when the last one was."""
    last = member.inspected
    if last is None or last > on or (on - last).days > _YEAR:
        told = "no day of an inspection" if last is None else f"{day(last)} as the day of the last"
        yield Disagreement(
            "member-not-inspected",
            (member.key,),
            (qualify(member.key, "season", "inspected"),),
            f"The list of members gives {told} for {member.key}.",
            (Told(member.key, "We have yet to inspect your holding this year, and will ask you for a day."),),
        )


class _OfMember:
    def __init__(self, control: Control, member: Member, summary: MemberSummary, on: date) -> None:
        self._control, self._key, self._summary, self._on = control, member.key, summary, on
        self._member = member
        self._names = {fold(name) for name in (member.name, summary.stated.responsible) if name}

    def _find(
        self, kind: str, record: str, message: str, told: str = "", reach: tuple[Reach, ...] = ()
    ) -> Disagreement:
        words = (Told(self._key, told),) if told else ()
        return Disagreement(
            kind, (self._key,), (qualify(self._key, "control", record),), message, words, reach
        )

    def check_agreement(self) -> Iterator[Disagreement]:
        control, key = self._control, self._key
        if control.agreement_of(key, self._on) is not None:
            return
        written = control.written_agreements(key)
        if not written:
            says = "no agreement is written down"
        elif written[-1].until is not None and written[-1].until < self._on:
            says = f"its agreement ended on {day(written[-1].until)}"
        elif written[-1].signed > self._on:
            says = f"its agreement is of {day(written[-1].signed)}, still to come"
        else:
            says = f"of its agreement {control.say_missing(written[-1].paper) or 'nobody signed it'}"
        told = "We have no agreement with you on file that holds today. Please sign it, or send your copy."
        yield self._find("agreement-missing", "agreement", f"Of {key} {says}.", told)

    def check_certificate(self) -> Iterator[Disagreement]:
        """Whether one is valid today, and whether it covers what grows there."""
        key, written = self._key, self._control.certificates_of(self._key)
        refused = (
            self._control.refuse_certificate(key, self._on) if written else "no certificate is written down"
        )
        if refused:
            told = "We have no certificate of yours on file that is valid today. Please send a copy."
            yield self._find("certificate-not-shown", "certificate", f"Of {key}: {refused}.", told)
        valid = [one for one in written if self._control.is_valid(one, self._on)]
        if valid and self._summary.state == "read" and not self._member.office:
            yield from self._check_scope(valid)

    def _check_scope(self, valid: list[Certificate]) -> Iterator[Disagreement]:
        crops = list(dict.fromkeys(name for one in valid for name in one.crops))
        crop = self._summary.stated.crop
        if not crops:
            told = "Please send us the page of your certificate that says which crops it covers."
            message = f"Of {self._key}'s certificate it isn't written which crops it covers."
            yield self._find("certificate-not-shown", "certificate", message, told)
        elif crop and crop not in crops:
            yield self._outside(f"covers {join(crops)}, and not {crop}", (Reach(self._key),))
        if all(one.blocks for one in valid):
            yield from self._check_land({block for one in valid for block in one.blocks})

    def _check_land(self, inside: set[str]) -> Iterator[Disagreement]:
        outside = [block for block in self._summary.blocks if block not in inside]
        if outside:
            lots = [lot.lot for lot in self._summary.lots if not inside.issuperset(lot.blocks)]
            reach = tuple(Reach(self._key, lot) for lot in lots)
            yield self._outside(f"doesn't name {_blocks(outside)}", reach)

    def _outside(self, says: str, reach: tuple[Reach, ...]) -> Disagreement:
        message = f"{self._key}'s certificate {says}."
        told = f"Your certificate {says}. {_SELL_NONE}"
        return self._find("certificate-scope", "certificate", message, told, reach)

    def check_inspections(self) -> Iterator[Disagreement]:
        key, done = self._key, self._control.inspections_of(self._key, self._on)
        if not done or (self._on - done[-1].date).days > _YEAR:
            says = f"the last inspection on file is of {day(done[-1].date)}" if done else _NONE_ON_FILE
            told = "We have yet to inspect your holding this year, and will ask you for a day."
            message = f"Of {key} {says}{self._say_unshown(done)}."
            yield self._find("member-not-inspected", "inspection", message, told)
        seen = {block for one in done for block in one.blocks}
        unseen = [block for block in self._summary.blocks if block not in seen]
        if done and unseen:
            blocks = _blocks(unseen)
            told = f"We have not walked your {blocks} yet, and will ask you for a day."
            message = f"No inspection of {key} names {blocks}."
            yield self._find("land-not-inspected", "inspection", message, told)

    def _say_unshown(self, done: tuple[Inspection, ...]) -> str:
        """What keeps the latest inspection that is written from counting."""
        unshown = [one for one in self._control.written_inspections(self._key) if one not in done]
        if not unshown:
            return ""
        why = self._control.say_missing(unshown[-1].paper) or f"{day(unshown[-1].date)} is still to come"
        return f"; of {unshown[-1].inspection} {why}"

    def check_inspectors(self) -> Iterator[Disagreement]:
        """Of the latest inspection; what earlier ones lacked can't be mended any more."""
        for one in self._control.inspections_of(self._key, self._on)[-1:]:
            why = self._doubt_inspector(one)
            if why:
                message = (
                    f"Inspection {one.inspection} of {self._key} on {day(one.date)} was by {one.by}: {why}."
                )
                told = "We have to inspect your holding once more this year, and will ask you for a day."
                yield self._find("inspector-unfit", one.inspection, message, told)

    def _doubt_inspector(self, one: Inspection) -> str:
        if fold(one.by) in self._names:
            return "that is the member itself"
        person = next((who for who in self._control.inspectors if fold(who.inspector) == fold(one.by)), None)
        if person is None:
            return "nobody of that name is among the inspectors"
        if self._key in (*person.own_holding, *person.family):
            return "it is that person's own holding, or family's"
        if person.declared is None or person.declared > one.date:
            return "nothing was declared about ties to members by then"
        if missing := self._control.say_missing(person.declaration):
            return f"of the declaration of ties to members {missing}"
        return self._doubt_training(person, one.date)

    def _doubt_training(self, person: Inspector, on: date) -> str:
        before = [course.paper for course in person.training if course.date < on]
        if not before:
            return "no training before that day is written down"
        if any(map(self._control.is_shown, before)):
            return ""
        return f"of the training before that day {self._control.say_missing(before[-1])}"

    def check_findings(self) -> Iterator[Disagreement]:
        for one in self._control.written_inspections(self._key):
            for finding in one.findings if one.date <= self._on else ():
                if finding.deadline < self._on and not self._control.is_closed(finding, self._on):
                    how = self._control.say_missing(finding.closed_with) if finding.closed else ""
                    closed = f" It is said to be closed, but {how}." if how else ""
                    message = (
                        f"Inspection {one.inspection} of {self._key}: {finding.finding}. It was due by "
                        f"{day(finding.deadline)}.{closed}"
                    )
                    yield self._find("finding-overdue", one.inspection, message)

    def check_sanctions(self) -> Iterator[Disagreement]:
        control = self._control
        for one in control.sanctions_of(self._key):
            if one.since > self._on or control.is_lifted(one, self._on) or one.measure not in STOPPING:
                continue
            how = control.say_missing(one.lifted_with) if one.lifted else ""
            lifted = f" It is said to be lifted, but {how}." if how else ""
            about = f", lots {join(one.lots)}" if one.lots else ""
            what = f"{one.measure}{about} ({one.sanction})"
            message = f"{self._key} since {day(one.since)}: {what}. {capital(one.ground)}.{lifted}"
            yield self._find("member-sanctioned", one.sanction, message)

    def check_requests(self) -> Iterator[Disagreement]:
        control = self._control
        for one in control.requests_of(self._key, self._on):
            if one.deadline < self._on and not control.is_answered(one, self._on):
                how = control.say_missing(one.answered_with) if one.answered else ""
                answered = f" It is said to be answered, but {how}." if how else ""
                message = (
                    f"{self._key} was asked on {day(one.asked)} for {one.what} ({one.request}), by "
                    f"{day(one.deadline)}.{answered}"
                )
                yield self._find("request-overdue", one.request, message)


_NONE_ON_FILE: Final = "no inspection is on file"
_SELL_NONE: Final = "Please talk to us before you sell any of it."


def _blocks(names: list[str]) -> str:
    return f"{'block' if len(names) == 1 else 'blocks'} {join(names)}"
