"""Long tables drawn straight onto pages: tagged, in the packet's faces and grid.

A register's cells are short texts in columns whose widths are known, and need no setter: a setter's table
takes half a millisecond a row for what is here a few strings (figures in DEVELOPERS.md). No row is split,
unless it is taller than a page; a table's heading row is repeated on each page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.typeset.design import RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.page_batch import DOCUMENT
from certgen.typeset.tables.canvas import Press
from certgen.typeset.tables.cells import Cells
from certgen.typeset.tables.font_subset import Letterings
from certgen.typeset.tables.line_breaks import break_lines
from certgen.typeset.tables.rows import Columns, RowPen
from certgen.typeset.tables.widths import register_widths

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Quire
    from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
    from certgen.typeset.tables.canvas import Ink
    from certgen.typeset.tables.cells import Cell, Line

#: Above and below a heading cell, in points.
_HEAD_ABOVE: Final = 3.3
#: From a rule to the capitals of the heading below it; and what follows each kind of heading, in points.
_UNDER_RULE: Final = {1: 4.4, 2: 5.4}
_AFTER: Final = {1: 13.0, 2: 7.0}
_BEFORE_HEADING: Final = 20.0
_AFTER_LEAD: Final = 8.0
#: Rows that stand with a table's heading at the foot of a page, at least.
_TOGETHER: Final = 2


def set_registers(
    registers: RegisterSet,
    settings: Settings,
    *,
    first_object: int,
    first_key: int,
    known: frozenset[str] | None = None,
) -> Iterator[Quire]:
    """The registers as quires, one after the other down the page, below their heading.

    Objects are numbered from `first_object` on, entries of the parent tree from `first_key` on; `known` are
    the anchors that links may lead to (None: all).
    """
    sheet = settings.sheet
    press = Press(
        sheet, Letterings.none_yet(), first_object=first_object, first_key=first_key, spoken=settings.say_link
    )
    ink = press.ink(SANS, 400, TYPE["register"].size)
    widths = [register_widths(register, sheet.measure, ink.lettering) for register in registers.registers]
    laid = list(zip(registers.registers, widths, strict=True))
    cells = Cells(ink, SANS, known)
    for number, body in cells.set_inlays(laid, settings, press.new_number).items():
        press.add_object(number, body)
    desk = _Desk(press, cells, RowPen(press, ink, cells))
    desk.head(registers.heading, registers.lead, 1)
    for register, its_widths in laid:
        yield from desk.lay_out(register, its_widths)
    yield from press.finish()


class _Desk:
    """Registers being laid out on the pages of a press."""

    def __init__(self, press: Press, cells: Cells, rows: RowPen) -> None:
        self._press = press
        self._cells = cells
        self._rows = rows
        self._sheet = press.sheet
        self._label = press.ink(SANS, 600, TYPE["label"].size, "quiet")
        self._heavy, self._normal = press.stroke(RULE_HEAVY), press.stroke(RULE)
        self._hair = press.stroke(RULE_HAIR, "hair")
        self._top = self._sheet.height - self._sheet.top
        self._foot = self._sheet.bottom
        #: The height that the next thing hangs from, and how much of the room above it is empty.
        self._at = self._top
        self._empty = 0.0

    # Headings

    def head(self, title: str, lead: str, level: int) -> None:
        """A heading of this level with a rule over it, and its lead."""
        if title:
            self._draw_title(title, level)
        if lead:
            self._draw_lead(lead)

    def _draw_title(self, title: str, level: int) -> None:
        press = self._press
        ink = press.ink(SERIF, 600, TYPE["title" if level == 1 else "heading"].size)
        if self._at < self._top:
            self._at -= _BEFORE_HEADING - self._empty
        left = self._sheet.left
        press.rule(left, left + self._sheet.measure, self._at, self._heavy if level == 1 else self._normal)
        press.bookmark(title, level - 1, self._at)
        base = self._at - _UNDER_RULE[level] - ink.lettering.cap_height * ink.size
        self._write_top(b"H%d" % level, [(base, ink.lettering.spell_out(title))], ink)
        self._at = base - _AFTER[level]

    def _draw_lead(self, lead: str) -> None:
        ink = self._press.ink(SERIF, 400, TYPE["text"].size)
        base = self._at - ink.lettering.cap_height * ink.size
        lines = []
        for text in self._lead_lines(lead, ink):
            lines.append((base, text))
            base -= TYPE["text"].leading
        self._write_top(b"P", lines, ink)
        self._at = base + TYPE["text"].leading - _AFTER_LEAD
        self._empty = _AFTER_LEAD

    def _lead_lines(self, lead: str, ink: Ink) -> list[str]:
        lines = break_lines(
            [(ink.lettering.spell_out(lead), "")], self._sheet.column / ink.size, ink.lettering
        )
        return ["".join(text for text, _ in line) for line in lines]

    def _write_top(self, kind: bytes, lines: Sequence[tuple[float, str]], ink: Ink) -> None:
        """Lines of one element that hangs under the Document."""
        press = self._press
        number = press.new_number()
        mark = press.mark(kind, number)
        for at, (base, text) in enumerate(lines):
            # A space at a line's end keeps its last word apart from the next one's first.
            shown = ink.lettering.show(text if at == len(lines) - 1 else f"{text} ")[1]
            press.write(self._sheet.left, base, shown, ink)
        press.end_mark()
        press.element(number, kind, DOCUMENT, [b"%d" % mark], b" /Pg %d 0 R" % press.page)
        press.hang(number)

    def _height_of_heading(self, register: Register) -> float:
        ink = self._press.ink(SERIF, 600, TYPE["heading"].size)
        height = 0.0
        if register.title:
            height += _BEFORE_HEADING + _UNDER_RULE[2] + ink.lettering.cap_height * ink.size + _AFTER[2]
        if register.lead:
            ink = self._press.ink(SERIF, 400, TYPE["text"].size)
            count = len(self._lead_lines(register.lead, ink))
            height += ink.lettering.cap_height * ink.size + (count - 1) * TYPE["text"].leading + _AFTER_LEAD
        return height

    # Tables

    def lay_out(self, register: Register, widths: Sequence[float]) -> Iterator[Quire]:
        """A register: its heading, and its rows on as many pages as they need."""
        table = _Table(register.columns, widths, self._sheet.left, self._label)
        first = sum(self._cells.height(self._prepare(cells, table)) for _, cells in register.rows[:_TOGETHER])
        needed = self._height_of_heading(register) + table.head_height + first
        if self._at - needed < self._foot and self._at < self._top:
            self._turn()
        self.head(register.title, register.lead, 2)
        press = self._press
        whole, body = press.new_number(), press.new_number()
        press.hang(whole)
        parts = [self._draw_heading_cells(table, whole)]
        kids: list[bytes] = []
        for anchor, cells in register.rows:
            kids.append(b"%d 0 R" % self._draw_row(anchor, self._prepare(cells, table), table, body))
            if press.full:
                yield from press.take()
        if kids:
            press.element(body, b"TBody", whole, kids)
            parts.append(b"%d 0 R" % body)
        press.element(whole, b"Table", DOCUMENT, parts)

    def _prepare(self, cells: Sequence[Sequence[tuple[str, str]]], table: _Table) -> list[Cell]:
        return self._cells.prepare(cells, table.rooms, table.columns)

    def _draw_row(self, anchor: str, cells: Sequence[Cell], table: _Table, body: int) -> int:
        height = self._cells.height(cells)
        if self._at - height < self._foot:
            if height > self._top - table.head_height - self._foot:
                return self._draw_tall(anchor, cells, table, body)
            self._next_page(table)
        self._press.mark_place(anchor, self._at)
        row = self._rows.draw(cells, table, self._at, body)
        self._end_row(height, table)
        return row

    def _draw_tall(self, anchor: str, cells: Sequence[Cell], table: _Table, body: int) -> int:
        """A row that no page can hold: line by line, over as many pages as it needs."""
        press = self._press
        row = press.new_number()
        numbers = [press.new_number() for _ in cells]
        held: list[list[bytes]] = [[] for _ in cells]
        lines: list[Sequence[Line]] = [self._cells.lines_of(cell) for cell in cells]
        if self._at - 3 * TYPE["register"].leading < self._foot:
            self._next_page(table)
        press.mark_place(anchor, self._at)
        while True:
            height = self._rows.draw_part(lines, table, self._at, self._at - self._foot, numbers, held)
            self._end_row(height, table)
            if not any(lines):
                break
            self._next_page(table)
        for number, one in zip(numbers, held, strict=True):
            press.element(number, b"TD", row, one)
        press.element(row, b"TR", body, [b"%d 0 R" % number for number in numbers])
        return row

    def _end_row(self, height: float, table: _Table) -> None:
        self._at -= height
        self._press.rule(table.left, table.right, self._at, self._hair)

    def _turn(self) -> None:
        self._press.turn()
        self._at = self._top

    def _next_page(self, table: _Table) -> None:
        """Turn the page, and repeat the heading row for the eye alone."""
        self._turn()
        with self._press.artifact():
            for at in range(len(table.heading)):
                self._write_heading_cell(table, at)
        self._rule_heading(table)

    def _draw_heading_cells(self, table: _Table, whole: int) -> bytes:
        press = self._press
        head, row = press.new_number(), press.new_number()
        cells = []
        for at in range(len(table.heading)):
            cell = press.new_number()
            mark = press.mark(b"TH", cell)
            self._write_heading_cell(table, at)
            press.end_mark()
            about = b" /Pg %d 0 R /A << /O /Table /Scope /Column >>" % press.page
            press.element(cell, b"TH", row, [b"%d" % mark], about)
            cells.append(b"%d 0 R" % cell)
        press.element(row, b"TR", head, cells)
        press.element(head, b"THead", whole, [b"%d 0 R" % row])
        self._rule_heading(table)
        return b"%d 0 R" % head

    def _write_heading_cell(self, table: _Table, at: int) -> None:
        lines = table.heading[at]
        leading = TYPE["label"].leading
        base = self._at - table.head_height + _HEAD_ABOVE + (len(lines) - 1) * leading
        for number, line in enumerate(lines):
            shown = self._label.lettering.show(line if number == len(lines) - 1 else f"{line} ")[1]
            self._press.write(table.lefts[at], base - number * leading, shown, self._label)

    def _rule_heading(self, table: _Table) -> None:
        press = self._press
        press.rule(table.left, table.right, self._at, self._normal)
        self._empty = 0.0
        self._at -= table.head_height
        press.rule(table.left, table.right, self._at, self._normal)


class _Table(Columns):
    """Columns with their headings, in lines, and the height of the heading row."""

    def __init__(
        self, columns: Sequence[RegisterColumn], widths: Sequence[float], left: float, label: Ink
    ) -> None:
        super().__init__(columns, widths, left)
        lettering, size = label.lettering, label.size
        self.heading = [
            ["".join(text for text, _ in line) for line in break_lines([(title, "")], room / size, lettering)]
            for title, room in zip(
                (lettering.spell_out(one.title) for one in columns), self.rooms, strict=True
            )
        ]
        tallest = max(len(lines) for lines in self.heading)
        capitals = lettering.cap_height * size
        self.head_height = 2 * _HEAD_ABOVE + capitals + (tallest - 1) * TYPE["label"].leading
