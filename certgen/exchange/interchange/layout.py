"""How JSON and CSV are laid out wherever certgen writes them, and the parts that their contents share."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from typing import TYPE_CHECKING, Any

from certgen.exchange.spreadsheets.cell_text import neutralise

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.records import ReadingError


def render_json(content: Any) -> str:
    """A document as text, with a line feed at its end. Days are ISO dates, a table's numbers plain ones."""
    return json.dumps(content, ensure_ascii=False, indent=1, default=_as_plain) + "\n"


def _as_plain(value: Any) -> object:
    if isinstance(value, dt.date):
        return value.isoformat()
    if hasattr(value, "item"):
        return value.item()
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def render_csv(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows below a heading; nothing is an empty cell, and what a spreadsheet would run is neutralised."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heading)
    writer.writerows(
        [neutralise(value) if isinstance(value, str) else value for value in row] for row in rows
    )
    return out.getvalue()


def grams(milligrams: int) -> float:
    """Milligrams as grams: at most three decimals, and the same figure again when it is read back."""
    return round(milligrams / 1000, 3)


def name_season(result: Result) -> dict[str, str]:
    """The season's label and operation."""
    details = result.season.details
    return {"label": details.label, "operation": details.operation.name}


def list_errors(errors: Iterable[ReadingError]) -> list[dict[str, Any]]:
    """Reading errors, each with its place."""
    return [
        {"file": error.file, "line": error.line, "column": error.column, "message": error.message}
        for error in errors
    ]


def name_record(result: Result, node: Node) -> dict[str, str]:
    """A record's table, identifier and season (empty for this one)."""
    return {"table": node.table, "id": node.id, "season": result.lineage.season_of(node)}
