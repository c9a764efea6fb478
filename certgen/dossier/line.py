"""The line of a record, back and forward: what stands on it, and what should and doesn't."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from certgen.records.quantities import format_mass
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from certgen.examination import Result
    from certgen.lineage import Lineage, Link, Node

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
        return tuple(
            link
            for node in self.nodes
            for link in self.lineage.uses(node)
            if {link.source, link.target} <= back or {link.source, link.target} <= forward
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
        parts = _DESCRIPTIONS[node.table](record)
        if node.table == "trees":
            verdict = self.result.case.verdicts["verdict"].get(node.id, "unscreened")
            parts = [*parts, f"screening: {verdict}"]
        if node.table == "lots" and node.id in self.result.lots:
            parts = [*parts, self.result.lots[node.id].standing]
        if "recorded_by" in record:
            parts = [*parts, f"entered by {record['recorded_by']}"]
        return ", ".join(part for part in parts if part)

    @property
    def exit_code(self) -> int:
        """As for the whole season, but only the gaps on this line count, and what is missing behind it."""
        if self.result.exit_code >= 2:
            return self.result.exit_code
        gaps = (gap for node in self.nodes for gap in self.result.gaps_of(node))
        behind = (node for node in self.lineage.back(self.root) if not self.lineage.season_of(node))
        own = () if self.lineage.season_of(self.root) else (self.root,)
        return int(any(gap.weight != "advice" for gap in gaps) or any(map(self.missing, (*own, *behind))))


@dataclass(frozen=True, eq=False)
class Trace:
    """The lines of all records that one number means, taken together. There is always one at least."""

    lines: tuple[Line, ...]

    @property
    def result(self) -> Result:
        """The result that the lines are drawn from."""
        return self.lines[0].result

    @cached_property
    def nodes(self) -> tuple[Node, ...]:
        """Every record on the lines, each once."""
        return tuple(dict.fromkeys(node for line in self.lines for node in line.nodes))

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """Every link of the lines, each once."""
        return tuple(dict.fromkeys(link for line in self.lines for link in line.links))

    @cached_property
    def lots(self) -> tuple[str, ...]:
        """Every lot that a line reaches, each once."""
        return tuple(dict.fromkeys(lot for line in self.lines for lot in line.lots))

    @property
    def exit_code(self) -> int:
        """The worst of the lines'."""
        return max(line.exit_code for line in self.lines)


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
    "submissions": lambda record: [*_text(record, "kind", "laboratory"), _on(record, "date", "of")],
    "letters": lambda record: [*_text(record, "laboratory", "method"), _on(record, "reported", "of")],
    "screening": lambda record: [
        str(record.get("method", "no method")),
        record.get("result", "no result yet"),
        *([f"in a pool of {len(record['trees'])}"] if len(record.get("trees") or ()) > 1 else []),
        _on(record, "collected", "taken"),
        *_text(record, "laboratory"),
        *([f"report {record['report']}"] if "report" in record else []),
    ],
    "bagging": lambda record: [_on(record, "covered", "put on"), *_text(record, "stage", "outcome")],
    "observations": lambda record: [*_text(record, "kind", "seen"), _on(record, "date", "on")],
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
    "materials": lambda record: [*_text(record, "name", "kind"), _on(record, "until", "approved until")],
    "compost": lambda record: [*_text(record, "method"), _on(record, "begun", "begun")],
    "inputs": lambda record: [*_text(record, "material"), _on(record, "date", "on")],
    "scouting": lambda record: [*_text(record, "pest", "found"), _on(record, "date", "on")],
    "water_tests": lambda record: [*_text(record, "source", "report"), _on(record, "date", "drawn")],
    "visits": lambda record: [*_text(record, "kind", "inspector"), _on(record, "from", "on")],
    "incidents": lambda record: [*_text(record, "kind"), _on(record, "date", "on")],
    "recalls": lambda record: [*_text(record, "kind", "reason"), _on(record, "opened", "of")],
}


def mass_of(link: Link) -> str:
    """The seed that went along a link, if the records say so."""
    return "" if link.weight_mg is None else format_mass(link.weight_mg)
