"""This season's figures beside those of the one before it, and what of the two can't be compared.

Both are judged by what is known today: a result of this year that speaks against a tree counts against last
year's lots of it too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.trace_matrix import tell_verdicts
from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from certgen.examination import Result
    from certgen.lineage import LotStanding
    from certgen.records import Season

_NOT_RECORDED: Final = "not recorded"
#: What stands in no record of an earlier season, though a reader may look for it here.
_FINDINGS: Final = (
    "Findings are not set side by side: those of season {before} stand in its own report, under the rules and"
    " on the day of that report."
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a season: what it comes to, and in words. None where nothing tells it."""

    value: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Pair:
    """What is compared, this season's figure and that of the one before."""

    title: str
    after: Figure
    before: Figure


@dataclass(frozen=True, slots=True)
class Twin:
    """Two seasons by their labels, their figures, and sentences on what can't be compared."""

    after: str
    before: str
    pairs: tuple[Pair, ...]
    apart: tuple[str, ...]


@dataclass(frozen=True)
class _Known:
    """What is known today, of whatever season: trees that are cleared, each lot's standing and parents."""

    negative: frozenset[str]
    standings: Mapping[str, LotStanding]
    parents_of: Callable[[str], Sequence[str]]


def compare_figures(result: Result) -> Twin | None:
    """The figures of this season and of the one before; None where no earlier one is in reach."""
    season, before = result.season, result.season.previous
    if before is None:
        return None
    standings = result.case.standings
    known = _Known(
        frozenset(tree for tree, verdict in tell_verdicts(result).items() if verdict == "negative"),
        {**(standings.judge() if standings else {}), **result.lots},
        lambda lot: [node.id for node in result.lineage.seed_parents(lot)],
    )
    return Twin(
        season.details.label,
        before.details.label,
        tuple(Pair(title, tell(season, known), tell(before, known)) for title, tell in _FIGURES.items()),
        tuple(_say_apart(result, before)),
    )


def _say_apart(result: Result, before: Season) -> list[str]:
    details, earlier = result.season.details, before.details
    told = []
    if result.on < details.end:
        told.append(
            f"Season {details.label} runs until {day(details.end)}; its figures are those of"
            f" {day(result.on)}."
        )
    days, then = ((one.end - one.start).days + 1 for one in (details, earlier))
    if abs(days - then) > _SAME_LENGTH:
        told.append(f"Season {details.label} has {days} days, season {earlier.label} has {then}.")
    if before.left_out:
        told.append(f"Records of season {earlier.label} that could not be read are in no figure.")
    return [*told, _FINDINGS.format(before=earlier.label)]


#: Seasons that differ by no more days than this are as long as each other.
_SAME_LENGTH: Final = 10


def _count_records(table: str) -> Callable[[Season, _Known], Figure]:
    def count(season: Season, _known: _Known) -> Figure:
        return _number(len(season.columns(table)))

    return count


def _number(value: int) -> Figure:
    return Figure(value, f"{value:,}".replace(",", "\N{NARROW NO-BREAK SPACE}"))


def _count_parents(season: Season, known: _Known) -> Figure:
    """The seed parents of a season's lots that are cleared, of all of them."""
    parents = {tree for lot in _lots_of(season) for tree in known.parents_of(lot)}
    if not parents:
        return Figure(None, "no parent on record")
    cleared = len(parents & known.negative)
    return Figure(cleared, f"{cleared} of {len(parents)}")


def _count_fruit(season: Season, _known: _Known) -> Figure:
    """The fruit picked, where every picking says how many."""
    fruits = [number for (number,) in plain_rows(season.table("harvests"), "fruits")]
    if any(number is None for number in fruits):
        return Figure(None, f"{_NOT_RECORDED} for every picking")
    return _number(sum(fruits))


def _weigh_packed(season: Season, known: _Known) -> Figure:
    """The seed packed from batches: what was blended from lot to lot is packed once."""
    packed = sum(
        part.weight_mg
        for lot in _judged(season, known)
        for part in lot.parts
        if part.source is not None and part.source.table == "batches"
    )
    return Figure(packed, format_mass(packed))


def _share_traced(season: Season, known: _Known) -> Figure:
    """The traced part of all grams of a season's lots, in per cent and rounded down."""
    lots = _judged(season, known)
    weight = sum(lot.weight_mg for lot in lots)
    if not weight:
        return Figure(None, "no seed packed")
    # All of it is 100 only where it is all.
    share = 100 * sum(lot.traced_mg for lot in lots) // weight
    return Figure(share, f"{share}\N{NO-BREAK SPACE}%")


def _weigh_sold(season: Season, _known: _Known) -> Figure:
    """What was sold, of whatever lot."""
    rows = plain_rows(season.table("movements"), "kind", "weight_mg")
    sold = sum(int(weight) for kind, weight in rows if kind == "sold" and weight is not None)
    return Figure(sold, format_mass(sold))


def _judged(season: Season, known: _Known) -> list[LotStanding]:
    """The season's lots with their standing; one whose standing isn't known is left out of both sums."""
    return [known.standings[lot] for lot in _lots_of(season) if lot in known.standings]


def _lots_of(season: Season) -> list[str]:
    return list(dict.fromkeys(name for (name,) in plain_rows(season.table("lots"), "lot") if name))


_FIGURES: Final[Mapping[str, Callable[[Season, _Known], Figure]]] = {
    "Trees in the register": _count_records("trees"),
    "Parents of its lots, screened negative": _count_parents,
    "Bags put on": _count_records("bagging"),
    "Fruit picked": _count_fruit,
    "Seed packed from batches": _weigh_packed,
    "Of its lots traced, as known today": _share_traced,
    "Seed sold": _weigh_sold,
    "Tests of seed": _count_records("tests"),
}
