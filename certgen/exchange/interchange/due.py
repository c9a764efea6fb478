"""What is cleared and what falls due, for other programs: one JSON object, or rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.cautions import cautions_of_due
from certgen.exchange.interchange.layout import name_season, tell_cautions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.due import Due
    from certgen.examination import Result

#: The form of `due --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1

#: The columns of `due --format csv`, and the keys of an entry in JSON.
COLUMNS: Final = ("subject", "state", "table", "id", "about", "first", "last", "basis")


def build_due(result: Result, due: Sequence[Due]) -> dict[str, Any]:
    """The object that `schemas/output/due.json` describes."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "on": result.on,
        "cautions": {subject: tell_cautions(some) for subject, some in cautions_of_due(result, due).items()},
        "due": [dict(zip(COLUMNS, row, strict=True)) for row in tabulate_due(due)],
    }


def tabulate_due(due: Sequence[Due]) -> list[tuple[str, ...]]:
    """A row an entry, below `COLUMNS`."""
    return [
        (
            entry.subject,
            entry.state,
            entry.table,
            entry.identifier,
            entry.about,
            "" if entry.first is None else entry.first.isoformat(),
            "" if entry.last is None else entry.last.isoformat(),
            entry.basis,
        )
        for entry in due
    ]
