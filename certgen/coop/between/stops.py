"""On which days a member's seed may not leave it, as far as the co-op's own control wrote it down.

Days at the edge count as stopped: nobody can tell whether seed left before or after the letter came.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import qualify
from certgen.coop.members.control import STOPPING
from certgen.records.quantities import format_mass
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.numbers import Directory
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import MemberSummary, MoveFact
    from certgen.coop.members.member_list import Coop, Member

#: A member that joined less than so many days ago is new, whatever was inspected before.
NEW_DAYS: Final = 366
_OUT: Final = frozenset({"sold", "transferred"})


class Stop(NamedTuple):
    """Why a member's seed couldn't leave, in a clause about it and in one to it."""

    theirs: str
    yours: str


class Stops:
    """Why a member's seed couldn't leave on a day: a measure, a certificate, or land not yet inspected."""

    def __init__(self, coop: Coop, on: date) -> None:
        self._control = coop.control
        self._members = {member.key: member for member in coop.members}
        self._on = on
        dates = [one.date for one in coop.control.inspections] if coop.control else []
        #: Who joined since the first inspection on record must have been inspected since.
        self._since = min(dates, default=on)

    def explain(self, member: str, move: MoveFact) -> Stop | None:
        """Why the seed couldn't leave the member on the day of the entry; None if nothing says so."""
        if self._control is None:
            return None
        lot, on = move.lot, date.fromisoformat(move.date)
        for one in self._control.sanctions_of(member):
            stops = one.measure in STOPPING and one.since <= on and (not one.lots or lot in one.lots)
            if stops and not self._control.is_lifted(one, on):
                what = f"seed was stopped since {day(one.since)} ({one.measure}, {one.sanction})"
                return Stop(f"its {what}", f"your {what}")
        written = self._control.certificates_of(member)
        # Of another year's certificates a list that begins later says nothing.
        is_before = move.earlier and all(on < one.since for one in written)
        refused = "" if is_before else self._control.refuse_certificate(member, on)
        return Stop(refused, refused) if refused else self._explain_new(self._members[member], on)

    def _explain_new(self, member: Member, on: date) -> Stop | None:
        is_new = member.joined >= self._since or (self._on - member.joined).days < NEW_DAYS
        if self._control is None or member.office or not is_new or on < member.joined:
            return None
        seen = self._control.inspections_of(member.key, self._on)
        if seen and seen[0].date < on:
            return None
        joined = f"joined on {day(member.joined)} and"
        if not seen:
            never = "no inspection of the co-op's own is on file"
            return Stop(f"it {joined} {never}", f"{never}: you {joined} had none yet")
        first = f"first inspected on {day(seen[0].date)}"
        return Stop(f"it {joined} was {first}", f"you had {joined} were {first}")


def find_stopped(
    stops: Stops, summaries: Mapping[str, MemberSummary], transfers: Sequence[Transfer], directory: Directory
) -> Iterator[Disagreement]:
    """Seed that left a member on a day on which it was stopped: to members, by either book, and to others."""
    for transfer in transfers:
        # Of a handing over that both books have the one that shows it is enough.
        yield from _find(stops, transfer, is_sender=True) or _find(stops, transfer, is_sender=False)
    for key, summary in summaries.items():
        for move in summary.moves:
            outside = directory.find(move.party) in {None, key}
            if move.kind in _OUT and outside and not move.earlier:
                why = stops.explain(key, move)
                if why:
                    yield _tell(key, "", move, why, is_sender=True)


def _find(stops: Stops, transfer: Transfer, *, is_sender: bool) -> list[Disagreement]:
    """What one of the two books shows of a transfer on such a day."""
    moves = transfer.sent if is_sender else transfer.received
    return [
        _tell(transfer.sender, transfer.receiver, move, why, is_sender=is_sender)
        for move in moves
        if (why := stops.explain(transfer.sender, move))
    ]


def _tell(sender: str, receiver: str, move: MoveFact, why: Stop, *, is_sender: bool) -> Disagreement:
    paper = f", {move.document}," if move.document else ""
    seed = f"{format_mass(move.weight_mg)} of lot {move.lot}{paper}"
    when = day(date.fromisoformat(move.date))
    told = [
        Told(
            sender,
            f"{seed} left you for {receiver or move.party} on {when}, and {why.yours}. Please "
            "talk to us before you send anything more, and tell us what speaks for it.",
        )
    ]
    if receiver:
        told.append(
            Told(
                receiver,
                f"{seed} came to you from {sender} on {when}, a day on which the co-op's control doesn't let "
                "that member's seed leave. Please keep it apart, and sow, pack and sell none of it until we "
                "write to you.",
            )
        )
    return Disagreement(
        "seed-moved-while-stopped",
        (sender, receiver) if receiver else (sender,),
        (qualify(sender if is_sender else receiver, move.table, move.movement),),
        f"{seed} left {sender} for {receiver or move.party} on {when}: {why.theirs}.",
        tuple(told),
        (Reach(sender, move.lot, move.weight_mg),),
    )
