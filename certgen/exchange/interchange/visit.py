"""The inspector's working papers for other programs: one JSON object."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.visit_papers import ABOUT, say_lead
from certgen.exchange.interchange.layout import grams, list_errors, name_season
from certgen.exchange.interchange.sample import build_spot_check

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.dossier.visit_papers import VisitPapers
    from certgen.dossier.visits import OpenItem
    from certgen.examination import Result

#: The form of `visit --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 1


def describe_open(items: Iterable[OpenItem]) -> list[dict[str, Any]]:
    """What inspections left open, an object each."""
    return [
        {
            "kind": one.kind,
            "visit": one.visit.visit,
            "number": one.number,
            "about": list(one.about),
            "ground": one.ground,
            "severity": one.severity,
            "says": one.says,
            "last": one.last,
            "answered": one.answered,
            "earlier": one.earlier,
        }
        for one in items
    ]


def build_visit(result: Result, papers: VisitPapers) -> dict[str, Any]:
    """The object that `schemas/output/visit.json` describes."""
    return {
        "format": FORMAT,
        "season": name_season(result),
        "on": result.on,
        "about": ABOUT,
        "visit": say_lead(papers.visit, result.on),
        "left_open": describe_open(papers.left_open),
        "findings": [
            {
                "number": one.number,
                "rule": one.rule,
                "weight": one.weight,
                "message": one.message,
                "place": one.place,
                "lots": list(one.lots),
            }
            for one in papers.findings
        ],
        "lots": [
            {
                "lot": one.lot,
                "variety": one.variety,
                "standing": one.standing,
                "weight_g": grams(one.weight_mg),
                "traced_g": grams(one.traced_mg),
                "on_hand_g": grams(one.on_hand_mg),
                "kept": one.kept,
                "papers": list(one.papers),
            }
            for one in papers.lots
        ],
        "draws": [build_spot_check(result, check) for check in papers.draws],
        "questions": [{"text": one.text, "about": list(one.about)} for one in papers.questions],
        "errors": list_errors(result.errors),
    }
