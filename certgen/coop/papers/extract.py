"""An extract of one member for its own inspector: its seed, what went between it and others, what is open.

It is put together like a letter and set like one. Of another member it says no more than that member's key
beside what went between the two.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.members.control import Control
from certgen.coop.papers.letter_lines import write_lines
from certgen.coop.papers.letter_pages import set_letter
from certgen.coop.papers.member_letters import build_letter
from certgen.manifest import write_fingerprint
from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, count, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.papers.member_letters import Letter

#: What a letter asks of its member and an inspector has no use for.
_FOR_THE_MEMBER: Final = "What to send us, and how"
_CLOSING: Final = (
    "This extract is about one member. Its seed's standing is the one that all members' records give it; of "
    "other members it shows only what went between them and this one. It supports a certifier's decision."
)


def build_extract(result: CoopResult, view: MemberView) -> Letter:
    """What the extract says."""
    letter = build_letter(result, view)
    lists = tuple(one for one in letter.lists if one[0] != _FOR_THE_MEMBER)
    more = (
        ("Seed of other members in its store", tuple(_say_held(view))),
        ("What went from and to other members", tuple(_say_transfers(result, view))),
        ("What the co-op’s own control wrote of it", tuple(_say_control(result, view))),
    )
    return replace(
        letter,
        to=f"Extract for the inspector of {view.member.name} ({view.member.key})",
        opening=_open(result, view),
        lists=(*lists, *((heading, items) for heading, items in more if items)),
        closing=f"{_CLOSING} {NOT_CERTIFICATION}",
    )


def write_extract(result: CoopResult, view: MemberView) -> str:
    """The extract as text."""
    return "\n".join(write_lines(build_extract(result, view))) + "\n"


def set_extract(result: CoopResult, view: MemberView, page: str = "A4") -> bytes:
    """The extract as PDF. Raises ValueError for an unknown paper."""
    return set_letter(result, build_extract(result, view), page)


def _open(result: CoopResult, view: MemberView) -> str:
    member, summary = view.member, view.summary
    season = f"season {summary.stated.label}" if summary.stated.label else "a season that could not be read"
    grams = join(view.standing.phrases()) or "no seed"
    records = count(sum(summary.numbers.records.values()), "record")
    left = f", and was one until {day(member.left)}" if member.left is not None else ""
    seal = write_fingerprint(summary.fingerprint) if summary.fingerprint else ""
    fingerprint = f" Fingerprint of what it handed in: {seal}." if seal else ""
    since = f"has been a member since {day(member.joined)}{left}"
    examined = f"{records}, examined as of {day(result.on)}"
    return (
        f"{member.name}, certificate {member.certificate}, {since}. It handed in {season}: {examined}. By "
        f"all members' records: {grams}; {view.readiness}.{fingerprint} What is open is said below as the "
        "member is told it."
    )


def _say_held(view: MemberView) -> Iterator[str]:
    for one in view.held:
        yield f"Lot {one.lot}: {join(one.standing.phrases())}."


def _say_transfers(result: CoopResult, view: MemberView) -> Iterator[str]:
    key = view.member.key
    for one in result.transfers:
        if key in {one.sender, one.receiver}:
            yield _say_transfer(one, key)


def _say_transfer(transfer: Transfer, key: str) -> str:
    first = transfer.moves[0]
    way = f"to {transfer.receiver}" if transfer.sender == key else f"from {transfer.sender}"
    left = format_mass(transfer.sent_mg) if transfer.sent else "nothing"
    came = format_mass(transfer.received_mg) if transfer.received else "nothing"
    paper = f", {first.document}" if first.document else ""
    is_agreed = transfer.sent and transfer.received and not transfer.differences
    when = day(date.fromisoformat(first.date))
    books = f"{left} left by the one book, {came} came by the other"
    return f"{when}: lot {first.lot} {way}{paper}; {books}.{'' if is_agreed else ' They don’t agree.'}"


def _say_control(result: CoopResult, view: MemberView) -> Iterator[str]:
    control, key, on = result.coop.control or Control(), view.member.key, result.on
    agreement = control.agreement_of(key, on)
    if agreement is not None:
        yield f"Agreement signed on {day(agreement.signed)} by {agreement.signed_by}."
    for one in control.certificates_of(key):
        until = f" to {day(one.until)}" if one.until else ""
        yield f"Certificate {one.certificate}, {one.status}, from {day(one.since)}{until}{_paper(one.paper)}."
    for seen in control.inspections_of(key, on):
        yield f"Inspection {seen.inspection} on {day(seen.date)} by {seen.by}{_paper(seen.paper)}."
    yield from (
        f"{capital(one.measure)} since {day(one.since)} ({one.sanction}): {one.ground}{_lifted(one.lifted)}."
        for one in control.sanctions_of(key)
        if one.since <= on
    )


def _paper(paper: str) -> str:
    return f", with {paper}" if paper else ""


def _lifted(lifted: date | None) -> str:
    return f"; lifted on {day(lifted)}" if lifted is not None else ""
