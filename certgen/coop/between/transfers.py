"""Seed that went from member to member: every entry of one book has its fellow in the other.

Entries of one lot on one paper are one transfer, however many lines or deliveries they are written as: their
sums are compared. Others are paired by document number, then by lot, then by weight and day, nearest day
first; an entry without a fellow is a disagreement, and so is a pair that differs in kind, day, weight, lot or
status.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import Directory, qualify
from certgen.coop.between.spelling import fold
from certgen.records.quantities import format_mass
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, MoveFact

    Moves = tuple[MoveFact, ...]

_OUT: Final = frozenset({"sold", "transferred"})
#: Days that seed may be under way between members before the office is asked to look. A choice of certgen's:
#: members of one co-op live near one another.
DAYS_UNDER_WAY: Final = 14
#: A day by which two people may well write one handing over differently: the office asks, and nothing rests
#: on it. Certgen's own choice.
_DAYS_OFF: Final = 1
_NOTHING: Final = "stock book has nothing of it."
_CAME: Final = "If it came, write it under `movements` as `received`. If nothing came, tell us."
_WENT: Final = "If you sent it, write it under `movements` as `transferred` or `sold`. If not, tell us."
_IS_RIGHT: Final = "If your entry is wrong, correct it; if it is right, there is nothing for you to write."
_EDGE: Final = (
    "It may stand in the next season's book, or the last one's: please tell us on which day it came."
)
#: Entries without a common document or lot are taken for one transfer only this many days apart.
_DAYS_APART: Final = 31
#: Pairs of entries that are held against each other one by one; no two members deal so often without a paper.
_MOST_PAIRS: Final = 250_000


@dataclass(frozen=True, slots=True)
class Transfer:
    """A transfer between two members, with its entries in both books; none where a book says nothing.

    Weights that differ by no more than `step_mg` an entry, the larger step of the two scales, are the same.
    `is_return`: the receiver has it as returned goods, and had sent seed of that lot there before.
    """

    sender: str
    receiver: str
    sent: Moves
    received: Moves
    step_mg: int = 0
    is_return: bool = False

    @property
    def moves(self) -> Moves:
        """All its entries, the sender's first."""
        return self.sent + self.received

    @property
    def sent_mg(self) -> int:
        """What left by the sender's book, in milligrams."""
        return sum(move.weight_mg for move in self.sent)

    @property
    def received_mg(self) -> int:
        """What came by the receiver's."""
        return sum(move.weight_mg for move in self.received)

    @property
    def slack_mg(self) -> int:
        """By how much the books may differ for all that scales show."""
        return self.step_mg * max(len(self.sent), len(self.received))

    @property
    def differences(self) -> tuple[str, ...]:
        """What the two books say differently, in words. Empty if they agree, or if one is silent."""
        return tuple(_differ(self)) if self.sent and self.received else ()

    @property
    def days_early(self) -> int:
        """By how many days it arrived before it left; 0 if it didn't."""
        if not self.sent or not self.received:
            return 0
        return max(0, _days(_first(self.received), _first(self.sent)))


def _first(moves: Moves) -> str:
    return min(move.date for move in moves)


def _last(moves: Moves) -> str:
    return max(move.date for move in moves)


def find_transfers(
    summaries: Mapping[str, MemberSummary], directory: Directory, *, earlier: bool = False
) -> tuple[Transfer, ...]:
    """Every transfer between two members, paired where both books have it, in the order of the days.

    Those of this season, or the `earlier` ones, of which not every member's book is at hand.
    """
    sent: dict[tuple[str, str], list[MoveFact]] = defaultdict(list)
    received: dict[tuple[str, str], list[MoveFact]] = defaultdict(list)
    went: dict[tuple[str, str, str], str] = {}
    for key, summary in summaries.items():
        for move in summary.moves:
            other = directory.find(move.party)
            if other is None or other == key:
                continue
            if move.kind in _OUT:
                at = (key, other, move.lot)
                went[at] = min(move.date, went.get(at, move.date))
            if move.earlier is not earlier:
                continue
            if move.kind in _OUT:
                sent[key, other].append(move)
            else:
                received[other, key].append(move)
    transfers: list[Transfer] = []
    for sender, receiver in dict.fromkeys((*sent, *received)):
        pair = (sender, receiver)
        step = max(summaries[key].stated.scale_step_mg for key in pair)
        for out, into in _match(sent.get(pair, []), received.get(pair, []), step):
            is_return = _comes_back(into, went, receiver, sender)
            transfers.append(Transfer(sender, receiver, out, into, step, is_return))
    return tuple(sorted(transfers, key=_order))


def _comes_back(into: Moves, went: Mapping[tuple[str, str, str], str], receiver: str, sender: str) -> bool:
    """Whether all that is booked in as returned had been sent there before."""
    back = [move for move in into if move.kind == "returned"]
    return bool(back) and all(
        (first := went.get((receiver, sender, move.lot))) is not None and first <= move.date for move in back
    )


def _order(transfer: Transfer) -> tuple[str, str, str, str]:
    first = transfer.moves[0]
    return (first.date, transfer.sender, transfer.receiver, first.movement)


def _match(
    sent: Sequence[MoveFact], received: Sequence[MoveFact], step_mg: int
) -> Iterator[tuple[Moves, Moves]]:
    """The entries of two books that tell one transfer each; every entry stands in exactly one."""
    out, into = list(sent), list(received)
    for group in (_by_paper, _by_lot):
        found = [pair for pair in _group(out, into, group) if group is _by_paper or _agree(pair, step_mg)]
        yield from found
        taken = {id(move) for pair in found for moves in pair for move in moves}
        out = [move for move in out if id(move) not in taken]
        into = [move for move in into if id(move) not in taken]
    yield from _match_lines(out, into)


def _by_paper(move: MoveFact) -> tuple[str, str] | None:
    return (fold(move.document), move.lot) if move.document else None


def _by_lot(move: MoveFact) -> tuple[str, str]:
    return ("", move.lot)


def _group(
    sent: Sequence[MoveFact],
    received: Sequence[MoveFact],
    by: Callable[[MoveFact], tuple[str, str] | None],
) -> list[tuple[Moves, Moves]]:
    """The entries that have a common key in both books."""
    both: tuple[dict[tuple[str, str], list[MoveFact]], ...] = (defaultdict(list), defaultdict(list))
    for book, moves in zip(both, (sent, received), strict=True):
        for move in moves:
            key = by(move)
            if key is not None:
                book[key].append(move)
    return [(tuple(moves), tuple(both[1][key])) for key, moves in both[0].items() if key in both[1]]


def _agree(pair: tuple[Moves, Moves], step_mg: int) -> bool:
    """Whether several entries without a common paper are one transfer: their sums say so, and their days."""
    out, into = pair
    if len(out) == len(into):
        return False
    apart = _days(min(_first(out), _first(into)), max(_last(out), _last(into)))
    away = sum(move.weight_mg for move in out) - sum(move.weight_mg for move in into)
    return apart <= _DAYS_APART and abs(away) <= step_mg * max(len(out), len(into))


def _match_lines(sent: Sequence[MoveFact], received: Sequence[MoveFact]) -> Iterator[tuple[Moves, Moves]]:
    if len(sent) * len(received) > _MOST_PAIRS:
        yield from _match_in_order(sent, received)
        return
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
        yield (move,), ((received[fellow[at]],) if at in fellow else ())
    for at, move in enumerate(received):
        if at not in taken:
            yield (), (move,)


def _match_in_order(sent: Sequence[MoveFact], received: Sequence[MoveFact]) -> Iterator[tuple[Moves, Moves]]:
    """Of more entries than can be held against each other: those of one lot and weight, in the order of the
    days.
    """
    waiting: dict[tuple[str, int], deque[MoveFact]] = defaultdict(deque)
    for move in sorted(received, key=lambda one: one.date):
        waiting[move.lot, move.weight_mg].append(move)
    for move in sorted(sent, key=lambda one: one.date):
        alike = waiting[move.lot, move.weight_mg]
        yield (move,), ((alike.popleft(),) if alike else ())
    for left in waiting.values():
        yield from (((), (move,)) for move in left)


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


def _differ(transfer: Transfer) -> Iterator[str]:
    sent, received = transfer.sent, transfer.received
    if any(move.kind == "returned" for move in received) and not transfer.is_return:
        books = f"one book has it as {sent[0].kind}, the other as returned goods"
        yield f"{books}, and none of it went there before"
    if transfer.days_early > _DAYS_OFF:
        came, went = _day(_first(received)), _day(_first(sent))
        yield f"it arrived on {came}, before it left on {went}"
    under_way = _days(_last(sent), _last(received))
    if under_way > DAYS_UNDER_WAY:
        came, went = _day(_last(received)), _day(_last(sent))
        yield f"it left on {went} and arrived {under_way} days later, on {came}"
    if abs(transfer.sent_mg - transfer.received_mg) > transfer.slack_mg:
        yield f"{_mass(sent)} left and {_mass(received)} arrived"
    yield from _differ_in_words(sent, received)


def _differ_in_words(sent: Moves, received: Moves) -> Iterator[str]:
    if sent[0].lot != received[0].lot:
        yield f"it left as lot {sent[0].lot} and arrived as lot {received[0].lot}"
    before, after = ({move.status for move in moves if move.status} for moves in (sent, received))
    if before and after and before != after:
        yield f"it left as {join(sorted(before))} and arrived as {join(sorted(after))}"


def _mass(moves: Moves) -> str:
    """Their weight together, and as how many entries if they are several."""
    whole = format_mass(sum(move.weight_mg for move in moves))
    return whole if len(moves) == 1 else f"{whole} in {len(moves)} entries"


def _day(text: str) -> str:
    return day(date.fromisoformat(text))


def compare_transfers(transfers: Sequence[Transfer], directory: Directory) -> Iterator[Disagreement]:
    """Transfers that a book is silent about or that two books tell differently.

    Where the other member's records couldn't be read nothing can be said of its book.
    """
    for transfer in transfers:
        if directory.was_read(transfer.sender) and directory.was_read(transfer.receiver):
            yield from _compare_books(transfer, directory)


def _compare_books(transfer: Transfer, directory: Directory) -> Iterator[Disagreement]:
    sender, receiver = transfer.sender, transfer.receiver
    kind, reach = "transfer-differs", _reach(transfer)
    if not transfer.received or not transfer.sent:
        kind, message, to_sender, to_receiver = _tell_silence(transfer)
        if _is_at_edge(transfer, directory):
            kind, reach = "transfer-under-way", ()
            to_sender, to_receiver = (
                f"{text.partition(';')[0]}. {_EDGE}" for text in (to_sender, to_receiver)
            )
    elif transfer.differences:
        ask = "Hold your book against the dispatch note, and correct it if it is wrong."
        message, to_sender, to_receiver = _tell_way(transfer, join(transfer.differences), ask)
    elif transfer.days_early:
        kind, reach = "transfer-day-differs", ()
        came, went = _day(_first(transfer.received)), _day(_first(transfer.sent))
        ask = "Which of the two days does the dispatch note give?"
        differ = f"it arrived on {came}, and left on {went}"
        message, to_sender, to_receiver = _tell_way(transfer, differ, ask)
    else:
        return
    booked = [(sender, move) for move in transfer.sent] + [(receiver, move) for move in transfer.received]
    records = tuple(qualify(key, move.table, move.movement) for key, move in booked)
    words = (Told(sender, to_sender), Told(receiver, to_receiver))
    yield Disagreement(kind, (sender, receiver), records, message, words, reach)


def _tell_way(transfer: Transfer, differ: str, ask: str) -> tuple[str, str, str]:
    sender, receiver = transfer.sender, transfer.receiver
    seed = f"Seed from {sender} to {receiver}{_paper(transfer.moves)}: {differ}."
    return (
        seed,
        f"Seed from you to {receiver}{_paper(transfer.moves)}: {differ}. {ask}",
        f"Seed from {sender} to you{_paper(transfer.moves)}: {differ}. {ask}",
    )


def _tell_silence(transfer: Transfer) -> tuple[str, str, str, str]:
    """Kind, and words to the office, the sender and the receiver, of what only one book has."""
    sender, receiver, moves = transfer.sender, transfer.receiver, transfer.moves
    seed, when = _tell(moves), _day(_first(moves))
    if transfer.sent:
        return (
            "transfer-not-booked-in",
            f"{sender} booked {seed} out to {receiver} on {when}; {receiver}'s {_NOTHING}",
            f"You booked {seed} out to {receiver} on {when}; the other {_NOTHING} {_IS_RIGHT}",
            f"{sender} booked {seed} out to you on {when}; your {_NOTHING} {_CAME}",
        )
    return (
        "transfer-not-booked-out",
        f"{receiver} booked {seed} in from {sender} on {when}; {sender}'s {_NOTHING}",
        f"{receiver} booked {seed} in from you on {when}; your {_NOTHING} {_WENT}",
        f"You booked {seed} in from {sender} on {when}; the other {_NOTHING} {_IS_RIGHT}",
    )


def _is_at_edge(transfer: Transfer, directory: Directory) -> bool:
    """Whether the silent book may end before the seed came, or begin after it left."""
    begins, ends = directory.book_of(transfer.receiver if transfer.sent else transfer.sender)
    if transfer.sent:
        return bool(ends) and _days(_last(transfer.sent), ends) < DAYS_UNDER_WAY
    return bool(begins) and _days(begins, _first(transfer.received)) < DAYS_UNDER_WAY


def _reach(transfer: Transfer) -> tuple[Reach, ...]:
    """What left by the sender's book, if it has an entry: where that seed is nobody can say."""
    left: dict[str, int] = defaultdict(int)
    for move in transfer.sent:
        left[move.lot] += move.weight_mg
    return tuple(Reach(transfer.sender, lot, weight) for lot, weight in left.items())


def _tell(moves: Moves) -> str:
    kinds = join(dict.fromkeys(move.kind for move in moves))
    return f"{_mass(moves)} of lot {moves[0].lot}{_paper(moves)} ({kinds})"


def _paper(moves: Moves) -> str:
    return next((f", {move.document}" for move in moves if move.document), "")
