"""Metamorphic laws: what may be done to a season without any gram becoming traced.

    python tests/truth/metamorphic.py --seasons 3 --seed 7    the small seasons, the example, three grown
    python tests/truth/metamorphic.py --frauds 40 --most 60   sixty changes each of forty frauds
    python tests/truth/metamorphic.py --faults 40 --most 60   the same of grown seasons with planted faults
    python tests/truth/metamorphic.py --only mistyped         one law alone

Taking support away, leaving a record out, a slip of the pen: no lot gets more traced grams, or becomes
traced. Adding what speaks against, explaining, loosening an own figure: no lot stands better either. What
only describes changes nothing. The fields are drawn off the schemas by `x-evidence`. Without `--most` all
fields of all records are tried, which takes about a second each. Prints a table, and every violation with the
season and the change that it takes; ends with 1 if there is any.
"""

# ruff: noqa: T201, E402 (a program that prints, and finds its modules beside it)
from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

sys.path[:0] = [str(Path(__file__).resolve().parents[up]) for up in range(3)]

from frauds import FRAUDS
from metamorphic_changes import (
    Change,
    described,
    explained,
    left_out,
    mistyped,
    own_figures,
    spoken_against,
    without_support,
)
from metamorphic_seasons import (
    Story,
    example_season,
    grown_season,
    of_fraud,
    planted_season,
    small_seasons,
    standings_of,
)
from planting import FAULTS
from plot import Unsuited

if TYPE_CHECKING:
    from certgen.examination import Result

#: Own figures may let something pass if it is said, and a rule that failed is no law's business.
_SAID = "own-figure-loosens"
#: Laws under which what rejected a lot may be gone: what is left proves nothing all the same.
_TAKING = ("without what supports", "without what either", "record left out", "mistyped", "misnamed")


@dataclass(frozen=True)
class Tried:
    """A change that was tried: of which season, and what broke the law (empty if nothing did)."""

    story: str
    change: Change
    broke: str


def changes_of(story: Story, result: Result, random: Random) -> Iterator[Change]:
    """Every change that a law speaks of."""
    yield from explained(story, result)
    yield from own_figures(story)
    yield from described(story, random)
    yield from without_support(story)
    yield from left_out(story)
    yield from mistyped(story)
    yield from spoken_against(story, random)


def try_change(story: Story, before: dict[str, tuple[int, int]], change: Change) -> Tried:
    """Makes a change of a copy of the season, and holds what comes of it against the law."""
    other = story.copy()
    change.make(other)
    result = other.examine()
    after = standings_of(result)
    broke = ""
    if result is not None and result.crashed:
        broke = f"rule {result.crashed[0].rule} failed: {result.crashed[0].error}"
    elif change.law.startswith("description"):
        broke = _differing(before, after)
    elif change.law != "own figure" or not _says_so(result):
        broke = _better(before, after, strictly=change.law not in _TAKING)
    return Tried(story.name, change, broke)


def _says_so(result: Result | None) -> bool:
    return result is not None and any(gap.rule == _SAID for gap in result.gaps)


def _better(before: dict[str, tuple[int, int]], after: dict[str, tuple[int, int]], *, strictly: bool) -> str:
    """The lots that hold more traced grams than before, or are traced now; `strictly`: or stand better."""
    found = []
    for lot, (traced, rank) in after.items():
        # A lot whose number another season's lot had bears its season behind it no longer.
        old = [
            standing for name, standing in before.items() if name.partition(" ")[0] == lot.partition(" ")[0]
        ]
        if not old:
            found += [f"{lot} has {traced} mg traced and wasn't there"] if traced else []
            continue
        most, best = max(one for one, _ in old), min(one for _, one in old)
        if traced > most or (rank < best and (strictly or not rank)):
            found.append(f"{lot}: {most} mg to {traced} mg traced, standing {best} to {rank}")
    return "; ".join(found)


def _differing(before: dict[str, tuple[int, int]], after: dict[str, tuple[int, int]]) -> str:
    lots = [lot for lot in {**before, **after} if before.get(lot) != after.get(lot)]
    return "; ".join(f"{lot}: {before.get(lot)} to {after.get(lot)}" for lot in lots)


def try_story(story: Story, seed: int, most: int | None = None, only: str = "") -> list[Tried]:
    """Tries the changes of a season: all of them, or so many drawn, each law and field as often as others."""
    random = Random(seed)
    result = story.examine()
    if result is None:
        return []
    # What a gap stands at may be what speaks against.
    gaps = {
        (gap.table, one, str(gap.field[0]).partition(".")[0] if gap.field else "")
        for gap in result.gaps
        if gap.weight != "advice"
        for one in gap.ids
    }
    years = story.years
    story.touched |= {(year, *gap) for year in years for gap in gaps}
    before = standings_of(result)
    chosen = [one for one in changes_of(story, result, random) if one.law.startswith(only)]
    if most is not None:
        chosen = draw(chosen, most, random)
    return [try_change(story, before, change) for change in chosen]


def draw(changes: Sequence[Change], most: int, random: Random) -> list[Change]:
    """So many changes, one of each law and field before a second of any."""
    order = list(changes)
    random.shuffle(order)
    seen = Counter[Any]()
    ranked = []
    for change in order:
        seen[change.law, change.field] += 1
        ranked.append((seen[change.law, change.field], change))
    ranked.sort(key=lambda one: one[0])
    # Laws take turns, else the one with the most fields would take all.
    turns, taken = Counter[str](), []
    for rank, change in ranked:
        turns[change.law] += 1
        taken.append((rank, turns[change.law], change))
    taken.sort(key=lambda one: one[1])
    return [change for *_, change in taken[:most]]


def _stories(asked: argparse.Namespace) -> Iterator[Story]:
    random = Random(asked.seed)
    if not asked.frauds and not asked.faults:
        yield from small_seasons()
        yield example_season()
        for number in range(asked.seasons):
            yield grown_season(asked.seed + number)
    for slug in random.sample(sorted(FRAUDS), min(asked.frauds, len(FRAUDS))):
        yield of_fraud(slug)
    for slug in random.sample(sorted(FAULTS), min(asked.faults, len(FAULTS))):
        try:
            yield planted_season(slug, asked.seed)
        except Unsuited:
            continue


def _try(
    work: tuple[Story, int, int | None, str],
) -> tuple[Counter[tuple[str, str]], list[tuple[str, str, str]]]:
    tried = try_story(*work)
    counts = Counter((one.change.law, "broken" if one.broke else "kept") for one in tried)
    return counts, [
        (one.story, f"{one.change.law}: {one.change.says}", one.broke) for one in tried if one.broke
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints what broke, and how often each law was tried."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seasons", type=int, default=2, help="grown seasons beside the small ones")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--frauds", type=int, default=0, help="so many seasons with a fraud instead")
    parser.add_argument("--faults", type=int, default=0, help="so many seasons with a planted fault instead")
    parser.add_argument("--most", type=int, help="so many changes of each season, drawn; all without it")
    parser.add_argument("--only", default="", help="laws whose name begins so")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(arguments)
    counts = Counter[tuple[str, str]]()
    broken = 0
    works = ((story, asked.seed, asked.most, asked.only) for story in _stories(asked))
    with ProcessPoolExecutor(asked.jobs) as pool:
        for found, broke in pool.map(_try, works):
            counts += found
            broken += len(broke)
            for story, change, says in broke:
                print(f"{story}\n    {change}\n    {says}", flush=True)
    print("\n| law | tried | broken |\n|---|---:|---:|")
    for law in dict.fromkeys(law for law, _ in counts):
        print(f"| {law} | {counts[law, 'kept'] + counts[law, 'broken']} | {counts[law, 'broken']} |")
    print(f"| **all** | {counts.total()} | {broken} |")
    return int(bool(broken))


if __name__ == "__main__":
    sys.exit(main())
