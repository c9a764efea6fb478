"""Sheets of labels, set by their measurements and not by anybody's article number.

A grower lays a ruler on the sheet: the size of a label, the margins, the gaps. How many fit follows from
that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.field_paper.labels import LabelError
from certgen.typeset.design import SANS
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.svg import qr_code
from certgen.typeset.typst_pages import UNDATED, SettingError, compile_typst

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.exchange.field_paper.labels import Label

PAGES: Final = MappingProxyType(
    {"A4": (210.0, 297.0), "A5": (148.0, 210.0), "A6": (105.0, 148.0), "Letter": (215.9, 279.4)}
)
_UNITS: Final = MappingProxyType({"": 1.0, "mm": 1.0, "cm": 10.0, "in": 25.4})
_SLACK: Final = 0.01
#: From a label's edge to its text, in millimetres: where there is room for it, on a full label or a small tag
#: that is cut by hand, on small stickers (which still leave a code its white).
EDGE_MM: Final = 6.0
NARROW_EDGE_MM: Final = 4.0
STICKER_EDGE_MM: Final = 2.5
#: The width and height from which a label can spare the widest edge.
_ROOMY: Final = (60.0, 30.0)
#: The least side of a code that a phone reads at arm's length, without its white.
LEAST_CODE_MM: Final = 12.0


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
    name, page_width, page_height = _read_page(page)
    width, height = read_lengths(size, 2, 2)
    gap_x, gap_y = read_lengths(gaps, 2, 2)
    nudge_x, nudge_y = read_lengths(nudge, 2, 2)
    if width < 15 or height < 10:
        raise SheetError(f"a label of {width:g} × {height:g} mm is too small to print on")
    if min(gap_x, gap_y) < 0 or max(abs(nudge_x), abs(nudge_y)) > 20:
        raise SheetError("gaps cannot be below nothing, nor a shift above 20 mm")
    top, left = read_lengths(margins, 2, 2) if margins else (0.0, 0.0)
    columns = _count(page_width - left, width, gap_x)
    rows = _count(page_height - top, height, gap_y)
    if min(columns, rows) < 1 or min(top, left) < 0:
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


def _read_page(page: str) -> tuple[str, float, float]:
    """A page's name (empty for a size of its own), width and height."""
    name = {name.casefold(): name for name in PAGES}.get(page.strip().casefold(), "")
    if not name and "x" not in page.casefold() and "×" not in page:
        raise SheetError(
            f"'{page}' is no paper known here; name {', '.join(PAGES)}, or its size like 210x297"
        )
    width, height = PAGES[name] if name else read_lengths(page, 2, 2)
    return name, width, height


def _count(room: float, length: float, gap: float) -> int:
    return int((room + gap + _SLACK) // (length + gap))


def set_labels(labels: Sequence[Label], sheet: LabelSheet, *, skip: int = 0, cut: bool = False) -> bytes:
    """The labels on as many sheets as they take; `skip` leaves the first places of a begun sheet free.
    `cut` draws lines to cut plain paper along, and keeps the text as far from them as a pair of scissors
    strays.

    Raises `LabelError` where there is none, or where one can't hold what must stand on it.
    """
    if not labels:
        raise LabelError("there is nothing to print")
    pages: list[list[dict[str, Any]]] = []
    different = {label: number for number, label in enumerate(dict.fromkeys(labels))}
    for number, label in enumerate(labels, skip):
        page, index = divmod(number, sheet.labels)
        while len(pages) <= page:
            pages.append([])
        x, y = sheet.place(index)
        pages[page].append({"x": x, "y": y, "label": different[label]})
    data = {
        **_design(sheet, cut=cut),
        "labels": list(map(_shown, different)),
        "pages": [{"labels": page, "cuts": _draw_cuts(sheet, page) if cut else []} for page in pages],
        "codes": {label.code: _draw_code(label.code) for label in labels if label.code},
    }
    try:
        return compile_typst("labels.typ", data, epoch=UNDATED)
    except SettingError as fault:
        if "too small" not in str(fault):
            raise
        raise LabelError(
            f"{sheet.width:g} x {sheet.height:g} mm is too small for what must stand on each label; "
            "take larger ones with --sheet"
        ) from fault


def _draw_code(text: str) -> dict[str, Any]:
    """A code without its white, and how many squares its side has: four of them are to be left white."""
    drawn = qr_code(text)
    found = re.search(r'viewBox="0 0 ([0-9]+)', drawn)
    if found is None:
        raise SheetError(f"the code of {text} came out without its measure")
    return {"svg": drawn, "squares": int(found[1])}


def _draw_cuts(sheet: LabelSheet, labels: Sequence[Mapping[str, Any]]) -> list[tuple[float, ...]]:
    """The lines to cut along as their ends: each once, where two labels share it, and none on the paper's
    edge.
    """
    lines = set()
    for label in labels:
        left, top = round(label["x"], 2), round(label["y"], 2)
        right, bottom = round(left + sheet.width, 2), round(top + sheet.height, 2)
        lines |= {(x, top, x, bottom) for x in (left, right) if 0 < x < sheet.page_width - _SLACK}
        lines |= {(left, y, right, y) for y in (top, bottom) if 0 < y < sheet.page_height - _SLACK}
    return sorted(lines)


def set_calibration(sheet: LabelSheet) -> bytes:
    """A page to hold behind a sheet of labels against the light: the outline of each label and two rulers."""
    places = [{"x": x, "y": y} for x, y in map(sheet.place, range(sheet.labels))]
    return compile_typst("calibration.typ", {**_design(sheet), "places": places}, epoch=UNDATED)


def _shown(label: Label) -> dict[str, Any]:
    return {
        "title": fit_to_set(label.title),
        "place": fit_to_set(label.place),
        "lines": [[name, fit_to_set(value)] for name, value in label.lines],
        "code": label.code,
        "hole": label.hole,
        "foot": fit_to_set(label.foot),
        "treated": [[name, fit_to_set(value)] for name, value in label.treated],
        "cautions": [fit_to_set(text) for text in label.cautions],
    }


def _design(sheet: LabelSheet, *, cut: bool = False) -> dict[str, Any]:
    roomy = sheet.width >= _ROOMY[0] and sheet.height >= _ROOMY[1]
    return {
        "sans": families(SANS),
        "sheet": {
            "page_width": sheet.page_width,
            "page_height": sheet.page_height,
            "width": sheet.width,
            "height": sheet.height,
            "edges": [EDGE_MM, NARROW_EDGE_MM] if roomy else [NARROW_EDGE_MM if cut else STICKER_EDGE_MM],
            "least_code": LEAST_CODE_MM,
        },
    }
