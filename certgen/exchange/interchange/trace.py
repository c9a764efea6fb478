"""The line of one record or several for other programs: its records, its links, the lots it reaches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.visits import mentions_of
from certgen.exchange.interchange.layout import (
    describe_custody,
    describe_odds,
    describe_proof,
    describe_standing,
    describe_through,
    grams,
    list_errors,
    name_record,
)

if TYPE_CHECKING:
    from certgen.dossier.line import Trace
    from certgen.lineage import Node

#: The form of `trace --format json`. It goes up when a key changes its meaning or goes away.
FORMAT: Final = 2

#: Of each table the fields of its day, its document and its quantity, first come first served.
_FACTS: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]]] = {
    "plantings": (("planted",), ("origin.certificate",), ()),
    "trees": (("removed",), (), ()),
    "observations": (("date",), (), ()),
    "screening": (("collected",), ("report",), ()),
    "bagging": (("covered",), (), ()),
    "harvests": (("date",), (), ("weight", "fruits")),
    "batches": (("date",), (), ("dry_weight", "wet_weight")),
    "cleaning": (("date",), (), ()),
    "lots": (("packed",), (), ("weight",)),
    "tests": (("date",), ("report",), ()),
    "movements": (("date",), ("document",), ("weight",)),
    "materials": (("from",), ("paper",), ()),
    "compost": (("ready", "begun"), (), ()),
    "inputs": (("date",), (), ("rate",)),
    "scouting": (("date",), (), ()),
    "water_tests": (("date",), ("report",), ()),
    "visits": (("from",), (), ()),
    "submissions": (("date",), (), ()),
    "incidents": (("date",), (), ()),
    "recalls": (("opened",), (), ()),
}


def build_trace(trace: Trace) -> dict[str, Any]:
    """The object that `schemas/output/trace.json` describes."""
    result, lines = trace.result, trace.lines
    return {
        "format": FORMAT,
        "root": name_record(result, lines[0].root),
        "roots": [name_record(result, line.root) for line in lines],
        "nodes": [_describe_node(trace, node) for node in trace.nodes],
        "lots": [
            {
                "lot": lot,
                **describe_standing(result.lots[lot]),
                "custody": describe_custody(result, lot),
                "proof": describe_proof(result, lot),
                "through": describe_through(result, lot),
                "screening": describe_odds(lot_odds),
            }
            for lot, lot_odds in weigh_lots(result, lots=trace.lots).items()
        ],
        "links": [
            {
                "from": name_record(result, link.source),
                "to": name_record(result, link.target),
                "kind": link.kind,
                "weight_g": None if link.weight_mg is None else grams(link.weight_mg),
            }
            for link in trace.links
        ],
        "visits": [
            {
                "visit": one.visit.visit,
                "from": one.visit.first,
                "kind": one.kind,
                "number": one.number,
                "says": one.says,
                "outcome": one.outcome,
            }
            for one in mentions_of(result, trace.nodes)
        ],
        "errors": list_errors(result.errors),
    }


def _describe_node(trace: Trace, node: Node) -> dict[str, Any]:
    result, line = trace.result, trace.lines[0]
    return {
        **name_record(result, node),
        "record": node not in result.lineage.missing,
        "gaps": [gap.rule for gap in result.gaps_of(node)],
        "numbers": list(result.numbers_of(node)),
        "missing": line.missing(node),
        **_tell_facts(node.table, line.record(node)),
    }


def _tell_facts(table: str, record: dict[str, Any] | None) -> dict[str, str]:
    """A record's `date`, `document`, `quantity`, `party` and `by` (who entered it); empty if absent."""
    dates, documents, quantities = _FACTS.get(table, ((), (), ()))
    return {
        "date": _first(record, dates),
        "document": _first(record, documents),
        "quantity": _first(record, quantities),
        "party": _first(record, ("party", "origin.supplier")),
        "by": _first(record, ("recorded_by",)),
    }


def _first(record: dict[str, Any] | None, fields: tuple[str, ...]) -> str:
    for field in fields:
        value: Any = record
        for step in field.split("."):
            value = value.get(step) if isinstance(value, dict) else None
        if value is not None:
            return str(value)
    return ""
