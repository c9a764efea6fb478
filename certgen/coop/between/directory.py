"""Whom a name in somebody's stock book means, and what each member's records hold under a number."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.coop.members.facts import LotFact, MemberSummary
    from certgen.coop.members.member_list import Member


def fold(name: str) -> str:
    """A name without what people write differently: letter case and spaces."""
    return " ".join(name.casefold().split())


def qualify(member: str, table: str, identifier: str) -> str:
    """A record's name in the whole co-op: `HOLLOW:lots/L1`."""
    return f"{member}:{table}/{identifier}"


class Directory:
    """The members by every name they go by, and their lots by number."""

    def __init__(self, members: Sequence[Member], summaries: Mapping[str, MemberSummary]) -> None:
        named: dict[str, set[str]] = defaultdict(set)
        for member in members:
            stated = summaries[member.key].stated
            for name in (member.key, member.name, member.certificate, stated.operation, stated.certificate):
                if name:
                    named[fold(name)].add(member.key)
        # A name that two members bear, like a group's certificate, means neither.
        self._named = {name: next(iter(keys)) for name, keys in named.items() if len(keys) == 1}
        self._lots = {key: {lot.lot: lot for lot in summary.lots} for key, summary in summaries.items()}
        self._holders: dict[str, list[str]] = defaultdict(list)
        for key, lots in self._lots.items():
            for lot in lots:
                self._holders[lot].append(key)
        self._read = {key for key, summary in summaries.items() if summary.state == "read"}

    def find(self, name: str) -> str | None:
        """The key of the member that a name means; None for somebody outside."""
        return self._named.get(fold(name))

    def was_read(self, member: str) -> bool:
        """Whether the member's records are there to be held against."""
        return member in self._read

    def lot(self, member: str, lot: str) -> LotFact | None:
        """A member's own lot of that number."""
        return self._lots.get(member, {}).get(lot)

    def holders(self, lot: str) -> list[str]:
        """The members that have a lot of that number."""
        return self._holders.get(lot, [])

    def shared_numbers(self) -> Mapping[str, list[str]]:
        """Numbers that more than one member gave to a lot."""
        return {lot: keys for lot, keys in self._holders.items() if len(keys) > 1}
