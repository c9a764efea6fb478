"""Rich seasons that are clean by construction: whatever a check finds in one of them is a false alarm.

`grow_season(random)` gives a season of one of two crops under any of the standards, half of them with
the season before it. Everything is drawn from the `random.Random` that is handed in, so that a seed names a
season.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from farm import Farm
from growing import Grown

from certgen.examination import Result, examine_season
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from truths import Truth

ORGANIC = ("us-nop", "eu", "canada", "codex")


def grow_season(
    random: Random,
    *,
    crop: str | None = None,
    standards: list[str] | None = None,
    earlier: bool | None = None,
) -> Truth:
    """A clean season; what isn't given is drawn."""

    def chance(share: int) -> bool:
        return random.randrange(100) < share

    if standards is None:
        standards = [one for one in ORGANIC if chance(45)] or ["us-nop"]
        if chance(30):
            standards.append("seed-law")
    farm = Farm(random, crop or ("squash" if chance(35) else "papaya"), standards)
    years = (random.choice((1, 1, 1, 2)) if chance(50) else 0) if earlier is None else int(earlier)
    truth = None
    for back in range(years, -1, -1):
        truth = Grown(farm, 2026 - back, follows=back > 0, before=truth).truth()
    assert truth is not None
    return truth


def season_of_seed(seed: int) -> Truth:
    """The season that a seed names."""
    return grow_season(Random(seed))


class Unreadable(Exception):  # noqa: N818 (a fault of the generator)
    """A generated season that the reader objects to."""


def examine_truth(truth: Truth) -> tuple[Result, dict[tuple[str | int, ...], tuple[str, int]]]:
    """Writes, reads and examines a season: the result, and where each field was written."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "season"
        place.mkdir()
        lines = truth.write(place)
        season, errors = read_case(place)
        if season is None or errors:
            raise Unreadable("\n".join(error.text() for error in errors[:5]))
        return examine_season(season, truth.on), lines
