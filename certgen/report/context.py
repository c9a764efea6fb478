"""A result with what every page asks of it, looked up once: places, gap numbers, order of records, a lot's
line."""

from __future__ import annotations

import posixpath
from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING, Any

from certgen.dossier.balance import recorded_step, take_account
from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds import find_floor, gather_evidence
from certgen.dossier.seed_tests import compute_tests
from certgen.dossier.shares import share_parents
from certgen.dossier.spot_check import own_draw
from certgen.dossier.trace_matrix import Matrices, tell_verdicts
from certgen.dossier.viability import follow_germination
from certgen.manifest import list_folders
from certgen.records.places import evidence_from, file_from
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from pathlib import Path

    from certgen.dossier.balance import Account
    from certgen.dossier.lot_odds import LotOdds
    from certgen.dossier.odds import Evidence
    from certgen.dossier.seed_tests import SeedTest
    from certgen.dossier.shares import LotParents
    from certgen.dossier.spot_check import Kind, SpotCheck
    from certgen.dossier.viability import LotDecline
    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.rules.findings import Gap


class Context:
    """What the pages are told from. Frozen in effect: nothing here changes the result.

    `attached` names the record and evidence files that travel inside the document, as its manifest does
    (None: all that there are).
    """

    def __init__(self, result: Result, attached: Collection[str] | None = None) -> None:
        self.result = result
        self._attached = attached
        self.season = result.season
        self.lineage = result.lineage
        self.profile = result.profile
        self._draws: dict[Kind, SpotCheck | None] = {}
        self._all_rows: dict[str, list[dict[str, Any]]] = {}
        self._rows_by: dict[tuple[str, str], Mapping[str, list[dict[str, Any]]]] = {}

    @cached_property
    def tables(self) -> Mapping[str, Any]:
        """The tables of the contract."""
        return load_tables()

    def key_of(self, table: str) -> str:
        """The identifier field of a table, or an empty string."""
        return self.tables[table].key if table in self.tables else ""

    @cached_property
    def _files(self) -> Mapping[str, str]:
        """The names of files inside the document: of evidence by its path as records name it, of records by
        their path behind a colon, both as seen from this season."""
        names: dict[str, str] = {}
        for name, path, season in list_folders(self.season):
            lead, seen_from = (f"{name}/" if name else ""), ("" if path == "." else path)
            for file in season.evidence_files:
                names[evidence_from(seen_from, file)] = f"{lead}evidence/{file}"
            for file in season.sources:
                names[f":{file_from(seen_from, file)}"] = f"{lead}records/{file}"
        if self._attached is None:
            return names
        return {seen: name for seen, name in names.items() if name in self._attached}

    def paper(self, path: str) -> str:
        """What leads to an evidence file, named as records name it; empty where the document lacks it."""
        return self._files.get(posixpath.normpath(path), "") if path else ""

    def paper_of(self, record: Mapping[str, Any]) -> str:
        """What leads to the first paper of a record; empty where it names none, or the document lacks it."""
        return next(filter(None, map(self.paper, record.get("evidence") or ())), "")

    def paper_file(self, path: str) -> Path | None:
        """Where an evidence file lies that travels inside the document; None where the document lacks it."""
        if not self.paper(path):
            return None
        return self._evidence_places[posixpath.normpath(path)]

    @cached_property
    def _evidence_places(self) -> Mapping[str, Path]:
        places = {}
        for _, path, season in list_folders(self.season):
            seen_from = "" if path == "." else path
            for file in season.evidence_files:
                places[evidence_from(seen_from, file)] = season.folder / "evidence" / file
        return places

    def evidence_names(self) -> Mapping[str, str]:
        """What leads to each evidence file inside the document, by its path as records name it."""
        return {path: name for path, name in self._files.items() if not path.startswith(":")}

    def record_file(self, file: str) -> str:
        """What leads to the record file of a place; empty where the document lacks it."""
        return self._files.get(f":{file}", "")

    @cached_property
    def lines(self) -> Mapping[Any, tuple[int, int]]:
        """Line and column of every place that a gap stands at."""
        places = [place for gap in self.result.gaps for place in (gap.place, *gap.others)]
        return self.result.locate(places)

    def say_place(self, place: Any) -> str:
        """`bagging/2026-03.yaml, line 12`; a file that holds no records has no lines."""
        if place not in self.lines:
            return str(place.file)
        line, _ = self.lines[place]
        return f"{place.file}, line {line}"

    def gaps_at(self, node: Node) -> list[tuple[int, Gap]]:
        """Numbers and gaps that stand at a record."""
        return [(number, self.result.gap(number)) for number in self.result.numbers_of(node)]

    def gaps_of_lot(self, lot: str) -> list[tuple[int, Gap]]:
        """Numbers and gaps that reach a lot."""
        return [(number, self.result.gap(number)) for number in self.result.numbers_by_lot.get(lot, ())]

    @cached_property
    def order(self) -> Mapping[str, dict[str, int]]:
        """The place of every identifier in its register."""
        order: dict[str, dict[str, int]] = {}
        for name, table in self.tables.items():
            if table.key:
                places = order.setdefault(name, {})
                for number, identifier in enumerate(self.season.columns(name).values(table.key)):
                    # The first of two records with one identifier is the one meant.
                    if identifier is not None:
                        places.setdefault(identifier, number)
        return order

    def href_in(self, tables: Sequence[str], name: str) -> str:
        """The anchor of the record of this season that bears a name in one of some tables, or empty."""
        return next((f"{table}/{name}" for table in tables if name in self.order.get(table, {})), "")

    def rows_of(self, table: str, nodes: set[Node]) -> list[dict[str, Any]]:
        """The records of some nodes, this season's first, as column -> value (None: absent)."""
        numbers = (self.result.farm.row(table, node.id) for node in nodes if node.table == table)
        wanted = {row for row in numbers if row is not None}
        rows = self.all_rows(table) if wanted else []
        return [rows[number] for number in sorted(wanted)]

    def rows_by(self, table: str, column: str) -> Mapping[str, list[dict[str, Any]]]:
        """The records of a table by what one column holds; a list column counts for each of its values.

        Empty for what is no table: a finding may stand at the season's own file.
        """
        at = (table, column)
        if table not in self.tables:
            return {}
        if at not in self._rows_by:
            by_value: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
            for row in self.all_rows(table):
                value = row[column]
                for part in value if isinstance(value, tuple) else (value,):
                    if part is not None:
                        by_value[part].append(row)
            self._rows_by[at] = by_value
        return self._rows_by[at]

    def all_rows(self, table: str) -> list[dict[str, Any]]:
        """Every record of a table of all years, this season's first, as column -> plain value.

        None also where a list or a mapping is empty.
        """
        if table not in self._all_rows:
            columns = self.result.farm.columns(table)
            entered = [columns.entered(name) for name in columns.names]
            self._all_rows[table] = [
                dict(zip(columns.names, row, strict=True)) for row in zip(*entered, strict=True)
            ]
        return self._all_rows[table]

    def own_rows(self, table: str) -> list[dict[str, Any]]:
        """This season's own records of a table."""
        return self.all_rows(table)[: self.result.farm.own(table)]

    @cached_property
    def verdicts(self) -> Mapping[str, str]:
        """What each tree's samples say together, as the rules see it, in the words of the drawings."""
        return tell_verdicts(self.result)

    @cached_property
    def matrices(self) -> Matrices:
        """Each lot's parents and pickings, with the bags between them."""
        return Matrices(self.result, self.verdicts)

    @cached_property
    def account(self) -> Account:
        """The season's stock by lot until the day of the examination, widened to every entry of its book."""
        return take_account(self.season, on=self.result.on, step_mg=recorded_step(self.result))

    @cached_property
    def tests(self) -> tuple[SeedTest, ...]:
        """Every test of seed with its figure."""
        return compute_tests(self.result)

    @cached_property
    def declines(self) -> Mapping[str, LotDecline]:
        """By lot how its germination went down, of lots with tests on several days."""
        return follow_germination(self.result)

    def draw(self, kind: Kind) -> SpotCheck | None:
        """The packet's own spot check of a kind; None where there is nothing to draw from."""
        if kind not in self._draws:
            self._draws[kind] = own_draw(self.result, kind)
        return self._draws[kind]

    @cached_property
    def shares(self) -> Mapping[str, LotParents]:
        """What each parent gave to each lot."""
        return share_parents(self.result)

    @cached_property
    def evidence(self) -> Evidence:
        """What counting samples say of the trees."""
        return gather_evidence(self.result)

    @cached_property
    def odds(self) -> Mapping[str, LotOdds]:
        """What screening leaves open of each lot."""
        return weigh_lots(self.result, self.shares, evidence=self.evidence, tests=self.tests)

    @cached_property
    def floor(self) -> float:
        """The share below which no odds are told."""
        return find_floor(self.result)

    @cached_property
    def parents(self) -> frozenset[str]:
        """Every tree of this season that stands behind a lot, by its seed."""
        return frozenset(
            node.id for lot in self.order.get("lots", {}) for node in self.lineage.seed_parents(lot)
        )


def href_of(context: Context, node: Node) -> str:
    """The anchor of a record of this season; earlier seasons' records stand in their own packets."""
    return "" if context.lineage.season_of(node) else f"{node.table}/{node.id}"
