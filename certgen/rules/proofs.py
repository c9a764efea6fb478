"""What the claim of a lot rests on: each obligation on the records of its line, and who says so."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.lineage import CLAIM_KINDS, Node
from certgen.lineage.reach import Names, set_bits
from certgen.records.tables import load_tables
from certgen.rules.obligations import OBLIGATIONS, Obligation

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.lineage import Part
    from certgen.lineage.closure import Closure
    from certgen.records.columns import Array
    from certgen.rules.case import Case

#: Where a word comes from, nearest the record first.
_ORIGINS: Final = ("", "round", "letter", "packet", "routine")


class Shown(NamedTuple):
    """An obligation of one lot: on how many records it stands, how many are shown, and who says so.

    `by` counts the records by where their word comes from: `record`, `round`, `letter`, `packet` (a
    supplier's) or `routine`.
    `weight_mg` are the lot's milligrams for which it is shown whole: those of the parts on whose line no
    record leaves it open.
    """

    obligation: Obligation
    records: int
    shown: int
    by: Mapping[str, int]
    open: Sequence[str]
    weight_mg: int

    @property
    def whole(self) -> bool:
        """Whether nothing of it is left open."""
        return self.shown == self.records


class _Tally(NamedTuple):
    """Of an obligation the records that show it, by where the word comes from, and those that do not."""

    by: Mapping[str, int]
    open: tuple[str, ...]


_BY_TABLE: Final[Mapping[str, Sequence[Obligation]]] = {
    table: tuple(one for one in OBLIGATIONS if one.table == table)
    for table in dict.fromkeys(one.table for one in OBLIGATIONS)
}


class Proofs:
    """The obligations of one lot after another; what stands behind several lots is looked through once."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._words: dict[str, list[str]] = {}
        self._behind: dict[tuple[Node, ...], dict[str, _Tally]] = {}
        self._parts: dict[Node, dict[str, _Tally]] = {}

    def of_lot(self, lot: str, parts: Sequence[Part]) -> tuple[Shown, ...]:
        """Each obligation of the lot's line with what discharged it and how much of its parts rests on it."""
        node = Node("lots", lot)
        if self._counts is not None:
            return self._counts.of_lot(node, parts)
        links = self._case.lineage.sources(node)
        # Lots of the same sources, in their order, have the same line behind them; tests show no obligation.
        sources = tuple(
            link.source for link in links if link.kind in CLAIM_KINDS and link.source.table != "tests"
        )
        own, behind = self._count([node]), self._count_behind(sources, node)
        lines = [(self._count_part(part.source), part.weight_mg) for part in parts if part.source is not None]
        return tuple(
            _prove(
                one,
                own.get(one.key),
                behind.get(one.key),
                [(line.get(one.key), mass) for line, mass in lines],
            )
            for one in OBLIGATIONS
            if one.key in own or one.key in behind
        )

    def _count_behind(self, sources: tuple[Node, ...], node: Node) -> dict[str, _Tally]:
        """The obligations of all that a lot's claim rests on; lots of the same sources share it."""
        if sources not in self._behind:
            self._behind[sources] = self._count(self._case.lineage.claim_back(node))
        return self._behind[sources]

    def _count_part(self, source: Node) -> dict[str, _Tally]:
        """The obligations of a source and all that it rests on."""
        if source not in self._parts:
            self._parts[source] = self._count([source, *self._case.lineage.claim_back(source)])
        return self._parts[source]

    def _count(self, nodes: Iterable[Node]) -> dict[str, _Tally]:
        """By obligation how some records show it."""
        tables: dict[str, list[str]] = {}
        for table, name in nodes:
            tables.setdefault(table, []).append(name)
        found: dict[str, _Tally] = {}
        for table, named in tables.items():
            obligations = _BY_TABLE.get(table)
            if obligations is None:
                continue
            rows = {name: row for name in named if (row := self._case.season.row(table, name)) is not None}
            if rows:
                found.update((one.key, _count_words(self._list_words(one), rows)) for one in obligations)
        return found

    def _list_words(self, one: Obligation) -> list[str]:
        """For each row of an obligation's table where the words come from that show it; empty where none
        do."""
        if one.key not in self._words:
            origins, told = _list_origins(self._case, one), self._case.shown[one.key].tolist()
            self._words[one.key] = [
                origin if known else "" for origin, known in zip(origins, told, strict=True)
            ]
        return self._words[one.key]

    @cached_property
    def _counts(self) -> _Counts | None:
        closure = self._case.lineage.closure
        return None if closure is None else _Counts(self._case, closure)


def _count_words(words: Sequence[str], rows: Mapping[str, int]) -> _Tally:
    """How the words of some rows, by the name of each, show them."""
    told = [words[row] for row in rows.values()]
    origins = dict.fromkeys(told)
    left = [name for name, word in zip(rows, told, strict=True) if not word] if "" in origins else ()
    return _Tally({word: told.count(word) for word in origins if word}, tuple(left))


def _prove(
    one: Obligation, own: _Tally | None, behind: _Tally | None, lines: Iterable[tuple[_Tally | None, int]]
) -> Shown:
    """An obligation on a lot's line: of the lot itself, of what stands behind it, and of what stands behind
    each part of it, with the part's mass."""
    tallies = [tally for tally in (own, behind) if tally is not None]
    # Lots of the same sources share what is told: of thousands of lots thousands of lists would be too many.
    by = _add(tallies) if len(tallies) > 1 else tallies[0].by
    told = [tally.open for tally in tallies if tally.open]
    open_ = told[0] if len(told) == 1 else tuple(name for names in told for name in names)
    total = sum(by.values())
    return Shown(one, total + len(open_), total, by, open_, _weigh_whole(own, lines))


def _weigh_whole(own: _Tally | None, lines: Iterable[tuple[_Tally | None, int]]) -> int:
    """The milligrams of the parts on whose line, the lot itself included, some record shows an obligation and
    none leaves it open."""
    if own is not None and own.open:
        return 0
    shown = own is not None and bool(own.by)
    return sum(
        mass for line, mass in lines if (shown if line is None else not line.open and (shown or line.by))
    )


def _add(tallies: Iterable[_Tally]) -> dict[str, int]:
    by: dict[str, int] = {}
    for tally in tallies:
        for word, number in tally.by.items():
            by[word] = by.get(word, 0) + number
    return by


def _list_origins(case: Case, one: Obligation) -> list[str]:
    """For each row of the obligation's table where the words come from that show it.

    Of several fields the one furthest from the record.
    """
    season = case.season
    attested = season.attested
    columns = [attested[one.table, field] for field in one.fields if (one.table, field) in attested]
    if one.by is not None:
        columns.append(one.by(case))
    words = ([word.partition(" ")[0] for word in row] for row in zip(*columns, strict=True))
    told = [max(row, key=_ORIGINS.index) or "record" for row in words]
    return told or ["record"] * len(season.columns(one.table))


class _Counts:
    """The same where lines are too long to look through lot by lot: counted by their bits.

    The records that leave an obligation open stand in the order of the tables, not nearest first.
    """

    def __init__(self, case: Case, closure: Closure) -> None:
        self._lineage = case.lineage
        self._closure = closure
        #: By obligation the records that leave it open, and those that show it by where the word comes from.
        self._open: list[tuple[Obligation, int, dict[str, int]]] = []
        #: By point the obligations that it leaves open, and those that it shows, each as a bit.
        self._left_open: dict[int, int] = {}
        self._shown: dict[int, int] = {}
        for one in OBLIGATIONS:
            told = case.shown[one.key]
            if len(told):
                self._open.append((one, *self._split(case, one, told)))
        self._found: dict[int, tuple[int, int]] = {}
        self._about_lots = [number for number, (one, _, _) in enumerate(self._open) if one.table == "lots"]
        self._no_lots = ~set_bits(closure.lots, len(case.lineage.nodes))
        self._of_others: dict[int, list[Shown | None]] = {}

    def _split(self, case: Case, one: Obligation, told: Array) -> tuple[int, dict[str, int]]:
        origins = _list_origins(case, one)
        points: dict[str, list[int]] = {}
        for name, row in case.columns(one.table).first(load_tables()[one.table].key).items():
            node = Node(one.table, name)
            if node in self._lineage:
                at = self._lineage.position(node)
                points.setdefault(origins[row] if told[row] else "", []).append(at)
                own = self._shown if told[row] else self._left_open
                own[at] = own.get(at, 0) | 1 << len(self._open)
        bits = {origin: set_bits(found, len(self._lineage.nodes)) for origin, found in points.items()}
        return bits.pop("", 0), bits

    def of_lot(self, node: Node, parts: Sequence[Part]) -> tuple[Shown, ...]:
        """As `Proofs.of_lot`."""
        at = self._lineage.position(node)
        line = self._closure.line(at)
        own_open, own_shown = self._left_open.get(at, 0), self._shown.get(at, 0)
        proved = [
            (~(own_open | part_open) & (own_shown | part_shown), part.weight_mg)
            for part in parts
            if part.source is not None
            for part_open, part_shown in [self._tell_line(part.source)]
        ]
        told, counted = [], self._count(line)
        for number, shown in enumerate(counted):
            if shown is not None:
                weights = [mass for bits, mass in proved if bits >> number & 1]
                told.append(shown._replace(weight_mg=sum(weights)) if weights else shown)
        # Lots come before those that are blended of them.
        self._found.setdefault(at, _as_bits(counted))
        return tuple(told)

    def _count(self, line: int) -> list[Shown | None]:
        """By obligation how a line shows it, for no gram; None where the line has no such record.

        Where lots hang together most lines differ by their lots alone, so what is no lot is counted once.
        """
        others = line & self._no_lots
        if others not in self._of_others:
            self._of_others[others] = [
                None if one.table == "lots" else self._count_one(one, open_, shown, line)
                for one, open_, shown in self._open
            ]
        found = list(self._of_others[others])
        for number in self._about_lots:
            found[number] = self._count_one(*self._open[number], line)
        return found

    def _count_one(self, one: Obligation, open_: int, shown: Mapping[str, int], line: int) -> Shown | None:
        by = {origin: count for origin, bits in shown.items() if (count := (bits & line).bit_count())}
        left = open_ & line
        if not by and not left:
            return None
        total = sum(by.values())
        return Shown(one, total + left.bit_count(), total, by, Names(self._lineage.names, left), 0)

    def _tell_line(self, source: Node) -> tuple[int, int]:
        if source not in self._lineage:
            return 0, 0
        at = self._lineage.position(source)
        if at not in self._found:
            self._found[at] = _as_bits(self._count(self._closure.line(at)))
        return self._found[at]


def _as_bits(counted: Iterable[Shown | None]) -> tuple[int, int]:
    """The obligations that some records leave open, and those that some of them show, each as a bit."""
    left = shown = 0
    for number, one in enumerate(counted):
        if one is not None:
            left |= (not one.whole) << number
            shown |= bool(one.shown) << number
    return left, shown
