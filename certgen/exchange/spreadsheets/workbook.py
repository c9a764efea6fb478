"""The season as a workbook that a person can fill in: one sheet a table.

The heading row stays in sight, a note on each heading says what belongs below it, words are picked from
lists, and every cell that takes text is told to leave text alone (tree `010` stays `010`).
"""

from __future__ import annotations

import datetime as dt
import errno
import io
import os
import tempfile
from typing import TYPE_CHECKING, Any

from certgen.exchange.spreadsheets.rows import (
    Face,
    escape_controls,
    face_rows,
    faces,
    join_list,
    looks_like_formula,
    season_field,
    season_names,
    season_rows,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from openpyxl import Workbook

    from certgen.records import Season
    from certgen.records.tables import Field
    from certgen.standards import Caution, Profile

#: Rows below the records for which lists to pick from are laid out.
SPARE_ROWS = 2_000
_LISTS = "lists"
_EPOCH = dt.datetime(2000, 1, 1)  # noqa: DTZ001  # a workbook's times have no zone; fixed, so that the same records give the same bytes


def build_workbook(season: Season | None, profile: Profile) -> bytes:
    """A workbook of a season's records, or an empty one to begin with (`season` None).

    The crop's profile gives the lists to pick from, and the cautions that stand on the sheets of each piece
    of work: in the note on the first heading, and at the head of a printed page. The same records give the
    same bytes. Raises `OSError` when there is no room for the sheets, which wait in the folder for temporary
    files until they are packed.
    """
    try:
        return _settle(_pack(season, profile))
    except Exception as fault:
        # openpyxl has lxml write where that is installed, and lxml names the system's errors in its own way.
        code = getattr(errno, str(fault).removeprefix("IO_"), None)
        if code is None or isinstance(fault, OSError):
            raise
        raise OSError(code, os.strerror(code), tempfile.gettempdir()) from fault


def _pack(season: Season | None, profile: Profile) -> bytes:
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    _date_it(book)
    styles = _Styles(book)
    lists: dict[tuple[str, ...], str] = {}
    _add_season(season, styles)
    for face in faces():
        rows = list(face_rows(season, face)) if season is not None else []
        _add_sheet(book, face, rows, profile, lists, styles)
    _add_lists(book, lists)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


class _Styles:
    """The few looks of cells, made once: one for each cell would cost half a second a thousand rows."""

    def __init__(self, book: Workbook) -> None:
        from openpyxl.cell import WriteOnlyCell
        from openpyxl.styles import Alignment, Font, PatternFill

        from certgen.exchange.spreadsheets.cell_sheets import begin_sheet

        sheet = begin_sheet(book, "season")
        self.season = sheet
        self._make = WriteOnlyCell
        self._cells: dict[str, Any] = {}
        for name, form in (("text", "@"), ("date", "yyyy-mm-dd"), ("number", "General")):
            cell = WriteOnlyCell(sheet)
            cell.number_format = form
            cell.alignment = Alignment(vertical="top", wrap_text=name == "text")
            self._cells[name] = cell
        quoted = WriteOnlyCell(sheet)
        quoted.number_format = "@"
        quoted.quotePrefix = True
        self._cells["quoted"] = quoted
        for name, colour in (("heading", "E4E4E4"), ("needed", "C8C8C8")):
            cell = WriteOnlyCell(sheet)
            cell.font = Font(bold=True)
            cell.fill = PatternFill("solid", fgColor=colour)
            cell.alignment = Alignment(vertical="top", wrap_text=True)
            cell.number_format = "@"
            self._cells[name] = cell

    def cell(self, sheet: Any, value: object, look: str) -> Any:  # openpyxl's cells
        cell: Any = self._make(sheet)
        cell._style = self._cells[look]._style  # noqa: SLF001  # one style for all: 40 times faster than one each
        cell.value = value
        if isinstance(value, str):
            cell.data_type = "s"  # text, also when it begins like a formula
        return cell

    def value(self, sheet: Any, value: object, field: Field) -> Any:
        if isinstance(value, dt.date) and value.year >= 1900:
            return self.cell(sheet, value, "date")
        if isinstance(value, int | float) and not isinstance(value, bool):
            return self.cell(sheet, value, "number")
        text = escape_controls(_text(value, field))
        return self.cell(sheet, text, "quoted" if looks_like_formula(text) else "text")


def _text(value: object, field: Field) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field.kind in {"list", "evidence"}:
        return join_list([value] if isinstance(value, str) else value)  # type: ignore[arg-type]  # a tuple by its kind
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _date_it(book: Workbook) -> None:
    book.properties.creator = "certgen"
    book.properties.title = "Season's records"
    book.properties.created = book.properties.modified = _EPOCH


def _add_season(season: Season | None, styles: _Styles) -> None:
    sheet = styles.season
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 30, 60
    sheet.column_dimensions["C"].width = 80
    sheet.freeze_panes = "A2"
    sheet.append([styles.cell(sheet, text, "heading") for text in ("field", "value", "what belongs here")])
    values = dict(season_rows(season)) if season is not None else {}
    names = list(dict.fromkeys([*values, *season_names()]))
    order = {name: i for i, name in enumerate(season_names())}
    for name in sorted(names, key=lambda column: order.get(column, len(order))):
        field = season_field(name)
        value = styles.value(sheet, values[name], field) if name in values else None
        if value is not None and isinstance(values[name], str) and field.kind == "date":
            value = styles.value(sheet, dt.date.fromisoformat(values[name]), field)
        sheet.append([styles.cell(sheet, name, "text"), value, styles.cell(sheet, _explain(field), "text")])


def _explain(field: Field) -> str:
    parts = [field.description or field.title]
    if field.kind in {"list", "evidence"}:
        parts.append("Part several by a semicolon.")
    if field.is_quantity:
        parts.append("A number and its unit.")
    if field.examples:
        shown = field.examples[0]
        parts.append(f"For example: {_text(shown, field) if not isinstance(shown, dict) else ''}".rstrip())
    return " ".join(part for part in parts if part)


def _add_sheet(
    book: Workbook,
    face: Face,
    rows: list[dict[str, Any]],
    profile: Profile,
    lists: dict[tuple[str, ...], str],
    styles: _Styles,
) -> None:
    from openpyxl.comments import Comment
    from openpyxl.utils import get_column_letter

    from certgen.exchange.spreadsheets.cell_sheets import begin_sheet

    sheet = begin_sheet(book, face.name)
    sheet.freeze_panes = "B2"
    cautions = profile.cautions.of_table(face.table.name)
    if cautions:
        sheet.oddHeader.left.text = _print_cautions(cautions)
    headings = []
    for index, (name, field) in enumerate(face.fields.items(), 1):
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = max(12, min(40, len(name) + 4))
        sheet.column_dimensions[letter].number_format = _column_format(field)
        cell = styles.cell(sheet, name, "needed" if _needed(field, name) else "heading")
        note = f"{field.title}\n{_explain(field)}" + (
            "\nNeeded in every row." if _needed(field, name) else ""
        )
        cell.comment = Comment(note[:1000], "certgen", height=120, width=320)
        if index == 1 and cautions:
            said = "\n".join(f"Caution. {one.line}" for one in cautions)
            cell.comment = Comment(f"{note[:1000]}\n\n{said}", "certgen", height=420, width=420)
        headings.append(cell)
        _offer_words(sheet, f"{letter}2:{letter}{len(rows) + SPARE_ROWS}", field, profile.words, lists)
    sheet.append(headings)
    fields = face.fields
    for row in rows:
        sheet.append(
            [styles.value(sheet, row[name], field) if name in row else None for name, field in fields.items()]
        )


def _print_cautions(cautions: Sequence[Caution]) -> str:
    """What heads each printed page of a sheet; a spreadsheet takes 255 characters there and no more."""
    titles = ", ".join(one.title[:1].lower() + one.title[1:] for one in cautions)
    return f"Caution: {titles}. The note on the first heading says what, and whose word counts."


def _needed(field: Field, name: str) -> bool:
    # A needed field of a mapping that itself may be absent is needed only once the mapping is begun.
    return field.required and ("." not in name or name.startswith("drying."))


def _column_format(field: Field) -> str:
    return {"date": "yyyy-mm-dd", "whole": "0", "number": "General"}.get(field.kind, "@")


def _offer_words(
    sheet: Any,
    cells: str,
    field: Field,
    words: Mapping[str, tuple[str, ...]],
    lists: dict[tuple[str, ...], str],
) -> None:
    """A list to pick from: the field's words, the crop's, yes and no, or another sheet's identifiers."""
    from openpyxl.worksheet.datavalidation import DataValidation

    offered: Iterable[str] = (
        ("yes", "no") if field.kind == "yes_no" else words.get(field.words, ()) or field.enum
    )
    offered = tuple(offered)
    if offered:
        source = lists.setdefault(
            offered, f"'{_LISTS}'!${_letter(len(lists))}$1:${_letter(len(lists))}${len(offered)}"
        )
        choice = DataValidation(type="list", formula1=source, allow_blank=True, showErrorMessage=True)
        choice.errorTitle, choice.error = "Not in the list", f"Write one of: {', '.join(offered)}"[:250]
    elif field.kind == "identifier" and len(field.refers_to) == 1:
        choice = DataValidation(
            type="list", formula1=f"'{field.refers_to[0]}'!$A$2:$A$20000", allow_blank=True
        )
        choice.showErrorMessage = False  # the record it names may stand in another file
    else:
        return
    choice.add(cells)
    sheet.data_validations.append(choice)


def _letter(index: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(index + 1))


def _add_lists(book: Workbook, lists: Mapping[tuple[str, ...], str]) -> None:
    sheet = book.create_sheet(_LISTS)
    sheet.sheet_state = "hidden"
    for number in range(max((len(words) for words in lists), default=0)):
        sheet.append([words[number] if number < len(words) else None for words in lists])


def _settle(data: bytes) -> bytes:
    """The same workbook with fixed times in its archive and its properties."""
    import re
    import zipfile

    out = io.BytesIO()
    stamp = b"2000-01-01T00:00:00Z"
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            fixed = zipfile.ZipInfo(entry.filename, (2000, 1, 1, 0, 0, 0))
            fixed.compress_type, fixed.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            new.writestr(fixed, content)
    return out.getvalue()
