"""A lot's parents with their results, and what a negative result does not say."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.report.packet import Cell, Grid, Head, Prose, Row, Run
from certgen.report.view.wording import cell, count_of, days, figure, key, linked_spans, plain, whole, write
from certgen.rules.wording import join

#: More parents than this are gathered by their results; the registers name each.
MOST_SHOWN: Final = 60

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.lineage import Node
    from certgen.report.packet import Part
    from certgen.report.view.story import Story


def show_parents(story: Story, name: str, line: set[Node]) -> list[Part]:
    """The parents of a lot with their samples and the laboratory's reports."""
    seed = list(story.lineage.seed_parents(name))
    pollen = [node for node in story.lineage.pollen_parents(name) if node not in seed]
    if not seed and not pollen:
        return [Prose(("No parent tree stands behind this lot in the records.",))]
    trees = {row["tree"]: row for row in story.rows_of("trees", set(seed) | set(pollen))}
    bags = Counter(row["tree"] for row in story.rows_of("bagging", line))
    order = story.order["trees"]
    if len(seed) > MOST_SHOWN:
        return [_parents_gathered(story, seed, pollen, bags)]
    block_of = {row["planting"]: row["block"] for row in story.all_rows("plantings")}
    rows = []
    for node in sorted([*seed, *pollen], key=lambda one: (one.season, order.get(one.id, len(order)), one.id)):
        tree = trees.get(node.id) if not node.season else None
        role = "" if node in seed else ", pollen"
        if tree is None:
            where = f"season {node.season}" if node.season else "not in the register"
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
        verdict = story.verdicts.get(node.id, "not screened")
        rows.append(
            Row(
                (
                    Cell((Run(node.id, f"trees/{node.id}"), Run(role)), "key"),
                    cell(at or "–"),
                    cell(tree["sex"] or "–"),
                    cell(verdict, mark=_VERDICT_MARKS[verdict]),
                    figure(whole(bags.get(node.id, 0))),
                    Cell(_say_samples(_samples_of(story, node.id), "test")),
                    Cell(_say_samples(_samples_of(story, node.id), "report")),
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
                Head("Samples: day, method, result"),
                Head("Laboratory’s report"),
            ),
            tuple(rows),
        )
    ]


def _parents_gathered(story: Story, seed: Sequence[Node], pollen: Sequence[Node], bags: Counter[str]) -> Grid:
    """Many parents, those with like results in one row; each stands in the registers by itself."""
    groups: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for node in (*seed, *pollen):
        if node.season:
            groups[f"season {node.season}", "see that season’s packet"].append(node.id)
            continue
        tests = "; ".join(
            dict.fromkeys(
                f"{row['method']}{' ' + write(row['targets']) if row['targets'] else ''},"
                f" {row['result'] or 'no result'}"
                for row in _samples_of(story, node.id)
            )
        )
        groups[story.verdicts.get(node.id, "not screened"), tests or "no sample"].append(node.id)
    rows = []
    for (verdict, tests), names in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        found = [row for name in names for row in _samples_of(story, name)]
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
                    Cell(linked_spans("trees", names, story.order["trees"], 12)),
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


def _samples_of(story: Story, tree: str) -> list[dict[str, Any]]:
    """The samples of a tree, its own and those it shared, in the order of the register."""
    own = story.rows_by("screening", "tree").get(tree, [])
    pooled = story.rows_by("screening", "trees").get(tree, [])
    order = story.order["screening"]
    return sorted([*own, *pooled], key=lambda row: order.get(row["sample"], 0)) if pooled else own


def _say_samples(rows: Sequence[dict[str, Any]], what: str) -> tuple[Run, ...]:
    runs: list[Run] = []
    for row in rows:
        if runs:
            runs.append(Run("; "))
        if what == "test":
            pool = f", pool of {len(row['trees'])}" if row["trees"] and len(row["trees"]) > 1 else ""
            targets = f" {write(row['targets'])}" if row["targets"] else ""
            words = (
                f"{write(row['collected'])} {row['method']}{targets}{pool}, {row['result'] or 'no result'}"
            )
            if row["controls"] in {"failed", "not run"}:
                words += f" (controls {row['controls']})"
            runs.append(Run(words, f"screening/{row['sample']}"))
        else:
            runs.append(Run(row["report"] or "none"))
    return tuple(runs) or plain("no sample")


def show_scope(story: Story, line: set[Node]) -> list[Part]:
    """What the methods used on the parents can see, and which events of concern they cannot."""
    profile = story.profile
    trees = {node.id for node in line if node.table == "trees" and not node.season}
    used: dict[tuple[str, tuple[str, ...]], int] = {}
    for tree in trees:
        for row in _samples_of(story, tree):
            if row["result"] == "negative":
                used_key = (row["method"], tuple(row["targets"] or ()))
                used[used_key] = used.get(used_key, 0) + 1
    concern = [
        event.key
        for event in (
            profile.event(text) for text in story.season.details.events_of_concern or profile.default_events
        )
        if event is not None
    ]
    parts: list[Part] = []
    seen: set[str] = set()
    rows_: list[Row] = []
    for (name, targets), count in used.items():
        method = profile.methods.get(name)
        if method is None:
            continue
        sees = method.sees(targets)
        seen |= set(sees)
        rows_.append(
            Row(
                (
                    cell(method.title + (f", {', '.join(targets)}" if targets else "")),
                    figure(whole(count)),
                    cell(", ".join(sorted(sees)) or "nothing that the records name"),
                    cell(method.cannot_see),
                )
            )
        )
    if rows_:
        parts.append(
            Grid(
                "What the negative results cover",
                (
                    Head("Method, targets", share="22%"),
                    Head("Results", "number", "8%"),
                    Head("Sees", share="18%"),
                    Head("Cannot see"),
                ),
                tuple(rows_),
            )
        )
    open_events = [event for event in concern if event not in seen]
    words = [f"Events to be ruled out: {', '.join(concern) or 'none named'}."]
    if open_events:
        words.append(f"No negative result on this lot’s parents can see {join(open_events)}.")
    elif concern and rows_:
        words.append(
            "Each of them can be seen by at least one method that was used on some parent of this lot."
        )
    words.append(
        "A negative speaks of the leaf that was sampled and of the events its method sees. It is no"
        " statement that the"
        " seed is free of transgenes: pollen, mixing and events that nobody looked for stay outside it."
    )
    parts.append(Prose((" ".join(words),)))
    return parts
