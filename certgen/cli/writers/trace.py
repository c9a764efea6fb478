"""A line as a person reads it: indented step by step, each record once, NO RECORD where it ends too soon."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.terminal import Terminal, clean
from certgen.dossier.custody import say_standing, tell_custody
from certgen.dossier.line import mass_of
from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds_wording import tell_lot
from certgen.dossier.papers import list_proof
from certgen.dossier.suppliers import list_through
from certgen.dossier.visits import mentions_of
from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, join, noun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.dossier.line import Line, Trace
    from certgen.examination import Result
    from certgen.lineage import Link, Node


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
        self.shown: set[Node] = set()

    def write(self) -> None:
        root = self.line.root
        self.out.line(self.out.paint(capital(self._name(root)), "bold"))
        self.out.text(self.line.describe(root), 2)
        self._write_gaps(root, 2)
        if root.table == "movements":
            self._write_missing(root, 2)
        lots = self.line.lineage.lots_reached(root)
        if lots and root.table != "lots":
            self.out.line(f"  reaches {'lot' if len(lots) == 1 else 'lots'} {join(lots)}")
        if root.table == "lots" and root.id in self.line.lots:
            self._write_proof(root.id)
        self.out.heading("Back: what it came from and rests on")
        self._write_back(root)
        self.out.heading("Forward: what came of it")
        self.shown = {root}
        if not self.line.lineage.uses(root):
            self.out.line("  nothing")
        self._write_forward(root)
        self._write_visits()

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

    def _write_back(self, root: Node) -> None:
        """Depth first without recursion: a line may be long."""
        if not self._behind(root, 1):
            self.out.line("  nothing")
        self.shown = {root}
        stack: list[tuple[Link | str, int]] = self._behind(root, 1)
        while stack:
            step, depth = stack.pop()
            if isinstance(step, str):
                self.out.line(f"{'  ' * depth}{self.out.paint(f'NO RECORD of {step}', 'red', 'bold')}")
                continue
            again = step.source in self.shown
            self._write_step(step.source, step, depth, again=again)
            if not again:
                self.shown.add(step.source)
                stack += self._behind(step.source, depth + 1)

    def _behind(self, node: Node, depth: int) -> list[tuple[Link | str, int]]:
        """What stands behind a record, last first, with what is missing at the end of it."""
        missing = self.line.missing(node) if node.table != "movements" else []
        steps: list[Link | str] = [*self.line.lineage.sources(node), *missing]
        return [(step, depth) for step in reversed(steps)]

    def _write_forward(self, root: Node) -> None:
        stack = [(link, 1) for link in reversed(self.line.lineage.uses(root))]
        while stack:
            link, depth = stack.pop()
            again = link.target in self.shown
            self._write_step(link.target, link, depth, again=again)
            if not again:
                self.shown.add(link.target)
                onward = self.line.lineage.uses(link.target)
                stack += [(use, depth + 1) for use in reversed(onward)]

    def _write_step(self, node: Node, link: Link, depth: int, *, again: bool) -> None:
        space = "  " * depth
        mass = mass_of(link)
        carried = f" ({mass})" if mass and node.table != "movements" else ""
        by = " as giver of pollen" if link.kind == "pollen" else ""
        if again:
            self.out.line(f"{space}{self._name(node)}{carried}{by}: see above")
            return
        described = self.line.describe(node)
        lost = described == "NO RECORD"
        text = self.out.paint(described, "red", "bold") if lost else clean(described)
        self.out.line(f"{space}{self._name(node)}{carried}{by}: {text}")
        self._write_gaps(node, len(space) + 2)
        if node.table == "movements":
            self._write_missing(node, len(space) + 2)

    def _write_missing(self, node: Node, indent: int) -> None:
        """Of a movement nothing stands behind that could be missing but its paper."""
        for what in self.line.missing(node):
            self.out.line(f"{' ' * indent}{self.out.paint(f'NO RECORD of {what}', 'red', 'bold')}")

    def _write_gaps(self, node: Node, indent: int) -> None:
        for gap in self.line.result.gaps_of(node):
            self.out.text(f"! {gap.message} [{gap.rule}, {gap.weight}]", indent, "yellow")

    def _name(self, node: Node) -> str:
        earlier = self.line.lineage.season_of(node)
        season = f" of season {earlier}" if earlier else ""
        return clean(f"{noun(node.table)} {node.id}{season}")
