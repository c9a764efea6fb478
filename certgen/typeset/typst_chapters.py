"""Chapters set by Typst: their parts as data for one template, in the looks of the style sheet."""

from __future__ import annotations

import base64
import io
from dataclasses import asdict
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.typeset import faces
from certgen.typeset.addresses import PICTURE_ADDRESSES
from certgen.typeset.column_widths import UNIT, grid_columns
from certgen.typeset.compact_entries import describe_compact
from certgen.typeset.design import TYPE
from certgen.typeset.entries import COLUMN_GAP, ENTRY_GAP, ENTRY_INDENT, Entries, column_width, count_entries
from certgen.typeset.page_batch import FIRST, PLACES, cut_batch
from certgen.typeset.parts import (
    Cautions,
    Contents,
    Facts,
    Findings,
    GapCard,
    Grid,
    Listing,
    Note,
    Picture,
    Prose,
    Run,
    Signature,
)
from certgen.typeset.typst_pages import compile_typst, design_of
from certgen.typeset.typst_text import Links, fit_words, has_marks

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from certgen.typeset.design import Settings, Sheet
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Cell, Chapter, ContentsLine, Exhibit, GapEntry, Part, Row, Section

    #: Texts as the template takes them.
    Described = str | list[str | list[Any]]

TEMPLATE: Final = "chapter.typ"
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"
#: Below a part, in points, and below one that the next is drawn up to.
_BELOW: Final = 7.0
_CLOSE: Final = 2.0
#: Below a section's heading, by its style.
_HEAD_BELOW: Final = MappingProxyType({"part": 4.0, "minor": 1.0, "group": 3.0})
_MINOR_BELOW: Final = MappingProxyType({"picture": 3.0, "prose": 3.0, "listing": 4.0})
#: What a part is called in the template, if not by its own name.
_KINDS: Final = MappingProxyType({"GapCard": "gap"})
#: What follows on the page of the part before it, by what that is.
_HOLDING: Final = MappingProxyType(
    {"listing": ("findings", "signature"), "prose": ("entries", "grid", "picture", "signature")}
)
#: The level of a card's heading, and the room that its labels take.
_CARD_LEVEL: Final = 3
_LABEL: Final = 68.0
#: A cell of more lines may be taller than a page, and so may a card that tells more gaps.
_TALL: Final = 40
_LONG: Final = 4
#: The most that the sign before a text takes, in points, and how much of a line a text may fill that surely
#: has room on it: texts are measured without kerning.
_SIGN: Final = 10.0
_SURELY: Final = 0.95
#: A table ends in so many sums at most.
_MOST_SUMS: Final = 3
#: So many entries are measured, so that their two columns end at one height.
_FEW: Final = 400
#: The most that a picture takes beside a finding, in points; a dot of it is a 96th of an inch.
_PICTURE: Final = (160.0, 110.0)
_DOT: Final = 0.75


class _DescribedCell(NamedTuple):
    """Whether a cell may be taller than a page or surely is one line high; its kind, mark and texts."""

    tall: bool
    line: bool
    told: tuple[str, str, Described]


class SetChapter(NamedTuple):
    """A chapter as Typst set it, with what its links lead to."""

    file: bytes
    links: tuple[str, ...]


def set_chapter(
    chapter: Chapter,
    settings: Settings,
    known: frozenset[str] | None = None,
    files: Collection[str] = (),
) -> SetChapter:
    """A chapter set, whose texts are fit to be set.

    `known` are the anchors that links may lead to (None: all), `files` the names of the attached files that
    they may open.
    """
    sheet, links = settings.sheet, Links(known, files)
    describing = _Describing(sheet, links)
    given = {
        **design_of(settings),
        "notes": sheet.notes,
        "beside": sheet.measure - sheet.column,
        "compact": {"gap": COLUMN_GAP, "entry": ENTRY_GAP, "indent": ENTRY_INDENT},
        "places": PLACES,
        "sections": [describing.section(section) for section in chapter.sections],
        "opening": links.opening,
    }
    file = compile_typst(TEMPLATE, given, epoch=settings.epoch)
    return SetChapter(file, tuple(links.numbers))


def number_chapter(
    chapter: SetChapter,
    settings: Settings,
    start: Numbering = FIRST,
    files: Mapping[str, int] = MappingProxyType({}),
) -> PageBatch:
    """The chapter in finished pages, whose objects and keys are numbered from `start` on.

    `files` are the numbers of the attached files, by name.
    """
    named = [(anchor, settings.say_link(anchor)) for anchor in chapter.links]
    return cut_batch(chapter.file, named, start, files=files, row_heads=True)


def count_rows(sections: Iterable[Section]) -> int:
    """About how many rows sections have, which is what it takes to set them."""
    parts = [part for section in sections for part in section.parts]
    grids = sum(len(part.rows) for part in parts if isinstance(part, Grid))
    listed = [part.registers for part in parts if isinstance(part, Entries)]
    return grids + sum(count_entries(register) for registers in listed for register in registers)


class _Describing:
    """What the template is given of sections and their parts."""

    def __init__(self, sheet: Sheet, links: Links) -> None:
        self._sheet = sheet
        self._links = links

    def section(self, section: Section) -> dict[str, Any]:
        """A section; a short one's table is named on the line of the section's heading."""
        parts = [self._part(part) for part in section.parts]
        minor, aside, below = section.style == "minor", "", _HEAD_BELOW.get(section.style, 8.0)
        for part, after in pairwise([*parts, {"part": ""}]):
            close = minor and part["part"] == "grid" and after["part"] in {"listing", "picture"}
            part["below"] = _CLOSE if close else _BELOW
            part["held"] = after["part"] in _HOLDING.get(part["part"], ())
            part["minor"] = minor
            part["terms"] = section.style.endswith("glossary")
            part["dense"] = part["terms"] or minor or section.style == "dossier"
        if minor and parts:
            below = _MINOR_BELOW.get(parts[0]["part"], below)
            if parts[0]["part"] == "grid":
                aside, parts[0]["caption"] = parts[0]["caption"], ""
        return {
            "anchor": section.anchor,
            "title": section.title,
            "level": section.level,
            "kicker": section.kicker,
            "lead": self._fit(section.lead, self._sheet.column, "text"),
            "mark": section.mark,
            "style": section.style.partition(" ")[0],
            "aside": aside,
            "below": below,
            "parts": parts,
        }

    def _part(self, part: Part) -> dict[str, Any]:
        kind = _KINDS.get(type(part).__name__, type(part).__name__.lower())
        described: dict[str, Any] = getattr(self, f"describe_{kind}")(part)
        return {"part": kind} | described

    def _fit(self, text: str, room: float, step: str) -> str:
        """A text whose words break only where one alone is wider than `room`."""
        size = TYPE[step].size
        # No letter is wider than an em and a half.
        long = len(text) * size * 1.5 > room and any(len(word) * size * 1.5 > room for word in text.split())
        return fit_words(text, room, size, hold=False) if long else text

    def _runs(self, runs: Sequence[Run], room: float, step: str, *, hold: bool = False) -> Described:
        """Texts: each as such where it is no more, else with its address, whether it is a field's name, and
        the mark before it. Where all are no more than texts they are one.
        """
        size = TYPE[step].size
        described: list[str | list[Any]] = []
        for run in runs:
            text = (
                fit_words(UNIT.sub(_NO_BREAK, run.text), room, size)
                if hold
                else self._fit(run.text, room, step)
            )
            address = self._links.address(run.href)
            plain = not (address or run.field or run.mark or has_marks(text))
            described.append(text if plain else [text, address, run.field, run.mark])
        if any(isinstance(one, list) for one in described):
            return described
        return "".join(map(str, described))

    def describe_contents(self, contents: Contents) -> dict[str, Any]:
        def line(one: ContentsLine) -> dict[str, Any]:
            return {
                "address": self._links.address(one.anchor),
                "title": one.title,
                "page": str(one.page),
                "below": [line(below) for below in one.below],
            }

        return {"lines": [line(one) for one in contents.lines]}

    def describe_prose(self, prose: Prose) -> dict[str, Any]:
        room = self._sheet.column if prose.width == "column" else self._sheet.measure
        return {
            "margin": prose.margin,
            "width": prose.width,
            "paragraphs": [self._fit(paragraph, room, "text") for paragraph in prose.paragraphs],
        }

    def describe_note(self, note: Note) -> dict[str, Any]:
        return {"runs": self._runs(note.runs, self._sheet.measure, "small")}

    def describe_listing(self, listing: Listing) -> dict[str, Any]:
        return {"items": [self._runs(item, self._sheet.column - 11, "text") for item in listing.items]}

    def describe_facts(self, facts: Facts) -> dict[str, Any]:
        room = self._sheet.column * 0.69
        return {
            "items": [
                {"label": fact.label, "runs": self._runs(fact.runs, room, "text"), "mark": fact.mark}
                for fact in facts.items
            ]
        }

    def describe_signature(self, signature: Signature) -> dict[str, Any]:
        return {"statement": signature.statement, "signers": signature.signers}

    def describe_findings(self, findings: Findings) -> dict[str, Any]:
        return asdict(findings)

    def describe_cautions(self, cautions: Cautions) -> dict[str, Any]:
        return {"pairs": [[(one.title, one.text) for one in pair] for pair in cautions.pairs]}

    def describe_picture(self, picture: Picture) -> dict[str, Any]:
        spots = [
            (
                self._links.address(spot.href),
                *(float(edge.removesuffix("%")) for edge in (spot.left, spot.top, spot.width, spot.height)),
            )
            for spot in picture.spots
        ]
        return {
            "svg": picture.svg,
            "alt": picture.alt,
            "caption": picture.caption,
            "width": picture.width,
            "spots": [spot for spot in spots if spot[0]],
        }

    def describe_grid(self, grid: Grid) -> dict[str, Any]:
        columns = grid_columns(grid, self._sheet)
        rooms = [width - inset for width, inset in columns]
        return {
            "caption": grid.caption,
            "note": grid.note,
            "width": grid.width,
            "close": grid.close,
            "columns": [
                {
                    "title": self._fit(head.text, room, "label"),
                    "kind": head.kind,
                    "width": width,
                    "inset": inset,
                }
                for head, room, (width, inset) in zip(grid.heads, rooms, columns, strict=True)
            ],
            "sums": _count_sums(grid),
            "rows": [
                {
                    "anchor": row.anchor,
                    "tone": row.tone,
                    "tall": any(cell.tall for cell in cells),
                    "line": all(cell.line for cell in cells),
                    "cells": [cell.told for cell in cells],
                }
                for row, cells in zip(grid.rows, self._cells(grid.rows, rooms), strict=True)
            ],
        }

    def _cells(self, rows: Sequence[Row], rooms: Sequence[float]) -> Iterator[list[_DescribedCell]]:
        """Each row's cells. Most of a long table say what others say, and are the same object: what one is in
        a column is found out once."""
        columns: list[dict[int, _DescribedCell]] = [{} for _ in rooms]
        for row in rows:
            for known, cell, room in zip(columns, row.cells, rooms, strict=True):
                if id(cell) not in known:
                    known[id(cell)] = self._cell(cell, room)
            yield [known[id(cell)] for known, cell in zip(columns, row.cells, strict=True)]

    def _cell(self, cell: Cell, room: float) -> _DescribedCell:
        text = "".join(run.text for run in cell.runs)
        wraps = faces.text_width(text, TYPE["table"].size) > room * 0.9
        told = cell.kind, cell.mark, self._runs(cell.runs, room, "table", hold=wraps)
        return _DescribedCell(_is_tall(cell, room), _is_line(cell, room), told)

    def describe_gap(self, card: GapCard) -> dict[str, Any]:
        room = self._sheet.column - _LABEL
        details = [
            ("Paper", (Run(card.without),) if card.without else ()),
            ("To mend it", card.remedy),
            ("Affects", (*card.lots, Run(card.reaches)) if card.reaches else ()),
            ("Rule", (Run("; ".join(card.clauses)),)),
            ("Grower’s words", (Run(card.explanation),) if card.explanation else ()),
        ]
        return {
            "number": card.number,
            "level": _CARD_LEVEL,
            "weight": card.weight,
            "mark": card.mark,
            "title": card.title,
            "rule": card.rule,
            "long": len(card.entries) + len(card.exhibits) > _LONG,
            "entries": [self._gap_entry(entry) for entry in card.entries],
            "exhibits": [self._exhibit(exhibit) for exhibit in card.exhibits],
            "details": [(label, self._runs(runs, room, "table")) for label, runs in details if runs],
        }

    def _gap_entry(self, entry: GapEntry) -> dict[str, Any]:
        where = [
            Run(f"{entry.number} · " if entry.number else ""),
            entry.record,
            Run(" · "),
            entry.file,
            Run(f"; {entry.also}" if entry.also else ""),
        ]
        return {
            "anchor": entry.anchor,
            "message": self._runs(entry.message, self._sheet.column, "text"),
            "where": self._runs([run for run in where if run.text], self._sheet.column, "table"),
        }

    def _exhibit(self, exhibit: Exhibit) -> dict[str, Any]:
        return {
            "paper": self._runs((exhibit.paper,), self._sheet.column, "small"),
            "lines": [self._fit(line, self._sheet.column - 8, "small") for line in exhibit.lines],
            "pictures": [_unpack(picture) for picture in exhibit.pictures],
            "alt": exhibit.alt,
            "note": exhibit.note,
        }

    def describe_entries(self, entries: Entries) -> dict[str, Any]:
        return {
            "level": entries.level,
            "small": entries.small,
            "few": sum(count_entries(register) for register in entries.registers) <= _FEW,
            "registers": [
                describe_compact(register, column_width(self._sheet), self._links)
                for register in entries.registers
            ],
        }


def _count_sums(grid: Grid) -> int:
    """How many rows, from the first sum on, close a table of more; 0 if none does."""
    tones = [row.tone for row in grid.rows[-_MOST_SUMS:]]
    sums = len(tones) - tones.index("total") if "total" in tones else 0
    return sums if sums < len(grid.rows) else 0


def _is_tall(cell: Cell, room: float) -> bool:
    letters = sum(len(run.text) for run in cell.runs)
    return letters > _TALL and letters * TYPE["table"].size > _TALL * room


def _is_line(cell: Cell, room: float) -> bool:
    """Whether a cell is surely no more than a line, in the boldest type and with signs before its texts."""
    text = "".join(run.text for run in cell.runs)
    signs = sum(bool(run.mark) + bool(run.href) for run in cell.runs) + bool(cell.mark)
    room -= signs * _SIGN
    return "\n" not in text and faces.text_width(text, TYPE["table"].size, weight=700) <= room * _SURELY


def _unpack(picture: str) -> tuple[str, list[int], float]:
    """A picture's kind, its bytes and how wide it is shown, in points."""
    from PIL import Image

    prefix = next(one for one in PICTURE_ADDRESSES if picture.startswith(one))
    data = base64.b64decode(picture.removeprefix(prefix))
    with Image.open(io.BytesIO(data)) as opened:
        width, height = opened.size
    most_wide, most_high = _PICTURE
    shown = min(width * _DOT, most_wide, most_high * width / height)
    return "png" if "png" in prefix else "jpg", list(data), shown
