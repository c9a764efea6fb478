"""The papers beside a finding: those that its record names, and those of the records that it speaks of."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from certgen.records.joining.renaming import FILES_IN_PARTS
from certgen.records.rows import is_absent
from certgen.report.exhibits import show_paper
from certgen.rules.wording import capital, join, noun
from certgen.typeset.parts import Exhibit, Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.report.context import Context
    from certgen.rules.findings import Gap

#: Beside one card so many papers are shown; in all so many, the heaviest findings' first. Others are named.
_ON_A_CARD: Final = 3
_IN_ALL: Final = 40
#: Of a gap found at many records, so many are asked for their papers.
_RECORDS: Final = 6


class Papers:
    """What papers stand beside which finding; each is shown once, beside the first that it belongs to."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._shown: dict[str, int] = {}

    def show(self, number: int, gaps: Sequence[Gap]) -> tuple[Exhibit, ...]:
        """The papers beside a card whose first gap bears a number."""
        paths = list(dict.fromkeys(path for gap in gaps for path in self._paths(gap)))
        words = {word for gap in gaps for word in self._words(gap)}
        found = [path for path in paths if self._context.paper(path)]
        exhibits = [self._show(number, path, words) for path in found[:_ON_A_CARD]]
        left = [self._lead(path) for path in found[_ON_A_CARD:]]
        return (*exhibits, *(Exhibit(run, note="not shown here") for run in left[:_ON_A_CARD]))

    def _show(self, number: int, path: str, words: set[str]) -> Exhibit:
        name = self._context.paper(path)
        before = self._shown.setdefault(name, number)
        if before != number:
            return Exhibit(self._lead(path), note=f"shown at gap {before}")
        if len(self._shown) > _IN_ALL:
            return Exhibit(self._lead(path), note="not shown here")
        file = self._context.paper_file(path)
        if file is None:
            return Exhibit(self._lead(path))
        shown = show_paper(file, words)
        alt = f"{path}, as it lies in the evidence folder: a picture of what is attached"
        pictures = (shown.picture,) if shown.picture else ()
        return Exhibit(self._lead(path), shown.lines, pictures, alt if pictures else "", shown.note)

    def _lead(self, path: str) -> Run:
        # An earlier season's papers by their name in this packet, which says whose they are.
        name = self._context.paper(path)
        return Run(name.replace("evidence/", "", 1) or path, name)

    def list_named(self, gap: Gap) -> Iterator[Run]:
        """What leads to each paper of a gap that is there."""
        paths = [path for path in dict.fromkeys(self._paths(gap)) if self._context.paper(path)]
        yield from map(self._lead, paths[:_ON_A_CARD])

    def say_without(self, gaps: Sequence[Gap]) -> str:
        """Which of the records name no paper, and which papers aren't there or travel apart."""
        bare = {gap.id: gap for gap in gaps if self._takes_papers(gap) and not self._own(gap)}
        return " ".join([*self._say_bare(gaps[0].table, bare), *self._say_lost(gaps)])

    def _say_bare(self, table: str, bare: Mapping[str, Gap]) -> Iterator[str]:
        numbers = {id_: number for id_, gap in bare.items() if (number := self._number(gap))}
        if numbers:
            yield f"No copy of {join(dict.fromkeys(numbers.values()))} is filed."
        silent = [id_ for id_ in bare if id_ not in numbers]
        if silent:
            names = "names" if len(silent) == 1 else "name"
            yield f"{capital(noun(table, len(silent)))} {join(silent)} {names} no paper."

    def _say_lost(self, gaps: Sequence[Gap]) -> Iterator[str]:
        there = set(self._context.result.farm.evidence_files)
        for path in dict.fromkeys(path for gap in gaps for path in self._paths(gap)):
            if not self._context.paper(path):
                why = "is too large to travel inside" if path in there else "is not in the folder"
                yield f"The file {path} is named and {why}."

    def _takes_papers(self, gap: Gap) -> bool:
        return gap.table in self._context.tables and bool(self._file_fields(gap.table))

    def _file_fields(self, table: str) -> list[str]:
        return [one.name for one in self._context.tables[table].columns if one.kind == "evidence"]

    def _number(self, gap: Gap) -> str:
        """The number of a document or report that the gap's record bears, or an empty text."""
        row = self._row(gap)
        columns = self._context.result.farm.columns(gap.table)
        for field in ("document", "report"):
            if row is not None and field in columns and (bears := columns.value(field, row)):
                return str(bears)
        return ""

    def _row(self, gap: Gap) -> int | None:
        return self._context.result.farm.row(gap.table, gap.id) if gap.row is None else gap.row

    def _own(self, gap: Gap) -> list[str]:
        """The papers that the gap's own record names."""
        return list(self._named_by(gap.table, self._row(gap))) if gap.table in self._context.tables else []

    def _paths(self, gap: Gap) -> Iterator[str]:
        """The papers of the gap's records, then of those of the same kind that its message speaks of."""
        if gap.table not in self._context.tables:
            if gap.table == "evidence":
                yield gap.id
            return
        yield from self._own(gap)
        spoken = set(re.findall(r"[\w./-]*\w", gap.message)) | set(gap.ids[:_RECORDS])
        known = self._context.order.get(gap.table, {})
        for other in sorted((spoken & known.keys()) - {gap.id}, key=lambda one: known[one])[:_RECORDS]:
            yield from self._named_by(gap.table, self._context.result.farm.row(gap.table, other))

    def _named_by(self, table: str, row: int | None) -> Iterator[str]:
        if row is None:
            return
        columns = self._context.result.farm.columns(table)
        for field in self._file_fields(table):
            value = columns.value(field, row)
            if not is_absent(value):
                yield from [value] if isinstance(value, str) else value
        for (owner, column), fields in FILES_IN_PARTS.items():
            if owner == table:
                yield from _files_in(columns.value(column, row), fields)

    def _words(self, gap: Gap) -> Iterator[str]:
        """What a paper's telling lines hold: the record's number, and what it refers to."""
        yield from gap.ids[:_RECORDS]
        row = self._row(gap) if gap.table in self._context.tables else None
        if row is None:
            return
        columns = self._context.result.farm.columns(gap.table)
        for column in self._context.tables[gap.table].columns:
            if column.refers_to or column.name in {"mark", "document"}:
                value = columns.value(column.name, row)
                if isinstance(value, str):
                    yield value


def _files_in(entries: Iterable[Mapping[str, Any]] | None, fields: Iterable[str]) -> Iterator[str]:
    for entry in entries or ():
        yield from (entry[field] for field in fields if entry.get(field))
