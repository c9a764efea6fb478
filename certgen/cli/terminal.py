"""Plain text for a terminal: colour that never carries a meaning alone, and lines that fit."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.examination import Result
    from certgen.standards import Caution

_CODES: Final = {"bold": "1", "dim": "2", "red": "31", "green": "32", "yellow": "33", "cyan": "36"}
#: Characters that would move the cursor or hide text if a record held them.
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
#: How a standing or a weight is coloured; the word always stands beside it.
COLOURS: Final = {
    "rejects": "red",
    "rejected": "red",
    "positive": "red",
    "unproven": "yellow",
    "advice": "cyan",
    "traced": "green",
}

#: Below so many columns a cell is left as it is: a ribbon of single words reads worse than a long line.
_LEAST_CELL: Final = 24


class Terminal:
    """Where a command writes to. Colours and wraps only if someone is reading."""

    def __init__(self, *, colour: bool | None = None, width: int | None = None) -> None:
        watched = sys.stdout.isatty()
        self.colour = _is_coloured(watched=watched) if colour is None else colour
        self.width = width or (min(shutil.get_terminal_size().columns, 100) if watched else 100)

    def paint(self, text: str, *styles: str) -> str:
        """The text in a colour, if there are colours here."""
        codes = ";".join(_CODES[style] for style in styles if style in _CODES)
        return f"\x1b[{codes}m{text}\x1b[0m" if self.colour and codes else text

    def line(self, text: str = "") -> None:
        """One line as it stands."""
        sys.stdout.write(f"{text}\n")

    def text(self, text: str, indent: int = 0, *styles: str, hang: int = 0) -> None:
        """A paragraph, wrapped to the width, later lines indented by `hang` more.

        Nothing but text comes out of a record.
        """
        space = " " * indent
        for line in textwrap.wrap(
            clean(text),
            self.width,
            initial_indent=space,
            subsequent_indent=space + " " * hang,
            break_long_words=False,
            break_on_hyphens=False,
        ):
            self.line(self.paint(line, *styles))

    def heading(self, text: str, *styles: str) -> None:
        """A heading with an empty line before it."""
        self.line()
        self.line(self.paint(text, "bold", *styles))

    def cautions(self, cautions: Iterable[Caution], indent: int = 2) -> None:
        """Cautions in their short form, a paragraph each."""
        for one in cautions:
            self.text(f"Caution. {one.line}", indent, hang=2)

    def season(self, result: Result) -> None:
        """Whose season it is, as every command's text begins."""
        details = result.season.details
        self.line(self.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))

    def table(self, rows: Iterable[tuple[str, ...]], indent: int = 2) -> None:
        """Columns as wide as they need to be; what the last one can't hold goes on below its beginning."""
        listed = [tuple(clean(cell) for cell in row) for row in rows]
        widths = [max(map(len, column)) for column in zip(*listed, strict=True)]
        for row in listed:
            cells = [
                self.paint(f"{cell:<{width}}", COLOURS.get(cell, ""))
                for cell, width in zip(row[:-1], widths[:-1], strict=True)
            ]
            at = indent + sum(widths[:-1]) + 2 * len(cells)
            first, *more = self._wrap_cell(row[-1], at)
            self.line((" " * indent + "  ".join([*cells, first])).rstrip())
            for line in more:
                self.line(" " * at + line)

    def _wrap_cell(self, text: str, at: int) -> list[str]:
        """The lines of a last cell that begins at column `at`; one line where too little room is left."""
        room = self.width - at
        if len(text) <= room or room < _LEAST_CELL:
            return [text]
        return textwrap.wrap(text, room, break_long_words=False, break_on_hyphens=False)

    def figures(self, rows: Iterable[tuple[str, ...]]) -> None:
        """Columns as wide as they need to be: names left, figures right."""
        listed = [tuple(clean(cell) for cell in row) for row in rows]
        widths = [max(map(len, column)) for column in zip(*listed, strict=True)]
        for name, *figures in listed:
            cells = [f"{cell:>{width}}" for cell, width in zip(figures, widths[1:], strict=True)]
            self.line(f"  {name:<{widths[0]}}  {'  '.join(cells)}".rstrip())


def _is_coloured(*, watched: bool) -> bool:
    """Whether colours are wanted. NO_COLOR beats FORCE_COLOR, and an empty one says nothing."""
    if os.environ.get("NO_COLOR"):
        return False
    return bool(os.environ.get("FORCE_COLOR")) or (watched and os.environ.get("TERM") != "dumb")


def clean(text: str) -> str:
    """Text without characters that would act on the terminal instead of being shown."""
    return _CONTROL.sub("\N{REPLACEMENT CHARACTER}", text)
