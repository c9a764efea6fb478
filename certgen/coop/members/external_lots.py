"""Lots that a season names without holding them: another member's, as like as not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.notices import SUSPECT
from certgen.rules.runner import judge_gaps

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result
    from certgen.lineage import LotStanding
    from certgen.rules import Gap

#: Fields in which a record can name a lot that another member holds, and the field that names the member.
_OUTSIDE: Final = {
    "plantings": ("origin.lot", "origin.supplier"),
    "movements": ("lot", "party"),
    "lots": ("", ""),
}


class ExternalLots:
    """Lots that the season names and doesn't hold, the gaps that say so, and who is named beside them."""

    def __init__(self, result: Result) -> None:
        self.result = result
        #: The gap's position -> the lot, and the party or supplier that the record names.
        self.gaps: dict[int, tuple[str, str]] = {}
        for position, gap in enumerate(result.gaps):
            if gap.rule == "reference-unknown" and gap.table in _OUTSIDE and gap.field:
                named = self._find(gap)
                if named is not None:
                    self.gaps[position] = named
        self._add_departures()

    def _add_departures(self) -> None:
        """Seed that left is not suspect where the one lot that it hangs on is traced at the other member."""
        left = {at: gap for at, gap in enumerate(self.result.gaps) if gap.rule == SUSPECT and gap.lots}
        if not left or not self.gaps:
            return
        answered = self.answered()
        for position, gap in left.items():
            behind = self.lots_behind(gap.lots[0])
            if len(behind) == 1 and answered[gap.lots[0]].standing == "traced":
                self.gaps[position] = next(one for one in self.gaps.values() if one[0] == behind[0])

    def _find(self, gap: Gap) -> tuple[str, str] | None:
        """The lot that a gap says is unknown, and the party or supplier that the record names."""
        row = self.result.season.row(gap.table, gap.id)
        if row is None:
            return None
        frame = self.result.season.table(gap.table)
        if gap.table == "lots":
            position = gap.field[1] if len(gap.field) > 1 else -1
            sources: Any = frame["sources"].iat[row]
            if not isinstance(position, int) or position >= len(sources) or gap.field[-1] != "lot":
                return None
            lot = sources[position].get("lot")
            return (str(lot), "") if lot else None
        column, named = _OUTSIDE[gap.table]
        if gap.field[0] != column:
            return None
        lot, party = frame[column].iat[row], frame[named].iat[row]
        return str(lot), party if isinstance(party, str) else ""

    def answered(self) -> Mapping[str, LotStanding]:
        """Every lot's standing if those gaps were mended."""
        result = self.result
        return judge_gaps(result.case, result.gaps).judge(frozenset(self.gaps))

    def lots_behind(self, lot: str) -> tuple[str, ...]:
        """The other members' lots that this lot's claim rests on, as the gaps that reach it say."""
        return tuple(
            dict.fromkeys(
                name for position, (name, _) in self.gaps.items() if lot in self.result.gaps[position].lots
            )
        )
