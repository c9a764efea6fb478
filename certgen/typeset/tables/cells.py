"""What is drawn of a register's cells: most are one text on one line, and the others are made of lines.

A line is either pieces of text, each with the anchor that it leads to, or a form. Lengths are in points.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.typeset.design import TYPE
from certgen.typeset.legibility import set_apart
from certgen.typeset.tables.forms import Form, FormText, set_forms, split_long
from certgen.typeset.tables.line_breaks import break_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.parts import Register, RegisterColumn
    from certgen.typeset.tables.canvas import TextStyle
    from certgen.typeset.tables.line_breaks import LinkedText

#: Right inset of a cell, and the insets above and below it.
INSET: Final = 5.0
ABOVE: Final = 2.3
#: A text of one line: what is shown, its width, and the anchor that it leads to.
Piece = tuple[bytes, float, str]
#: A line's height and what is on it.
CellLine = tuple[float, tuple[Piece, ...] | Form]
#: A letter is hardly ever narrower than this part of the type's size: longer texts needn't be measured.
_NARROW: Final = 0.2
#: Blocks that are remembered.
_KEPT: Final = 5_000
#: White space that separates words or lines and is drawn as a space.
_BLANKS: Final = str.maketrans("\t\r", "  ")
_NOTHING: Final = str.maketrans("\t\r\n", "   ")


@dataclass(frozen=True, slots=True)
class Block:
    """A cell of several lines, of several links, or of forms."""

    lines: tuple[CellLine, ...]


DrawnCell = Piece | Block | None


class CellLayout:
    """Turns texts into what is drawn of them, in one kind of type.

    `known` are the anchors that links may lead to (None: all).
    """

    def __init__(self, style: TextStyle, family: str, known: frozenset[str] | None) -> None:
        self._style = style
        self._family = family
        self._known = known
        self._forms: dict[FormText, Form] = {}
        #: Blocks by their texts and room: what is said of one bag is said of many.
        self._blocks: dict[tuple[tuple[LinkedText, ...], float, str], DrawnCell] = {}
        self.capital = style.font.cap_height * style.size
        #: From one line's base to the next one's capitals.
        self.between = TYPE["register"].leading - self.capital

    def set_forms(
        self,
        registers: Iterable[tuple[Register, Sequence[float]]],
        settings: Settings,
        new_number: Callable[[], int],
    ) -> dict[int, bytes]:
        """Have Typst set all texts that need it, for registers with the widths of their columns.

        Gives the objects that these forms are made of, numbered by `new_number`.
        """
        texts = [
            text
            for register, widths in registers
            for _, cells in register.rows
            for at, cell in enumerate(cells)
            if not self._is_drawable(cell)
            for text in self._form_texts(cell, widths[at] - INSET, register.columns[at])
        ]
        self._forms, objects = set_forms(texts, settings, new_number)
        return objects

    def prepare(
        self, cells: Sequence[Sequence[LinkedText]], rooms: Sequence[float], columns: Sequence[RegisterColumn]
    ) -> list[DrawnCell]:
        """A row's cells as what is drawn of them, each in its room."""
        size, show, known = self._style.size, self._style.font.show, self._known
        prepared: list[DrawnCell] = []
        for at, cell in enumerate(cells):
            if len(cell) == 1:
                text, href = cell[0]
                if not text:
                    prepared.append(None)
                    continue
                if len(text) * size * _NARROW <= rooms[at] and self._is_plain(text):
                    width, shown = show(text)
                    if width * size <= rooms[at]:
                        lead = href if known is None or href in known else ""
                        prepared.append((shown, width * size, lead))
                        continue
            prepared.append(self._recall(cell, rooms[at], columns[at]) if cell else None)
        return prepared

    def height(self, cells: Iterable[DrawnCell]) -> float:
        """The height of a row of these cells."""
        height = self.capital
        for cell in cells:
            if isinstance(cell, Block):
                tall = sum(line + self.between for line, _ in cell.lines) - self.between
                height = max(height, tall)
        return height + 2 * ABOVE

    def lines_of(self, cell: DrawnCell) -> tuple[CellLine, ...]:
        """The cell's lines."""
        if cell is None:
            return ()
        return cell.lines if isinstance(cell, Block) else ((self.capital, (cell,)),)

    def count_fitting(self, lines: Sequence[CellLine], room: float) -> tuple[int, float]:
        """How many of the lines fit into the room, and the height they take. One fits in any case."""
        used = -self.between
        for count, (height, _) in enumerate(lines):
            if used + self.between + height > room and count:
                return count, used
            used += self.between + height
        return len(lines), used

    def _recall(self, cell: Sequence[LinkedText], room: float, column: RegisterColumn) -> DrawnCell:
        key = (tuple(cell), room, column.kind)
        if key not in self._blocks:
            if len(self._blocks) >= _KEPT:
                self._blocks.clear()
            self._blocks[key] = self._block(cell, room, column)
        return self._blocks[key]

    def _block(self, cell: Sequence[LinkedText], room: float, column: RegisterColumn) -> DrawnCell:
        size, font = self._style.size, self._style.font
        if not self._is_drawable(cell):
            forms = [self._forms[text] for text in self._form_texts(cell, room, column)]
            return Block(tuple((form.height, form) for form in forms))
        runs = [(text.translate(_BLANKS), self._lead(href)) for text, href in cell]
        broken = break_lines(runs, room / size, font)
        lines: list[CellLine] = []
        for number, line in enumerate(broken):
            pieces = []
            for at, (text, href) in enumerate(line):
                width, shown = font.show(text)
                if at == len(line) - 1 and number < len(broken) - 1:
                    # A space at a line's end keeps its last word apart from the next one's first.
                    shown = font.show(f"{text} ")[1]
                pieces.append((shown, width * size, href))
            lines.append((self.capital, tuple(pieces)))
        return Block(tuple(lines))

    def _is_plain(self, text: str) -> bool:
        # Nearly all texts are printable ASCII, which every face has: asking that first is quicker.
        return (text.isascii() and text.isprintable()) or self._style.font.can_show(text)

    def _is_drawable(self, cell: Iterable[LinkedText]) -> bool:
        return all(self._is_plain(text) or self._is_plain(text.translate(_NOTHING)) for text, _ in cell)

    def _form_texts(self, cell: Iterable[LinkedText], room: float, column: RegisterColumn) -> list[FormText]:
        step, right = TYPE["register"], column.kind == "number"
        return [
            FormText(part, room, self._family, 400, step.size, step.leading, right=right)
            for part in split_long((set_apart(text), self._lead(href)) for text, href in cell)
        ]

    def _lead(self, href: str) -> str:
        return href if self._known is None or href in self._known else ""
