"""What commands share in handing results to other programs, and in refusing a folder that holds no season."""

from __future__ import annotations

import csv
import json
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date
    from pathlib import Path

    from certgen.examination import Result
    from certgen.records import ReadingError


def examine_or_refuse(
    season: Path,
    on: date,
    form: str = "text",
    *,
    suppositions: Sequence[str] = (),
    cached: bool = True,
    told: bool = True,
) -> Result | None:
    """The examined season, or None after saying why nothing could be read (exit code 2 is then due).

    Reading errors that leave the rest whole go to standard error, so that what other programs read stays
    clean; with `told` False the command says them itself. `cached` allows files parsed before. Raises
    SuppositionError as `examine` does.
    """
    from certgen.cli.progress import show_waiting
    from certgen.disk_cache import cache_folder
    from certgen.examination import ReadFailure, examine

    try:
        with show_waiting("reading and checking the records"):
            result = examine(season, on, suppositions=suppositions, cache=cache_folder() if cached else None)
    except ReadFailure as failure:
        refuse(failure.errors, form)
        return None
    if told:
        list_errors(result.errors)
    return result


def refuse(errors: Iterable[ReadingError], form: str = "text") -> None:
    """Why nothing could be read, in the form that was asked for."""
    if form == "json":
        dump_json({"errors": errors_as_json(errors)})
    else:
        list_errors(errors)


def errors_as_json(errors: Iterable[ReadingError]) -> list[dict[str, Any]]:
    """Reading errors, each with its place."""
    return [
        {"file": error.file, "line": error.line, "column": error.column, "message": error.message}
        for error in errors
    ]


def list_errors(errors: Iterable[ReadingError]) -> None:
    """The errors on standard error, one a line, place first."""
    sys.stderr.write("".join(f"{error.text()}\n" for error in errors))


def dump_json(content: Any) -> None:
    """One JSON object on standard output."""
    json.dump(content, sys.stdout, ensure_ascii=False, indent=1)
    sys.stdout.write("\n")


def name_season(result: Result) -> dict[str, str]:
    """The season's label and operation, as every JSON output begins."""
    details = result.season.details
    return {"label": details.label, "operation": details.operation.name}


def dump_csv(heading: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Comma-separated values on standard output; what a spreadsheet would run as a formula is neutralised."""
    from certgen.exchange.spreadsheets.cell_text import neutralise

    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(heading)
    writer.writerows(
        [neutralise(value) if isinstance(value, str) else "" if value is None else value for value in row]
        for row in rows
    )
