"""Equipment that goes from member to member: between two members' seed stands a cleaning.

Only equipment that the co-op's list names is followed, since every member has a mixer of some kind. A
cleaning on a day counts for what that day's batches at the same member need; a day's order at two members
isn't known, so a cleaning on the day of the next use counts as before it.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from certgen.coop.between.disagreements import Disagreement, Reach, Told
from certgen.coop.between.numbers import fold, qualify
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, UseFact


def compare_equipment(
    summaries: Mapping[str, MemberSummary], shared: Sequence[str]
) -> Iterator[Disagreement]:
    """Uses of shared equipment that follow another member's without a cleaning between."""
    wanted = {fold(name): name for name in shared}
    by_piece: dict[str, list[tuple[str, UseFact]]] = defaultdict(list)
    for key, summary in summaries.items():
        for use in summary.uses:
            if fold(use.equipment) in wanted:
                by_piece[fold(use.equipment)].append((key, use))
    for piece, uses in sorted(by_piece.items()):
        # Within a day cleanings come first: nobody's are after somebody else's batch for certain.
        uses.sort(key=lambda item: (item[1].date, not item[1].cleaning, item[0], item[1].order))
        for (before, first), (after, second) in pairwise(uses):
            if before != after and not first.cleaning and not second.cleaning:
                yield Disagreement(
                    "equipment-not-cleaned",
                    (before, after),
                    (qualify(before, "batches", first.record), qualify(after, "batches", second.record)),
                    f"The {wanted[piece]} held {_seed(before, first)} and then {_seed(after, second)}, and "
                    "no cleaning between them is written down at any member.",
                    (
                        Told(before, _tell(wanted[piece], first, "Then another member used it", "after")),
                        Told(after, _tell(wanted[piece], second, "Another member used it before", "before")),
                    ),
                    tuple(Reach(after, lot) for lot in second.lots),
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
