"""A lot's parents with their results, and what the negatives among them rule out and what they do not."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.report.tables import Column, table
from certgen.report.wording import (
    cell,
    count_of,
    days,
    key,
    linked,
    linked_spans,
    plain,
    say_most,
    whole,
    write,
)
from certgen.rules.wording import count
from certgen.typeset.parts import Cell, Prose, Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part


#: More parents than this are gathered by their results; the registers name each.
MOST_SHOWN: Final = 60
_VERDICT_MARKS: Final = {
    "negative": "traced",
    "positive": "rejected",
    "inconclusive": "unproven",
    "not screened": "unproven",
}


@dataclass(frozen=True, slots=True)
class Series:
    """What samples alike share: all that a result says except which tree gave the leaf."""

    day: str
    method: str
    pool: str
    controls: str
    result: str
    report: str


@dataclass(frozen=True, slots=True)
class _Parent:
    """A parent tree: `record` is its own in the register (None: it isn't there)."""

    tree: str
    role: str
    record: Mapping[str, Any] | None
    verdict: str
    bags: int
    samples: tuple[str, ...]
    series: tuple[Series, ...]


class _Group(NamedTuple):
    """Parents with like results."""

    verdict: str
    tests: str
    trees: list[str]
    samples: list[dict[str, Any]]


def show_parents(context: Context, name: str, line: set[Node]) -> list[Part]:
    """The parents of a lot with their samples and the laboratory's reports."""
    seed = [node.id for node in context.lineage.seed_parents(name)]
    pollen = [node.id for node in context.lineage.pollen_parents(name) if node.id not in seed]
    if not seed and not pollen:
        return [Prose(("No parent tree stands behind this lot in the records.",))]
    caption = f"{count_of('trees', len(seed))} bore the seed"
    caption += f", {len(pollen)} gave pollen" if pollen else ""
    bags = Counter(row["tree"] for row in context.rows_of("bagging", line))
    if len(seed) > MOST_SHOWN:
        return [_show_groups(context, caption, [*seed, *pollen], bags)]
    return _show_singly(context, caption, list(_gather(context, name, seed, pollen, bags)))


def _show_singly(context: Context, caption: str, parents: Sequence[_Parent]) -> list[Part]:
    """Each parent in a row of its own, and the results that they share in a second table."""
    counts = Counter(series for parent in parents for series in parent.series)
    letters = {series: letters_of(number) for number, series in enumerate(counts)}
    grid = table(
        caption,
        (
            Column("Tree", "key", _say_tree),
            Column("Stands", "text", lambda parent: _stands(context, parent)),
            Column("Sex", "text", lambda parent: parent.record["sex"] if parent.record else None),
            Column("Screening", "text", _say_verdict),
            Column("Bags", "number", lambda parent: parent.bags if parent.record else None),
            Column("Samples", "text", _say_samples),
            Column("Results", "text", lambda parent: _say_series(parent, letters)),
        ),
        parents,
        tone=lambda parent: "faulty" if parent.record and parent.verdict == "positive" else "plain",
    )
    return [grid, *([_show_series(letters, counts)] if letters else [])]


def _gather(
    context: Context, name: str, seed: Sequence[str], pollen: Sequence[str], bags: Mapping[str, int]
) -> Iterable[_Parent]:
    """The parents in the order of the register."""
    nodes = {*context.lineage.seed_parents(name), *context.lineage.pollen_parents(name)}
    records = {row["tree"]: row for row in context.rows_of("trees", nodes)}
    order = context.order["trees"]
    for tree in sorted([*seed, *pollen], key=lambda name: (order.get(name, len(order)), name)):
        record = records.get(tree)
        samples = samples_of(context, tree) if record else []
        yield _Parent(
            tree,
            "" if tree in seed else ", pollen",
            record,
            context.verdicts.get(tree, "not screened"),
            bags.get(tree, 0),
            tuple(row["sample"] for row in samples),
            tuple(dict.fromkeys(_series_of(row) for row in samples)),
        )


def _say_tree(parent: _Parent) -> Cell:
    if parent.record is None:
        return key(parent.tree + parent.role)
    return Cell((Run(parent.tree, f"trees/{parent.tree}"), Run(parent.role)), "key")


def _stands(context: Context, parent: _Parent) -> str | None:
    if parent.record is None:
        return "not in the register"
    row, position = parent.record["row"], parent.record["position"]
    plantings = context.rows_by("plantings", "planting").get(parent.record["planting"], ())
    block = plantings[0]["block"] if plantings else ""
    parts = (block, f"row {row}" if row else "", f"place {position}" if position else "")
    return " · ".join(part for part in parts if part) or None


def _say_verdict(parent: _Parent) -> Cell | None:
    return cell(parent.verdict, mark=_VERDICT_MARKS[parent.verdict]) if parent.record else None


def _say_series(parent: _Parent, letters: Mapping[Series, str]) -> str | None:
    return ", ".join(letters[series] for series in parent.series) or None


def _say_samples(parent: _Parent) -> Cell | None:
    return Cell(linked("screening", parent.samples) or plain("no sample")) if parent.record else None


def _show_groups(context: Context, caption: str, trees: Sequence[str], bags: Mapping[str, int]) -> Grid:
    """Many parents, those with like results in one row; each stands in the registers by itself."""
    groups: dict[tuple[str, str], _Group] = {}
    for tree in trees:
        samples = samples_of(context, tree)
        tests = "; ".join(dict.fromkeys(_say_result(row) for row in samples)) or "no sample"
        verdict = context.verdicts.get(tree, "not screened")
        group = groups.setdefault((verdict, tests), _Group(verdict, tests, [], []))
        group.trees.append(tree)
        group.samples.extend(samples)
    order = context.order["trees"]
    return table(
        caption,
        (
            Column(
                "Screening",
                "text",
                lambda group: cell(group.verdict, mark=_VERDICT_MARKS.get(group.verdict, "")),
            ),
            Column("Trees", "number", lambda group: len(group.trees)),
            Column("Bags", "number", lambda group: sum(bags.get(tree, 0) for tree in group.trees)),
            Column("Method, result", "text", lambda group: group.tests),
            Column("Collected", "text", lambda group: days(_all_of(group, "collected"))),
            Column(
                "Reports", "text", lambda group: say_most(list(dict.fromkeys(_all_of(group, "report"))), 3)
            ),
            Column(
                "Numbers",
                "text",
                lambda group: Cell(linked_spans("trees", group.trees, order, 12)),
            ),
        ),
        [group for _, group in sorted(groups.items(), key=lambda item: (-len(item[1].trees), item[0]))],
        note="Trees with like results share a row. Each stands in the registers by itself.",
        tone=lambda group: "faulty" if group.verdict == "positive" else "plain",
    )


def _all_of(group: _Group, field: str) -> list[Any]:
    return [row[field] for row in group.samples if row[field]]


def _say_result(row: Mapping[str, Any]) -> str:
    targets = f" {write(row['targets'])}" if row["targets"] else ""
    pooled = f" in a pool of {pool}" if (pool := len(row["trees"] or ())) > 1 else ""
    return f"{row['method']}{targets}, {row['result'] or 'no result'}{pooled}"


def samples_of(context: Context, tree: str) -> list[dict[str, Any]]:
    """The samples of a tree, its own and those it shared, in the order of the register."""
    own = context.rows_by("screening", "tree").get(tree, [])
    pooled = context.rows_by("screening", "trees").get(tree, [])
    order = context.order["screening"]
    return sorted([*own, *pooled], key=lambda row: order.get(row["sample"], 0)) if pooled else own


def _series_of(row: dict[str, Any]) -> Series:
    pool = len(row["trees"] or ())
    return Series(
        write(row["collected"]) or "–",
        f"{row['method'] or '–'}{' ' + write(row['targets']) if row['targets'] else ''}",
        count(pool, "trees") if pool > 1 else "–",
        row["controls"] or "not recorded",
        row["result"] or "none",
        row["report"] or "none",
    )


def letters_of(number: int) -> str:
    """A, B … Z, AA, AB …: the name of a series in a dossier, counted from 0."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _show_series(letters: Mapping[Series, str], counts: Counter[Series]) -> Grid:
    return table(
        "Results of these parents",
        (
            Column("Result", "key", lambda series: letters[series]),
            Column("Collected", "date", lambda series: series.day),
            Column("Method, targets", "text", lambda series: series.method),
            Column("Pool", "text", lambda series: series.pool),
            Column("Controls", "text", lambda series: series.controls),
            Column("Says", "text", lambda series: series.result),
            Column("Laboratory’s report", "text", lambda series: series.report),
            Column("Trees", "number", lambda series: counts[series]),
        ),
        list(letters),
    )


LIMITS: Final = (
    "A negative speaks of the leaf that was sampled and of the events its method sees. It is no statement"
    " that the seed is free of transgenes: pollen, mixing and events that nobody looked for stay outside it."
)


def show_scope(context: Context, name: str, line: set[Node]) -> list[Part]:
    """What the methods used on the parents can see, and which events of concern they cannot."""
    parents = [*context.lineage.seed_parents(name), *context.lineage.pollen_parents(name)]
    return [
        Prose((context.result.scopes.of_lot(name).sentence,)),
        *_show_parents(context, parents),
        _show_methods(context, line),
    ]


def _show_methods(context: Context, line: set[Node]) -> Part:
    """The methods and targets of the negative results, with what each sees."""
    methods = context.profile.methods
    used = [
        (methods[method], targets, _say_results(count, leaves))
        for (method, targets, leaves), count in _count_negatives(context, line).items()
        if method in methods
    ]
    if not used:
        return Prose((LIMITS,))
    return table(
        "What the negative results cover",
        (
            Column("Method, targets", "text", lambda row: ", ".join((row[0].title, *row[1])), "22%"),
            Column("Results", "text", lambda row: row[2], "11%"),
            Column(
                "Sees",
                "text",
                lambda row: ", ".join(sorted(row[0].sees(row[1]))) or "nothing that the records name",
                "18%",
            ),
            Column("Cannot see", "text", lambda row: row[0].cannot_see),
        ),
        used,
        note=LIMITS,
    )


def _count_negatives(context: Context, line: set[Node]) -> Counter[tuple[str, tuple[str, ...], int]]:
    """Negative samples of a line's trees by method, targets and leaves in one: a pool is one result."""
    trees = sorted(node.id for node in line if node.table == "trees")
    samples = {row["sample"]: row for tree in trees for row in samples_of(context, tree)}
    return Counter(
        (row["method"], tuple(row["targets"] or ()), max(1, len(row["trees"] or ())))
        for row in samples.values()
        if row["result"] == "negative"
    )


def _say_results(count: int, leaves: int) -> str:
    """Leaves tested singly are counted, pools by what they hold."""
    if leaves == 1:
        return whole(count)
    return f"{whole(count)} pool{'s' if count > 1 else ''} of {leaves}"


def _show_parents(context: Context, parents: Sequence[Node]) -> list[Part]:
    """What the negatives on each parent speak to; parents of which the same can be said share a row."""
    groups: defaultdict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = defaultdict(list)
    for node in dict.fromkeys(parents):
        scope = context.result.scopes.of_tree(node.id)
        groups[scope.seen, scope.unseen].append(node.id)
    if len(groups) < 2:
        # The lot's sentence says it already.
        return []
    order = context.order["trees"]
    return [
        table(
            "By parent: the events that its negatives would have shown, and those that they could not",
            (
                Column("Parents", "text", lambda row: Cell(linked_spans("trees", row[1], order, 12), "long")),
                Column("Trees", "number", lambda row: len(row[1])),
                Column("Shown", "text", lambda row: ", ".join(row[0][0]) or "nothing"),
                Column("Not shown", "text", lambda row: ", ".join(row[0][1]) or None),
            ),
            list(groups.items()),
        )
    ]
