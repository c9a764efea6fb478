"""What must hold between members and doesn't: which kind it is, whom it is told, and what it reaches."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Final, NamedTuple

from certgen.coop.between.kinds import KINDS

#: Signs of a disagreement's code: enough that two of one co-op don't share one by chance.
_CODE: Final = 10


class Told(NamedTuple):
    """A disagreement in words to one member, with what that member can do, and nothing of anybody else's."""

    member: str
    text: str


class Reach(NamedTuple):
    """Seed that a disagreement leaves unproven: a member's lot, or all its lots (`lot` empty).

    `weight_mg` is how much of it, where only what left is concerned; None for the whole lot.
    """

    member: str
    lot: str = ""
    weight_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One disagreement. `members` are the keys of those it concerns, `records` name what it stands at.

    `told` says it to each of them that has something to do about it or needs to know.
    """

    kind: str
    members: tuple[str, ...]
    records: tuple[str, ...]
    message: str
    told: tuple[Told, ...] = ()
    reach: tuple[Reach, ...] = ()

    def tell(self, member: str) -> str:
        """The words to that member; empty where it is told nothing."""
        return " ".join(one.text for one in self.told if one.member == member)

    @property
    def weight(self) -> str:
        """The kind's weight."""
        return KINDS[self.kind].weight

    @property
    def code(self) -> str:
        """What the office calls it when it writes down that it looked: it changes with every word."""
        whole = "\0".join((self.kind, *self.members, "", *self.records, "", self.message))
        return hashlib.sha256(whole.encode()).hexdigest()[:_CODE]
