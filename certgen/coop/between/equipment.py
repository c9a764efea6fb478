"""Equipment that goes from member to member: between two members' seed stands a cleaning.

Only equipment that the co-op's list names is followed, since every member has a mixer of some kind. A
cleaning on a day counts for what that day's batches at the same member need; a day's order at two members
isn't known, so a cleaning on the day of the next use counts as before it.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING

from certgen.coop.between.directory import fold, qualify
from certgen.coop.between.disagreements import Disagreement
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.coop.members.facts import MemberSummary, UseFact


def compare_equipment(
    summaries: Mapping[str, MemberSummary], shared: Sequence[str]
) -> Iterator[Disagreement]:
    """Uses of shared equipment that follow another member's without a cleaning between."""
    wanted = {fold(name): name for name in shared}
    lines: dict[str, list[tuple[str, UseFact]]] = defaultdict(list)
    for key, summary in summaries.items():
        for use in summary.uses:
            if fold(use.equipment) in wanted:
                lines[fold(use.equipment)].append((key, use))
    for name, line in sorted(lines.items()):
        # Within a day cleanings come first: nobody's are after somebody else's batch for certain.
        line.sort(key=lambda one: (one[1].date, not one[1].cleaning, one[0], one[1].order))
        last: tuple[str, UseFact] | None = None
        for key, use in line:
            if use.cleaning:
                last = None
                continue
            if last is not None and last[0] != key:
                yield _tell(wanted[name], last, (key, use))
            last = (key, use)


def _tell(name: str, last: tuple[str, UseFact], now: tuple[str, UseFact]) -> Disagreement:
    (before, use_before), (after, use_after) = last, now
    return Disagreement(
        "equipment-not-cleaned",
        (before, after),
        (qualify(before, "batches", use_before.record), qualify(after, "batches", use_after.record)),
        f"The {name} held {_seed(before, use_before)} and then {_seed(after, use_after)}, and no cleaning "
        "between them is written down at any member.",
    )


def _seed(key: str, use: UseFact) -> str:
    what = join(use.varieties) if use.varieties else "seed"
    return f"batch {use.record} of {key} ({what}, {use.status}) on {day(date.fromisoformat(use.date))}"
