"""A co-op examined on a day: all that a writer sees of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from certgen.coop.between.kinds import WEIGHING
from certgen.examination import SeasonSummary
from certgen.records.quantities import format_mass
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from certgen.coop.between.balance import CombinedBalance
    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.origins import Parents
    from certgen.coop.between.transfers import Transfer
    from certgen.coop.between.visits import GroupFigure, Risk, Sample
    from certgen.coop.between.yields import MemberYield
    from certgen.coop.members.facts import GapFact, Grams, LotFact, MemberSummary
    from certgen.coop.members.member_list import Coop, Looked, Member

#: Members named in a sentence.
_NAMED: Final = 6
#: How ready a member is, best first.
READINESS: Final = ("ready", "evidence missing", "against the claim", "not read")


@dataclass(frozen=True, slots=True)
class LotLine:
    """A lot with its line across members. Identifiers outside the member carry their member's key.

    `standing` is by gram with the other members' records at hand; `back` runs from its plantings through
    other members' lots, `forward` names members, and their plantings and lots, that the seed went to.
    `parents` are its seed parents through all members' records. `reasons` say why it isn't traced, in words
    for its own member.
    """

    member: str
    fact: LotFact
    standing: Grams
    back: tuple[str, ...]
    forward: tuple[str, ...]
    gaps: int
    parents: Parents
    reasons: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The lot's name in the whole co-op."""
        return f"{self.member}:lots/{self.fact.lot}"


@dataclass(frozen=True, slots=True)
class HeldLine:
    """Seed of another member's lot, in store: what the books leave there, by its standing at this member."""

    lot: str
    holder: str
    standing: Grams


@dataclass(frozen=True, slots=True)
class MemberView:
    """A member with what the co-op makes of it. `answered` are gaps that other members' records answer.

    `waiting` are those of its `gaps` that others' records would answer if nothing were missing there, `held`
    is other members' seed that it has.
    """

    member: Member
    summary: MemberSummary
    readiness: str
    standing: Grams
    gaps: tuple[GapFact, ...]
    answered: tuple[GapFact, ...]
    disagreements: tuple[int, ...]
    lots: tuple[LotLine, ...]
    risk: Risk
    waiting: tuple[GapFact, ...] = ()
    held: tuple[HeldLine, ...] = ()

    @property
    def open_counts(self) -> dict[str, int]:
        """Gaps by weight, without those that another member's records answer."""
        counts = dict(self.summary.numbers.gaps)
        for gap in self.answered:
            counts[gap.weight] -= 1
        return counts


@dataclass(frozen=True, slots=True)
class Chase:
    """One thing for the office to chase: at whom, what, and the milligrams that it proves (0: unknown).
    `about` is the position of the disagreement that it is, if it is one.
    """

    members: tuple[str, ...]
    text: str
    proves_mg: int
    about: int | None = None

    @property
    def sentence(self) -> str:
        """The text with its full stop, and what it proves."""
        text = self.text if self.text.endswith((".", "?", "!")) else f"{self.text}."
        return f"{text} It proves {format_mass(self.proves_mg)}." if self.proves_mg else text


@dataclass(frozen=True, slots=True)
class CoopResult:
    """A co-op examined on a day. `disagreements` are numbered by their position; `looked` is what the office
    wrote of those that it looked into, by their codes. `answer_by` is the day that members have to answer by,
    None where the office gives none. `places` say by member where its records stand.
    """

    coop: Coop
    on: date
    version: str
    members: tuple[MemberView, ...]
    disagreements: tuple[Disagreement, ...]
    transfers: tuple[Transfer, ...]
    yields: tuple[MemberYield, ...]
    balance: tuple[CombinedBalance, ...]
    figures: tuple[GroupFigure, ...]
    sample: Sample
    chase: tuple[Chase, ...]
    varieties: Mapping[str, Grams]
    examined: int
    answer_by: date | None = None
    looked: Mapping[str, Looked] = field(default_factory=dict)
    places: Mapping[str, Mapping[str, tuple[str, int]]] = field(default_factory=dict, repr=False)

    @property
    def totals(self) -> SeasonSummary:
        """All members' numbers added up."""
        total = SeasonSummary()
        for view in self.members:
            total += view.summary.numbers
        return total

    @property
    def readiness(self) -> dict[str, int]:
        """How many members are how ready."""
        return {word: sum(view.readiness == word for view in self.members) for word in READINESS}

    def locate(self, disagreement: Disagreement) -> Iterator[tuple[str, str, int]]:
        """The records of a disagreement, each with its file below the member's folder and its line; empty and
        0 where that isn't kept.
        """
        for record in disagreement.records:
            member, _, name = record.partition(":")
            yield record, *self.places.get(member, {}).get(name, ("", 0))

    def is_settled(self, disagreement: Disagreement) -> bool:
        """Whether it is a question that the office looked into. Nothing else is settled by that."""
        return disagreement.weight == "question" and disagreement.code in self.looked

    @property
    def unread(self) -> tuple[str, ...]:
        """The members of whom nothing could be read, so that nothing they wrote was compared."""
        return tuple(view.member.key for view in self.members if view.summary.state != "read")

    @property
    def read_in_part(self) -> tuple[str, ...]:
        """The members of whom some records were left out, so that these weren't compared."""
        views = (view for view in self.members if view.summary.state == "read")
        return tuple(view.member.key for view in views if view.summary.error_count)

    @property
    def is_agreed(self) -> bool | None:
        """Whether members' papers agree; None where none disagree and some couldn't be read."""
        if any(one.weight in WEIGHING for one in self.disagreements):
            return False
        return None if self.unread or self.read_in_part else True

    @property
    def agreement(self) -> str:
        """In words, whether members' papers agree. Nothing is said of papers that nobody could read."""
        count = sum(one.weight in WEIGHING for one in self.disagreements)
        if self.is_agreed:
            return "Members' papers agree."
        missing = [
            f"{_count_members(keys)} {what}"
            for keys, what in ((self.unread, "could not be read"), (self.read_in_part, "only in part"))
            if keys
        ]
        unknown = f"the records of {join(missing)}" if missing else ""
        if count:
            found = f"{count} {noun('disagreement', count)}"
            return f"{found} between members{f'; {unknown}' if unknown else ''}."
        return f"Whether members' papers agree isn't known: {unknown}."

    @property
    def stages(self) -> dict[str, Counter[str]]:
        """Gaps by stage of the job and by weight, the stage with most of them first."""
        counts: dict[str, Counter[str]] = {}
        for view in self.members:
            for stage, by_weight in view.summary.stages.items():
                counts.setdefault(stage, Counter()).update(by_weight)
        return dict(sorted(counts.items(), key=lambda item: -item[1].total()))

    @property
    def exit_code(self) -> int:
        """As a season's: 0 clean, 1 gaps or disagreements, 2 something not read, 3 certgen failed."""
        states = {view.summary.state for view in self.members}
        if states & {"failed", "lost"} or any(view.summary.crashed for view in self.members):
            return 3
        if states - {"read"} or any(view.summary.error_count for view in self.members):
            return 2
        return int(any(view.readiness != "ready" for view in self.members))


def _count_members(keys: Sequence[str]) -> str:
    names = ", ".join(keys) if len(keys) <= _NAMED else f"{', '.join(keys[:_NAMED])} and others"
    return f"{len(keys)} {'member' if len(keys) == 1 else 'members'} ({names})"
