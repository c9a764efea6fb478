"""Sheets of labels by their measurements, not by anybody's article number.

A grower lays a ruler on the sheet: the size of a label, the margins, the gaps. How many fit follows from
that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

PAGES = {"A4": (210.0, 297.0), "A5": (148.0, 210.0), "A6": (105.0, 148.0), "Letter": (215.9, 279.4)}
_UNITS = {"": 1.0, "mm": 1.0, "cm": 10.0, "in": 25.4}
_SLACK = 0.01


class SheetError(ValueError):
    """Measurements that make no sheet; the message says which."""


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A page of labels; every length in millimetres. `nudge` shifts all of it right and down, as
    calibration shows.
    """

    page: str
    page_width: float
    page_height: float
    width: float
    height: float
    left: float
    top: float
    gap_x: float
    gap_y: float
    columns: int
    rows: int
    nudge_x: float = 0.0
    nudge_y: float = 0.0

    @property
    def labels(self) -> int:
        """How many labels one page holds."""
        return self.columns * self.rows

    def place(self, index: int) -> tuple[float, float]:
        """The left and top edge of a label, counted in rows from the top left."""
        row, column = divmod(index, self.columns)
        return (
            self.left + column * (self.width + self.gap_x) + self.nudge_x,
            self.top + row * (self.height + self.gap_y) + self.nudge_y,
        )


def read_lengths(text: str, least: int, most: int) -> list[float]:
    """Lengths in millimetres out of `70x37`, `15,8`, `2.75x1.5in`. Raises `SheetError`."""
    found = re.fullmatch(r"\s*([0-9.,x×; -]+?)\s*(mm|cm|in)?\s*", text, re.IGNORECASE)
    parts = re.split(r"[x×,;]", found[1]) if found else []
    try:
        values = [float(part) * _UNITS[(found[2] or "").lower()] for part in parts] if found else []
    except ValueError:
        values = []
    if not least <= len(values) <= most or any(not -1000 < value < 2000 for value in values):
        raise SheetError(f"'{text}' is no measurement; write it like 70x37 (millimetres) or 2.75x1.5in")
    return values


def build_sheet(
    page: str = "A4", size: str = "", margins: str = "", gaps: str = "0x0", nudge: str = "0x0"
) -> LabelSheet:
    """A sheet from its measurements. `margins` is top and left; without them what is over is shared out
    evenly.

    Raises `SheetError` when no label fits.
    """
    known = {name.casefold(): name for name in PAGES}
    name = known.get(page.strip().casefold(), "")
    if not name and "x" not in page.casefold() and "×" not in page:
        raise SheetError(
            f"'{page}' is no paper known here; name {', '.join(PAGES)}, or its size like 210x297"
        )
    page_width, page_height = PAGES[name] if name else read_lengths(page, 2, 2)
    width, height = read_lengths(size, 2, 2)
    gap_x, gap_y = read_lengths(gaps, 2, 2)
    nudge_x, nudge_y = read_lengths(nudge, 2, 2)
    if width < 15 or height < 10:
        raise SheetError(f"a label of {width:g} × {height:g} mm is too small to print on")
    if gap_x < 0 or gap_y < 0 or abs(nudge_x) > 20 or abs(nudge_y) > 20:
        raise SheetError("gaps cannot be below nothing, nor a shift above 20 mm")
    top, left = read_lengths(margins, 2, 2) if margins else (0.0, 0.0)
    columns = _count(page_width - left, width, gap_x)
    rows = _count(page_height - top, height, gap_y)
    if columns < 1 or rows < 1 or top < 0 or left < 0:
        raise SheetError(
            f"no label of {width:g} × {height:g} mm fits on {page_width:g} × {page_height:g} mm "
            "with these margins"
        )
    if not margins:
        left = (page_width - columns * width - (columns - 1) * gap_x) / 2
        top = (page_height - rows * height - (rows - 1) * gap_y) / 2
    return LabelSheet(
        name, page_width, page_height, width, height, left, top, gap_x, gap_y, columns, rows, nudge_x, nudge_y
    )


def _count(room: float, length: float, gap: float) -> int:
    return int((room + gap + _SLACK) // (length + gap))
