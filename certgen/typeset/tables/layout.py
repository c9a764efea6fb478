"""Long tables drawn straight onto pages: tagged, in our own faces and grid.

A register's cells are short texts in columns whose widths are known: an engine's table takes half a
millisecond a row for what is here a few strings. No row is split, unless it is taller than a page; a table's
heading row is repeated on each page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.typeset.design import RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, TYPE
from certgen.typeset.tables.canvas import Canvas
from certgen.typeset.tables.cells import CellLayout
from certgen.typeset.tables.line_breaks import break_lines
from certgen.typeset.tables.page_batch import DOCUMENT, FIRST
from certgen.typeset.tables.register_widths import register_widths
from certgen.typeset.tables.rows import Columns, RowPainter

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
    from certgen.typeset.tables.canvas import TextStyle
    from certgen.typeset.tables.cells import CellLine, DrawnCell
    from certgen.typeset.tables.page_batch import Numbering, PageBatch

#: Above and below a heading cell, in points.
_HEAD_ABOVE: Final = 3.3
#: From a rule to the capitals of the heading below it; and what follows each kind of heading, in points.
_UNDER_RULE: Final = {1: 4.4, 2: 5.4}
_AFTER: Final = {1: 13.0, 2: 7.0}
_BEFORE_HEADING: Final = 20.0
_AFTER_LEAD: Final = 8.0
#: Rows that stand with a table's heading at the foot of a page, at least.
_TOGETHER: Final = 2


def draw_registers(
    registers: RegisterSet, settings: Settings, start: Numbering = FIRST, known: frozenset[str] | None = None
) -> Iterator[PageBatch]:
    """The registers in page batches, one after the other down the page, below their heading.

    Objects and keys are numbered from `start` on; `known` are the anchors that links may lead to (None: all).
    """
    canvas = Canvas(settings, start)
    style = canvas.text_style(SANS, 400, TYPE["register"].size)
    widths = [
        register_widths(register, settings.sheet.measure, style.font) for register in registers.registers
    ]
    cells = CellLayout(style, SANS, known)
    forms = cells.set_forms(zip(registers.registers, widths, strict=True), settings, canvas.new_number)
    for number, body in forms.items():
        canvas.add_object(number, body)
    layout = _TableLayout(canvas, cells, RowPainter(canvas, style, cells))
    layout.head(registers.heading, registers.lead, 1)
    for register, its_widths in zip(registers.registers, widths, strict=True):
        yield from layout.lay_out(register, its_widths)
    yield from canvas.finish()


class _TableLayout:
    """Registers being laid out on the pages of a canvas."""

    def __init__(self, canvas: Canvas, cells: CellLayout, rows: RowPainter) -> None:
        self._canvas = canvas
        self._cells = cells
        self._rows = rows
        self._sheet = canvas.sheet
        self._label = canvas.text_style(SANS, 600, TYPE["label"].size, "quiet")
        self._heavy, self._normal = canvas.line_style(RULE_HEAVY), canvas.line_style(RULE)
        self._hair = canvas.line_style(RULE_HAIR, "hair")
        self._top = self._sheet.height - self._sheet.top
        self._foot = self._sheet.bottom
        #: The height that the next thing stands below, and how much of the room above it is empty.
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
        canvas = self._canvas
        style = canvas.text_style(SERIF, 600, TYPE["title" if level == 1 else "heading"].size)
        if self._at < self._top:
            self._at -= _BEFORE_HEADING - self._empty
        left = self._sheet.left
        canvas.rule(left, left + self._sheet.measure, self._at, self._heavy if level == 1 else self._normal)
        canvas.bookmark(title, level - 1, self._at)
        base = self._at - _UNDER_RULE[level] - style.font.cap_height * style.size
        self._write_top(b"H%d" % level, [(base, style.font.spell_out(title))], style)
        self._at = base - _AFTER[level]

    def _draw_lead(self, lead: str) -> None:
        style = self._canvas.text_style(SERIF, 400, TYPE["text"].size)
        base = self._at - style.font.cap_height * style.size
        lines = []
        for text in self._lead_lines(lead, style):
            lines.append((base, text))
            base -= TYPE["text"].leading
        self._write_top(b"P", lines, style)
        self._at = base + TYPE["text"].leading - _AFTER_LEAD
        self._empty = _AFTER_LEAD

    def _lead_lines(self, lead: str, style: TextStyle) -> list[str]:
        lines = break_lines([(style.font.spell_out(lead), "")], self._sheet.column / style.size, style.font)
        return ["".join(text for text, _ in line) for line in lines]

    def _write_top(self, kind: bytes, lines: Sequence[tuple[float, str]], style: TextStyle) -> None:
        """Lines of one element right under the Document."""
        canvas = self._canvas
        number = canvas.new_number()
        mark = canvas.mark(kind, number)
        for at, (base, text) in enumerate(lines):
            # A space at a line's end keeps its last word apart from the next one's first.
            shown = style.font.show(text if at == len(lines) - 1 else f"{text} ")[1]
            canvas.write(self._sheet.left, base, shown, style)
        canvas.end_mark()
        canvas.element(number, kind, DOCUMENT, [b"%d" % mark], b" /Pg %d 0 R" % canvas.page)
        canvas.put_on_top(number)

    def _height_of_heading(self, register: Register) -> float:
        style = self._canvas.text_style(SERIF, 600, TYPE["heading"].size)
        height = 0.0
        if register.title:
            height += _BEFORE_HEADING + _UNDER_RULE[2] + style.font.cap_height * style.size + _AFTER[2]
        if register.lead:
            style = self._canvas.text_style(SERIF, 400, TYPE["text"].size)
            count = len(self._lead_lines(register.lead, style))
            height += style.font.cap_height * style.size + (count - 1) * TYPE["text"].leading + _AFTER_LEAD
        return height

    # Tables

    def lay_out(self, register: Register, widths: Sequence[float]) -> Iterator[PageBatch]:
        """A register: its heading, and its rows on as many pages as they need."""
        table = _Table(register.columns, widths, self._sheet.left, self._label)
        first = sum(self._cells.height(self._prepare(cells, table)) for _, cells in register.rows[:_TOGETHER])
        needed = self._height_of_heading(register) + table.head_height + first
        if self._at - needed < self._foot and self._at < self._top:
            self._end_page()
        self.head(register.title, register.lead, 2)
        canvas = self._canvas
        whole, body = canvas.new_number(), canvas.new_number()
        canvas.put_on_top(whole)
        parts = [self._draw_heading_cells(table, whole)]
        kids: list[bytes] = []
        for anchor, cells in register.rows:
            kids.append(b"%d 0 R" % self._draw_row(anchor, self._prepare(cells, table), table, body))
            if canvas.full:
                yield from canvas.take()
        if kids:
            canvas.element(body, b"TBody", whole, kids)
            parts.append(b"%d 0 R" % body)
        canvas.element(whole, b"Table", DOCUMENT, parts)

    def _prepare(self, cells: Sequence[Sequence[tuple[str, str]]], table: _Table) -> list[DrawnCell]:
        return self._cells.prepare(cells, table.rooms, table.columns)

    def _draw_row(self, anchor: str, cells: Sequence[DrawnCell], table: _Table, body: int) -> int:
        height = self._cells.height(cells)
        if self._at - height < self._foot:
            if height > self._top - table.head_height - self._foot:
                return self._draw_tall(anchor, cells, table, body)
            self._next_page(table)
        self._canvas.mark_place(anchor, self._at)
        row = self._rows.draw(cells, table, self._at, body)
        self._end_row(height, table)
        return row

    def _draw_tall(self, anchor: str, cells: Sequence[DrawnCell], table: _Table, body: int) -> int:
        """A row that is taller than a page: line by line, over as many pages as it needs."""
        canvas = self._canvas
        row = canvas.new_number()
        numbers = [canvas.new_number() for _ in cells]
        inside: list[list[bytes]] = [[] for _ in cells]
        lines: list[Sequence[CellLine]] = [self._cells.lines_of(cell) for cell in cells]
        if self._at - 3 * TYPE["register"].leading < self._foot:
            self._next_page(table)
        canvas.mark_place(anchor, self._at)
        while True:
            height = self._rows.draw_part(lines, table, self._at, self._at - self._foot, numbers, inside)
            self._end_row(height, table)
            if not any(lines):
                break
            self._next_page(table)
        for number, marks in zip(numbers, inside, strict=True):
            canvas.element(number, b"TD", row, marks)
        canvas.element(row, b"TR", body, [b"%d 0 R" % number for number in numbers])
        return row

    def _end_row(self, height: float, table: _Table) -> None:
        self._at -= height
        self._canvas.rule(table.left, table.right, self._at, self._hair)

    def _end_page(self) -> None:
        self._canvas.end_page()
        self._at = self._top

    def _next_page(self, table: _Table) -> None:
        """Begin a page, and repeat the heading row for the eye alone."""
        self._end_page()
        with self._canvas.artifact():
            for at in range(len(table.heading)):
                self._write_heading_cell(table, at)
        self._rule_heading(table)

    def _draw_heading_cells(self, table: _Table, whole: int) -> bytes:
        canvas = self._canvas
        head, row = canvas.new_number(), canvas.new_number()
        cells = []
        for at in range(len(table.heading)):
            cell = canvas.new_number()
            mark = canvas.mark(b"TH", cell)
            self._write_heading_cell(table, at)
            canvas.end_mark()
            about = b" /Pg %d 0 R /A << /O /Table /Scope /Column >>" % canvas.page
            canvas.element(cell, b"TH", row, [b"%d" % mark], about)
            cells.append(b"%d 0 R" % cell)
        canvas.element(row, b"TR", head, cells)
        canvas.element(head, b"THead", whole, [b"%d 0 R" % row])
        self._rule_heading(table)
        return b"%d 0 R" % head

    def _write_heading_cell(self, table: _Table, at: int) -> None:
        lines = table.heading[at]
        leading = TYPE["label"].leading
        base = self._at - table.head_height + _HEAD_ABOVE + (len(lines) - 1) * leading
        for number, line in enumerate(lines):
            shown = self._label.font.show(line if number == len(lines) - 1 else f"{line} ")[1]
            self._canvas.write(table.lefts[at], base - number * leading, shown, self._label)

    def _rule_heading(self, table: _Table) -> None:
        canvas = self._canvas
        canvas.rule(table.left, table.right, self._at, self._normal)
        self._empty = 0.0
        self._at -= table.head_height
        canvas.rule(table.left, table.right, self._at, self._normal)


class _Table(Columns):
    """Columns with their headings, in lines, and the height of the heading row."""

    def __init__(
        self, columns: Sequence[RegisterColumn], widths: Sequence[float], left: float, label: TextStyle
    ) -> None:
        super().__init__(columns, widths, left)
        font, size = label.font, label.size
        titles = [font.spell_out(column.title) for column in columns]
        self.heading = [
            ["".join(text for text, _ in line) for line in break_lines([(title, "")], room / size, font)]
            for title, room in zip(titles, self.rooms, strict=True)
        ]
        tallest = max(len(lines) for lines in self.heading)
        capitals = font.cap_height * size
        self.head_height = 2 * _HEAD_ABOVE + capitals + (tallest - 1) * TYPE["label"].leading
