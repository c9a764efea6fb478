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

from certgen.coop.between.numbers import fold, qualify
from certgen.coop.between.result import Disagreement
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
                )


def _seed(key: str, use: UseFact) -> str:
    what = join(use.varieties) if use.varieties else "seed"
    return f"batch {use.record} of {key} ({what}, {use.status}) on {day(date.fromisoformat(use.date))}"
