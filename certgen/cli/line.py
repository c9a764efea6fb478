"""The line of one record, back and forward: which record is meant, and what is missing on it."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from certgen.cli.output import errors_as_json
from certgen.cli.papers import find_by_paper, list_papers, tell_facts
from certgen.lineage import Lineage, Link, Node
from certgen.records.quantities import format_mass
from certgen.rules.wording import NOUNS, day, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.examination import Result

#: What must stand behind a record of each table: one of the kinds of link, and what is missing without.
EXPECTED: Final[Mapping[str, tuple[tuple[frozenset[str], str], ...]]] = {
    "lots": ((frozenset({"packed", "blended"}), "what it was packed from"),),
    "batches": ((frozenset({"processed"}), "the pickings in it"),),
    "harvests": ((frozenset({"picked"}), "the bags that it was picked from"),),
    "bagging": ((frozenset({"bagged"}), "its tree"),),
    "trees": (
        (frozenset({"screened"}), "a screening sample"),
        (frozenset({"planted"}), "its planting"),
    ),
    "plantings": ((frozenset({"stands on"}), "its block"),),
}


#: Movements by which seed changes hands: each should name a document.
WITH_DOCUMENT: Final = frozenset({"sold", "transferred", "received", "returned"})


class UnknownRecord(ValueError):  # noqa: N818 (it says what is unknown)
    """No record, or more than one, bears the name; says what to write instead."""


@dataclass(frozen=True, eq=False)
class Line:
    """A record with everything that it came out of and everything that came out of it."""

    result: Result
    root: Node

    @property
    def lineage(self) -> Lineage:
        """The links that the line follows."""
        return self.result.lineage

    @cached_property
    def nodes(self) -> tuple[Node, ...]:
        """The record, then what lies behind it, then what came of it, nearest first."""
        back, forward = self.lineage.back(self.root), self.lineage.forward(self.root)
        return tuple(dict.fromkeys((self.root, *back, *forward)))

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """Every link that leads to the record or away from it, however far."""
        back = {self.root, *self.lineage.back(self.root)}
        forward = {self.root, *self.lineage.forward(self.root)}
        found = [link for node in self.nodes for link in self.lineage.uses(node)]
        return tuple(
            link
            for link in found
            if (link.source in back and link.target in back)
            or (link.source in forward and link.target in forward)
        )

    def missing(self, node: Node) -> list[str]:
        """What should stand behind a record and doesn't. A record that isn't there lacks only itself."""
        if node in self.lineage.missing:
            return []
        kinds = {link.kind for link in self.lineage.sources(node)}
        lacking = [what for wanted, what in EXPECTED.get(node.table, ()) if not wanted & kinds]
        if node.table == "movements":
            record = self.record(node) or {}
            if record.get("kind") in WITH_DOCUMENT and not record.get("document"):
                lacking.append("a document")
        return lacking

    def record(self, node: Node) -> dict[str, Any] | None:
        """The record of a node as it was typed; None if there is none."""
        return None if node in self.lineage.missing else self.result.farm.record(node.table, node.id)

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots that the season tells of and that the record's claim reaches, itself included."""
        return tuple(lot for lot in self.lineage.lots_reached(self.root) if lot in self.result.lots)

    def describe(self, node: Node) -> str:
        """A record in a few words: what was done, when, and what it came to."""
        record = self.record(node)
        if record is None:
            return "NO RECORD"
        told = _DESCRIPTIONS[node.table](record)
        if node.table == "trees":
            verdict = self.result.case.verdicts["verdict"].get(node.id, "unscreened")
            told = [*told, f"screening: {verdict}"]
        if node.table == "lots" and node.id in self.result.lots:
            told = [*told, self.result.lots[node.id].standing]
        if "recorded_by" in record:
            told = [*told, f"entered by {record['recorded_by']}"]
        return ", ".join(one for one in told if one)


def find_records(result: Result, name: str) -> tuple[Node, ...]:
    """The records that a number means: one, or all that a document, tag or party's name stands in.

    `bag:B-3` says which table where several use the number.
    """
    kind, colon, identifier = name.partition(":")
    tables = {word: table for table, words in NOUNS.items() for word in (*words, table)}
    nodes = list(_named(result, identifier if colon and kind in tables else name))
    if colon and kind in tables:
        nodes = [node for node in nodes if node.table == tables[kind]]
    here = [node for node in nodes if not result.lineage.season_of(node)] or nodes[:1]
    if len(here) == 1:
        return (here[0],)
    if not here:
        found = find_by_paper(result, name)
        if found:
            return found
        known = [*(node.id for node in result.lineage.nodes), *list_papers(result)]
        near = difflib.get_close_matches(name, known, n=3)
        hint = f" Did you mean {' or '.join(dict.fromkeys(near))}?" if near else ""
        message = f"No record bears the number '{name}', nor any document, report, tag or label.{hint}"
        raise UnknownRecord(message)
    choices = " or ".join(f"{noun(node.table)}:{node.id}" for node in here)
    message = f"Several records bear the number '{name}'. Say which one: {choices}."
    raise UnknownRecord(message)


def _named(result: Result, identifier: str) -> Iterator[Node]:
    return (node for node in result.lineage.nodes if node.id == identifier)


def as_json(lines: Sequence[Line]) -> dict[str, Any]:
    """The object that `schemas/output/trace.json` describes: lines of one result, taken together."""
    from certgen.cli.findings import custody_as_json, grams, proof_as_json

    line = lines[0]
    lots = dict.fromkeys(lot for one in lines for lot in one.lots)
    nodes = dict.fromkeys(node for one in lines for node in one.nodes)
    links = dict.fromkeys(link for one in lines for link in one.links)
    return {
        "format": 2,
        "root": _key(line, line.root),
        "roots": [_key(line, one.root) for one in lines],
        "nodes": [
            {
                **_key(line, node),
                "record": node not in line.lineage.missing,
                "gaps": [gap.rule for gap in line.result.gaps_of(node)],
                "numbers": list(line.result.numbers_of(node)),
                "missing": line.missing(node),
                **tell_facts(node.table, line.record(node)),
            }
            for node in nodes
        ],
        "lots": [
            {
                "lot": lot.lot,
                "standing": lot.standing,
                "traced_g": grams(lot.traced_mg),
                "unproven_g": grams(lot.unproven_mg),
                "rejected_g": grams(lot.rejected_mg),
                "unaccounted_g": grams(lot.unaccounted_mg),
                "custody": custody_as_json(line.result, lot.lot),
                "proof": proof_as_json(line.result, lot.lot),
            }
            for lot in (line.result.lots[name] for name in lots)
        ],
        "links": [
            {
                "from": _key(line, link.source),
                "to": _key(line, link.target),
                "kind": link.kind,
                "weight_g": None if link.weight_mg is None else round(link.weight_mg / 1000, 3),
            }
            for link in links
        ],
        "errors": errors_as_json(line.result.errors),
    }


def _key(line: Line, node: Node) -> dict[str, str]:
    return {"table": node.table, "id": node.id, "season": line.lineage.season_of(node)}


def _on(record: Mapping[str, Any], field: str, word: str) -> str:
    return f"{word} {day(record[field])}" if field in record else ""


def _text(record: Mapping[str, Any], *fields: str) -> list[str]:
    return [str(record[field]) for field in fields if field in record]


_DESCRIPTIONS: Final[Mapping[str, Callable[[Mapping[str, Any]], list[str]]]] = {
    "blocks": lambda record: _text(record, "name", "status"),
    "plantings": lambda record: [
        *_text(record, "variety", "material", "material_status"),
        _on(record, "planted", "planted"),
        *([f"from {record['origin']['supplier']}"] if "supplier" in record.get("origin", {}) else []),
    ],
    "trees": lambda record: [*_text(record, "sex"), _on(record, "removed", "removed")],
    "rounds": lambda record: [*_text(record, "kind", "by"), _on(record, "date", "on")],
    "letters": lambda record: [*_text(record, "laboratory", "method"), _on(record, "reported", "of")],
    "screening": lambda record: [
        str(record.get("method", "no method")),
        record.get("result", "no result yet"),
        _on(record, "collected", "taken"),
        *_text(record, "laboratory"),
        *([f"report {record['report']}"] if "report" in record else []),
    ],
    "bagging": lambda record: [_on(record, "covered", "put on"), *_text(record, "stage", "outcome")],
    "harvests": lambda record: [
        _on(record, "date", "picked"),
        f"{record['fruits']} fruit",
        *_text(record, "status"),
    ],
    "batches": lambda record: [
        _on(record, "date", "processed"),
        *([f"{record['dry_weight']} dry"] if "dry_weight" in record else []),
        *_text(record, "status"),
    ],
    "cleaning": lambda record: [_on(record, "date", "done"), *_text(record, "method")],
    "lots": lambda record: [*_text(record, "variety", "weight"), _on(record, "packed", "packed")],
    "tests": lambda record: [*_text(record, "kind"), _on(record, "date", "tested"), *_text(record, "report")],
    "movements": lambda record: [
        *_text(record, "kind", "weight"),
        _on(record, "date", "on"),
        *_text(record, "party", "document"),
    ],
    "inputs": lambda record: [*_text(record, "material"), _on(record, "date", "on")],
    "incidents": lambda record: [*_text(record, "kind"), _on(record, "date", "on")],
}


def mass_of(link: Link) -> str:
    """The seed that went along a link, if the records say so."""
    return "" if link.weight_mg is None else format_mass(link.weight_mg)
