"""Long tables, the index and the running heads, set by Typst: tagged, in the same faces, many times faster.

A thousand rows of ten columns take WeasyPrint about 6 s and Typst about 0.3 s. Typst's memory grows with
the rows of one run, so a long register is set in chunks; a chunk's unfilled last page is taken off and its
rows
open the next chunk, so that no page in the middle is half empty.
"""

from __future__ import annotations

import json
from collections.abc import Callable
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
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.report.packet import Register, RegisterColumn

Compose = Callable[..., bytes]

#: Right inset of a register's cell, as in registers.typ, in points.
_INSET: Final = 5.0


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

    compiler = typst.Compiler(
        input=(templates_dir() / template).read_bytes(),
        font_paths=_fonts(),
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
    )
    pdf = compiler.compile(
        format="pdf",
        timestamp=epoch,
        pdf_tags=tagged,
        pdf_standards=(["a-3a", "ua-1"] if headed else ["a-3a"]) if tagged else [],
    )
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


def _rows(register: Register, widths: Sequence[float]) -> list[list[list[tuple[str, str]]]]:
    size = TYPE["register"].size
    rooms = [width - _INSET for width in widths]
    return [
        [
            [(breakable(text, room, size), f"packet:{href}|{anchor}" if href else "") for text, href in cell]
            for cell, room in zip(cells, rooms, strict=True)
        ]
        for anchor, cells in register.rows
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
    compose: Compose | None = None,
) -> Iterator[tuple[bytes, bool]]:
    """Tagged PDFs that follow one another: (file, whether its last page is to be dropped).

    `compose` runs Typst (None: here and now); it keeps what it has set in memory, so that a season of many
    thousand rows is best set by processes that are thrown away.

    Short registers share a run and follow one another down the page; a long one is set in chunks.
    """
    compose = compose or compile_typst
    design = design_of(sheet_name, language, title)
    measure = SHEETS[sheet_name].measure
    opening = {"title": heading, "lead": lead}
    waiting: list[dict[str, Any]] = []
    weight = 0
    first = True
    for register in registers:
        widths = column_widths(register.columns, [cells for _, cells in register.rows], measure)
        rows = _rows(register, widths)
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
            file = compose(
                "registers.typ",
                {**design, "opening": opening if first else None, "registers": waiting},
                epoch=epoch,
                headed=first,
            )
            first = False
            left = rows_on_last_page(file)
            yield file, left > 0
            start -= left
            waiting, weight = [], 0
    if waiting:
        yield (
            compose(
                "registers.typ",
                {**design, "opening": opening if first else None, "registers": waiting},
                epoch=epoch,
                headed=first,
            ),
            False,
        )


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
