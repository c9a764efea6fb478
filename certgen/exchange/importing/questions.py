"""What a map doesn't say yet and a sheet asks: a word nobody has told, a unit, what holds for every row.

Each question stands once, however many cells ask it, and its answer goes into the map.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from certgen.exchange.importing.cell_pieces import cut_cell, rename
from certgen.exchange.importing.cells import (
    NO,
    YES,
    DateError,
    as_text,
    decide_order,
    takes_numbers,
)
from certgen.exchange.importing.column_evidence import Column, count_fitting, fold, kind_of, listed_words
from certgen.exchange.importing.column_maps import IGNORED, OPEN, SheetMap, Target, find_field
from certgen.exchange.importing.grids import Cell
from certgen.exchange.importing.sheet_rows import name_cells
from certgen.exchange.importing.suggestions import suggest_decimal, suggest_key, suggest_word
from certgen.records.nouns import noun
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from certgen.exchange.importing.grids import Sheet
    from certgen.exchange.importing.headings import Known
    from certgen.records.tables import Column as TableColumn
    from certgen.records.tables import Field

#: Of one column so many words are asked; a column with more is no list of words.
_MOST_WORDS: Final = 60
_SHOWN: Final = 40
#: A longer text is no word; what is wrong with it is told at its cell.
_LONGEST: Final = 200
_USUAL: Final[Mapping[str, str]] = {
    "mass": "g",
    "temperature": "°C",
    "length": "mm",
    "duration": "h",
    "area": "ha",
}

_KINDS: Final[Mapping[str, str]] = {"date": "day", "mass": "weight"}
_ENTRY: Final = re.compile(r"[a-z_]+\.[0-9]{1,2}\.[a-z_]+")

#: What a sheet's name says of every row.
_SHEET_WORDS: Final[Mapping[str, str]] = {"sales": "sold", "sale": "sold", "sold": "sold"}

Kind = Literal["table", "dates", "decimal", "unit", "word", "constant"]


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to be answered for a sheet.

    `part` is the number of the sheet's table, from 0; `heading` the column, or the field that has none;
    `typed` the sheet's word. `suggestion` is what it most likely means, or nothing; `choices` what there is.
    """

    sheet: str
    part: int
    kind: Kind
    heading: str
    typed: str
    text: str
    suggestion: str = ""
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What the question's line in a map is called, as `map_text` wants it."""
        return f"{self.heading}/{self.typed}" if self.kind == "word" else self.heading


def list_questions(sheet: Sheet, sheet_map: SheetMap, known: Known) -> list[Question]:
    """Everything that the sheet asks and its map doesn't answer, in the order of the columns."""
    questions: list[Question] = []
    for number, part in enumerate(sheet_map.parts):
        if part.table == OPEN:
            said = f"which table is sheet '{sheet.name[:_SHOWN]}'? Or, if it holds no records: {IGNORED}"
            choices = (*load_tables(), IGNORED)
            questions.append(Question(part.sheet, number, "table", "", "", said, "", choices))
        elif part.table != IGNORED:
            questions += _Asking(sheet, part, number, known).ask()
    return questions


@dataclass(slots=True)
class _Asking:
    """One table that a sheet fills, and what it asks."""

    sheet: Sheet
    part: SheetMap
    number: int
    known: Known

    def ask(self) -> Iterator[Question]:
        """Every question of the table."""
        numeric = False
        commas: list[Cell] = []
        for column, field, target in self._columns():
            numeric = numeric or _has_two_readings(column, field)
            commas += _with_commas(column, field)
            yield from self._ask_unit(column, field, target)
            yield from self._ask_words(column, field, target)
        if self.part.dates == OPEN or (numeric and not self.part.dates):
            said = "are days written with the day first (dmy) or the month first (mdy)?"
            said += f" In other sheets: {self.known.order}." if self.known.order else ""
            yield self._question("dates", "dates", "", said, self.known.order, ("dmy", "mdy"))
        if self.part.decimal == OPEN or (commas and not self.part.decimal):
            yield self._ask_decimal(commas)
        yield from self._ask_constants()

    def _columns(self) -> Iterator[tuple[Column, Field, Target]]:
        """Each field that a column fills, with the cells; of a column that is cut, the pieces."""
        table = load_tables()[self.part.table]
        for index, heading in self.sheet.headings.items():
            target = self.part.columns.get(str(heading.value).strip())
            if target is None or target.field == OPEN:
                continue
            for at, name in enumerate(target.names):
                field = find_field(table, self.part.child, name)
                column = Column.of(self.sheet, index)
                if target.fields:
                    pieces = [(cell, entry) for cell in column.cells for entry in cut_cell(cell, target)]
                    cells = (Cell(entry[at], cell.address) for cell, entry in pieces if at < len(entry))
                    column = Column(heading, tuple(cells))
                if field is not None:
                    yield column, field, target

    def _ask_decimal(self, cells: Sequence[Cell]) -> Question:
        meant = suggest_decimal([str(cell.value) for cell in cells]) or self.known.decimal
        first = str(cells[0].value).strip()[:_SHOWN] if cells else "3,5"
        said = (
            f"'{first}', {_many(cells)}, {self._place(name_cells(cells))}: is the comma the sign of decimals "
            "(comma), or does it part thousands (thousands)?"
        )
        return self._question("decimal", "decimal", "", said, meant, ("comma", "thousands"))

    def _question(
        self,
        kind: Kind,
        heading: str,
        typed: str,
        text: str,
        suggestion: str = "",
        choices: Sequence[str] = (),
    ) -> Question:
        name = self.part.sheet
        return Question(name, self.number, kind, heading, typed, text, suggestion, tuple(choices))

    def _ask_unit(self, column: Column, field: Field, target: Target) -> Iterator[Question]:
        kind = kind_of(field)
        if kind not in _USUAL or (target.unit and target.unit != OPEN):
            return
        bare = [cell for cell in column.cells if _is_bare(cell)]
        if bare or target.unit == OPEN:
            heading, place = str(column.heading.value).strip(), self._place(name_cells(bare))
            said = f"'{heading[:_SHOWN]}', {_many(bare)} without a unit, {place}: in {_USUAL[kind]}?"
            yield self._question("unit", heading, "", said, _USUAL[kind])

    def _ask_words(self, column: Column, field: Field, target: Target) -> Iterator[Question]:
        listed = listed_words(field, self.known.words)
        taken = {fold(word) for word in (*listed, *(YES | NO if field.kind == "yes_no" else ()))}
        told = {fold(typed) for typed, word in target.words.items() if word != OPEN}
        asked = {fold(typed) for typed in target.words} - told
        if not (taken or asked):
            yield from self._ask_remarks(column, field, told)
            return
        heading, choices = str(column.heading.value).strip(), listed or ("yes", "no")
        for text, cells in _find_unknown(column, taken, told, asked)[:_MOST_WORDS]:
            typed = " ".join(str(cells[0].value).split())
            meant = suggest_word(text, choices)
            said = (
                f"'{typed[:_SHOWN]}', {_many(cells)}, {self._place(name_cells(cells))}: "
                f"{meant or f'which {field.title.lower() or target.field}'}?"
            )
            yield self._question("word", heading, typed, said, meant, (*choices, IGNORED))

    def _ask_remarks(self, column: Column, field: Field, told: Collection[str]) -> Iterator[Question]:
        """What is pencilled where a day or a number belongs, such as `?`: whether the cell says nothing."""
        kind = kind_of(field)
        if kind not in {"date", "whole", "number", *_USUAL, "percent"}:
            return
        for text, cells in list(column.texts().items())[:_LONGEST]:
            said = str(cells[0].value)
            if cells[0].formula or text in told or re.search("[0-9]", said) or len(text) > _SHOWN:
                continue
            typed = " ".join(said.split())
            place = f"{_many(cells)}, {self._place(name_cells(cells))}"
            said = f"'{typed}', {place}: no {_KINDS.get(kind, 'number')}; leave the cell out?"
            heading = str(column.heading.value).strip()
            yield self._question("word", heading, typed, said, IGNORED, (IGNORED,))

    def _ask_constants(self) -> Iterator[Question]:
        if self.part.child:
            return
        table = load_tables()[self.part.table]
        filled = {name for target in self.part.columns.values() if target for name in target.names}
        there = self._are_all_there(table.key)
        for column in table.columns:
            given = self.part.constants.get(column.name, "")
            if given == OPEN or not (
                there or given or column.name in filled or not _is_needed(column, filled)
            ):
                yield self._ask_constant(column, numbers=column.name == table.key)
        yield from self._ask_entries(filled)

    def _ask_entries(self, filled: Collection[str]) -> Iterator[Question]:
        """What every entry needs of a list that some column fills, and no column says."""
        begun = dict.fromkeys(name.rpartition(".")[0] for name in filled if _ENTRY.fullmatch(name))
        for above in begun:
            listed = load_tables()[self.part.table].column(above.split(".")[0]).field.item
            for name, field in listed.fields.items() if listed is not None else ():
                whole = f"{above}.{name}"
                given = self.part.constants.get(whole, "")
                if given == OPEN or (field.required and whole not in filled and not given):
                    yield self._ask_entry(whole, field)

    def _ask_entry(self, name: str, field: Field) -> Question:
        choices = listed_words(field, self.known.words)
        said = f"no column says `{name}` ({field.title}); what is it in every row?"
        meant = ""
        if field.is_quantity and not self.part.repeats:
            # A lot out of one run took all of its weight from there.
            same = [
                (heading, target)
                for heading, target in self.part.columns.items()
                if target is not None
                and (other := find_field(load_tables()[self.part.table], "", target.field)) is not None
                and other.kind == field.kind
                and "." not in target.field
            ]
            meant = f"{{{same[0][0]}}} {same[0][1].unit}".strip() if len(same) == 1 else ""
        return self._question("constant", name, "", said, meant, choices)

    def _are_all_there(self, key: str) -> bool:
        """Whether the season has every record of the sheet already: then it lacks nothing that is needed."""
        names = set(self.known.identifiers.get(self.part.table, ()))
        for index, cell in self.sheet.headings.items():
            target = self.part.columns.get(str(cell.value).strip())
            if target is not None and target.field == key and not target.ranges:
                cells = Column.of(self.sheet, index).cells
                return all(rename(as_text(one.value), target) in names for one in cells)
        return False

    def _ask_constant(self, column: TableColumn, *, numbers: bool) -> Question:
        listed = listed_words(column.field, self.known.words)
        there = [name for one in column.refers_to for name in self.known.all_identifiers.get(one, ())]
        said = f"no column says `{column.name}` ({column.field.title}); what is it in every row?"
        if numbers:
            said = f"no column says `{column.name}`; what makes it up? Headings in braces: {{Day}}-{{Lot}}"
        elif likely := self._find_like(column):
            said += f" Perhaps a column does: {likely}"
        only = there[0] if len(there) == 1 else suggest_key(self.sheet, self.part) if numbers else ""
        by_name = [_SHEET_WORDS[word] for word in self.sheet.name.casefold().split() if word in _SHEET_WORDS]
        meant = only or next((word for word in by_name if word in listed), "")
        return self._question("constant", column.name, "", said, meant, listed)

    def _find_like(self, column: TableColumn) -> str:
        """The columns that aren't taken over and whose cells all could be the field's days or quantities."""
        found = []
        for index, cell in self.sheet.headings.items():
            heading = str(cell.value).strip()
            if self.part.columns.get(heading) is None and kind_of(column.field) in {"date", *_USUAL}:
                cells = Column.of(self.sheet, index)
                fitting, _ = count_fitting(cells, column.field, "", self.known.words)
                found += [f"'{heading[:_SHOWN]}'"] if fitting == 1 and cells.cells else []
        return ", ".join(found)

    def _place(self, cells: str) -> str:
        return f"{self.sheet.name}!{cells}"


def _with_commas(column: Column, field: Field) -> list[Cell]:
    """The cells of numbers that have a comma between digits."""
    if not takes_numbers(field):
        return []
    return [
        cell
        for cell in column.cells
        if isinstance(cell.value, str) and re.search("[0-9],[0-9]", cell.value) and not cell.formula
    ]


def _find_unknown(
    column: Column, taken: Collection[str], told: Collection[str], asked: Collection[str]
) -> list[tuple[str, list[Cell]]]:
    """The texts of a column that are none of the words it takes, nor told by its map, each with its cells."""
    return [
        (text, cells)
        for text, cells in column.texts().items()
        if not cells[0].formula
        and len(text) <= _LONGEST
        and text not in told
        and (text in asked or (taken and text not in taken))
    ]


def _is_needed(column: TableColumn, filled: Collection[str]) -> bool:
    """Whether every record needs the field, or every one that has others of the mapping it stands in."""
    above = column.name.rpartition(".")[0]
    begun = not above or any(name.startswith(f"{above}.") for name in filled)
    return column.required and begun and column.kind not in {"list", "mapping"}


def _has_two_readings(column: Column, field: Field) -> bool:
    """Whether a column has days that are others when read the other way, and nothing tells which is meant."""
    texts = [cell.value.strip() for cell in column.cells if isinstance(cell.value, str)]
    days = [text for text in texts if re.fullmatch(r"[0-9]{1,2}([/.-])[0-9]{1,2}\1([0-9]{4}|[0-9]{2})", text)]
    if kind_of(field) != "date" or not any(map(_is_open, days)):
        return False
    try:
        return decide_order(days) is None
    except DateError:
        return False


def _many(cells: Sequence[Cell]) -> str:
    return f"{len(cells):,} {noun('cell', len(cells))}"


def _is_open(day: str) -> bool:
    """Whether a day is another day when read the other way."""
    first, second, year = re.split(r"[/.-]", day.strip())
    return int(first) <= 12 and int(second) <= 12 and (int(first) != int(second) or len(year) == 2)


def _is_bare(cell: Cell) -> bool:
    value = cell.value
    if cell.percent or isinstance(value, bool) or cell.formula:
        return False
    return isinstance(value, int | float) or (
        isinstance(value, str) and re.fullmatch(r"\s*[0-9]+(\.[0-9]+)?\s*", value) is not None
    )


def answer(sheet_map: SheetMap, question: Question, given: str) -> SheetMap:
    """The map with a question answered; for a word or a constant `ignore` leaves it out."""
    parts = list(sheet_map.parts)
    parts[question.part] = _answer_part(parts[question.part], question, given)
    return replace(parts[0], also=tuple(parts[1:]))


def _answer_part(part: SheetMap, question: Question, given: str) -> SheetMap:
    heading = question.heading
    if question.kind == "table":
        return replace(part, table=given)
    if question.kind == "dates":
        return replace(part, dates=given)
    if question.kind == "decimal":
        return replace(part, decimal=given)
    if question.kind == "constant":
        return replace(part, constants={**part.constants, heading: given})
    target = part.columns[heading]
    if target is None:
        return part
    if question.kind == "unit":
        target = replace(target, unit=given)
    else:
        target = replace(target, words={**target.words, question.typed: given})
    return replace(part, columns={**part.columns, heading: target})


def leave_open(sheet_map: SheetMap, questions: Sequence[Question]) -> SheetMap:
    """The map with a `?` wherever a question waits for its answer."""
    for question in questions:
        sheet_map = answer(sheet_map, question, OPEN)
    return sheet_map


def remarks_of(questions: Sequence[Question]) -> dict[tuple[str, str], str]:
    """What stands behind each `?` in a map: the question, and what there is to choose from."""
    return {(question.sheet, question.name): _remark(question) for question in questions}


def _remark(question: Question) -> str:
    if question.kind in {"constant", "dates", "decimal"} and question.suggestion:
        return f"{question.text} Perhaps: {question.suggestion}"
    if question.suggestion or not question.choices or question.kind == "table":
        return question.text
    return f"{question.text} One of: {', '.join(question.choices)}"
