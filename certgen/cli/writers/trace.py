"""A line as a person reads it: the record's own evidence first, then by stages what it came from and what
came of it, each record once; NO RECORD where it ends too soon."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.terminal import Terminal, clean
from certgen.dossier.custody import say_standing, tell_custody
from certgen.dossier.line_stages import list_back, list_forward, name_of, say_sources
from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds_wording import tell_lot
from certgen.dossier.papers import list_proof
from certgen.dossier.suppliers import list_through
from certgen.dossier.visits import mentions_of
from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, count, join, noun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.line import Line, Trace
    from certgen.dossier.line_stages import Alike, Generation
    from certgen.examination import Result
    from certgen.lineage import Node


def write_text(trace: Trace, supposed: Sequence[str], before: Result) -> None:
    """Writes the lines to the terminal; with suppositions, what they would change, which is said once."""
    out = Terminal()
    if supposed:
        out.text(f"Supposing {join(supposed)}. The records themselves are not changed.", 0, "bold")
        _write_changes(trace.result, before, out)
        out.line()
    for number, line in enumerate(trace.lines):
        if number:
            out.line()
        _Text(line, out).write()


def _write_changes(result: Result, before: Result, out: Terminal) -> None:
    changes = []
    for name, lot in result.lots.items():
        old = before.lots.get(name)
        if old is not None and old != lot:
            changes.append((f"lot {name}", old.standing, "→", lot.standing, say_standing(lot)))
    if changes:
        out.table(changes)
    else:
        out.line("  No lot's standing would change.")


class _Text:
    def __init__(self, line: Line, out: Terminal) -> None:
        self.line, self.out = line, out

    def write(self) -> None:
        root = self.line.root
        self.out.line(self.out.paint(capital(self._name(root)), "bold"))
        self.out.text(self.line.describe(root), 2)
        self._write_gaps(root, 2)
        if root.table == "movements":
            self._write_missing(root, 2)
        lots = self.line.lineage.lots_reached(root)
        if lots and root.table != "lots":
            self.out.text(f"reaches {noun('lots', len(lots))} {join(lots)}", 2, hang=2)
        if root.table == "lots" and root.id in self.line.lots:
            self._write_proof(root.id)
        self._write_stages(list_back(self.line), "Back: what it came from and rests on", "Further back")
        self._write_stages(list_forward(self.line), "Forward: what came of it", "Further on")
        self._write_visits()

    def _write_stages(self, generations: Sequence[Generation], first: str, further: str) -> None:
        """One generation of seed after the other, each under its own heading."""
        backward = further == "Further back"
        for generation in generations:
            self.out.line()
            if generation.across:
                of = "the seed of" if backward else "what grew of"
                heading = f"{further}: {of} {self._say_all(generation.across)}"
            else:
                heading = first
            self.out.text(heading, 0, "bold", hang=2)
            if backward and not generation.across:
                self._write_root()
            if not generation.groups:
                self.out.line("  nothing")
            for group in generation.groups:
                self._write_group(group)

    def _write_root(self) -> None:
        """What the record itself came from, and what should stand behind it and doesn't."""
        root = self.line.root
        self.out.text(capital(say_sources(self.line.lineage.sources(root), self.line)), 2, hang=2)
        if root.table != "movements":
            self._write_missing(root, 2)

    def _write_group(self, group: Alike) -> None:
        """`bag B1: put on …; from tree T1`, or `2 bags: put on …` with their numbers below."""
        (first, *more), (own, *_) = group.nodes, group.own
        if more:
            season = self.line.lineage.season_of(first)
            head = f"{count(len(group.nodes), first.table)}{f' of season {season}' if season else ''}"
            self.out.text("; ".join(filter(None, (f"{head}: {group.words}", group.shared))), 2, hang=4)
            parts = (
                f"{node.id} {own}" if own else node.id
                for node, own in zip(group.nodes, group.own, strict=True)
            )
            self.out.text(("; " if any(group.own) else ", ").join(parts), 6)
            return
        lost = group.words == "NO RECORD"
        self.out.text(
            "; ".join(filter(None, (f"{self._name(first)}: {group.words}", group.shared or own))),
            2,
            *(("red", "bold") if lost else ()),
            hang=4,
        )
        self._write_gaps(first, 6)
        self._write_missing(first, 6)

    def _write_visits(self) -> None:
        """What inspectors tried and found about any record of the line."""
        mentions = mentions_of(self.line.result, self.line.nodes)
        if mentions:
            self.out.heading("Inspections: what was tried and found about it")
            self.out.table(
                (
                    one.visit.visit,
                    one.visit.first.isoformat(),
                    f"{one.kind} {one.number}",
                    one.outcome,
                    one.says,
                )
                for one in mentions
            )

    def _write_proof(self, lot: str) -> None:
        """Why the lot is traced, or what of the claim nothing shows; an obligation a line."""
        result = self.line.result
        standing = result.lots[lot]
        divided = say_standing(standing)
        self.out.text(f"{divided}." if divided else "", 2)
        self.out.text(f"{capital(tell_custody(result, lot).text())}.", 2)
        traced = standing.standing == "traced"
        self.out.heading(
            "Why it is traced" if traced else f"Why it is {standing.standing}, and what is shown"
        )
        for through in list_through(result, lot):
            self.out.text(through.text(), 2)
        for proof in list_proof(result, lot):
            by = f" ({proof.by})" if proof.by else ""
            self.out.text(f"{proof.shown:>9}  {proof.claim}{by}", hang=11)
            if proof.open:
                resting = format_mass(proof.weight_mg)
                self.out.text(f"! Open: {proof.open}. {resting} rest on what is shown.", 11, "yellow")
        self.out.heading("What screening leaves open: planning figures, no proof")
        for asked, answer in tell_lot(weigh_lots(result, lots=[lot])[lot]):
            self.out.text(f"{asked}: {answer}.", 2)

    def _write_missing(self, node: Node, indent: int) -> None:
        """What should stand behind a record and doesn't; behind a movement, only its paper."""
        for what in self.line.missing(node):
            self.out.line(f"{' ' * indent}{self.out.paint(f'NO RECORD of {what}', 'red', 'bold')}")

    def _write_gaps(self, node: Node, indent: int) -> None:
        for gap in self.line.result.gaps_of(node):
            self.out.text(f"! {gap.message} [{gap.rule}, {gap.weight}]", indent, "yellow")

    def _name(self, node: Node) -> str:
        return clean(f"{noun(node.table)} {name_of(node, self.line)}")

    def _say_all(self, nodes: Sequence[Node]) -> str:
        """Records of one table: `plantings P-1 and P-2`."""
        return f"{noun(nodes[0].table, len(nodes))} {join([name_of(node, self.line) for node in nodes])}"
