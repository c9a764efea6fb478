"""The part of a result that was asked for: some rules' gaps, some lots and what mends them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from certgen.dossier.notices import list_suspect

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from certgen.dossier.notices import Suspect
    from certgen.examination import Result
    from certgen.lineage import LotStanding, Mend
    from certgen.records import Place
    from certgen.rules import Gap


@dataclass(frozen=True, eq=False)
class Selection:
    """What is shown of a result. `numbers` are the gaps' own, as all of the result's are counted from 1."""

    result: Result
    gaps: tuple[Gap, ...]
    numbers: tuple[int, ...]
    lots: tuple[LotStanding, ...]
    mend: tuple[Mend, ...]
    narrowed: bool

    @property
    def exit_code(self) -> int:
        """As the whole result's, but only what is shown counts as a gap."""
        if not self.narrowed or self.result.exit_code >= 2:
            return self.result.exit_code
        return int(any(gap.weight != "advice" for gap in self.gaps))

    @cached_property
    def suspect(self) -> tuple[Suspect, ...]:
        """The deliveries of seed that isn't traced, of which a selected gap tells."""
        numbers = set(self.numbers)
        return tuple(delivery for delivery in list_suspect(self.result) if delivery.number in numbers)

    @cached_property
    def where(self) -> dict[Place, tuple[int, int]]:
        """Line and column of every place of every selected gap."""
        return self.result.locate(place for gap in self.gaps for place in (gap.place, *gap.others))


def select(result: Result, rules: Collection[str] = (), lots: Collection[str] = ()) -> Selection:
    """The gaps of some rules and the gaps and standing of some lots; everything if none are named."""
    numbers = tuple(
        number
        for number, gap in enumerate(result.gaps, start=1)
        if _is_wanted([gap.rule], rules) and _is_wanted(gap.lots, lots)
    )
    positions = {number - 1 for number in numbers}
    return Selection(
        result,
        tuple(map(result.gap, numbers)),
        numbers,
        tuple(lot for name, lot in result.lots.items() if _is_wanted([name], lots)),
        tuple(
            mend
            for mend in result.mend
            if not positions.isdisjoint(mend.gaps) and _is_wanted(mend.lots, lots)
        ),
        bool(rules or lots),
    )


def _is_wanted(names: Iterable[str], wanted: Collection[str]) -> bool:
    """Whether one of the names was asked for; who asks for none wants all."""
    return not wanted or any(name in wanted for name in names)
