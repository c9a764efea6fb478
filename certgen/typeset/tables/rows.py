"""A register's rows as they are drawn on a page: cells with their elements, links with their boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.typeset.tables.cells import ABOVE, INSET, Block
from certgen.typeset.tables.forms import MARGIN, Form

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.typeset.parts import RegisterColumn
    from certgen.typeset.tables.canvas import Canvas, TextStyle
    from certgen.typeset.tables.cells import CellLayout, CellLine, DrawnCell, Piece


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


class RowPainter:
    """Draws rows on the page that a canvas has open."""

    def __init__(self, canvas: Canvas, style: TextStyle, cells: CellLayout) -> None:
        self._canvas = canvas
        self._style = style
        self._cells = cells

    def draw(self, cells: Sequence[DrawnCell], columns: Columns, top: float, body: int) -> int:
        """A whole row below the height `top`, and the number of its element, whose parent is `body`."""
        canvas = self._canvas
        row = canvas.new_number()
        kids = []
        top -= ABOVE
        base = top - self._cells.capital
        for at, cell in enumerate(cells):
            number = canvas.new_number()
            kids.append(b"%d 0 R" % number)
            if cell is None:
                canvas.element(number, b"TD", row, ())
            elif isinstance(cell, Block):
                inside = self._draw_lines(cell.lines, columns, at, top, number)
                canvas.element(number, b"TD", row, inside, b" /Pg %d 0 R" % canvas.page)
            else:
                shown, width, href = cell
                left = columns.rights[at] - width if columns.ranged_right[at] else columns.lefts[at]
                if href:
                    canvas.element(number, b"TD", row, [self._draw_link([(left, base, cell)], href, number)])
                else:
                    mark = canvas.mark(b"TD", number)
                    canvas.write(left, base, shown, self._style)
                    canvas.end_mark()
                    canvas.cell_element(number, row, mark)
        canvas.element(row, b"TR", body, kids)
        return row

    def draw_part(
        self,
        lines: list[Sequence[CellLine]],
        columns: Columns,
        top: float,
        room: float,
        cells: Sequence[int],
        inside: Sequence[list[bytes]],
    ) -> float:
        """As much of a row's `lines` as `room` holds, below the height `top`; gives the height it takes.

        What was drawn is taken out of `lines`; what the elements numbered `cells` hold of it, each mark with
        its page, is added to `inside`.
        """
        lowest = 0.0
        for at, remaining in enumerate(lines):
            count, used = self._cells.count_fitting(remaining, room - 2 * ABOVE)
            if not count:
                continue
            drawn = self._draw_lines(remaining[:count], columns, at, top - ABOVE, cells[at])
            inside[at].extend(self._on_page(mark) for mark in drawn)
            lines[at] = remaining[count:]
            lowest = max(lowest, used)
        return lowest + 2 * ABOVE

    def _on_page(self, inside: bytes) -> bytes:
        if inside.isdigit():
            return b"<< /Type /MCR /Pg %d 0 R /MCID %b >>" % (self._canvas.page, inside)
        return inside

    def _draw_lines(
        self, lines: Sequence[CellLine], columns: Columns, at: int, top: float, cell: int
    ) -> list[bytes]:
        """A cell's lines from `top` down; gives what its element holds of them."""
        inside: list[bytes] = []
        waiting: list[tuple[float, float, Piece]] = []
        for height, line in lines:
            base = top - height
            if isinstance(line, Form):
                inside += self._draw_waiting(waiting, cell)
                inside += self._draw_form(line, columns.lefts[at], base, cell)
            else:
                left = columns.lefts[at]
                if columns.ranged_right[at]:
                    left = columns.rights[at] - sum(piece[1] for piece in line)
                for piece in line:
                    if waiting and waiting[0][2][2] != piece[2]:
                        inside += self._draw_waiting(waiting, cell)
                    waiting.append((left, base, piece))
                    left += piece[1]
            top = base - self._cells.between
        return inside + self._draw_waiting(waiting, cell)

    def _draw_waiting(self, waiting: list[tuple[float, float, Piece]], cell: int) -> list[bytes]:
        """Pieces that lead to one place, or none: one mark, over as many lines as they take."""
        if not waiting:
            return []
        pieces, href = list(waiting), waiting[0][2][2]
        waiting.clear()
        if href:
            return [self._draw_link(pieces, href, cell)]
        mark = self._canvas.mark(b"TD", cell)
        for left, base, piece in pieces:
            self._canvas.write(left, base, piece[0], self._style)
        self._canvas.end_mark()
        return [b"%d" % mark]

    def _draw_link(self, pieces: Sequence[tuple[float, float, Piece]], href: str, cell: int) -> bytes:
        """A link of one line or more; gives its element, as its cell holds it."""
        canvas = self._canvas
        number = canvas.new_number()
        inside = [b"%d" % canvas.mark(b"Link", number)]
        for left, base, piece in pieces:
            canvas.write(left, base, piece[0], self._style)
        canvas.end_mark()
        for left, base, piece in pieces:
            box = (left, base - ABOVE, left + piece[1], base + self._cells.capital + ABOVE)
            inside.append(canvas.link(href, box, number))
        canvas.element(number, b"Link", cell, inside, b" /Pg %d 0 R" % canvas.page)
        return b"%d 0 R" % number

    def _draw_form(self, form: Form, left: float, base: float, cell: int) -> list[bytes]:
        canvas = self._canvas
        boxes = [
            (href, (box[0] + left, box[1] + base, box[2] + left, box[3] + base)) for href, box in form.links
        ]
        left, base = left - MARGIN, base - MARGIN
        if not boxes:
            return [canvas.draw_form(form.number, left, base, cell, form.text)]
        # What one form holds is one mark: it belongs to the first link, and the others follow it.
        number = canvas.new_number()
        inside = [canvas.draw_form(form.number, left, base, number, form.text)]
        inside += [canvas.link(href, box, number) for href, box in boxes]
        canvas.element(number, b"Link", cell, inside, b" /Pg %d 0 R" % canvas.page)
        return [b"%d 0 R" % number]
