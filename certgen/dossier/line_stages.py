"""A record's line told by stage: records of one table together, those of the same words as one, and each
generation of seed apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.dossier.line import mass_of
from certgen.records.tables import TABLE_NAMES
from certgen.rules.wording import join, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.dossier.line import Line
    from certgen.lineage import Link, Node

#: Links that lead from seed to the trees that grew of it: what lies beyond is another generation.
_GENERATION: Final = frozenset({"grown from", "sown"})
#: From a record backward, each stage with its own evidence before what it came from.
_BACK: Final = (
    "movements",
    "lots",
    "tests",
    "batches",
    "cleaning",
    "harvests",
    "bagging",
    "trees",
    "screening",
    "plantings",
    "blocks",
    "inputs",
)
#: From a record forward, in the order of the work.
_FORWARD: Final = (
    "blocks",
    "plantings",
    "trees",
    "bagging",
    "harvests",
    "batches",
    "lots",
    "movements",
)


@dataclass(frozen=True, slots=True)
class Alike:
    """Records of one table and season of which the same is to be told, in the order of the line.

    `words` describe each of them; `shared` is what all came from, and `own`, one for each, what it alone came
    from. A record that bears a finding, or that lacks something, is alike to none.
    """

    nodes: tuple[Node, ...]
    words: str
    shared: str
    own: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Generation:
    """The records of a line between two sowings; `across` are the plantings that it was reached through."""

    across: tuple[Node, ...]
    groups: tuple[Alike, ...]


def list_back(line: Line) -> tuple[Generation, ...]:
    """What the record of a line came from, nearest generation first."""
    return tuple(_list_generations(line, forward=False))


def list_forward(line: Line) -> tuple[Generation, ...]:
    """What came of the record of a line, nearest generation first."""
    return tuple(_list_generations(line, forward=True))


def say_sources(links: Sequence[Link], line: Line) -> str:
    """`from tree T-4`, `from 36.3 g of batch X-1 and 73.6 g of batch X-3`; empty where there are none."""
    alike: dict[tuple[bool, str, str, bool], list[Link]] = {}
    for link in links:
        season, weighed = line.lineage.season_of(link.source), link.weight_mg is not None
        alike.setdefault((link.kind == "pollen", link.source.table, season, weighed), []).append(link)
    said = []
    for (pollen, table, season, weighed), same in alike.items():
        if weighed:
            names = join([f"{mass_of(one)} of {noun(table)} {one.source.id}" for one in same])
        else:
            names = f"{noun(table, len(same))} {join([one.source.id for one in same])}"
        of_season = f" of season {season}" if season else ""
        said.append(f"{'pollen of ' if pollen else ''}{names}{of_season}")
    return f"from {'; '.join(said)}" if said else ""


def name_of(node: Node, line: Line) -> str:
    """A record's number, with its season where that is an earlier one."""
    earlier = line.lineage.season_of(node)
    return f"{node.id} of season {earlier}" if earlier else node.id


def _list_generations(line: Line, *, forward: bool) -> Iterator[Generation]:
    seen = {line.root}
    starts = [line.root]
    across: tuple[Node, ...] = ()
    while starts:
        members, beyond = _close(line, starts, seen, forward=forward)
        told = [node for node in (*starts, *members) if node != line.root]
        if told or not across:
            yield Generation(across, tuple(_group(line, told, seen, forward=forward)))
        across = tuple(dict.fromkeys(planting for planting, _ in beyond))
        starts = list(dict.fromkeys(node for _, node in beyond if node not in seen))
        seen.update(starts)


def _close(
    line: Line, starts: Sequence[Node], seen: set[Node], *, forward: bool
) -> tuple[list[Node], list[tuple[Node, Node]]]:
    """What is reached from some records within their generation, and (planting, record) on its far sides."""
    reached: list[Node] = []
    beyond: list[tuple[Node, Node]] = []
    queue = list(starts)
    for node in queue:
        links = line.lineage.uses(node) if forward else line.lineage.sources(node)
        for link in links:
            onward = link.target if forward else link.source
            if link.kind in _GENERATION:
                beyond.append((link.target, onward))
            elif onward not in seen:
                seen.add(onward)
                reached.append(onward)
                queue.append(onward)
    return reached, beyond


def _group(line: Line, nodes: Sequence[Node], seen: set[Node], *, forward: bool) -> Iterator[Alike]:
    order = _FORWARD if forward else _BACK
    tables = dict.fromkeys((*order, *TABLE_NAMES))
    by_table: dict[str, list[Node]] = {}
    for node in nodes:
        by_table.setdefault(node.table, []).append(node)
    for table in tables:
        alike: dict[object, list[Node]] = {}
        for node in by_table.get(table, ()):
            alone = bool(line.result.gaps_of(node) or line.missing(node) or node in line.lineage.missing)
            key = (node,) if alone else (line.lineage.season_of(node), line.describe(node))
            alike.setdefault(key, []).append(node)
        for same in alike.values():
            yield _tell(line, same, seen, forward=forward)


def _tell(line: Line, nodes: Sequence[Node], seen: set[Node], *, forward: bool) -> Alike:
    """Records of the same words. Forward, a source is named where it lies on the line and isn't its root."""
    named = seen - {line.root}
    sources = [
        [link for link in line.lineage.sources(node) if not forward or link.source in named] for node in nodes
    ]
    ends = [{(link.kind, link.source, link.weight_mg) for link in links} for links in sources]
    common = set.intersection(*ends) if len(nodes) > 1 else ends[0]

    def part(links: Sequence[Link], *, shared: bool) -> str:
        kept = [link for link in links if ((link.kind, link.source, link.weight_mg) in common) == shared]
        return say_sources(kept, line)

    return Alike(
        tuple(nodes),
        line.describe(nodes[0]),
        part(sources[0], shared=True),
        tuple(part(links, shared=False) for links in sources),
    )
