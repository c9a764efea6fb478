"""The season's lineage as PROV-JSON (a W3C member submission; the model, PROV-DM, is a Recommendation).

Things are entities, work is an activity, the operation and the laboratories are agents. Nothing is stated
that the records do not hold: where a record's predecessor is missing, the derivation is missing too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.interchange.identifiers import DEFAULT_BASE, VOCABULARY, check_base
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.examination import Result
    from certgen.lineage import Link, Node

#: The work that brings a record's thing about: its name, and the column of its day.
_WORK: Final = {
    "plantings": ("planting", "planted"),
    "bagging": ("bagging", "covered"),
    "harvests": ("picking", "date"),
    "batches": ("extraction", "date"),
    "lots": ("packing", "packed"),
    "screening": ("screening", "collected"),
    "tests": ("testing", "date"),
    "cleaning": ("cleaning", "date"),
}
#: Links by which one thing becomes another. The others only say that a record looks at a thing.
_BECOMES: Final = frozenset(
    {"grown from", "planted", "bagged", "pollen", "picked", "processed", "packed", "blended", "sown", "moved"}
)


def build_prov(result: Result, *, base: str = DEFAULT_BASE) -> dict[str, Any]:
    """The PROV-JSON document. Raises `ValueError` for a base that is none."""
    document: dict[str, Any] = {
        "prefix": {"r": check_base(base), "voc": VOCABULARY, "xsd": "http://www.w3.org/2001/XMLSchema#"},
        **{kind: {} for kind in _KINDS},
    }
    operation = "r:operation"
    document["agent"][operation] = {
        "prov:type": {"$": "prov:Organization", "type": "prov:QUALIFIED_NAME"},
        "prov:label": result.season.details.operation.name,
    }
    # The first of two records with one identifier is the one meant, as everywhere.
    records = {
        name: {
            str(record[load_tables()[name].key]): record
            for record in reversed(records_of(result.season, name))
        }
        for name in _WORK
    }
    for node in result.lineage.nodes:
        _add_node(document, records, node, operation)
    for number, link in enumerate(result.lineage.links):
        _add_link(document, number, link)
    return {name: part for name, part in document.items() if part}


_KINDS: Final = (
    "entity", "activity", "agent", "wasGeneratedBy", "used", "wasDerivedFrom", "wasAssociatedWith",
    "wasAttributedTo", "wasInformedBy",
)  # fmt: skip


def _name(node: Node) -> str:
    from urllib.parse import quote

    # Only letters, digits and a few signs may stand in a local name; '/' would be read as a path.
    return f"r:{node.table}.{quote(node.id, safe='')}".replace("%", "_")


def _work_name(node: Node) -> str:
    return f"{_name(node)}.work"


def _add_node(
    document: dict[str, Any], records: Mapping[str, Mapping[str, dict[str, Any]]], node: Node, operation: str
) -> None:
    name = _name(node)
    kind = {"$": f"voc:{node.table}", "type": "prov:QUALIFIED_NAME"}
    document["entity"][name] = {"prov:type": kind, "prov:label": node.id}
    record = records.get(node.table, {}).get(node.id)
    document["wasAttributedTo"][f"_:a{len(document['wasAttributedTo'])}"] = {
        "prov:entity": name,
        "prov:agent": operation,
    }
    if record is None or node.table not in _WORK:
        return
    work, column = _WORK[node.table]
    day = record.get(column)
    activity: dict[str, Any] = {"prov:type": {"$": f"voc:{work}", "type": "prov:QUALIFIED_NAME"}}
    if day is not None:
        activity |= {"prov:startTime": f"{day}T00:00:00", "prov:endTime": f"{day}T23:59:59"}
    document["activity"][_work_name(node)] = activity
    generation = {"prov:entity": name, "prov:activity": _work_name(node)}
    document["wasGeneratedBy"][f"_:g{len(document['wasGeneratedBy'])}"] = (
        generation if day is None else generation | {"prov:time": f"{day}T23:59:59"}
    )
    agent = operation
    if record.get("laboratory"):
        agent = f"r:laboratory.{len(document['agent'])}"
        known = {part.get("prov:label"): key for key, part in document["agent"].items()}
        agent = known.get(record["laboratory"], agent)
        document["agent"].setdefault(
            agent,
            {
                "prov:type": {"$": "prov:Organization", "type": "prov:QUALIFIED_NAME"},
                "prov:label": record["laboratory"],
            },
        )
    document["wasAssociatedWith"][f"_:w{len(document['wasAssociatedWith'])}"] = {
        "prov:activity": _work_name(node),
        "prov:agent": agent,
    }


def _add_link(document: dict[str, Any], number: int, link: Link) -> None:
    source, target = _name(link.source), _name(link.target)
    if source not in document["entity"] or target not in document["entity"]:
        return
    work = _work_name(link.target)
    if work in document["activity"] and link.kind in _BECOMES:
        document["used"][f"_:u{number}"] = {"prov:activity": work, "prov:entity": source}
    if link.kind in _BECOMES:
        derivation = {"prov:generatedEntity": target, "prov:usedEntity": source}
        document["wasDerivedFrom"][f"_:d{number}"] = derivation
    else:
        looking = _work_name(link.source)
        if link.kind == "cleaned for" and {work, looking} <= document["activity"].keys():
            informed = {"prov:informed": work, "prov:informant": looking}
            document["wasInformedBy"][f"_:i{number}"] = informed
        elif looking in document["activity"] and link.kind in {"screened", "tested"}:
            document["used"][f"_:u{number}"] = {"prov:activity": looking, "prov:entity": target}
