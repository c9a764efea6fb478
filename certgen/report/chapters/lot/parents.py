"""A lot's parents with their results."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.report.wording import (
    cell,
    count_of,
    days,
    figure,
    key,
    linked,
    linked_spans,
    plain,
    whole,
    write,
)
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row, Run

#: More parents than this are gathered by their results; the registers name each.
MOST_SHOWN: Final = 60

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.lineage import Node
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


def show_parents(context: Context, name: str, line: set[Node]) -> list[Part]:
    """The parents of a lot with their samples and the laboratory's reports."""
    seed = list(context.lineage.seed_parents(name))
    pollen = [node for node in context.lineage.pollen_parents(name) if node not in seed]
    if not seed and not pollen:
        return [Prose(("No parent tree stands behind this lot in the records.",))]
    trees = {row["tree"]: row for row in context.rows_of("trees", set(seed) | set(pollen))}
    bags = Counter(row["tree"] for row in context.rows_of("bagging", line))
    order = context.order["trees"]
    if len(seed) > MOST_SHOWN:
        return [_parents_gathered(context, seed, pollen, bags)]
    block_of = {row["planting"]: row["block"] for row in context.all_rows("plantings")}
    rows = []
    series: dict[Series, str] = {}
    counts: Counter[Series] = Counter()
    for node in sorted([*seed, *pollen], key=lambda one: (order.get(one.id, len(order)), one.id)):
        tree = trees.get(node.id)
        role = "" if node in seed else ", pollen"
        if tree is None:
            where = "not in the register"
            rows.append(
                Row(
                    (
                        key(node.id + role),
                        cell(where),
                        cell("–"),
                        cell("–"),
                        figure("–"),
                        cell("–"),
                        cell("–"),
                    )
                )
            )
            continue
        at = " · ".join(
            part
            for part in (
                block_of.get(tree["planting"]) or "",
                f"row {tree['row']}" if tree["row"] else "",
                f"place {tree['position']}" if tree["position"] else "",
            )
            if part
        )
        verdict = context.verdicts.get(node.id, "not screened")
        samples = samples_of(context, node.id)
        found = list(dict.fromkeys(_series_of(row) for row in samples))
        for one in found:
            series.setdefault(one, _letters(len(series)))
            counts[one] += 1
        rows.append(
            Row(
                (
                    Cell((Run(node.id, f"trees/{node.id}"), Run(role)), "key"),
                    cell(at or "–"),
                    cell(tree["sex"] or "–"),
                    cell(verdict, mark=_VERDICT_MARKS[verdict]),
                    figure(whole(bags.get(node.id, 0))),
                    Cell(linked("screening", [row["sample"] for row in samples]) or plain("no sample")),
                    cell(", ".join(series[one] for one in found) or "–"),
                ),
                anchor="",
                tone="faulty" if verdict == "positive" else "plain",
            )
        )
    return [
        Grid(
            f"{count_of('trees', len(seed))} bore the seed"
            + (f", {len(pollen)} gave pollen" if pollen else ""),
            (
                Head("Tree", "key"),
                Head("Stands"),
                Head("Sex"),
                Head("Screening"),
                Head("Bags", "number"),
                Head("Samples"),
                Head("Results"),
            ),
            tuple(rows),
        ),
        *([_results(series, counts)] if series else []),
    ]


def _parents_gathered(
    context: Context, seed: Sequence[Node], pollen: Sequence[Node], bags: Counter[str]
) -> Grid:
    """Many parents, those with like results in one row; each stands in the registers by itself."""
    groups: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for node in (*seed, *pollen):
        tests = "; ".join(
            dict.fromkeys(
                f"{row['method']}{' ' + write(row['targets']) if row['targets'] else ''},"
                f" {row['result'] or 'no result'}"
                for row in samples_of(context, node.id)
            )
        )
        groups[context.verdicts.get(node.id, "not screened"), tests or "no sample"].append(node.id)
    rows = []
    for (verdict, tests), names in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        found = [row for name in names for row in samples_of(context, name)]
        reports = list(dict.fromkeys(row["report"] for row in found if row["report"]))
        rows.append(
            Row(
                (
                    cell(verdict, mark=_VERDICT_MARKS.get(verdict, "")),
                    figure(whole(len(names))),
                    figure(whole(sum(bags.get(name, 0) for name in names))),
                    cell(tests),
                    cell(days([row["collected"] for row in found if row["collected"]])),
                    cell(
                        ", ".join(reports[:3])
                        + (f" and {whole(len(reports) - 3)} more" if len(reports) > 3 else "")
                    ),
                    Cell(linked_spans("trees", names, context.order["trees"], 12)),
                ),
                tone="faulty" if verdict == "positive" else "plain",
            )
        )
    return Grid(
        f"{count_of('trees', len(seed))} bore the seed" + (f", {len(pollen)} gave pollen" if pollen else ""),
        (
            Head("Screening"),
            Head("Trees", "number"),
            Head("Bags", "number"),
            Head("Method, result"),
            Head("Collected"),
            Head("Reports"),
            Head("Numbers"),
        ),
        tuple(rows),
        note="Trees with like results share a row. Each stands in the registers by itself.",
    )


_VERDICT_MARKS: Final = {
    "negative": "traced",
    "positive": "rejected",
    "inconclusive": "unproven",
    "not screened": "unproven",
}


def samples_of(context: Context, tree: str) -> list[dict[str, Any]]:
    """The samples of a tree, its own and those it shared, in the order of the register."""
    own = context.rows_by("screening", "tree").get(tree, [])
    pooled = context.rows_by("screening", "trees").get(tree, [])
    order = context.order["screening"]
    return sorted([*own, *pooled], key=lambda row: order.get(row["sample"], 0)) if pooled else own


@dataclass(frozen=True, slots=True)
class Series:
    """What samples alike share: all that a result says except which tree gave the leaf."""

    day: str
    method: str
    pool: str
    controls: str
    result: str
    report: str


def _series_of(row: dict[str, Any]) -> Series:
    pool = len(row["trees"] or ())
    return Series(
        write(row["collected"]) or "–",
        f"{row['method'] or '–'}{' ' + write(row['targets']) if row['targets'] else ''}",
        f"{pool} trees" if pool > 1 else "–",
        row["controls"] or "not recorded",
        row["result"] or "none",
        row["report"] or "none",
    )


def _letters(number: int) -> str:
    """A, B … Z, AA, AB …: the name of a series in a dossier."""
    said = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        said = chr(ord("A") + rest) + said
    return said


def _results(series: Mapping[Series, str], counts: Counter[Series]) -> Grid:
    order = sorted(series, key=lambda one: (len(series[one]), series[one]))
    return Grid(
        "Results of these parents",
        (
            Head("Result", "key"),
            Head("Collected", "date"),
            Head("Method, targets"),
            Head("Pool"),
            Head("Controls"),
            Head("Says"),
            Head("Laboratory’s report"),
            Head("Trees", "number"),
        ),
        tuple(
            Row(
                (
                    cell(series[one], kind="key"),
                    cell(one.day, kind="date"),
                    cell(one.method),
                    cell(one.pool),
                    cell(one.controls),
                    cell(one.result),
                    cell(one.report),
                    figure(whole(counts[one])),
                )
            )
            for one in order
        ),
    )
