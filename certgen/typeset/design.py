"""One typographic system: every size, colour, width and face of the packet stands here and nowhere else.

The style sheet (set by WeasyPrint), the registers (drawn), the index (set by Typst), the drawings (SVG) and
the binder (HTML) all take their figures from this module, so that all of them print one design.
Lengths are in points unless a name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from certgen.typeset.addresses import opens_file

if TYPE_CHECKING:
    from datetime import date

MM: Final = 72 / 25.4


@dataclass(frozen=True, slots=True)
class Sheet:
    """A paper size with its margins, and the columns that follow from them (all in points)."""

    name: str
    width: float
    height: float
    top: float
    bottom: float
    left: float
    right: float

    @property
    def measure(self) -> float:
        """The width between the margins; tables may use all of it."""
        return self.width - self.left - self.right

    @property
    def notes(self) -> float:
        """The margin for notes beside running text: clauses, captions and an inspector's pen."""
        return NOTES_MM * MM

    @property
    def column(self) -> float:
        """The column of running text, left of the notes."""
        return self.measure - self.notes - GUTTER_MM * MM

    @property
    def depth(self) -> float:
        """The height between the margins."""
        return self.height - self.top - self.bottom


NOTES_MM: Final = 43.0
GUTTER_MM: Final = 6.0

# The left margin leaves room for the holes of a ring binder.
SHEETS: Final = MappingProxyType(
    {
        "A4": Sheet("A4", 210 * MM, 297 * MM, 16.5 * MM, 15.5 * MM, 20 * MM, 14 * MM),
        "Letter": Sheet("Letter", 612.0, 792.0, 15.5 * MM, 14.5 * MM, 20 * MM, 14 * MM),
    }
)


def find_sheet(name: str) -> Sheet:
    """The paper size of this name. Raises ValueError with the names there are."""
    if name not in SHEETS:
        message = f"there is no paper size {name!r}; choose from {', '.join(SHEETS)}"
        raise ValueError(message)
    return SHEETS[name]


@dataclass(frozen=True, slots=True)
class Settings:
    """How a document is set: its title, the language it is written in, its paper and its day.

    `go_to` are the words that a screen reader says before what a link leads to, `opens` those before the name
    of an attached file.
    """

    title: str
    language: str
    sheet: Sheet
    day: date
    go_to: str
    opens: str = ""

    @property
    def epoch(self) -> int:
        """Noon (UTC) of the day in seconds: the one moment that stands for every date in the file."""
        return int(datetime.combine(self.day, time(12), tzinfo=UTC).timestamp())

    def say_link(self, anchor: str) -> str:
        """What a screen reader says of a link to an anchor."""
        if opens_file(anchor):
            return f"{self.opens} {anchor}".lstrip()
        kind, _, name = anchor.partition("/")
        return f"{self.go_to} {kind} {name}" if name else f"{self.go_to} {anchor}"


@dataclass(frozen=True, slots=True)
class Type:
    """A step of the type scale: size and leading in points."""

    size: float
    leading: float


TYPE: Final = MappingProxyType(
    {
        "display": Type(24.0, 27.0),
        "title": Type(16.0, 18.6),
        "heading": Type(11.6, 13.6),
        "subheading": Type(9.2, 11.2),
        "text": Type(8.9, 11.6),
        "table": Type(8.0, 9.7),
        "register": Type(7.2, 8.6),
        "entry": Type(7.4, 8.8),
        "appendix": Type(7.2, 8.4),
        "label": Type(7.0, 8.4),
        "small": Type(7.3, 9.0),
    }
)

SERIF: Final = "Source Serif Pro"
SANS: Final = "Source Sans Pro"

#: Ink and paper. Each colour has a shape, a pattern or a word beside it; in black and white nothing is lost.
COLOURS: Final = MappingProxyType(
    {
        "ink": "#1b2321",
        "quiet": "#58625f",
        "rule": "#aeb6b3",
        "hair": "#d5dad8",
        "wash": "#f2f4f1",
        "paper": "#ffffff",
        "traced": "#2c5f51",
        "unproven": "#946410",
        "rejected": "#8f2d1f",
        "unaccounted": "#4a4a4a",
        "accent": "#2c5f51",
    }
)

#: Strokes of rules and drawings.
RULE_HEAVY: Final = 1.1
RULE: Final = 0.5
RULE_HAIR: Final = 0.35

#: Words of standing, in the order of every legend and bar.
STANDINGS: Final = ("traced", "unproven", "rejected", "unaccounted")
WEIGHTS: Final = ("rejects", "unproven", "advice")
#: What a gap's weight does to a lot, as the standing whose colour and shape it wears.
WEIGHT_MARKS: Final = MappingProxyType({"rejects": "rejected", "unproven": "unproven", "advice": "advice"})
