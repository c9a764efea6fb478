"""Which papers are named and there, and which records lack theirs, for other programs: one JSON object."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.papers import count_papered, count_weighing
from certgen.exchange.interchange.layout import name_season

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.papers import Unpapered
    from certgen.examination import Result
    from certgen.exchange.editing.evidence import Named

#: The form of `evidence --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def build_evidence(
    result: Result,
    named: Sequence[Named],
    unpapered: Sequence[Unpapered],
    uncopied: Sequence[Unpapered],
    unnamed: Sequence[str],
    copies: Sequence[Sequence[str]],
) -> dict[str, Any]:
    """The object that `schemas/output/evidence.json` describes."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "named": [
            {
                "path": entry.path,
                "table": entry.table,
                "id": entry.id,
                "field": entry.field,
                "there": entry.there,
            }
            for entry in named
        ],
        "unpapered": [_tell(kind, result) for kind in unpapered],
        "uncopied": [_tell(kind, result) for kind in uncopied],
        "unnamed": list(unnamed),
        "copies": [list(paths) for paths in copies],
        "tables": [
            {"table": one.table, "records": one.records, "naming": one.naming}
            for one in count_papered(result.case)
        ],
    }


def _tell(kind: Unpapered, result: Result) -> dict[str, Any]:
    records = [
        dict(zip(("table", "id"), record.split(" ", 1), strict=True), says=says)
        for record, says in kind.records
    ]
    return {
        "kind": kind.title,
        "of": kind.of,
        "rules": list(kind.rules),
        "weighing": count_weighing(result, kind),
        "records": records,
    }
