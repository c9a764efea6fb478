"""One way through: a season's folder, examined on a day, becomes one frozen result.

No printing and no clock: the day comes in, and whoever writes a report looks at nothing but the result.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from certgen import __version__
from certgen.collector import pause_collector
from certgen.figures.ledger import keep_book
from certgen.lineage import Lineage, LotStanding, Mend, Node, build_lineage, find_mending, suppose
from certgen.lineage.changes import Changes, compare_seasons
from certgen.records.joining.farm import Farm, join_seasons
from certgen.records.supplied import read_packets
from certgen.rules import RULES, WEIGHTS, Case, Crash, Gap, run_rules
from certgen.rules.partial_records import add_rejections
from certgen.rules.proofs import Proofs, Shown
from certgen.rules.runner import UnderStandard, judge_apart, judge_gaps, told_lots
from certgen.rules.scope import Scopes
from certgen.standards import Profile, Rulebook, StandardError, load_profile, load_rulebook
from certgen.standards.practice import change_practice
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date
    from pathlib import Path

    from pandas import DataFrame

    from certgen.lineage.custody import LotBook
    from certgen.records import Place, ReadingError, Season
    from certgen.records.places import Refusals
    from certgen.records.supplied import PacketReader
    from certgen.rules.seed.purchases import Judged


K = TypeVar("K")


class ReadFailure(Exception):  # noqa: N818 (nothing went wrong in certgen: the folder holds no season)
    """Nothing could be read. `errors` say why, each with its place."""

    def __init__(self, errors: Sequence[ReadingError]) -> None:
        super().__init__("\n".join(error.text() for error in errors))
        self.errors = tuple(errors)


@dataclass(frozen=True, slots=True)
class SeasonSummary:
    """The numbers of one season, or of several added up. Masses in milligrams."""

    seasons: int = 0
    records: Mapping[str, int] = field(default_factory=dict)
    left_out: int = 0
    gaps: Mapping[str, int] = field(default_factory=dict)
    rules: Mapping[str, int] = field(default_factory=dict)
    lots: Mapping[str, int] = field(default_factory=dict)
    weight_mg: int = 0
    traced_mg: int = 0
    unproven_mg: int = 0
    rejected_mg: int = 0
    unaccounted_mg: int = 0

    def __add__(self, other: SeasonSummary) -> SeasonSummary:
        return SeasonSummary(
            self.seasons + other.seasons,
            _add(self.records, other.records),
            self.left_out + other.left_out,
            _add(self.gaps, other.gaps),
            _add(self.rules, other.rules),
            _add(self.lots, other.lots),
            self.weight_mg + other.weight_mg,
            self.traced_mg + other.traced_mg,
            self.unproven_mg + other.unproven_mg,
            self.rejected_mg + other.rejected_mg,
            self.unaccounted_mg + other.unaccounted_mg,
        )


def _add(one: Mapping[str, int], other: Mapping[str, int]) -> dict[str, int]:
    return {key: one.get(key, 0) + other.get(key, 0) for key in dict.fromkeys((*one, *other))}


@dataclass(frozen=True, eq=False)
class Result:
    """Everything that is known about a season on a day. All that a writer sees.

    `season` holds this season's own records, completed by its rounds, letters and routine; `farm` holds them
    with all earlier ones behind, as the checks see them. `lots` are those that the season is about: its own,
    and earlier ones that it has, moves or blends, or that one of its records speaks against. `gaps` stand in
    the order of the files and are numbered in it from 1; `mend` names them by their position, from 0.
    `errors` are reading errors: the records they name were left out, the rest was checked.
    """

    season: Season
    farm: Farm
    profile: Profile
    rulebooks: tuple[Rulebook, ...]
    lineage: Lineage
    gaps: tuple[Gap, ...]
    lots: Mapping[str, LotStanding]
    mend: tuple[Mend, ...]
    errors: tuple[ReadingError, ...]
    crashed: tuple[Crash, ...]
    on: date
    case: Case = field(repr=False)
    version: str = __version__
    #: Whether all movements of its lots are among the records: else nothing is known of stock.
    stock_told: bool = True
    #: Of how many lots nobody weighed what to do first, since weighing all together takes too long.
    unweighed: int = 0

    def proof(self, lot: str) -> tuple[Shown, ...]:
        """What the claim of a lot rests on: each obligation, on how many records, and who says so."""
        if lot not in self._proofs:
            self._proofs[lot] = self._prover.of_lot(lot, self.lots[lot].parts)
        return self._proofs[lot]

    @cached_property
    def _prover(self) -> Proofs:
        return Proofs(self.case)

    @cached_property
    def _proofs(self) -> dict[str, tuple[Shown, ...]]:
        return {}

    @property
    def books(self) -> Mapping[str, LotBook]:
        """The book of each lot: what left, to whom, what is there, what is nowhere."""
        return self.case.books

    @cached_property
    def ledger(self) -> DataFrame:
        """This season's own stock ledger in running order, as `figures.ledger.run_stock` gives it."""
        return keep_book(self.season)

    @cached_property
    def scopes(self) -> Scopes:
        """What the negative results rule out: `scopes.of_tree("T1")`, `scopes.of_lot("L1")`."""
        return Scopes(self.case)

    @cached_property
    def changes(self) -> Changes | None:
        """What changed since the season before; None if none is named."""
        before = self.season.previous
        return None if before is None else compare_seasons(before, self.season)

    @cached_property
    def by_standard(self) -> Mapping[str, UnderStandard]:
        """The season under each of its standards by itself, by rulebook. Under one alone it is the season."""
        if len(self.rulebooks) == 1:
            key = self.rulebooks[0].key
            return {key: UnderStandard(key, self.gaps, self.lots)}
        return judge_apart(self.case)

    @cached_property
    def standards_part_on(self) -> tuple[str, ...]:
        """The lots whose standing isn't the same under all the season's standards."""
        views = list(self.by_standard.values())
        return tuple(lot for lot in self.lots if len({view.lots[lot].standing for view in views}) > 1)

    @cached_property
    def summary(self) -> SeasonSummary:
        """The season in numbers."""
        lots = self.lots.values()
        weights = Counter(gap.weight for gap in self.gaps)
        standings = Counter(lot.standing for lot in lots)
        return SeasonSummary(
            seasons=1,
            records=dict(self.season.counts),
            left_out=len(self.season.left_out),
            gaps={weight: weights[weight] for weight in WEIGHTS},
            rules=dict(sorted(Counter(gap.rule for gap in self.gaps).items())),
            lots={standing: standings[standing] for standing in ("traced", "unproven", "rejected")},
            weight_mg=sum(lot.weight_mg for lot in lots),
            traced_mg=sum(lot.traced_mg for lot in lots),
            unproven_mg=sum(lot.unproven_mg for lot in lots),
            rejected_mg=sum(lot.rejected_mg for lot in lots),
            unaccounted_mg=sum(lot.unaccounted_mg for lot in lots),
        )

    @cached_property
    def shown_by_packet(self) -> Mapping[Node, tuple[Judged, ...]]:
        """By lot or planting the bought seed that a supplier's packet leads back to its parents."""
        found: dict[Node, tuple[Judged, ...]] = {}
        for one in self.case.purchases:
            if one.shown:
                node = Node(one.purchase.table, one.purchase.id)
                found[node] = (*found.get(node, ()), one)
        return found

    @property
    def exit_code(self) -> int:
        """0 clean, 1 gaps that reject or leave unproven, 2 something couldn't be read, 3 a rule failed.

        A season without a lot claims nothing yet, so nothing is shown: that is 1 too. Else whoever leaves the
        lots out would pass where a word about them would fail.
        """
        if self.crashed:
            return 3
        if self.errors:
            return 2
        open_ = any(gap.weight != "advice" for gap in self.gaps)
        return int(open_ or not self.lots or any(lot.standing != "traced" for lot in self.lots.values()))

    @cached_property
    def numbers_by_record(self) -> Mapping[Node, tuple[int, ...]]:
        """The numbers, from 1, of the gaps that stand at each record (not of those that merely reach it)."""
        return _number([Node(gap.table, name) for name in gap.ids] for gap in self.gaps)

    @cached_property
    def numbers_by_lot(self) -> Mapping[str, tuple[int, ...]]:
        """The numbers, from 1, of the gaps that reach each lot."""
        return _number(gap.lots for gap in self.gaps)

    def gap(self, number: int) -> Gap:
        """The gap of a number as writers show it, from 1; IndexError for a number that no gap bears."""
        if not 1 <= number <= len(self.gaps):
            message = f"gaps are numbered from 1 to {len(self.gaps)}, and {number} is none of them"
            raise IndexError(message)
        return self.gaps[number - 1]

    def numbers_of(self, node: Node) -> tuple[int, ...]:
        """The numbers of the gaps that stand at a record."""
        return self.numbers_by_record.get(node, ())

    def gaps_of(self, node: Node) -> tuple[Gap, ...]:
        """The gaps that stand at a record."""
        return tuple(map(self.gap, self.numbers_of(node)))

    def gaps_of_lot(self, lot: str) -> tuple[Gap, ...]:
        """The gaps that reach a lot."""
        return tuple(map(self.gap, self.numbers_by_lot.get(lot, ())))

    def locate(self, places: Iterable[Place]) -> dict[Place, tuple[int, int]]:
        """Line and column of places that stand in a record file; others have none."""
        return self.farm.locate(place for place in places if place.file in self.farm.sources and place.path)


def _number(named: Iterable[Iterable[K]]) -> dict[K, tuple[int, ...]]:
    """For each name the numbers, from 1, of what names it."""
    found: dict[K, list[int]] = {}
    for number, names in enumerate(named, start=1):
        for name in names:
            found.setdefault(name, []).append(number)
    return {name: tuple(numbers) for name, numbers in found.items()}


def examine(
    folder: Path,
    on: date,
    *,
    suppositions: Sequence[str] = (),
    within: Path | None = None,
    cache: Path | None = None,
    packets: PacketReader | None = None,
    refusals: Sequence[Refusals] = (),
) -> Result:
    """Reads and checks a season's folder as it stands on a day.

    `suppositions` change the season before it is checked ("tree:17=positive"). `within` bounds where
    `previous` may lead; `cache` is a folder for files parsed before, None for none. `packets` verifies the
    suppliers' packets that records name; without it none of them proves anything. `refusals` are as in
    `read_season`. Raises ReadFailure when nothing can be read, SuppositionError for a supposition that makes
    no sense.
    """
    season, errors = read_case(folder, within=within, cache=cache, refusals=refusals)
    if season is None:
        raise ReadFailure(errors)
    for supposition in suppositions:
        season = suppose(season, supposition)
    return examine_season(season, on, errors, packets=packets)


def examine_season(
    season: Season, on: date, errors: Sequence[ReadingError] = (), *, packets: PacketReader | None = None
) -> Result:
    """Checks a season that has been read. Raises ReadFailure for a crop or standard that isn't known."""
    with pause_collector():
        return _examine(season, on, errors, packets)


def _examine(
    season: Season, on: date, errors: Sequence[ReadingError], packets: PacketReader | None
) -> Result:
    field_name = "crop"
    try:
        profile = load_profile(season.details.crop)
        field_name = "standards"
        rulebooks = tuple(load_rulebook(key) for key in season.details.standards)
    except StandardError as error:
        raise ReadFailure([*errors, _season_error(season, field_name, error)]) from error
    farm = join_seasons(season)
    lineage = build_lineage(farm)
    case = Case(farm, lineage, profile, rulebooks, on, supplied=read_packets(farm, packets))
    gaps, crashed, standings = run_rules(case, RULES)
    gaps, worse = add_rejections(season, case, gaps, RULES)
    if worse:
        standings = judge_gaps(case, gaps)
    told = told_lots(case, gaps)
    judged = {**standings.judge(), **worse}
    separable = {lot for lot, book in case.books.items() if not book.departures}
    mending = find_mending(standings.only(told), separable)
    return Result(
        season=farm.alone or season,
        farm=farm,
        profile=profile,
        rulebooks=rulebooks,
        lineage=lineage,
        gaps=gaps,
        lots={lot: judged[lot] for lot in told},
        mend=mending.mends,
        errors=(*errors, *_check_practice(season, profile)),
        crashed=crashed,
        on=on,
        case=case.changed(gaps=gaps, standings=standings),
        unweighed=mending.lots - mending.weighed,
    )


def _check_practice(season: Season, profile: Profile) -> tuple[ReadingError, ...]:
    """The season's own figures that cannot be used; the crop's stand in their place."""
    from certgen.records import ReadingError

    _, faults = change_practice(profile, season.details.practice)
    places = {key: season.season_place("practice", key) for key in faults}
    where = season.locate(places.values()) if places else {}
    return tuple(
        ReadingError(season.details.file, *where[places[key]], message) for key, message in faults.items()
    )


def _season_error(season: Season, field_name: str, error: StandardError) -> ReadingError:
    from certgen.records import ReadingError

    place = season.season_place(field_name)
    line, column = season.locate([place])[place]
    return ReadingError(season.details.file, line, column, str(error))
