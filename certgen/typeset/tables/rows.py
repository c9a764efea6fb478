"""A register's rows as they are drawn on a page: cells with their elements, links with their boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.typeset.tables.cells import ABOVE, INSET, Block
from certgen.typeset.tables.forms import MARGIN, Inlay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.typeset.parts import RegisterColumn
    from certgen.typeset.tables.canvas import Ink, Press
    from certgen.typeset.tables.cells import Cell, Cells, Line, Piece


class Columns:
    """A register's columns where they stand on the page, in points from its left edge."""

    def __init__(self, columns: Sequence[RegisterColumn], widths: Sequence[float], left: float) -> None:
        self.columns = columns
        self.left = left
        self.right = left + sum(widths)
        self.lefts = [left + sum(widths[:at]) for at in range(len(widths))]
        self.rooms = [width - INSET for width in widths]
        self.rights = [start + room for start, room in zip(self.lefts, self.rooms, strict=True)]
        self.ranged_right = [column.kind == "number" for column in columns]


class RowPen:
    """Draws rows on the page that a press has open."""

    def __init__(self, press: Press, ink: Ink, cells: Cells) -> None:
        self._press = press
        self._ink = ink
        self._cells = cells

    def draw(self, cells: Sequence[Cell], columns: Columns, top: float, body: int) -> int:
        """A whole row that hangs from `top`, and the number of its element, whose parent is `body`."""
        press = self._press
        row = press.new_number()
        kids = []
        top -= ABOVE
        base = top - self._cells.capital
        for at, cell in enumerate(cells):
            number = press.new_number()
            kids.append(b"%d 0 R" % number)
            if cell is None:
                press.element(number, b"TD", row, ())
            elif isinstance(cell, Block):
                held = self._draw_lines(cell.lines, columns, at, top, number)
                press.element(number, b"TD", row, held, b" /Pg %d 0 R" % press.page)
            else:
                shown, width, href = cell
                left = columns.rights[at] - width if columns.ranged_right[at] else columns.lefts[at]
                if href:
                    press.element(number, b"TD", row, [self._draw_link([(left, base, cell)], href, number)])
                else:
                    mark = press.mark(b"TD", number)
                    press.write(left, base, shown, self._ink)
                    press.end_mark()
                    press.cell_element(number, row, mark)
        press.element(row, b"TR", body, kids)
        return row

    def draw_part(
        self,
        lines: list[Sequence[Line]],
        columns: Columns,
        top: float,
        room: float,
        cells: Sequence[int],
        held: Sequence[list[bytes]],
    ) -> float:
        """As much of a row's `lines` as `room` holds, hanging from `top`; gives the height it takes.

        What was drawn is taken out of `lines`; what the elements numbered `cells` hold of it, each mark told
        with its page, is put to `held`.
        """
        lowest = 0.0
        for at, remaining in enumerate(lines):
            count, used = self._cells.count_fitting(remaining, room - 2 * ABOVE)
            if not count:
                continue
            drawn = self._draw_lines(remaining[:count], columns, at, top - ABOVE, cells[at])
            held[at].extend(self._on_page(one) for one in drawn)
            lines[at] = remaining[count:]
            lowest = max(lowest, used)
        return lowest + 2 * ABOVE

    def _on_page(self, held: bytes) -> bytes:
        if held.isdigit():
            return b"<< /Type /MCR /Pg %d 0 R /MCID %b >>" % (self._press.page, held)
        return held

    def _draw_lines(
        self, lines: Sequence[Line], columns: Columns, at: int, top: float, cell: int
    ) -> list[bytes]:
        """A cell's lines from `top` down; gives what its element holds of them."""
        held: list[bytes] = []
        waiting: list[tuple[float, float, Piece]] = []
        for height, line in lines:
            base = top - height
            if isinstance(line, Inlay):
                held += self._draw_waiting(waiting, cell)
                held += self._draw_inlay(line, columns.lefts[at], base, cell)
            else:
                left = columns.lefts[at]
                if columns.ranged_right[at]:
                    left = columns.rights[at] - sum(piece[1] for piece in line)
                for piece in line:
                    if waiting and waiting[0][2][2] != piece[2]:
                        held += self._draw_waiting(waiting, cell)
                    waiting.append((left, base, piece))
                    left += piece[1]
            top = base - self._cells.between
        return held + self._draw_waiting(waiting, cell)

    def _draw_waiting(self, waiting: list[tuple[float, float, Piece]], cell: int) -> list[bytes]:
        """Pieces that lead to one place, or none: one mark, over as many lines as they take."""
        if not waiting:
            return []
        pieces, href = list(waiting), waiting[0][2][2]
        waiting.clear()
        if href:
            return [self._draw_link(pieces, href, cell)]
        mark = self._press.mark(b"TD", cell)
        for left, base, piece in pieces:
            self._press.write(left, base, piece[0], self._ink)
        self._press.end_mark()
        return [b"%d" % mark]

    def _draw_link(self, pieces: Sequence[tuple[float, float, Piece]], href: str, cell: int) -> bytes:
        """A link of one line or more; gives its element, as its cell holds it."""
        press = self._press
        number = press.new_number()
        held = [b"%d" % press.mark(b"Link", number)]
        for left, base, piece in pieces:
            press.write(left, base, piece[0], self._ink)
        press.end_mark()
        for left, base, piece in pieces:
            box = (left, base - ABOVE, left + piece[1], base + self._cells.capital + ABOVE)
            held.append(press.link(href, box, number))
        press.element(number, b"Link", cell, held, b" /Pg %d 0 R" % press.page)
        return b"%d 0 R" % number

    def _draw_inlay(self, inlay: Inlay, left: float, base: float, cell: int) -> list[bytes]:
        press = self._press
        boxes = [
            (href, (box[0] + left, box[1] + base, box[2] + left, box[3] + base)) for href, box in inlay.links
        ]
        left, base = left - MARGIN, base - MARGIN
        if not boxes:
            return [press.lay(inlay.form, left, base, cell, inlay.text)]
        # What one form holds is one mark: it belongs to the first link, and the others follow it.
        number = press.new_number()
        held = [press.lay(inlay.form, left, base, number, inlay.text)]
        held += [press.link(href, box, number) for href, box in boxes]
        press.element(number, b"Link", cell, held, b" /Pg %d 0 R" % press.page)
        return [b"%d 0 R" % number]
