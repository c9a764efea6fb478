"""Rows of somebody's sheet made into rows of our own: by the map's words, ranges, cut and joined columns.

What comes out are sheets with our own headings, one for each table and each list inside its records, every
cell with the address that it came from. So a fault in a value is told where the person typed it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING, Final

from certgen.exchange.importing.cell_pieces import ENTRIES, LONGEST_RANGE, part_text, rename
from certgen.exchange.importing.cells import DateError, Order, as_text, decide_order, read_date
from certgen.exchange.importing.column_evidence import RANGE, fold
from certgen.exchange.importing.column_maps import IGNORED, OPEN, MapError, SheetMap, Target, find_field
from certgen.exchange.importing.grids import ROWS, Cell, Sheet
from certgen.exchange.spreadsheets.rows import BLANKS, join_list, owner_heading, split_list
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.records.tables import Table

Part = tuple[Sheet, SheetMap]
Values = dict[str, Cell]

#: A cell names at most so many, its ranges taken apart.
_MOST_NAMED: Final = 20_000


@dataclass(frozen=True, slots=True)
class ReshapingFault:
    """A cell that can't be taken as the map says."""

    cell: str
    reason: str


@dataclass(slots=True)
class Reshaped:
    """The parts that a sheet came to, and the cells at fault."""

    parts: list[Part] = field(default_factory=list)
    faults: list[ReshapingFault] = field(default_factory=list)


def is_plain(sheet_map: SheetMap) -> bool:
    """Whether the map only names fields and units, so that the sheet can stay as it is."""
    simple = all(
        target is None or (target == Target(target.field, target.unit) and target.field.count(".") < 2)
        for target in sheet_map.columns.values()
    )
    return simple and not (sheet_map.constants or sheet_map.where or sheet_map.repeats or sheet_map.also)


def reshape(sheet: Sheet, sheet_map: SheetMap) -> Reshaped:
    """The parts of a sheet, each with our own headings. Raises `MapError` where ranges multiply the rows
    beyond what a sheet may hold."""
    found = Reshaped()
    if is_plain(sheet_map):
        found.parts.append((sheet, sheet_map))
        return found
    there = {str(cell.value).strip(): cell.address for cell in sheet.headings.values()}
    for heading, address in there.items():
        if heading not in sheet_map.headings:
            said = f"the map does not say what the column '{heading[:60]}' is; add it, or: ignore"
            found.faults.append(ReshapingFault(address, said))
    for part in sheet_map.parts:
        for heading, target in part.columns.items():
            if target is not None and heading not in there:
                said = f"the map names a column '{heading[:60]}' that the sheet has not"
                found.faults.append(ReshapingFault("", said))
    for number, part in enumerate(sheet_map.parts):
        _Reshaping(sheet, part, further=number > 0, found=found).run()
    return found


class _Reshaping:
    """One table of a sheet on its way."""

    def __init__(self, sheet: Sheet, part: SheetMap, *, further: bool, found: Reshaped) -> None:
        self.sheet, self.part, self.found = sheet, part, found
        self.table: Table = load_tables()[part.table]
        self.headings = {index: str(cell.value).strip() for index, cell in sheet.headings.items()}
        self.columns = {
            index: target
            for index, heading in self.headings.items()
            if (target := part.columns.get(heading)) is not None
        }
        self.key = owner_heading(self.table) if part.child else self.table.key
        self.where = part.where or (self._find_key() if further else "")
        self.words = {index: _fold_words(target) for index, target in self.columns.items()}
        self.rows: list[Values] = []
        self.lists: dict[str, list[Values]] = {}
        self.by_key: dict[str, Values] = {}
        self.orders: dict[str, Order | None] = {}

    def _find_key(self) -> str:
        """The heading of the column that holds the identifier, if there is one."""
        keys = (index for index, target in self.columns.items() if target.field == self.key)
        return next((self.headings[index] for index in keys), "")

    def _is_listed(self, target: Target) -> bool:
        """Whether a column's field takes several values."""
        declared = find_field(self.table, self.part.child, target.field)
        return declared is not None and declared.kind in {"list", "evidence"}

    def run(self) -> None:
        """Takes every row, and leaves the parts with what was found."""
        for row in self._fill_down():
            if self.columns.keys() & row.keys() and self._speaks(row):
                self._take(row)
        self._put(self.rows, self.part.child)
        for name, rows in self.lists.items():
            self._put(rows, name)

    def _fill_down(self) -> Iterator[dict[int, Cell]]:
        """The filled cells of each row, and for columns that say so the ones above in place of empty ones."""
        down = [index for index, target in self.columns.items() if target.down]
        above: dict[int, Cell] = {}
        for row in self.sheet.rows:
            filled = {index: cell for index, cell in row.items() if not cell.empty}
            if filled:
                above |= filled
                yield {index: above[index] for index in down if index in above} | filled

    def _speaks(self, row: Mapping[int, Cell]) -> bool:
        """Whether a row says something of this table."""
        return not self.where or any(
            self.headings.get(index) == self.where and not self._is_ignored(index, cell)
            for index, cell in row.items()
        )

    def _is_ignored(self, index: int, cell: Cell) -> bool:
        return self.words.get(index, {}).get(fold(as_text(cell.value))) == IGNORED

    def _take(self, row: Mapping[int, Cell]) -> None:
        values: Values = {}
        entries: dict[str, dict[int, Values]] = {}
        for index in sorted(self.columns.keys() & row.keys()):
            target = self.columns[index]
            cell = self._reword(row[index], index, target)
            if cell is None or cell.empty:
                continue
            if target.entries:
                self._cut_entries(cell, target, entries)
            for name, piece in self._cut(cell, target).items():
                self._lay(values, entries, name, piece, target)
        home = row[min(row)].address
        for name, text in self.part.constants.items():
            said = self._fill_in(text, row)
            if said not in ("", IGNORED) and name not in values and _is_begun(name, entries):
                self._lay(values, entries, name, Cell(said, home), Target(name))
        for one in self._each_of_range(values):
            self._keep(one, entries)

    def _lay(
        self,
        values: Values,
        entries: dict[str, dict[int, Values]],
        name: str,
        cell: Cell,
        target: Target,
    ) -> None:
        """Puts a cell under its field, of the record or of an entry in one of its lists."""
        first, _, rest = name.partition(".")
        number, _, inner = rest.partition(".")
        if not self.part.child and number.isdigit() and inner:
            entries.setdefault(first, {}).setdefault(int(number), {})[inner] = cell
        elif target.join and name in values:
            values[name] = Cell(
                f"{as_text(values[name].value)}{target.join}{as_text(cell.value)}", cell.address
            )
        else:
            values[name] = cell

    def _keep(self, values: Values, entries: Mapping[str, Mapping[int, Values]]) -> None:
        key = as_text(values[self.key].value).strip() if self.key in values else ""
        first = self.by_key.get(key) if self.part.repeats and key else None
        if first is not None and _agree(first, values):
            for name, cell in values.items():
                first.setdefault(name, cell)
        else:
            self.rows.append(values)
            if len(self.rows) > ROWS:
                many = f"its ranges make more than {ROWS:,} rows; split it"
                raise MapError(f"sheet '{self.sheet.name}': {many}")
            self.by_key.setdefault(key, values)
        if self.part.child:
            return
        for name, numbered in entries.items():
            for _, entry in sorted(numbered.items()):
                owner = {owner_heading(self.table): values[self.key]} if self.key in values else {}
                self.lists.setdefault(name, []).append({**owner, **entry})

    def _reword(self, cell: Cell, index: int, target: Target) -> Cell | None:
        """A cell by the map's words, its prefix and its digits; None where the map leaves it out."""
        if cell.formula:
            return cell
        text = as_text(cell.value).strip(BLANKS)
        word = self.words[index].get(fold(text))
        if word is not None:
            return None if word == IGNORED else Cell(word, cell.address)
        if not (target.drop_prefix or target.add_prefix or target.digits or target.ranges):
            return cell
        if self._is_listed(target):
            return Cell(join_list(self._rename_list(text, cell, target)), cell.address)
        if not rename(text, target) and text:
            reason = (
                f"'{text[:40]}' is nothing but the prefix '{target.drop_prefix[:40]}' that the map takes off"
            )
            self.found.faults.append(ReshapingFault(cell.address, reason))
        # A record for each of a range is made, and named, later on.
        return cell if target.ranges else Cell(rename(text, target), cell.address)

    def _rename_list(self, text: str, cell: Cell, target: Target) -> list[str]:
        parts = split_list(text.replace(",", ";"))
        if target.ranges:
            every = (one for part in parts for one in self._expand(part, cell))
            parts = list(islice(every, _MOST_NAMED + 1))
        if len(parts) > _MOST_NAMED:
            reason = f"'{text[:40]}' names more than {_MOST_NAMED:,}"
            self.found.faults.append(ReshapingFault(cell.address, reason))
            return [text]
        return [rename(part, target) for part in parts]

    def _expand(self, text: str, cell: Cell) -> list[str]:
        """What a range names, each with as many digits as its first has; other text is itself."""
        found = RANGE.fullmatch(text.strip())
        if found is None or int(found[2]) >= int(found[3]):
            return [text]
        first, last = int(found[2]), int(found[3])
        if last - first >= LONGEST_RANGE:
            self.found.faults.append(
                ReshapingFault(cell.address, f"'{text[:40]}' is a range of more than {LONGEST_RANGE:,}")
            )
            return [text]
        return [f"{found[1]}{number:0{len(found[2])}d}" for number in range(first, last + 1)]

    def _each_of_range(self, values: Values) -> Iterator[Values]:
        """A record for each that the key's cell names, where it may be a range; else the one."""
        target = next((one for one in self.columns.values() if one.field == self.key), None)
        cell = values.get(self.key)
        if cell is None or target is None or not target.ranges:
            yield values
            return
        for part in split_list(as_text(cell.value).replace(",", ";")):
            for name in self._expand(part, cell):
                yield {**values, self.key: Cell(rename(name, target), cell.address)}

    def _cut(self, cell: Cell, target: Target) -> dict[str, Cell]:
        """The fields that a cell fills, each with its piece; none of the record's own if it holds entries."""
        if not target.fields:
            return {target.field: cell}
        if target.entries:
            return {}
        pieces = part_text(as_text(cell.value), target.cut, len(target.fields))
        if len(pieces) > len(target.fields):
            self._refuse_pieces(cell, as_text(cell.value), target)
            return {}
        told = zip(target.fields, self._reword_pieces(pieces, target), strict=False)
        return {name: Cell(text, cell.address) for name, text in told if text and text != IGNORED}

    def _reword_pieces(self, pieces: Sequence[str], target: Target) -> list[str]:
        words = _fold_words(target)
        return [words.get(fold(piece), piece) for piece in pieces]

    def _cut_entries(self, cell: Cell, target: Target, entries: dict[str, dict[int, Values]]) -> None:
        texts = [text.strip(BLANKS) for text in as_text(cell.value).split(target.entries)]
        if len(texts) > ENTRIES:
            self.found.faults.append(
                ReshapingFault(
                    cell.address, f"holds more than {ENTRIES} entries parted by '{target.entries}'"
                )
            )
            return
        numbered = entries.setdefault(target.field, {})
        for number, text in enumerate(filter(None, texts), 1):
            pieces = part_text(text, target.cut, len(target.fields))
            if len(pieces) != len(target.fields):
                self._refuse_pieces(cell, text, target)
                continue
            told = zip(target.fields, self._reword_pieces(pieces, target), strict=True)
            numbered[number] = {name: Cell(piece, cell.address) for name, piece in told if piece != IGNORED}

    def _refuse_pieces(self, cell: Cell, text: str, target: Target) -> None:
        wanted = ", ".join(target.fields)
        reason = f"'{text[:60]}' cut at '{target.cut}' does not come to {wanted}"
        self.found.faults.append(ReshapingFault(cell.address, reason))

    def _fill_in(self, text: str, row: Mapping[int, Cell]) -> str:
        """A constant with the cells of the headings that it names in braces; empty where one is."""
        if "{" not in text:
            return text
        there = {self.headings[index]: cell for index, cell in row.items() if index in self.headings}
        named = re.findall(r"\{([^{}]+)\}", text)
        if any(name in self.headings.values() and name not in there for name in named):
            return ""

        def told(found: re.Match[str]) -> str:
            cell = there.get(found[1])
            return found[0] if cell is None else re.sub(r"\s+", "-", self._name_cell(found[1], cell))

        return re.sub(r"\{([^{}]+)\}", told, text)

    def _name_cell(self, heading: str, cell: Cell) -> str:
        """A cell as a part of an identifier or a sentence: a day as 2026-04-03, an identifier as the season
        has it."""
        text = as_text(cell.value).strip()
        target = self.part.columns.get(heading)
        if target is None or target.fields or target.ranges:
            return text
        declared = find_field(self.table, self.part.child, target.field)
        if declared is not None and declared.kind == "date" and isinstance(cell.value, str):
            try:
                return read_date(text, self._order(heading)).isoformat()
            except DateError:
                return text  # the day itself is told as a fault
        return rename(text, target)

    def _order(self, heading: str) -> Order | None:
        """Which comes first in a column's days."""
        if self.part.dates in {"dmy", "mdy"}:
            return "dmy" if self.part.dates == "dmy" else "mdy"
        if heading not in self.orders:
            index = next(at for at, name in self.headings.items() if name == heading)
            texts = (row[index].value for row in self.sheet.rows if index in row)
            self.orders[heading] = decide_order(text for text in texts if isinstance(text, str))
        return self.orders[heading]

    def _put(self, rows: Sequence[Values], child: str) -> None:
        """Rows by field as a sheet with our own headings."""
        names = list(dict.fromkeys(name for row in rows for name in row))
        if not rows:
            return
        home = next(iter(rows[0].values())).address
        headings = {at: Cell(name, home) for at, name in enumerate(names)}
        placed = tuple({at: row[name] for at, name in enumerate(names) if name in row} for row in rows)
        units = _list_units(self.columns.values())
        columns: dict[str, Target | None] = {}
        for name in names:
            full = f"{child}.1.{name}" if child and not self.part.child else name
            columns[name] = Target(name, units.get(full, ""))
        sheet_map = SheetMap(
            self.sheet.name, self.part.table, columns, child, self.part.dates, decimal=self.part.decimal
        )
        self.found.parts.append((Sheet(self.sheet.name, headings, placed), sheet_map))


def _list_units(targets: Collection[Target]) -> dict[str, str]:
    """The unit of each field that a column fills."""
    return {name: target.unit for target in targets for name in target.names}


def _is_begun(name: str, entries: Mapping[str, Mapping[int, Values]]) -> bool:
    """Whether a field is the record's own, or one of an entry that some cell of the row tells."""
    first, _, rest = name.partition(".")
    number = rest.partition(".")[0]
    return not number.isdigit() or int(number) in entries.get(first, {})


def _fold_words(target: Target) -> dict[str, str]:
    """The words of a column as cells are compared with them; one that nobody has answered is none."""
    return {fold(typed): word for typed, word in target.words.items() if word != OPEN}


def _agree(first: Values, second: Values) -> bool:
    """Whether two rows of one record tell nothing differently."""
    return all(
        fold(as_text(first[name].value)) == fold(as_text(cell.value))
        for name, cell in second.items()
        if name in first
    )
