"""Lot numbers, which belong to one member only, and the directory: whom a name in somebody's stock book
means, and what each member's records hold under a number.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.spelling import Spellings, fold
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.between.transfers import Transfer
    from certgen.coop.members.facts import LotFact, MemberSummary
    from certgen.coop.members.member_list import Member

_SHOWN: Final = 5
_LOOKS: Final = (
    "looks like another member's, but for letter case, spaces or hyphens. Please talk to us before you print "
    "labels: one that can't be mistaken is better."
)


def compare_lot_numbers(directory: Directory, transfers: Sequence[Transfer]) -> Iterator[Disagreement]:
    """Lots of one number at two members, unless the one had the seed from the other."""
    handed = {
        (move.lot, frozenset((transfer.sender, transfer.receiver)))
        for transfer in transfers
        for move in transfer.moves
    }
    for lot, keys in directory.shared_numbers().items():
        apart = [
            key
            for key in keys
            if any((lot, frozenset((key, other))) not in handed for other in keys if other != key)
        ]
        if len(apart) < 2:
            continue
        users = join(f"{key} ({_variety(directory, key, lot)})" for key in name_some(apart))
        yield Disagreement(
            "lot-number-shared",
            tuple(apart),
            tuple(qualify(key, "lots", lot) for key in apart),
            f"Lot number {lot} is used by {users}. A buyer's label can't say which seed it is.",
            _tell_number(apart, lot),
            tuple(Reach(key, lot) for key in apart),
        )
    yield from _ask_about_numbers(directory)


def _ask_about_numbers(directory: Directory) -> Iterator[Disagreement]:
    """Lots of two members whose numbers differ only by what people write differently."""
    for lots in directory.alike_numbers():
        names = dict.fromkeys(lot for lot, _ in lots)
        keys = tuple(dict.fromkeys(key for _, key in lots))
        if len(names) > 1 and len(keys) > 1:
            yield Disagreement(
                "numbers-look-alike",
                keys,
                tuple(qualify(key, "lots", lot) for lot, key in lots),
                f"Lot numbers {join(f'{lot} ({key})' for lot, key in lots[:_SHOWN])} look like the same.",
                tuple(Told(key, f"Your lot number {lot} {_LOOKS}") for lot, key in lots),
            )


def _tell_number(keys: Sequence[str], lot: str) -> tuple[Told, ...]:
    text = (
        f"Your lot number {lot} stands on another member's seed too, so a label can't say which it is. "
        "Please talk to us before you print labels: one of the two takes another number."
    )
    return tuple(Told(key, text) for key in keys)


def _variety(directory: Directory, key: str, lot: str) -> str:
    fact = directory.lot(key, lot)
    return fact.variety if fact is not None and fact.variety else "no variety written"


def name_some(names: Sequence[str]) -> list[str]:
    """The names, or the first of many and how many more there are."""
    return list(names) if len(names) <= _SHOWN + 1 else [*names[:_SHOWN], f"{len(names) - _SHOWN} more"]


def qualify(member: str, table: str, identifier: str) -> str:
    """A record's name in the whole co-op: `HOLLOW:lots/L1`."""
    return f"{member}:{table}/{identifier}"


class Directory:
    """The members by every name they go by, and their lots by number."""

    def __init__(self, members: Sequence[Member], summaries: Mapping[str, MemberSummary]) -> None:
        self._named = _name_all(members, summaries)
        self._stated = {key: one.stated for key, one in summaries.items()}
        self._spellings, self._meanings = Spellings(), self._spell(members, summaries)
        for name in self._meanings:
            self._spellings.add(name)
        self._lots = {key: {lot.lot: lot for lot in summary.lots} for key, summary in summaries.items()}
        self._holders: dict[str, list[str]] = defaultdict(list)
        for key, lots in self._lots.items():
            for lot in lots:
                self._holders[lot].append(key)
        self._read = {key for key, summary in summaries.items() if summary.state == "read"}

    def _spell(self, members: Sequence[Member], summaries: Mapping[str, MemberSummary]) -> dict[str, str]:
        """The names of members as they are written, each with whom it means."""
        return {
            name: member.key
            for member in members
            for name in (member.name, summaries[member.key].stated.operation)
            if name and self.find(name) == member.key
        }

    def find(self, name: str) -> str | None:
        """The key of the member that a name means; None for somebody outside."""
        return self._named.get(fold(name))

    def find_alike(self, name: str) -> str | None:
        """The member whose name this one looks like, where it means nobody."""
        if self.find(name) is not None:
            return None
        alike = {self._meanings[other] for other in self._spellings.find(name)}
        return next(iter(alike)) if len(alike) == 1 else None

    def scale_step(self, member: str) -> int:
        """The last digit of the member's scale, in milligrams."""
        return self._stated[member].scale_step_mg

    def was_read(self, member: str) -> bool:
        """Whether the member's records are there to be checked against."""
        return member in self._read

    def book_of(self, member: str) -> tuple[str, str]:
        """The first and the last day that the member's stock book covers, as ISO dates; empty: not known."""
        stated = self._stated[member]
        return stated.first, stated.last

    def lot(self, member: str, lot: str) -> LotFact | None:
        """A member's own lot of that number."""
        return self._lots.get(member, {}).get(lot)

    def holders(self, lot: str) -> list[str]:
        """The members that have a lot of that number."""
        return self._holders.get(lot, [])

    def shared_numbers(self) -> Mapping[str, list[str]]:
        """Numbers that more than one member gave to a lot."""
        return {lot: keys for lot, keys in self._holders.items() if len(keys) > 1}

    def alike_numbers(self) -> Iterator[list[tuple[str, str]]]:
        """Lots, each with its holder, whose numbers are the same but for what people write differently."""
        by_fold: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for lot, keys in self._holders.items():
            by_fold[fold(lot)] += [(lot, key) for key in keys]
        return (lots for lots in by_fold.values() if len(lots) > 1)

    def find_lot_alike(self, member: str, lot: str) -> str:
        """The member's lot whose number looks like this one; empty if none does."""
        return next((one for one in self._lots.get(member, {}) if fold(one) == fold(lot)), "")


def _name_all(members: Sequence[Member], summaries: Mapping[str, MemberSummary]) -> dict[str, str]:
    """Whom each name, key and certificate means. One that two members bear, like a group's certificate,
    means neither.
    """
    named: dict[str, set[str]] = defaultdict(set)
    for member in members:
        stated = summaries[member.key].stated
        for name in (member.key, member.name, member.certificate, stated.operation, stated.certificate):
            if name:
                named[fold(name)].add(member.key)
    return {name: next(iter(keys)) for name, keys in named.items() if len(keys) == 1}
