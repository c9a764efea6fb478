"""Long tables drawn straight onto pages: tagged, in the packet's faces and grid.

A register's cells are short texts in columns whose widths are known, and need no setter: a setter's table
takes half a millisecond a row for what is here a few strings (figures in DEVELOPERS.md). No row is split,
unless it is taller than a page; a table's heading row is repeated on each page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.report.columns import WIDEST_WORD, fit, natural_width, widest_word
from certgen.report.design import RULE, RULE_HAIR, RULE_HEAVY, SANS, SERIF, SHEETS, TYPE
from certgen.report.inlays import MARGIN, Inlay, Wanted, parted, set_inlays
from certgen.report.lettering import Letterings
from certgen.report.lines import break_lines
from certgen.report.press import Press
from certgen.report.quires import DOCUMENT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from certgen.report.lines import Run
    from certgen.report.packet import Register, RegisterColumn
    from certgen.report.press import Ink
    from certgen.report.quires import Quire

#: Right inset of a cell, and the insets above and below it, in points.
_INSET: Final = 5.0
_ABOVE: Final = 2.3
#: The same above and below a heading cell.
_HEAD_ABOVE: Final = 3.3
#: From a rule to the capitals of the heading below it; and what follows each kind of heading, in points.
_UNDER_RULE: Final = {1: 4.4, 2: 5.4}
_AFTER: Final = {1: 13.0, 2: 7.0}
_BEFORE_HEADING: Final = 20.0
_AFTER_LEAD: Final = 8.0
#: Rows that stand with a table's heading at the foot of a page, at least.
_TOGETHER: Final = 2

#: A text of one line: what is shown, its width, and the anchor that it leads to.
_Piece = tuple[bytes, float, str]


@dataclass(frozen=True, slots=True)
class _Block:
    """A cell of several lines, or of several links, or of inlays: each line's height, and what is on it."""

    lines: tuple[tuple[float, tuple[_Piece, ...] | Inlay], ...]


#: Most cells are empty or one text on one line.
_Cell = _Piece | _Block | None


def column_widths(
    columns: Sequence[RegisterColumn], rows: Sequence[Sequence[Sequence[tuple[str, str]]]], measure: float
) -> list[float]:
    """The width of each column in points, from what stands in it."""
    size = TYPE["register"].size
    least, natural, whole = [], [], []
    for number, column in enumerate(columns):
        texts = ["".join(text for text, _ in row[number]) for row in rows]
        cap = measure if column.kind == "digest" else measure * WIDEST_WORD
        heading = widest_word([column.title], TYPE["label"].size, 600)
        low = max(min(widest_word(texts, size), cap), heading) + _INSET + 0.5
        least.append(low)
        natural.append(max(natural_width(texts, size) + _INSET + 1, low))
        whole.append(max(natural_width(texts, size, 1.0) + _INSET + 1, low))
    return fit(least, natural, whole, measure=measure)


def set_registers(
    registers: Sequence[Register],
    *,
    heading: str,
    lead: str,
    language: str,
    sheet_name: str,
    epoch: int,
    first_object: int,
    first_key: int,
    spoken: Callable[[str], str],
    known: frozenset[str] | None = None,
) -> Iterator[Quire]:
    """The registers as quires, one after the other down the page, below one heading.

    Objects are numbered from `first_object` on, entries of the parent tree from `first_key` on; `known` are
    the anchors that links may lead to (None: all), and `spoken` says what a screen reader says of a link.
    """
    letterings = Letterings.none_yet()
    press = Press(
        SHEETS[sheet_name], letterings, first_object=first_object, first_key=first_key, spoken=spoken
    )
    measure = SHEETS[sheet_name].measure
    widths = [column_widths(one.columns, [cells for _, cells in one.rows], measure) for one in registers]
    desk = _Desk(press, known)
    desk.set_inlays(registers, widths, language, epoch)
    desk.head(heading, lead, 1)
    for register, its_widths in zip(registers, widths, strict=True):
        yield from desk.lay_out(register, its_widths)
    yield from press.finish()


class _Desk:
    """Registers being laid out on the pages of a press."""

    def __init__(self, press: Press, known: frozenset[str] | None) -> None:
        self._press = press
        self._known = known
        self._sheet = press.sheet
        self._text = press.ink(SANS, 400, TYPE["register"].size)
        self._label = press.ink(SANS, 600, TYPE["label"].size, "quiet")
        self._heavy, self._normal = press.stroke(RULE_HEAVY), press.stroke(RULE)
        self._hair = press.stroke(RULE_HAIR, "hair")
        self._capital = self._text.lettering.cap_height * self._text.size
        self._between = TYPE["register"].leading - self._capital
        self._inlays: dict[Wanted, Inlay] = {}
        self._top = self._sheet.height - self._sheet.top
        self._foot = self._sheet.bottom
        #: The height that the next thing hangs from, and how much of the room above it is empty.
        self._at = self._top
        self._empty = 0.0

    # Inlays

    def set_inlays(
        self, registers: Sequence[Register], widths: Sequence[Sequence[float]], language: str, epoch: int
    ) -> None:
        """Have all that needs a setter set, before the first page is drawn."""
        wanted = [
            one
            for register, its_widths in zip(registers, widths, strict=True)
            for _, cells in register.rows
            for at, cell in enumerate(cells)
            if not all(map(self._is_plain, (text for text, _ in cell))) and not self._is_drawable(cell)
            for one in self._wanted(cell, its_widths[at] - _INSET, register.columns[at])
        ]
        self._inlays, objects = set_inlays(
            wanted, language=language, epoch=epoch, new_number=self._press.new_number
        )
        for number, body in objects.items():
            self._press.add_object(number, body)

    def _is_plain(self, text: str) -> bool:
        # Nearly all texts are printable ASCII, which every face has: asking that first is quicker.
        return (text.isascii() and text.isprintable()) or self._text.lettering.can_show(text)

    def _is_drawable(self, cell: Sequence[Run]) -> bool:
        return all(self._text.lettering.can_show(text.translate(_NOTHING)) for text, _ in cell)

    def _wanted(self, cell: Sequence[Run], room: float, column: RegisterColumn) -> list[Wanted]:
        step = TYPE["register"]
        return [
            Wanted(part, room, SANS, 400, step.size, step.leading, right=column.kind == "number")
            for part in parted([(text, self._lead(href)) for text, href in cell])
        ]

    def _lead(self, href: str) -> str:
        return href if self._known is None or href in self._known else ""

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
        table = _Table(register, widths, self._sheet.left, self._heading_lines(register, widths))
        rows = register.rows
        opening = [self._prepare(cells, table) for _, cells in rows[:_TOGETHER]]
        first = sum(self._height(cells) for cells in opening)
        if (
            self._at - self._height_of_heading(register) - table.head_height - first < self._foot
            and self._at < self._top
        ):
            self._turn()
        self.head(register.title, register.lead, 2)
        press = self._press
        whole, body = press.new_number(), press.new_number()
        press.hang(whole)
        parts = [self._draw_heading_cells(table, whole)]
        kids: list[bytes] = []
        for anchor, cells in rows:
            prepared = self._prepare(cells, table)
            height = self._height(prepared)
            if self._at - height < self._foot:
                if height > self._top - table.head_height - self._foot:
                    kids.append(b"%d 0 R" % self._draw_tall(anchor, prepared, table, body))
                    continue
                self._next_page(table)
            kids.append(b"%d 0 R" % self._draw_row(anchor, prepared, height, table, body))
            if press.full:
                yield from press.take()
        if kids:
            press.element(body, b"TBody", whole, kids)
            parts.append(b"%d 0 R" % body)
        press.element(whole, b"Table", DOCUMENT, parts)

    def _turn(self) -> None:
        self._press.turn()
        self._at = self._top

    def _next_page(self, table: _Table) -> None:
        """Turn the page, and repeat the heading row for the eye alone."""
        self._turn()
        with self._press.artifact():
            self._write_heading(table)
        self._rule_heading(table)

    def _heading_lines(self, register: Register, widths: Sequence[float]) -> list[list[str]]:
        lettering = self._label.lettering
        return [
            [
                "".join(text for text, _ in line)
                for line in break_lines(
                    [(lettering.spell_out(column.title), "")], (width - _INSET) / self._label.size, lettering
                )
            ]
            for column, width in zip(register.columns, widths, strict=True)
        ]

    def _draw_heading_cells(self, table: _Table, whole: int) -> bytes:
        press = self._press
        head, row = press.new_number(), press.new_number()
        cells = []
        for at in range(len(table.heading)):
            cell = press.new_number()
            mark = press.mark(b"TH", cell)
            self._write_heading_cell(table, at)
            press.end_mark()
            press.element(
                cell, b"TH", row, [b"%d" % mark],
                b" /Pg %d 0 R /A << /O /Table /Scope /Column >>" % press.page,
            )  # fmt: skip
            cells.append(b"%d 0 R" % cell)
        press.element(row, b"TR", head, cells)
        press.element(head, b"THead", whole, [b"%d 0 R" % row])
        self._rule_heading(table)
        return b"%d 0 R" % head

    def _write_heading(self, table: _Table) -> None:
        for at in range(len(table.heading)):
            self._write_heading_cell(table, at)

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

    # Rows

    def _prepare(self, cells: Sequence[Sequence[Run]], table: _Table) -> list[_Cell]:
        """A row's cells as what is drawn of them."""
        size, show = self._text.size, self._text.lettering.show
        known = self._known
        prepared: list[_Cell] = []
        for at, cell in enumerate(cells):
            if not cell:
                prepared.append(None)
                continue
            room = table.rooms[at]
            if len(cell) == 1:
                text, href = cell[0]
                if not text:
                    prepared.append(None)
                    continue
                if len(text) * size * 0.2 <= room and self._is_plain(text):
                    width, shown = show(text)
                    if width * size <= room:
                        lead = href if known is None or href in known else ""
                        prepared.append((shown, width * size, lead))
                        continue
            prepared.append(self._block(cell, room, table.columns[at]))
        return prepared

    def _block(self, cell: Sequence[Run], room: float, column: RegisterColumn) -> _Cell:
        size, lettering = self._text.size, self._text.lettering
        if not self._is_drawable(cell):
            laid = [self._inlays[one] for one in self._wanted(cell, room, column)]
            return _Block(tuple((inlay.height, inlay) for inlay in laid))
        runs = [(text.translate(_BLANKS), self._lead(href)) for text, href in cell]
        broken = break_lines(runs, room / size, lettering)
        lines = []
        for number, line in enumerate(broken):
            pieces = []
            for at, (text, href) in enumerate(line):
                width, shown = lettering.show(text)
                if at == len(line) - 1 and number < len(broken) - 1:
                    # A space at a line's end keeps its last word apart from the next one's first.
                    shown = lettering.show(f"{text} ")[1]
                pieces.append((shown, width * size, href))
            lines.append((self._capital, tuple(pieces)))
        return _Block(tuple(lines)) if lines else None

    def _height(self, cells: Sequence[_Cell]) -> float:
        height = self._capital
        for cell in cells:
            if isinstance(cell, _Block):
                tall = sum(line + self._between for line, _ in cell.lines) - self._between
                height = max(height, tall)
        return height + 2 * _ABOVE

    def _draw_row(self, anchor: str, cells: Sequence[_Cell], height: float, table: _Table, body: int) -> int:
        press, text = self._press, self._text
        press.mark_place(anchor, self._at)
        row = press.new_number()
        kids = []
        top = self._at - _ABOVE
        base = top - self._capital
        for at, cell in enumerate(cells):
            number = press.new_number()
            kids.append(b"%d 0 R" % number)
            if cell is None:
                press.element(number, b"TD", row, ())
            elif isinstance(cell, _Block):
                held = self._draw_lines(cell.lines, table, at, top, number)
                press.element(number, b"TD", row, held, b" /Pg %d 0 R" % press.page)
            else:
                shown, width, href = cell
                left = table.rights[at] - width if table.ranged_right[at] else table.lefts[at]
                if href:
                    held = [self._draw_link([(left, base, cell)], href, number)]
                    press.element(number, b"TD", row, held)
                else:
                    mark = press.mark(b"TD", number)
                    press.write(left, base, shown, text)
                    press.end_mark()
                    press.cell_element(number, row, mark)
        press.element(row, b"TR", body, kids)
        self._at -= height
        press.rule(table.left, table.right, self._at, self._hair)
        return row

    def _draw_lines(
        self,
        lines: Sequence[tuple[float, tuple[_Piece, ...] | Inlay]],
        table: _Table,
        at: int,
        top: float,
        cell: int,
    ) -> list[bytes]:
        """A cell's lines from `top` down; gives what its element holds of them."""
        press = self._press
        held: list[bytes] = []
        waiting: list[tuple[float, float, _Piece]] = []

        def draw() -> None:
            if not waiting:
                return
            href = waiting[0][2][2]
            if href:
                held.append(self._draw_link(waiting, href, cell))
            else:
                mark = press.mark(b"TD", cell)
                for left, base, piece in waiting:
                    press.write(left, base, piece[0], self._text)
                press.end_mark()
                held.append(b"%d" % mark)
            waiting.clear()

        for height, line in lines:
            base = top - height
            if isinstance(line, Inlay):
                draw()
                held += self._draw_inlay(line, table.lefts[at], base, cell)
            else:
                left = table.lefts[at]
                if table.ranged_right[at]:
                    left = table.rights[at] - sum(piece[1] for piece in line)
                for piece in line:
                    if waiting and waiting[0][2][2] != piece[2]:
                        draw()
                    waiting.append((left, base, piece))
                    left += piece[1]
            top = base - self._between
        draw()
        return held

    def _draw_link(self, pieces: Sequence[tuple[float, float, _Piece]], href: str, cell: int) -> bytes:
        """A link of one line or more; gives its element, as its cell holds it."""
        press = self._press
        number = press.new_number()
        held = [b"%d" % press.mark(b"Link", number)]
        for left, base, piece in pieces:
            press.write(left, base, piece[0], self._text)
        press.end_mark()
        for left, base, piece in pieces:
            box = (left, base - _ABOVE, left + piece[1], base + self._capital + _ABOVE)
            held.append(press.link(href, box, number))
        press.element(number, b"Link", cell, held, b" /Pg %d 0 R" % press.page)
        return b"%d 0 R" % number

    def _draw_inlay(self, inlay: Inlay, left: float, base: float, cell: int) -> list[bytes]:
        press = self._press
        boxes = [
            (href, (box[0] + left, box[1] + base, box[2] + left, box[3] + base)) for href, box in inlay.links
        ]
        if not boxes:
            return [b"%d" % press.lay(inlay.form, left - MARGIN, base - MARGIN, b"TD", cell)]
        # What one form holds is one mark: it belongs to the first link, and the others follow it.
        number = press.new_number()
        held = [b"%d" % press.lay(inlay.form, left - MARGIN, base - MARGIN, b"Link", number)]
        held += [press.link(href, box, number) for href, box in boxes]
        press.element(number, b"Link", cell, held, b" /Pg %d 0 R" % press.page)
        return [b"%d 0 R" % number]

    def _draw_tall(self, anchor: str, cells: Sequence[_Cell], table: _Table, body: int) -> int:
        """A row that no page can hold: line by line, over as many pages as it needs."""
        press = self._press
        row = press.new_number()
        numbers = [press.new_number() for _ in cells]
        held: list[list[bytes]] = [[] for _ in cells]
        blocks = [self._lines_of(cell) for cell in cells]
        first = True
        while any(blocks):
            if not first or self._at - 3 * TYPE["register"].leading < self._foot:
                self._next_page(table)
            if first:
                press.mark_place(anchor, self._at)
            first = False
            room = self._at - self._foot - 2 * _ABOVE
            lowest = 0.0
            for at, lines in enumerate(blocks):
                count, used = self._fitting(lines, room)
                if not count:
                    continue
                drawn = self._draw_lines(lines[:count], table, at, self._at - _ABOVE, numbers[at])
                held[at] += [self._on_page(one) for one in drawn]
                blocks[at] = lines[count:]
                lowest = max(lowest, used)
            self._at -= lowest + 2 * _ABOVE
            press.rule(table.left, table.right, self._at, self._hair)
        for number, one in zip(numbers, held, strict=True):
            press.element(number, b"TD", row, one)
        press.element(row, b"TR", body, [b"%d 0 R" % number for number in numbers])
        return row

    def _lines_of(self, cell: _Cell) -> tuple[tuple[float, tuple[_Piece, ...] | Inlay], ...]:
        if cell is None:
            return ()
        return cell.lines if isinstance(cell, _Block) else ((self._capital, (cell,)),)

    def _fitting(
        self, lines: Sequence[tuple[float, tuple[_Piece, ...] | Inlay]], room: float
    ) -> tuple[int, float]:
        """How many of the lines the room holds, and the height they take. One inlay is laid in any case."""
        used = -self._between
        for count, (height, _) in enumerate(lines):
            if used + self._between + height > room and count:
                return count, used
            used += self._between + height
        return len(lines), used

    def _on_page(self, held: bytes) -> bytes:
        """A mark, told together with its page, where an element has marks on several pages."""
        if held.isdigit():
            return b"<< /Type /MCR /Pg %d 0 R /MCID %b >>" % (self._press.page, held)
        return held


class _Table:
    """A register's columns where they stand on the page, in points."""

    def __init__(
        self, register: Register, widths: Sequence[float], left: float, heading: list[list[str]]
    ) -> None:
        self.columns = register.columns
        self.heading = heading
        self.left = left
        self.lefts = [left + sum(widths[:at]) for at in range(len(widths))]
        self.rooms = [width - _INSET for width in widths]
        self.rights = [start + room for start, room in zip(self.lefts, self.rooms, strict=True)]
        self.right = left + sum(widths)
        self.ranged_right = [column.kind == "number" for column in register.columns]
        tallest = max(len(lines) for lines in heading)
        label = TYPE["label"]
        self.head_height = 2 * _HEAD_ABOVE + label.size * 0.66 + (tallest - 1) * label.leading


#: Signs that part words or lines and are drawn as nothing.
_BLANKS: Final = str.maketrans("\t\r", "  ")
_NOTHING: Final = str.maketrans("\t\r\n", "   ")
