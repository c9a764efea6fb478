"""Equipment that goes from member to member: between two members' seed stands a cleaning.

Only equipment that the co-op's list names is followed, since every member has a mixer of some kind. What came
first on one day isn't known at two members, so a day's uses and cleanings are taken in the order that needs
the fewest cleanings, and each cleaning stands between two members once. One that its record places before a
batch of that day was done before it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Final

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import qualify
from certgen.coop.between.spelling import Spellings, fold
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, UseFact

    #: A member and what it used or cleaned.
    Entry = tuple[str, UseFact]

_SHOWN: Final = 5


def compare_equipment(
    summaries: Mapping[str, MemberSummary], shared: Sequence[str]
) -> Iterator[Disagreement]:
    """Uses of shared equipment that follow another member's without a cleaning between, and names that look
    like a shared piece's.
    """
    wanted = {fold(name): name for name in shared}
    by_piece: dict[str, list[Entry]] = defaultdict(list)
    others: dict[tuple[str, str], list[UseFact]] = defaultdict(list)
    for key, summary in summaries.items():
        for use in summary.uses:
            if fold(use.equipment) in wanted:
                by_piece[fold(use.equipment)].append((key, use))
            else:
                others[key, use.equipment].append(use)
    for piece, uses in sorted(by_piece.items()):
        for first, second in _find_uncleaned(uses):
            yield _tell_uncleaned(wanted[piece], first, second)
    yield from _ask_about_names(others, shared)


def _find_uncleaned(entries: Sequence[Entry]) -> Iterator[tuple[Entry, Entry]]:
    """Uses of two members, the one after the other, for which no cleaning is left."""
    last: Entry | None = None
    is_clean = False
    for _, together in groupby(sorted(entries, key=_date), key=_date):
        today = _Day(list(together))
        if not today.uses:
            is_clean = last is not None and (is_clean or today.free > 0)
            continue
        order = today.order_after(last)
        for before, after in pairwise(order):
            was_clean = is_clean and before is last
            if before[0] != after[0] and not was_clean and not today.take(after[0]):
                yield before, after
        last, is_clean = order[-1], today.free > 0


def _date(entry: Entry) -> str:
    return entry[1].date


class _Day:
    """A day's uses, and its cleanings: by member those done before a batch of its own on that day, and how
    many others are `free`.
    """

    def __init__(self, today: Sequence[Entry]) -> None:
        uses = [entry for entry in today if not entry[1].cleaning]
        self.uses = sorted(uses, key=lambda entry: (entry[0], entry[1].order))
        batches = {(key, one.record) for key, one in uses}
        cleaned = {(key, one.record): one.before for key, one in today if one.cleaning}
        self._bound = Counter(key for (key, _), before in cleaned.items() if (key, before) in batches)
        self.free = len(cleaned) - self._bound.total()

    def order_after(self, last: Entry | None) -> list[Entry]:
        """The uses in the order that needs the fewest cleanings: whoever used it last goes on, then one
        member after the other. The last use before them comes first.
        """
        if last is None:
            return self.uses
        return [last, *sorted(self.uses, key=lambda entry: entry[0] != last[0])]

    def take(self, member: str) -> bool:
        """Uses one up before the member's use, its own first; False where none is left."""
        if self._bound[member]:
            self._bound[member] -= 1
            return True
        self.free -= 1
        return self.free >= 0


def _tell_uncleaned(piece: str, first: Entry, second: Entry) -> Disagreement:
    (before, used), (after, using) = first, second
    return Disagreement(
        "equipment-not-cleaned",
        (before, after),
        (qualify(before, "batches", used.record), qualify(after, "batches", using.record)),
        f"The {piece} held {_seed(before, used)} and then {_seed(after, using)}, and no cleaning between "
        "them is written down at any member.",
        (
            Told(before, _tell(piece, used, "Then another member used it", "after")),
            Told(after, _tell(piece, using, "Another member used it before", "before")),
        ),
        tuple(Reach(after, lot) for lot in using.lots),
    )


def _ask_about_names(
    others: Mapping[tuple[str, str], Sequence[UseFact]], shared: Sequence[str]
) -> Iterator[Disagreement]:
    spellings = Spellings()
    for name in shared:
        spellings.add(name)
    for (key, name), uses in others.items():
        alike = spellings.find(name)
        batches = [use.record for use in uses if not use.cleaning]
        if alike and batches:
            yield Disagreement(
                "equipment-looks-alike",
                (key,),
                tuple(qualify(key, "batches", record) for record in batches[:_SHOWN]),
                f"{key} names “{name}”, which looks like the shared “{alike[0]}”.",
                (
                    Told(
                        key,
                        f"Your batch {batches[0]} names “{name}”. Is that the shared “{alike[0]}”? If so, "
                        "write it so in each record; if not, give yours another name.",
                    ),
                ),
            )


def _tell(piece: str, use: UseFact, other: str, when: str) -> str:
    """The use to whose it was, with nothing of the other's seed."""
    return (
        f"The {piece} held your batch {use.record} on {_day(use)}. {other}, and no cleaning between is "
        f"written down. If you cleaned it {when} your batch, write that under `cleaning`."
    )


def _day(use: UseFact) -> str:
    return day(date.fromisoformat(use.date))


def _seed(key: str, use: UseFact) -> str:
    what = join(use.varieties) if use.varieties else "seed"
    return f"batch {use.record} of {key} ({what}, {use.status}) on {_day(use)}"
