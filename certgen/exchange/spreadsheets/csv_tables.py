"""The records as plain tables for other programs: a CSV file a table, with a data dictionary."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from typing import TYPE_CHECKING, Final

from certgen.exchange.spreadsheets.rows import (
    Face,
    face_rows,
    faces,
    join_list,
    neutralise,
    owner_heading,
    season_rows,
)
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records import Season

_DICTIONARY: Final = "data-dictionary.csv"


def csv_files(season: Season) -> Iterator[tuple[str, bytes]]:
    """A file for each table that holds records, the season's details, and the dictionary of all columns.

    Text that a spreadsheet would run as a formula has an apostrophe before it; import takes it off again.
    """
    yield (
        "season.csv",
        csv_bytes([["field", "value"], *([name, _cell(value)] for name, value in season_rows(season))]),
    )
    used = []
    for face in faces():
        rows = list(face_rows(season, face))
        if rows:
            used.append(face)
            yield (
                f"{face.name}.csv",
                csv_bytes(
                    [list(face.fields), *([_cell(row.get(name)) for name in face.fields] for row in rows)]
                ),
            )
    yield _DICTIONARY, csv_bytes(list(_dictionary(used)))


def csv_bundle(season: Season) -> bytes:
    """All CSV files in one ZIP archive; the same records give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in csv_files(season):
            entry = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, data)
    return out.getvalue()


def csv_bytes(rows: list[list[str]]) -> bytes:
    """Rows as a CSV file: UTF-8 with its mark, lines ended as RFC 4180 has it, no cell a formula."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([[neutralise(cell) for cell in row] for row in rows])
    return b"\xef\xbb\xbf" + out.getvalue().encode()  # the mark tells spreadsheet programs that this is UTF-8


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return join_list(value)
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _dictionary(used: list[Face]) -> Iterator[list[str]]:
    yield ["file", "column", "title", "kind", "always there", "words", "names a record of", "meaning"]
    for face in used:
        for name, field in face.fields.items():
            refers = (
                load_tables()[face.table.name].name
                if name == owner_heading(face.table)
                else ", ".join(field.refers_to)
            )
            words = (
                join_list(field.enum) if field.enum else f"the crop's {field.words}" if field.words else ""
            )
            kind = field.kind if field.item is None else f"list of {field.item.kind}"
            yield [
                f"{face.name}.csv",
                name,
                field.title,
                kind,
                "yes" if field.required else "no",
                words,
                refers,
                field.description,
            ]
