"""Gaps as SARIF 2.1.0 (OASIS), findings that editors and code hosts show in their place in a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from certgen.dossier.abridging import most_told
from certgen.exchange.interchange.layout import list_names
from certgen.standards.loader import how_read

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.examination import Result
    from certgen.records import Place, ReadingError
    from certgen.rules import Gap

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS: Final = {"rejects": "error", "unproven": "warning", "advice": "note"}
_READING: Final = "record-unreadable"


def build_sarif(result: Result, gaps: Sequence[Gap] | None = None) -> dict[str, Any]:
    """One run: each gap a result of its rule, every place named; reading errors as results of their own.

    `gaps` narrows to some of the result's. Paths are relative to the season's folder.
    """
    from certgen.rules import RULES

    shown = list(result.gaps if gaps is None else gaps)
    where = result.locate([place for gap in shown for place in (gap.place, *gap.others)])
    names = sorted({gap.rule for gap in shown})
    rules = [_rule(name, RULES.get(name)) for name in names]
    most = most_told(gap.lots for gap in shown)
    results = [_result(result, gap, names.index(gap.rule), where, most) for gap in shown]
    if result.errors:
        rules.append({"id": _READING, "shortDescription": {"text": "A record that could not be read"}})
        results += [_reading(error, len(names)) for error in result.errors]
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {"driver": {"name": "certgen", "version": result.version, "rules": rules}},
                "columnKind": "unicodeCodePoints",
                "results": results,
                "properties": {"on": result.on.isoformat(), "season": result.season.details.label},
            }
        ],
    }


def _rule(name: str, rule: Any) -> dict[str, Any]:  # a rule, or None for a rule that failed
    why = " ".join(str(getattr(rule, "why", "") or "").split()) or name.replace("-", " ")
    return {
        "id": name,
        "shortDescription": {"text": name.replace("-", " ")},
        "fullDescription": {"text": why},
    }


def _result(
    result: Result, gap: Gap, index: int, where: dict[Place, tuple[int, int]], most: int | None
) -> dict[str, Any]:
    text = gap.message if not gap.remedy else f"{gap.message} {gap.remedy}"
    entry: dict[str, Any] = {
        "ruleId": gap.rule,
        "ruleIndex": index,
        "level": _LEVELS[gap.weight],
        "message": {"text": text},
        "locations": [_location(gap.place, where)],
        "properties": {
            "table": gap.table,
            "id": gap.id,
            **list_names("lots", gap.lots, most),
            "clauses": list(gap.clauses),
            "clauseMarks": [how_read(clause, result.profile) for clause in gap.clauses],
        },
    }
    if gap.others:
        entry["relatedLocations"] = [
            {"id": number, **_location(place, where)} for number, place in enumerate(gap.others, 1)
        ]
    return entry


def _location(place: Place, where: dict[Place, tuple[int, int]]) -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": {"uri": quote(place.file)}}
    if place in where:
        line, column = where[place]
        physical["region"] = {"startLine": max(1, line), "startColumn": max(1, column)}
    return {"physicalLocation": physical}


def _reading(error: ReadingError, index: int) -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": {"uri": quote(error.file)}}
    if error.line:
        physical["region"] = {"startLine": error.line, "startColumn": error.column or 1}
    return {
        "ruleId": _READING,
        "ruleIndex": index,
        "level": "error",
        "message": {"text": error.message},
        "locations": [{"physicalLocation": physical}],
    }
