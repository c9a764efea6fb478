"""Which records of each season's own files belong to the line of some lots: for the certifier, who sees them
as they are.

A record belongs to it if a lot came out of it, if it tells of one that does, or if such a record rests on it.
Beyond that nothing does, wherever it stands. A list in a record that is kept names others as well: of a round
over forty bags only those of the line are named on.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.disclosure.choice import RowChoice
from certgen.lineage import Node
from certgen.manifest import list_folders
from certgen.records.joining.farm import LASTING
from certgen.records.joining.ranges import NameRanges
from certgen.records.places import file_from
from certgen.records.tables import TABLE_NAMES, load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.disclosure.choice import Rows
    from certgen.examination import Result
    from certgen.records import Season
    from certgen.records.tables import Field

#: By what the least is widened where a lot doesn't come out the same without it, the narrowest first: the
#: movements of lots that are in it, what a gap on it tells of, all land and trees, the runs that its
#: fruit went into as well, the runs that any of its runs met.
WIDER: Final = (
    (),
    ("movements",),
    ("faults",),
    ("movements", "faults"),
    ("land",),
    ("runs",),
    ("movements", "faults", "land", "runs"),
    ("movements", "equipment", "land", "runs"),
)
#: Texts that name records singly or as a range, and the tables of what they may name.
RANGES: Final[Mapping[str, tuple[str, ...]]] = {
    "rounds.trees": ("trees",),
    "rounds.bags": ("bagging",),
    "rounds.samples": ("screening",),
    "rounds.harvests": ("harvests",),
    "rounds.exceptions.about": ("bagging", "screening", "harvests", "trees"),
    "letters.samples": ("screening",),
    "letters.exceptions.samples": ("screening",),
    "submissions.samples": ("screening",),
    "submissions.bags.samples": ("screening",),
}
#: Tables whose records speak of others: they belong to the line with any that they name.
_SPEAKING: Final = (
    "rounds", "submissions", "letters", "observations", "visits", "incidents", "recalls", "explanations",
)  # fmt: skip
#: What all of a season's seed met, and no record is named by: it belongs to every line.
_MET_BY_ALL: Final = ("water_tests",)
#: Tables whose records a gap's words may name beside its own.
_NAMED_IN_GAPS: Final = ("trees", "screening", "bagging", "harvests", "batches")
_DIGITS: Final = re.compile(r"[0-9]+$")


class Reference(NamedTuple):
    """A text in a record that names others: the tables that it may mean, and the text."""

    tables: tuple[str, ...]
    text: str


def choose_line(result: Result, lots: Sequence[str], measure: Collection[str] = ()) -> Rows:
    """The farm's rows that some lots rest on, each with all its movements, and where its seed went.

    `measure` says by what the least is widened; `WIDER` lists the measures.
    """
    choice = _LineChoice(result, "")
    for lot in lots:
        choice.lot = lot
        choice.take_line()
        choice.take_gaps()
        choice.take_own_movements()
        if "movements" in measure:
            choice.take_all_movements()
    if "runs" in measure:
        choice.take_other_runs()
    if "land" in measure:
        for name in LASTING:
            choice.rows[name].update(range(len(result.farm.columns(name))))
    choice.take_other_lots()
    if "equipment" in measure:
        choice.take_equipment()
    elif "faults" in measure:
        choice.take_beside_faults(lots)
        choice.take_told_in_faults(lots)
    choice.take_pools()
    choice.take_approvals()
    choice.take_scouting()
    choice.take_about()
    return choice.rows


class _LineChoice(RowChoice):
    def take_own_movements(self) -> None:
        """Every movement of the lot, and what was sown of it."""
        for row, lot, planting in self.farm.columns("movements").rows("lot", "planting"):
            if lot == self.lot:
                self.rows["movements"].add(row)
                self.take_alone([Node("plantings", planting)] if planting else [])

    def take_other_lots(self) -> None:
        """The lots that were filled out of the line as well: their share is what a run's or a lot's weight
        needs to come out the same."""
        batches, lots = ({*self.names(table)} - {None} for table in ("batches", "lots"))
        for row, sources in self.farm.columns("lots").rows("sources"):
            if any(part.get("batch") in batches or part.get("lot") in lots for part in sources):
                self.rows["lots"].add(row)

    def take_other_runs(self) -> None:
        """The runs that the line's fruit went into as well, with their own lines."""
        pickings = {*self.names("harvests")}
        runs = self.farm.columns("batches").rows("batch", "harvests")
        self.take([Node("batches", batch) for _, batch, fruit in runs if batch and pickings & {*fruit}])

    def take_beside_faults(self, lots: Iterable[str]) -> None:
        """What a run of the line met on its equipment where something was found at that run: the other runs
        with their own lines, and the cleanings between."""
        gaps = [gap for lot in lots for gap in self.result.gaps_of_lot(lot) if gap.table == "batches"]
        found = {name for gap in gaps for name in gap.ids}
        names = self.farm.columns("batches").values("batch")
        faulty = [row for row in sorted(self.rows["batches"]) if names[row] in found]
        for other, cleanings in self.find_met(faulty):
            self.take([other])
            self.rows["cleaning"].update(cleanings)

    def take_told_in_faults(self, lots: Iterable[str]) -> None:
        """What a gap on the lots names in its words, such as another bag with the same tag, with its line."""
        words = {
            word.strip(".,;:()’")
            for lot in lots
            for gap in self.result.gaps_of_lot(lot)
            for word in gap.message.split()
        }
        for name in _NAMED_IN_GAPS:
            named = self.farm.columns(name).values(load_tables()[name].key)
            self.take([Node(name, one) for one in named if one in words])

    def take_scouting(self) -> None:
        """The walks on which an input's need was seen."""
        cited = self.farm.columns("inputs").values("scouting")
        self.take_alone(Node("scouting", one) for row in sorted(self.rows["inputs"]) for one in cited[row])


def list_references(fields: Mapping[str, Field], record: Mapping[str, Any], at: str) -> Iterator[Reference]:
    """Every text in a record, as typed, that names other records; `at` is its table."""
    for name, value in record.items():
        field = fields.get(name)
        if field is not None:
            yield from _list_in(field, value, f"{at}.{name}")


def _list_in(field: Field, value: Any, at: str) -> Iterator[Reference]:
    if isinstance(value, (list, tuple)):
        for part in value:
            yield from _list_in(field.item or field, part, at)
    elif isinstance(value, dict):
        yield from list_references(field.fields, value, at)
    elif isinstance(value, str) and (tables := tables_named(field, at)):
        yield Reference(tables, value)


def tables_named(field: Field, at: str) -> tuple[str, ...]:
    """The tables whose records a field's text may name; none for any other text."""
    return RANGES.get(at) or field.refers_to


class LineRecords:
    """By season, this one's first, which of its own records belong to the line.

    `seasons` are as their files have them, and `kept` gives by season and table the rows that belong.
    """

    def __init__(self, result: Result, rows: Rows) -> None:
        self.seasons: list[Season] = [one for _, _, one in list_folders(result.season)]
        self.kept: list[dict[str, set[int]]] = [{name: set() for name in TABLE_NAMES} for _ in self.seasons]
        self._ranges: dict[tuple[int, str], NameRanges] = {}
        self._take_rows(result, rows)
        for number, season in enumerate(self.seasons):
            for name in _MET_BY_ALL:
                self.kept[number][name].update(range(len(season.columns(name))))
        while self._take_named() or self._take_speaking() or self._take_quoted():
            pass

    @cached_property
    def _rows_of(self) -> list[dict[str, dict[str, list[int]]]]:
        """By season and table the rows that bear an identifier."""
        found: list[dict[str, dict[str, list[int]]]] = []
        for season in self.seasons:
            by_table: dict[str, dict[str, list[int]]] = {name: {} for name in TABLE_NAMES}
            for name, table in load_tables().items():
                for row, one in enumerate(season.columns(name).values(table.key) if table.key else ()):
                    by_table[name].setdefault(one, []).append(row)
            found.append(by_table)
        return found

    def _take_rows(self, result: Result, rows: Rows) -> None:
        """The records that the farm's rows stand for. One that a later season tells too is no row of its
        own, and goes with the one that is."""
        farm = result.farm
        places = {
            name: {tuple(place): row for row, *place in farm.columns(name).rows("file", "at")}
            for name in TABLE_NAMES
        }
        for number, season in enumerate(self.seasons):
            path = farm.stretches[number].path
            for name, table in load_tables().items():
                columns = season.columns(name)
                keys = columns.values(table.key) if table.key else [None] * len(columns)
                names = farm.columns(name).values(table.key) if table.key else []
                taken = {names[row] for row in rows[name]} if names else set()
                for row, file, at in columns.rows("file", "at"):
                    own = places[name].get((file_from(path, file), at))
                    if own in rows[name] if own is not None else keys[row] in taken:
                        self.kept[number][name].add(row)

    def _take_named(self) -> bool:
        """Takes what kept records name singly: a movement's planting, an input's block. Whether any came."""
        before = self.count()
        for number, season in enumerate(self.seasons):
            for name, table in load_tables().items():
                for column in table.columns:
                    if column.kind == "list" or not column.field.refers_to:
                        continue
                    values = season.columns(name).values(column.name)
                    named = {values[row] for row in self.kept[number][name]} - {None}
                    for one in named:
                        self._take(number, column.field.refers_to, one)
        return self.count() > before

    def _take(self, number: int, tables: Sequence[str], name: str) -> None:
        for table in tables:
            for season in self._seasons_with(number, table, name):
                self.kept[season][table].update(self._rows_of[season][table][name])

    def _take_speaking(self) -> bool:
        """Takes what speaks of any record that is kept. Whether any came."""
        before = self.count()
        for number, season in enumerate(self.seasons):
            for name in _SPEAKING:
                fields = load_tables()[name].fields
                for row in range(len(season.columns(name))):
                    if row not in self.kept[number][name] and any(
                        self._is_named(number, one)
                        for one in list_references(fields, season.record_at(name, row), name)
                    ):
                        self.kept[number][name].add(row)
        return self.count() > before

    def _take_quoted(self) -> bool:
        """Takes the letters that samples quote by number. Whether any came."""
        before = self.count()
        quoted: set[Any] = set()
        for number, season in enumerate(self.seasons):
            reports = season.columns("screening").values("report")
            quoted |= {reports[row] for row in self.kept[number]["screening"]}
        for number, season in enumerate(self.seasons):
            letters = season.columns("letters").rows("letter", "report")
            self.kept[number]["letters"].update(
                row for row, *names in letters if ({*names} - {None}) & quoted
            )
        return self.count() > before

    def _is_named(self, number: int, one: Reference) -> bool:
        return any(
            self._is_kept(number, table, name)
            for table in one.tables
            for name in self._expand(number, table, one.text)
        )

    def count(self) -> int:
        """How many records belong."""
        return sum(len(rows) for tables in self.kept for rows in tables.values())

    # What a text in a record names

    def _seasons_with(self, number: int, table: str, name: str) -> list[int]:
        """The seasons whose record a name means: its own season's, else whichever has one. What lives on
        from year to year is one thing in all."""
        if table not in LASTING and name in self._rows_of[number][table]:
            return [number]
        return [at for at, known in enumerate(self._rows_of) if name in known[table]]

    def _is_kept(self, number: int, table: str, name: str) -> bool:
        return any(
            not self.kept[season][table].isdisjoint(self._rows_of[season][table][name])
            for season in self._seasons_with(number, table, name)
        )

    def _expand(self, number: int, table: str, text: str) -> tuple[str, ...]:
        """The names that a text means, by its own season's records, else by any."""
        others = [at for at in range(len(self.seasons)) if at != number]
        for season in (number, *others):
            if (season, table) not in self._ranges:
                self._ranges[season, table] = NameRanges(filter(None, self._rows_of[season][table]))
            if names := self._ranges[season, table].expand(text):
                return names
        return ()

    def cut_text(self, number: int, tables: Sequence[str], text: str) -> str | None:
        """What is left of a text that names records: itself where all belong or nothing bears the name, a
        shorter range where some do, None where none does."""
        named = [(table, name) for table in tables for name in self._expand(number, table, text)]
        left = sorted(
            {name for table, name in named if self._is_kept(number, table, name)},
            key=lambda name: (int(found[0]) if (found := _DIGITS.search(name)) else 0, name),
        )
        if not named or len(left) == len({name for _, name in named}):
            return text
        if not left:
            return None
        return left[0] if len(left) == 1 else f"{left[0]} to {left[-1]}"
