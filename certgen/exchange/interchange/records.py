"""Every record as JSON, with the lots' standing and the links between records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.interchange.layout import name_record
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from certgen.examination import Result

#: The form of `schemas/output/records.json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def build_records(result: Result) -> dict[str, Any]:
    """Every record, nested as typed, as `schemas/output/records.json` describes it."""
    season = result.season
    return {
        "format": FORMAT,
        "tool": "certgen",
        "version": result.version,
        "on": result.on,
        "season": dict(season.details.raw),
        "tables": {name: records_of(season, name) for name in load_tables()},
        "lots": [
            {
                "lot": name,
                "standing": lot.standing,
                "weight_mg": int(lot.weight_mg),
                "traced_mg": int(lot.traced_mg),
                "unproven_mg": int(lot.unproven_mg),
                "rejected_mg": int(lot.rejected_mg),
                "unaccounted_mg": int(lot.unaccounted_mg),
            }
            for name, lot in result.lots.items()
        ],
        "links": [
            {
                "from": name_record(result, link.source),
                "to": name_record(result, link.target),
                "kind": link.kind,
                "weight_mg": None if link.weight_mg is None else int(link.weight_mg),
            }
            for link in result.lineage.links
        ],
        "left_out": [{"file": e.file, "line": e.line, "message": e.message} for e in season.left_out],
    }
