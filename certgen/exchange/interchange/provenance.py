"""The season's lineage as PROV-JSON (a W3C member submission; the model, PROV-DM, is a Recommendation).

Things are entities, work is an activity, the operation and the laboratories are agents. Nothing is stated
that the records do not hold: where a record's predecessor is missing, the derivation is missing too.

A thing's name is the one it has in the EPCIS events, and so is that of the work which brought it about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.names import VOCABULARY
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from certgen.examination import Result
    from certgen.lineage import Link, Node
    from certgen.records.names import Names

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


def build_prov(result: Result, names: Names) -> dict[str, Any]:
    """The PROV-JSON document."""
    return _Writer(result, names).write()


_KINDS: Final = (
    "entity", "activity", "agent", "wasGeneratedBy", "used", "wasDerivedFrom", "wasAssociatedWith",
    "wasAttributedTo", "wasInformedBy",
)  # fmt: skip


class _Writer:
    def __init__(self, result: Result, names: Names) -> None:
        self.names = names
        self.result = result
        self.document: dict[str, Any] = {
            "prefix": {"r": names.base, "voc": VOCABULARY, "xsd": "http://www.w3.org/2001/XMLSchema#"},
            **{kind: {} for kind in _KINDS},
        }
        # The first of two records with one identifier is the one meant, as everywhere.
        self.records = {
            name: {
                str(record[load_tables()[name].key]): record
                for record in reversed(records_of(result.season, name))
            }
            for name in _WORK
        }

    def write(self) -> dict[str, Any]:
        for node in self.result.lineage.nodes:
            self._add_node(node)
        for number, link in enumerate(self.result.lineage.links):
            self._add_link(number, link)
        return {name: part for name, part in self.document.items() if part}

    def _name(self, node: Node) -> str:
        # A local name may hold a path's strokes and percent-encoded letters (PROV-N, PN_LOCAL).
        return f"r:{self.names.of(node.table, node.id)}"

    def _work_name(self, node: Node) -> str:
        return f"r:{self.names.event(node.table, node.id)}"

    def _agent(self, path: str, name: str) -> str:
        """The name of an operation or a laboratory, which stands among the agents from now on."""
        agent = f"r:{path}"
        kind = {"$": "prov:Organization", "type": "prov:QUALIFIED_NAME"}
        self.document["agent"].setdefault(agent, {"prov:type": kind, "prov:label": name})
        return agent

    def _operation(self, node: Node) -> str:
        """The operation whose season a record stands in."""
        path = self.names.operation(node.table, node.id)
        return self._agent(path, self.names.stretch(node.table, node.id).details.operation.name)

    def _add_node(self, node: Node) -> None:
        document, name, operation = self.document, self._name(node), self._operation(node)
        kind = {"$": f"voc:{node.table}", "type": "prov:QUALIFIED_NAME"}
        document["entity"][name] = {"prov:type": kind, "prov:label": node.id}
        document["wasAttributedTo"][f"_:a{len(document['wasAttributedTo'])}"] = {
            "prov:entity": name,
            "prov:agent": operation,
        }
        record = self.records.get(node.table, {}).get(node.id)
        if record is None or node.table not in _WORK:
            return
        work, column = _WORK[node.table]
        day = record.get(column)
        activity: dict[str, Any] = {"prov:type": {"$": f"voc:{work}", "type": "prov:QUALIFIED_NAME"}}
        if day is not None:
            activity |= {"prov:startTime": f"{day}T00:00:00", "prov:endTime": f"{day}T23:59:59"}
        document["activity"][self._work_name(node)] = activity
        generation = {"prov:entity": name, "prov:activity": self._work_name(node)}
        document["wasGeneratedBy"][f"_:g{len(document['wasGeneratedBy'])}"] = (
            generation if day is None else generation | {"prov:time": f"{day}T23:59:59"}
        )
        laboratory = record.get("laboratory")
        agent = self._agent(self.names.party(laboratory), laboratory) if laboratory else operation
        document["wasAssociatedWith"][f"_:w{len(document['wasAssociatedWith'])}"] = {
            "prov:activity": self._work_name(node),
            "prov:agent": agent,
        }

    def _add_link(self, number: int, link: Link) -> None:
        document, source, target = self.document, self._name(link.source), self._name(link.target)
        if source not in document["entity"] or target not in document["entity"]:
            return
        work = self._work_name(link.target)
        if work in document["activity"] and link.kind in _BECOMES:
            document["used"][f"_:u{number}"] = {"prov:activity": work, "prov:entity": source}
        if link.kind in _BECOMES:
            derivation = {"prov:generatedEntity": target, "prov:usedEntity": source}
            document["wasDerivedFrom"][f"_:d{number}"] = derivation
            return
        looking = self._work_name(link.source)
        if link.kind == "cleaned for" and {work, looking} <= document["activity"].keys():
            informed = {"prov:informed": work, "prov:informant": looking}
            document["wasInformedBy"][f"_:i{number}"] = informed
        elif looking in document["activity"] and link.kind in {"screened", "tested"}:
            document["used"][f"_:u{number}"] = {"prov:activity": looking, "prov:entity": target}
