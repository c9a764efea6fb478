"""The season beside the one before it, in figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.season_twin import compare_figures
from certgen.report.drawings.twin import TwinPicture, TwinRow, draw_twin
from certgen.typeset.parts import Picture, Section

if TYPE_CHECKING:
    from certgen.dossier.season_twin import Pair
    from certgen.report.context import Context


def build_twin(context: Context, width: float, level: int) -> list[Section]:
    """The section of the two seasons; none where no earlier one is in reach."""
    twin = compare_figures(context.result)
    if twin is None:
        return []
    after, before = f"Season {twin.after}", f"Season {twin.before}"
    title = f"{after} beside season {twin.before}"
    told = "; ".join(
        f"{pair.title}: {pair.after.words} in {twin.after}, {pair.before.words} in {twin.before}"
        for pair in twin.pairs
    )
    picture = TwinPicture(title, f"{told}.", after, before, tuple(map(_row, twin.pairs)), width)
    part = Picture("twin", draw_twin(picture), f"{title}. {told}.", " ".join(twin.apart))
    return [Section("lots#twin", title, level, (part,), style="minor")]


def _row(pair: Pair) -> TwinRow:
    """The bars of a pair, the longer filling the room."""
    longest = max(pair.after.value or 0, pair.before.value or 0) or 1
    after, before = (None if one.value is None else one.value / longest for one in (pair.after, pair.before))
    return TwinRow(pair.title, after, before, pair.after.words, pair.before.words)
