"""Gaps as SARIF 2.1.0 (OASIS), findings that editors and code hosts show in their place in a file.

A code host looks for a file from the root of its repository, wherever in it the season lies. The log names no
address of a help page, for the project has none: what a page would say stands in each rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from certgen.dossier.abridging import most_told
from certgen.exchange.interchange.layout import list_names
from certgen.records.places import file_from
from certgen.standards.loader import how_read

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from certgen.examination import Result
    from certgen.records import Place, ReadingError
    from certgen.rules import Gap
    from certgen.rules.registry import Rule

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS: Final = {"rejects": "error", "unproven": "warning", "advice": "note"}
_READING: Final = "record-unreadable"
#: What stands for the folder that paths begin at.
_ROOT: Final = "%SRCROOT%"


def build_sarif(result: Result, gaps: Sequence[Gap] | None = None) -> dict[str, Any]:
    """One run: each gap a result of its rule, every place named; reading errors as results of their own.

    `gaps` narrows to some of the result's. Paths begin at the root of the git repository that the season lies
    in, or in the season's folder where it lies in none.
    """
    from certgen.rules import RULES

    way = find_way(result.season.folder)
    shown = list(result.gaps if gaps is None else gaps)
    where = result.locate([place for gap in shown for place in (gap.place, *gap.others)])
    names = sorted({gap.rule for gap in shown})
    rules = [_rule(name, RULES.get(name)) for name in names]
    most = most_told(gap.lots for gap in shown)
    results = [_result(result, gap, names.index(gap.rule), _Places(way, where), most) for gap in shown]
    if result.errors:
        rules.append(_READING_RULE)
        results += [_reading(error, len(names), way) for error in result.errors]
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {"driver": {"name": "certgen", "version": result.version, "rules": rules}},
                "columnKind": "unicodeCodePoints",
                "originalUriBaseIds": {
                    _ROOT: {
                        "description": {
                            "text": "The root of the repository that the season lies in."
                            if way
                            else "The season's folder."
                        }
                    }
                },
                "results": results,
                "properties": {"on": result.on.isoformat(), "season": result.season.details.label},
            }
        ],
    }


def find_way(folder: Path) -> str:
    """The way from the root of the git repository around a folder to the folder, with strokes; empty where
    the folder is the root, or lies in no repository. A `.git` may be a file, as in a worktree.
    """
    here = folder.resolve()
    root = next((one for one in (here, *here.parents) if (one / ".git").exists()), here)
    way = here.relative_to(root).as_posix()
    return "" if way == "." else way


_READING_RULE: Final = {
    "id": _READING,
    "shortDescription": {"text": "A record that could not be read"},
    "fullDescription": {"text": "What stands here doesn't have the form of a record, so it was left out."},
    "help": {"text": "Mend what the message says. The rest was read and checked."},
    "defaultConfiguration": {"level": "error"},
}


def _rule(name: str, rule: Rule | None) -> dict[str, Any]:
    """A rule with what its page says; None is a rule that failed."""
    if rule is None:
        words = name.replace("-", " ")
        return {"id": name, "shortDescription": {"text": words}, "fullDescription": {"text": words}}
    why, remedy = " ".join(rule.why.split()), " ".join(rule.remedy.split())
    clauses = ", ".join(rule.clauses)
    cited = f" Clauses: {clauses}." if clauses else ""
    more = f"certgen rules {name}"
    return {
        "id": name,
        "shortDescription": {"text": rule.title},
        "fullDescription": {"text": why},
        "help": {
            "text": f"{why} What mends it: {remedy}{cited} With a bad and a good example: {more}",
            "markdown": f"{why}\n\n**What mends it:** {remedy}\n\n{cited.strip()}\n\n"
            f"With a bad and a good example: `{more}`",
        },
        "defaultConfiguration": {"level": _LEVELS[rule.weight]},
    }


class _Places:
    """Where gaps stand in files, which are named from the root on."""

    def __init__(self, way: str, where: dict[Place, tuple[int, int]]) -> None:
        self.way, self.where = way, where

    def tell(self, place: Place) -> dict[str, Any]:
        physical: dict[str, Any] = {"artifactLocation": _file(self.way, place.file)}
        if place in self.where:
            line, column = self.where[place]
            physical["region"] = {"startLine": max(1, line), "startColumn": max(1, column)}
        return {"physicalLocation": physical}


def _file(way: str, file: str) -> dict[str, str]:
    return {"uri": quote(file_from(way, file)), "uriBaseId": _ROOT}


def _result(result: Result, gap: Gap, index: int, places: _Places, most: int | None) -> dict[str, Any]:
    text = gap.message if not gap.remedy else f"{gap.message} {gap.remedy}"
    entry: dict[str, Any] = {
        "ruleId": gap.rule,
        "ruleIndex": index,
        "level": _LEVELS[gap.weight],
        "message": {"text": text},
        "locations": [places.tell(gap.place)],
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
            {"id": number, **places.tell(place)} for number, place in enumerate(gap.others, 1)
        ]
    return entry


def _reading(error: ReadingError, index: int, way: str) -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": _file(way, error.file)}
    if error.line:
        physical["region"] = {"startLine": error.line, "startColumn": error.column or 1}
    return {
        "ruleId": _READING,
        "ruleIndex": index,
        "level": "error",
        "message": {"text": error.message},
        "locations": [{"physicalLocation": physical}],
    }
