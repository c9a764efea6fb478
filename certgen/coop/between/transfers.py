"""Seed that went from member to member: every entry of one book has its fellow in the other.

Entries are paired by document number, then by lot, then by weight and day, nearest day first; an entry
without a fellow is a disagreement, and so is a pair that differs in kind, day, weight, lot or status.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import Directory, fold, qualify
from certgen.records.quantities import format_mass
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, MoveFact

_OUT: Final = frozenset({"sold", "transferred"})
#: Days that seed may be under way between members before the office is asked to look. A choice of certgen's:
#: members of one co-op live near one another.
DAYS_UNDER_WAY: Final = 14
_NOTHING: Final = "stock book has nothing of it."
_CAME: Final = "If it came, write it under `movements` as `received`. If nothing came, tell us."
_WENT: Final = "If you sent it, write it under `movements` as `transferred` or `sold`. If not, tell us."
_IS_RIGHT: Final = "If your entry is wrong, correct it; if it is right, there is nothing for you to write."
#: Entries without a common document or lot are taken for one transfer only this many days apart.
_DAYS_APART: Final = 31


@dataclass(frozen=True, slots=True)
class Transfer:
    """A transfer between two members; `sent` or `received` is None where a book says nothing.

    Weights that differ by no more than `step_mg`, the larger step of the two scales, are the same.
    """

    sender: str
    receiver: str
    sent: MoveFact | None
    received: MoveFact | None
    step_mg: int = 0

    @property
    def differences(self) -> tuple[str, ...]:
        """What the two books say differently, in words. Empty if they agree, or if one is silent."""
        if self.sent is None or self.received is None:
            return ()
        return tuple(_differ(self.sent, self.received, self.step_mg))


def find_transfers(
    summaries: Mapping[str, MemberSummary], directory: Directory, *, earlier: bool = False
) -> tuple[Transfer, ...]:
    """Every transfer between two members, paired where both books have it, in the order of the days.

    Those of this season, or the `earlier` ones, of which not every member's book is at hand.
    """
    sent: dict[tuple[str, str], list[MoveFact]] = defaultdict(list)
    received: dict[tuple[str, str], list[MoveFact]] = defaultdict(list)
    for key, summary in summaries.items():
        for move in summary.moves:
            other = directory.find(move.party)
            if other is None or other == key or move.earlier is not earlier:
                continue
            if move.kind in _OUT:
                sent[key, other].append(move)
            else:
                received[other, key].append(move)
    transfers: list[Transfer] = []
    for pair in dict.fromkeys((*sent, *received)):
        step = max(summaries[key].stated.scale_step_mg for key in pair)
        transfers += _match(*pair, sent.get(pair, []), received.get(pair, []), step)
    return tuple(sorted(transfers, key=_order))


def _order(transfer: Transfer) -> tuple[str, str, str, str]:
    move = transfer.sent or transfer.received
    return (move.date if move else "", transfer.sender, transfer.receiver, move.movement if move else "")


def _match(
    sender: str, receiver: str, sent: Sequence[MoveFact], received: Sequence[MoveFact], step_mg: int
) -> Iterator[Transfer]:
    likeness = [
        (rank, apart, at_out, at_in)
        for at_out, out in enumerate(sent)
        for at_in, into in enumerate(received)
        for rank, apart in _compare(out, into)
    ]
    fellow: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, at_out, at_in in sorted(likeness):
        if at_out not in fellow and at_in not in taken:
            fellow[at_out] = at_in
            taken.add(at_in)
    for at, move in enumerate(sent):
        yield Transfer(sender, receiver, move, received[fellow[at]] if at in fellow else None, step_mg)
    for at, move in enumerate(received):
        if at not in taken:
            yield Transfer(sender, receiver, None, move, step_mg)


def _compare(out: MoveFact, into: MoveFact) -> Iterator[tuple[int, int]]:
    """How surely two entries tell one transfer (0 surest) and how many days they lie apart, if they may."""
    apart = abs(_days(out.date, into.date))
    same_document = bool(out.document) and fold(out.document) == fold(into.document)
    same_lot, same_weight = out.lot == into.lot, out.weight_mg == into.weight_mg
    if same_document:
        yield 0 if same_lot else 1, apart
    elif same_lot and same_weight:
        yield 2, apart
    elif apart <= _DAYS_APART and (same_lot or same_weight):
        yield 3 if same_lot else 4, apart


def _days(first: str, last: str) -> int:
    return (date.fromisoformat(last) - date.fromisoformat(first)).days


def _differ(sent: MoveFact, received: MoveFact, step_mg: int) -> Iterator[str]:
    if received.kind == "returned":
        yield f"one book has it as {sent.kind}, the other as returned goods"
    under_way = _days(sent.date, received.date)
    if under_way < 0:
        yield f"it arrived on {_day(received.date)}, before it left on {_day(sent.date)}"
    elif under_way > DAYS_UNDER_WAY:
        yield f"it left on {_day(sent.date)} and arrived {under_way} days later, on {_day(received.date)}"
    if abs(sent.weight_mg - received.weight_mg) > step_mg:
        yield f"{format_mass(sent.weight_mg)} left and {format_mass(received.weight_mg)} arrived"
    if sent.lot != received.lot:
        yield f"it left as lot {sent.lot} and arrived as lot {received.lot}"
    if sent.status and received.status and sent.status != received.status:
        yield f"it left as {sent.status} and arrived as {received.status}"


def _day(text: str) -> str:
    return day(date.fromisoformat(text))


def compare_transfers(transfers: Sequence[Transfer], directory: Directory) -> Iterator[Disagreement]:
    """Transfers that a book is silent about or that two books tell differently.

    Where the other member's records couldn't be read nothing can be said of its book.
    """
    for transfer in transfers:
        if directory.was_read(transfer.sender) and directory.was_read(transfer.receiver):
            yield from _compare_books(transfer)


def _compare_books(transfer: Transfer) -> Iterator[Disagreement]:
    sender, receiver, sent, received = transfer.sender, transfer.receiver, transfer.sent, transfer.received
    if sent is not None and received is None:
        kind, seed, when = "transfer-not-booked-in", _tell(sent), _day(sent.date)
        message = f"{sender} booked {seed} out to {receiver} on {when}; {receiver}'s {_NOTHING}"
        to_sender = f"You booked {seed} out to {receiver} on {when}; the other {_NOTHING} {_IS_RIGHT}"
        to_receiver = f"{sender} booked {seed} out to you on {when}; your {_NOTHING} {_CAME}"
    elif received is not None and sent is None:
        kind, seed, when = "transfer-not-booked-out", _tell(received), _day(received.date)
        message = f"{receiver} booked {seed} in from {sender} on {when}; {sender}'s {_NOTHING}"
        to_sender = f"{receiver} booked {seed} in from you on {when}; your {_NOTHING} {_WENT}"
        to_receiver = f"You booked {seed} in from {sender} on {when}; the other {_NOTHING} {_IS_RIGHT}"
    elif sent is not None and transfer.differences:
        kind, differ = "transfer-differs", join(transfer.differences)
        message = f"Seed from {sender} to {receiver}{_paper(sent)}: {differ}."
        ask = "Hold your book against the dispatch note, and correct it if it is wrong."
        to_sender = f"Seed from you to {receiver}{_paper(sent)}: {differ}. {ask}"
        to_receiver = f"Seed from {sender} to you{_paper(sent)}: {differ}. {ask}"
    else:
        return
    booked = ((sender, sent), (receiver, received))
    records = tuple(qualify(key, move.table, move.movement) for key, move in booked if move is not None)
    words = (Told(sender, to_sender), Told(receiver, to_receiver))
    yield Disagreement(kind, (sender, receiver), records, message, words, _reach(transfer))


def _reach(transfer: Transfer) -> tuple[Reach, ...]:
    """What left by the sender's book, if it has an entry: where that seed is nobody can say."""
    sent = transfer.sent
    return () if sent is None else (Reach(transfer.sender, sent.lot, sent.weight_mg),)


def _tell(move: MoveFact) -> str:
    return f"{format_mass(move.weight_mg)} of lot {move.lot}{_paper(move)} ({move.kind})"


def _paper(move: MoveFact) -> str:
    return f", {move.document}" if move.document else ""
