"""A lot's parents with their results, and what a negative result does not say."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.report.packet import Cell, Grid, Head, Prose, Row, Run
from certgen.report.view.wording import cell, count_of, figure, key, plain, whole, write
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

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
    samples = _samples_of(story, trees)
    bags = Counter(row["tree"] for row in story.rows_of("bagging", line))
    block_of = {row["planting"]: row["block"] for row in story.all_rows("plantings")}
    order = story.order["trees"]
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
                    Cell(_say_samples(samples.get(node.id, []), "test")),
                    Cell(_say_samples(samples.get(node.id, []), "report")),
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


_VERDICT_MARKS: Final = {
    "negative": "traced",
    "positive": "rejected",
    "inconclusive": "unproven",
    "not screened": "unproven",
}


def _samples_of(story: Story, trees: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
    wanted = set(trees)
    found: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in story.all_rows("screening"):
        for tree in ([row["tree"]] if row["tree"] else []) + list(row["trees"] or ()):
            if tree in wanted:
                found[tree].append(row)
    return found


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
    for rows in _samples_of(story, trees).values():
        for row in rows:
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
