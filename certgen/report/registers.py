"""Long tables, the index and the running heads, set by Typst: tagged, in the same faces, many times faster.

A thousand rows of ten columns take WeasyPrint about 6 s and Typst about 0.3 s. Typst's memory grows with
the rows of one run, so a long register is set in chunks; a chunk's unfilled last page is taken off and its
rows
open the next chunk, so that no page in the middle is half empty.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from certgen.report import faces
from certgen.report.columns import WIDEST_WORD, fit, natural_width, widest_word
from certgen.report.design import (
    COLOURS,
    REGISTER_CHUNK,
    RULE,
    RULE_HAIR,
    RULE_HEAVY,
    SANS,
    SERIF,
    SHEETS,
    TYPE,
)
from certgen.report.structure import kids, last_table, page_of
from certgen.resources import templates_dir

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from certgen.report.packet import Register, RegisterColumn

#: Right inset of a register's cell, as in registers.typ, in points.
_INSET: Final = 5.0
#: Inset above and below a register's cell, as in registers.typ, in points.
_ABOVE: Final = 2.3
#: The part of a cell's room that a text may fill to be sure of its one line.
_SURE: Final = 0.97


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(
        include_system_fonts=not faces.other_faces(),
        include_embedded_fonts=False,
        font_paths=[str(folder) for folder in faces.folders()],
    )


def design_of(sheet_name: str, language: str, title: str) -> dict[str, Any]:
    """The figures of the design that every Typst template is given."""
    sheet = SHEETS[sheet_name]
    return {
        "title": title,
        "language": language,
        "sheet": {
            "width": sheet.width,
            "height": sheet.height,
            "top": sheet.top,
            "bottom": sheet.bottom,
            "left": sheet.left,
            "right": sheet.right,
            "column": sheet.column,
        },
        "type": {name: asdict(step) for name, step in TYPE.items()},
        "colour": dict(COLOURS),
        "rule": {"heavy": RULE_HEAVY, "normal": RULE, "hair": RULE_HAIR},
        "sans": list(faces.families(SANS)),
        "serif": list(faces.families(SERIF)),
    }


def compile_typst(
    template: str, data: Mapping[str, Any], *, epoch: int, tagged: bool = True, headed: bool = True
) -> bytes:
    """The PDF of a Typst template given its data.

    Tagged files follow PDF/A-3a and, where they open with a heading, are checked against PDF/UA-1 as well.
    """
    import typst

    def compose(text: str) -> Any:
        compiler = typst.Compiler(
            input=(templates_dir() / template).read_bytes(),
            font_paths=_fonts(),
            sys_inputs={"data": text},
        )
        return compiler.compile(
            format="pdf",
            timestamp=epoch,
            pdf_tags=tagged,
            pdf_standards=(["a-3a", "ua-1"] if headed else ["a-3a"]) if tagged else [],
        )

    told = json.dumps(data, ensure_ascii=False)
    try:
        pdf = compose(told)
    except typst.TypstError as error:
        # A tagged page may hold no letter without a shape.
        if "could not be displayed" not in str(error):
            raise
        pdf = compose(faces.spell_out(told))
    if not isinstance(pdf, bytes):
        message = f"{template} came out as {type(pdf).__name__}, not as a file"
        raise TypeError(message)
    return pdf


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


def breakable(text: str, room: float, size: float) -> str:
    """`text` with places to break inside words that are wider than `room`; other text is left as it is."""
    if len(text) * size * 0.35 <= room:
        return text
    words = []
    for word in text.split(" "):
        if faces.text_width(word, size) <= room:
            words.append(word)
            continue
        pieces, piece = [], ""
        for letter in word:
            if piece and faces.text_width(piece + letter, size) > room * 0.97:
                pieces.append(piece)
                piece = ""
            piece += letter
        words.append("\u200b".join([*pieces, piece]))
    return " ".join(words)


def _rows(
    register: Register, widths: Sequence[float], known: frozenset[str] | None
) -> list[list[str | list[tuple[str, str]]]]:
    size = TYPE["register"].size
    rooms = [width - _INSET for width in widths]

    def runs(cell: Sequence[tuple[str, str]], room: float, anchor: str) -> str | list[tuple[str, str]]:
        if not any(href for _, href in cell):
            return breakable("".join(text for text, _ in cell), room, size)
        return [
            (
                breakable(text, room, size),
                f"packet:{href}|{anchor}" if href and (known is None or href in known) else "",
            )
            for text, href in cell
        ]

    return [
        [runs(cell, room, anchor) for cell, room in zip(cells, rooms, strict=True)]
        for anchor, cells in register.rows
    ]


@cache
def _cap_height() -> float:
    """The height of a capital letter, as a part of the type's size."""
    from fontTools.ttLib import TTFont

    face = next(
        one for one in faces.own_faces() if one.family == SANS and one.weight == 400 and not one.italic
    )
    with TTFont(face.path) as font:
        return float(font["OS/2"].sCapHeight) / float(font["head"].unitsPerEm)


def _heights(
    rows: Sequence[Sequence[str | Sequence[tuple[str, str]]]], widths: Sequence[float]
) -> list[float]:
    """The height of each row whose cells surely stand on one line, in points; 0 where that isn't sure.

    Given a height, Typst lays a cell out once instead of twice, which saves a third of its time.
    """
    size = TYPE["register"].size
    rooms = [(width - _INSET) * _SURE for width in widths]
    height = _cap_height() * size + 2 * _ABOVE

    def sure(cell: str | Sequence[tuple[str, str]], room: float) -> bool:
        text = cell if isinstance(cell, str) else "".join(run[0] for run in cell)
        # Letters of other faces may stand taller.
        return text.isascii() and text.isprintable() and faces.text_width(text, size) <= room

    return [
        height if all(sure(cell, room) for cell, room in zip(row, rooms, strict=True)) else 0.0
        for row in rows
    ]


def _part(
    register: Register, rows: Sequence[Any], widths: Sequence[float], *, level: int, first: bool
) -> dict[str, Any]:
    return {
        "title": register.title if first else "",
        "lead": register.lead if first else "",
        "level": level,
        "columns": [
            {"title": column.title, "kind": column.kind, "width": width}
            for column, width in zip(register.columns, widths, strict=True)
        ],
        "rows": rows,
        "heights": _heights(rows, widths),
    }


def set_registers(
    registers: Sequence[Register],
    *,
    heading: str,
    lead: str,
    title: str,
    language: str,
    sheet_name: str,
    epoch: int,
) -> Iterator[tuple[bytes, bool]]:
    """Tagged PDFs that follow one another: (file, whether its last page is to be dropped)."""

    def run(data: Mapping[str, Any], *, headed: bool, goes_on: bool) -> tuple[bytes, int]:
        file = compile_typst("registers.typ", data, epoch=epoch, headed=headed)
        return file, rows_on_last_page(file) if goes_on else 0

    design = design_of(sheet_name, language, title)
    for file, left in set_in_chunks(
        registers, design, {"title": heading, "lead": lead}, SHEETS[sheet_name].measure, run
    ):
        yield file, left > 0


def set_in_chunks(
    registers: Sequence[Register],
    design: Mapping[str, Any],
    opening: Mapping[str, str],
    measure: float,
    run: Callable[..., tuple[Any, int]],
    known: frozenset[str] | None = None,
) -> Iterator[tuple[Any, int]]:
    """What `run` makes of each chunk of the registers, and how many of its rows open the next one.

    `run(data, headed, goes_on)` sets a chunk that opens with a heading or not, and after which a
    register goes on or not. `known` are the anchors that links may lead to (None: all). Short registers
    share a run and follow one another down the page; a long one is set in chunks.
    """
    waiting: list[dict[str, Any]] = []
    weight = 0
    first = True
    for register in registers:
        widths = column_widths(register.columns, [cells for _, cells in register.rows], measure)
        rows = _rows(register, widths, known)
        start = 0
        started = False
        while True:
            # Never a scrap of a long register: its unfilled page must not reach back to its heading.
            room = max(REGISTER_CHUNK - weight, REGISTER_CHUNK // 2)
            part = _part(register, rows[start : start + room], widths, level=2, first=not started)
            waiting.append(part)
            weight += len(part["rows"])
            start += len(part["rows"])
            started = True
            if start >= len(rows):
                break
            data = {**design, "opening": opening if first else None, "registers": waiting}
            done, left = run(data, headed=first, goes_on=True)
            first = False
            yield done, left
            start -= left
            waiting, weight = [], 0
    if waiting:
        data = {**design, "opening": opening if first else None, "registers": waiting}
        yield run(data, headed=first, goes_on=False)


def rows_on_last_page(file: bytes) -> int:
    """How many body rows of the last table stand on the file's last page; 0 when it has but one page."""
    import io

    import pikepdf

    with pikepdf.open(io.BytesIO(file)) as pdf:
        if len(pdf.pages) < 2:
            return 0
        last = pdf.pages[-1].obj.objgen
        table = last_table(pdf.Root.StructTreeRoot)
        count = 0
        for group in reversed(kids(table) if table is not None else []):
            if group.S != "/TBody":
                break
            for row in reversed(kids(group)):
                if page_of(row) != last:
                    return count
                count += 1
        return count
