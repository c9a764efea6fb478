"""A dossier a lot: the line from parents to buyers, everything on it, and what the negative does not say."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.report.design import WEIGHT_MARKS
from certgen.report.drawings.standing import StandingPicture, draw_standing
from certgen.report.packet import (
    Cell,
    Chapter,
    Facts,
    Grid,
    Head,
    Listing,
    Picture,
    Prose,
    Row,
    Run,
    Section,
    Signature,
)
from certgen.report.view.line import line_of, show_line, show_timeline
from certgen.report.view.parents import MOST_SHOWN, show_parents, show_scope
from certgen.report.view.season import lot_bars, say_standing
from certgen.report.view.stock import lot_ledger
from certgen.report.view.story import href_of
from certgen.report.view.wording import (
    cell,
    count_of,
    days,
    fact,
    figure,
    key,
    linked,
    linked_spans,
    plain,
    weigh,
    whole,
    write,
)
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.report.packet import Part
    from certgen.report.view.story import Story

#: Dossiers set together, so that the cores share them out and faces are loaded a few times only.
_A_CHAPTER: Final = 4
#: More pickings than this name only their first bags.
_PICKINGS: Final = 12
_WORST: Final = ("rejected", "unproven")


def build_dossiers(story: Story, width: float, lots: Sequence[str] | None = None) -> tuple[Chapter, ...]:
    """The overview of lots and a dossier for each; `lots` names those wanted (None: all)."""
    wanted = [lot for lot in story.result.lots if lots is None or lot in lots]
    if not wanted:
        return ()
    rows = []
    frame = {row["lot"]: row for row in story.all_rows("lots")}
    for name in wanted:
        lot = story.result.lots[name]
        record = frame.get(name, {})
        rows.append(
            Row(
                (
                    key(name, f"lots/{name}"),
                    cell(lot.variety or "–"),
                    cell(write(record.get("packed")) or "–", kind="date"),
                    cell(lot.standing, mark=lot.standing),
                    figure(weigh(lot.weight_mg)),
                    figure(weigh(lot.traced_mg)),
                    figure(weigh(lot.unproven_mg)),
                    figure(weigh(lot.rejected_mg)),
                    figure(whole(len(story.gaps_by_lot.get(name, ())))),
                )
            )
        )
    total = [story.result.lots[name] for name in wanted]
    rows.append(
        Row(
            (
                cell("All"),
                cell(""),
                cell(""),
                cell(""),
                *(
                    figure(weigh(sum(getattr(lot, field) for lot in total)))
                    for field in ("weight_mg", "traced_mg", "unproven_mg", "rejected_mg")
                ),
                cell(""),
            ),
            tone="total",
        )
    )
    overview = Section(
        "lots",
        "The lots",
        1,
        (
            Prose((HOW_TO_READ,)),
            Grid(
                "Lots and their standing",
                (
                    Head("Lot", "key"),
                    Head("Variety"),
                    Head("Packed", "date"),
                    Head("Standing"),
                    Head("Weight", "number"),
                    Head("Traced", "number"),
                    Head("Unproven", "number"),
                    Head("Rejected", "number"),
                    Head("Gaps", "number"),
                ),
                tuple(rows),
            ),
        ),
        style="chapter",
    )
    chapters = [Chapter("lots", (overview,))]
    for start in range(0, len(wanted), _A_CHAPTER):
        sections: list[Section] = []
        for name in wanted[start : start + _A_CHAPTER]:
            sections += _dossier(story, name, frame.get(name, {}), width)
        chapters.append(Chapter(f"dossiers {start + 1}", tuple(sections)))
    return tuple(chapters)


HOW_TO_READ: Final = (
    "Each lot has a dossier of its own, which can be taken out and handed over alone. It draws the lot’s"
    " line from"
    " parents to buyers, gives the parents’ results, the bags, the pickings, the runs, the tests and the"
    " ledger, says"
    " what a negative result cannot rule out, and ends with a place to sign."
)


def _dossier(story: Story, name: str, record: dict[str, Any], width: float) -> list[Section]:
    lot = story.result.lots[name]
    line = line_of(story, name)
    slug = f"lots/{name}"
    head = Section(
        slug,
        f"Lot {name}",
        2,
        (*_head_parts(story, name, record, width),),
        kicker=f"Dossier · {lot.variety or 'variety not recorded'}",
        mark=lot.standing,
        style="dossier",
    )
    pieces: list[tuple[str, str, list[Part]]] = [
        (
            "line",
            "The line",
            [show_line(story, name, width), *show_timeline(story, name, line, width)],
        ),
        ("parents", "Parents and their results", show_parents(story, name, line)),
        ("bags", "Bags", _bags(story, line)),
        ("pickings", "Pickings", _pickings(story, line)),
        ("runs", "Extraction and drying", _runs(story, line)),
        ("tests", "Tests", _tests(story, name)),
        ("ledger", "Ledger", lot_ledger(story, name, width)),
        ("scope", "Scope of the negative", [*show_scope(story, line), _signature(name)]),
    ]
    return [
        head,
        *(
            Section(f"{slug}#{anchor}", title, 3, tuple(parts), style="minor")
            for anchor, title, parts in pieces
            if parts
        ),
    ]


def _head_parts(story: Story, name: str, record: dict[str, Any], width: float) -> list[Part]:
    lot = story.result.lots[name]
    label = [
        f"{title} {write(record[field])}"
        for field, title in (
            ("label.lot", "lot"),
            ("label.variety", "variety"),
            ("label.status", "status"),
            ("label.last_certified_operation", "last certified operation"),
            ("label.germination", "germination"),
            ("label.tested", "tested"),
        )
        if record.get(field) is not None
    ]
    packing = [
        write(record.get(field))
        for field in ("containers", "packaging", "container_use")
        if record.get(field)
    ]
    facts = [
        fact("Weight packed", f"{weigh(lot.weight_mg)}"),
        fact("Packed", write(record.get("packed")) or "not recorded"),
        fact("Status", write(record.get("status")) or "not recorded"),
        fact("Containers", ", ".join(packing) or "not recorded"),
        fact("Storage", write(record.get("storage")) or "not recorded"),
        fact("Label says", "; ".join(label) or "nothing recorded"),
        fact("Record", "in the register of lots", f"row/lots/{name}"),
    ]
    picture = StandingPicture(f"Standing of lot {name} by gram", say_standing(lot), lot_bars([lot]), width)
    parts: list[Part] = [
        Facts(tuple(facts)),
        Picture(
            f"standing-of-{name}",
            draw_standing(picture),
            f"Standing of lot {name} by gram: {say_standing(lot)}.",
        ),
    ]
    parts += _sources(story, name)
    gaps = story.gaps_by_lot.get(name, ())
    if gaps:
        rows = [
            Row(
                (
                    key(str(number), f"gap/{number}"),
                    cell(gap.weight, mark=WEIGHT_MARKS[gap.weight]),
                    cell(f"{noun(gap.table)} {gap.id}"),
                    cell(gap.message),
                ),
                tone="faulty" if gap.weight == "rejects" else "plain",
            )
            for number, gap in gaps
        ]
        parts.append(
            Grid(
                "Gaps that reach this lot",
                (
                    Head("Gap", "key", "6%"),
                    Head("Weight", share="12%"),
                    Head("Record", share="20%"),
                    Head("What is wrong"),
                ),
                tuple(rows),
            )
        )
    else:
        parts.append(Prose(("No gap reaches this lot.",)))
    return parts


def _sources(story: Story, name: str) -> list[Part]:
    lot = story.result.lots[name]
    if len(lot.parts) < 2:
        return []
    rows = []
    for part in lot.parts:
        source = part.source
        said = f"{noun(source.table)} {source.id}" if source else "no source named"
        if source and source.season:
            said += f" (season {source.season})"
        rows.append(
            Row(
                (
                    cell(said, href_of(source) if source else ""),
                    figure(weigh(part.weight_mg)),
                    figure(weigh(part.traced_mg)),
                    figure(weigh(part.unproven_mg)),
                    figure(weigh(part.rejected_mg)),
                )
            )
        )
    return [
        Grid(
            "What the lot is made of",
            (
                Head("Source"),
                Head("Weight", "number"),
                Head("Traced", "number"),
                Head("Unproven", "number"),
                Head("Rejected", "number"),
            ),
            tuple(rows),
            width="column",
        )
    ]


def _bags(story: Story, line: set[Node]) -> list[Part]:
    rows = story.rows_of("bagging", line)
    if not rows:
        return [Prose(("No bag stands behind this lot in the records.",))]
    by_tree: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by_tree[row["tree"] or "no tree"].append(row)
    if len(by_tree) > MOST_SHOWN:
        return [_bags_gathered(story, rows, len(by_tree))]
    order = story.order["bagging"]
    trees = story.order["trees"]
    grid = []
    for tree in sorted(by_tree, key=lambda one: (trees.get(one, len(trees)), one)):
        bags = by_tree[tree]
        names = [row["bag"] for row in bags if row["bag"]]
        outcomes = Counter(row["outcome"] or "not recorded" for row in bags)
        stages = Counter(row["stage"] or "not recorded" for row in bags)
        gaps = sorted({number for name in names for number in story.numbers.get(Node("bagging", name), ())})
        gap_runs: list[Run] = []
        for number in gaps:
            if gap_runs:
                gap_runs.append(Run(", "))
            gap_runs.append(Run(str(number), f"gap/{number}"))
        grid.append(
            Row(
                (
                    key(tree, f"trees/{tree}" if tree in trees else ""),
                    figure(whole(len(bags))),
                    cell(days([row["covered"] for row in bags if row["covered"]])),
                    cell(_say_counts(stages)),
                    cell(_say_counts(outcomes)),
                    Cell(linked_spans("bagging", names, order)),
                    Cell(tuple(gap_runs)),
                )
            )
        )
    return [
        Grid(
            f"{count_of('bagging', len(rows))} on {count_of('trees', len(by_tree))}",
            (
                Head("Tree", "key"),
                Head("Bags", "number"),
                Head("Covered"),
                Head("Stage"),
                Head("Outcome"),
                Head("Tags"),
                Head("Gaps"),
            ),
            tuple(grid),
        )
    ]


def _bags_gathered(story: Story, rows: Sequence[dict[str, Any]], trees: int) -> Grid:
    """Many bags, those alike in one row."""
    groups: defaultdict[tuple[str, str, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        gap = "with a gap" if story.numbers.get(Node("bagging", row["bag"] or "")) else ""
        groups[row["stage"] or "not recorded", row["outcome"] or "not recorded", gap].append(row)
    order = story.order["bagging"]
    grid = []
    for (stage, outcome, gap), bags in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        names = [row["bag"] for row in bags if row["bag"]]
        shown = names if gap else names[:0]
        grid.append(
            Row(
                (
                    figure(whole(len(bags))),
                    cell(stage),
                    cell(outcome),
                    cell(days([row["covered"] for row in bags if row["covered"]])),
                    Cell(
                        (Run(gap), *([Run(": ")] if gap else []), *linked_spans("bagging", shown[:24], order))
                    ),
                ),
                tone="faulty" if gap else "plain",
            )
        )
    return Grid(
        f"{count_of('bagging', len(rows))} on {count_of('trees', trees)}",
        (Head("Bags", "number"), Head("Stage"), Head("Outcome"), Head("Covered"), Head("Gaps")),
        tuple(grid),
        note="Bags that are alike share a row. The pickings below name them.",
    )


def _say_counts(counts: Counter[str]) -> str:
    if len(counts) == 1:
        return next(iter(counts))
    return ", ".join(f"{whole(count)} {word}" for word, count in counts.most_common())


def _pickings(story: Story, line: set[Node]) -> list[Part]:
    rows = story.rows_of("harvests", line)
    if not rows:
        return []
    order = story.order["bagging"]
    # With dozens of pickings the register is the better list.
    most = 40 if len(rows) <= _PICKINGS else 3
    grid = []
    for row in rows:
        bags = list(row["bags"] or ())
        loose = list(row["trees"] or ())
        runs = list(linked_spans("bagging", bags, order, most))
        if loose:
            runs += [
                Run("; " if runs else ""),
                Run("fruit of trees "),
                *linked("trees", loose),
                Run(" that no bag stands for"),
            ]
        grid.append(
            Row(
                (
                    key(row["harvest"], f"harvests/{row['harvest']}"),
                    cell(write(row["date"]), kind="date"),
                    Cell(tuple(runs) or plain("none named")),
                    figure(write(row["fruits"])),
                    figure(write(row["weight"]) or "–"),
                    cell(row["stage"] or "–"),
                    cell(row["status"] or "–"),
                )
            )
        )
    return [
        Grid(
            count_of("harvests", len(rows)).capitalize(),
            (
                Head("Picking", "key"),
                Head("Date", "date"),
                Head("Bags", share="38%"),
                Head("Fruit", "number"),
                Head("Weight", "number"),
                Head("Stage"),
                Head("Status"),
            ),
            tuple(grid),
        )
    ]


def _runs(story: Story, line: set[Node]) -> list[Part]:
    rows = story.rows_of("batches", line)
    if not rows:
        return []
    grid = []
    for row in rows:
        drying = [write(row[field]) for field in ("drying.method", "drying.temperature") if row[field]]
        if row["drying.from"]:
            drying.append(days([day for day in (row["drying.from"], row["drying.to"]) if day]))
        equipment = [write(row[field]) for field in ("equipment", "blade") if row[field]]
        grid.append(
            Row(
                (
                    key(row["batch"], f"batches/{row['batch']}"),
                    cell(write(row["date"]), kind="date"),
                    Cell(linked("harvests", row["harvests"] or ())),
                    cell("; ".join(equipment) or "–"),
                    figure(write(row["rinses"]) or "–"),
                    cell(", ".join(drying) or "–"),
                    figure(write(row["wet_weight"]) or "–"),
                    figure(write(row["dry_weight"]) or "–"),
                    figure(write(row["moisture"]) or "–"),
                )
            )
        )
    parts: list[Part] = [
        Grid(
            count_of("batches", len(rows)).capitalize(),
            (
                Head("Batch", "key"),
                Head("Date", "date"),
                Head("Pickings"),
                Head("Equipment, blade"),
                Head("Rinses", "number"),
                Head("Drying"),
                Head("Wet", "number"),
                Head("Dry", "number"),
                Head("Moisture", "number"),
            ),
            tuple(grid),
        )
    ]
    prepared = {
        link.source
        for node in line
        if node.table == "batches"
        for link in story.lineage.sources(node)
        if link.kind == "cleaned for"
    } | {node for node in line if node.table == "cleaning"}
    cleanings = story.rows_of("cleaning", prepared)
    if cleanings:
        parts.append(
            Listing(
                tuple(
                    (
                        Run(row["cleaning"], f"cleaning/{row['cleaning']}"),
                        Run(f", {write(row['date'])}: {write(row['equipment'])}, {write(row['method'])}"),
                    )
                    for row in cleanings
                )
            )
        )
    return parts


def _tests(story: Story, name: str) -> list[Part]:
    rows = story.rows_by("tests", "lot").get(name, [])
    if not rows:
        return [Prose(("No test of this lot is recorded.",))]
    grid = [
        Row(
            (
                key(row["test"], f"tests/{row['test']}"),
                cell(write(row["date"]), kind="date"),
                cell(row["kind"] or "–"),
                cell(_say_test(row)),
                cell(
                    ", ".join(write(row[field]) for field in ("temperature", "substrate") if row[field])
                    or "–"
                ),
                cell(", ".join(write(row[field]) for field in ("laboratory", "report") if row[field]) or "–"),
            )
        )
        for row in rows
    ]
    return [
        Grid(
            count_of("tests", len(rows)).capitalize(),
            (
                Head("Test", "key"),
                Head("Date", "date"),
                Head("Kind"),
                Head("Found", share="34%"),
                Head("How"),
                Head("Laboratory’s report"),
            ),
            tuple(grid),
        )
    ]


def _say_test(row: dict[str, Any]) -> str:
    said = []
    if row.get("replicates"):
        said.append(f"normal seedlings {write(row['replicates'])}")
        if row.get("per_replicate"):
            said.append(f"of {write(row['per_replicate'])} each")
    for field, title in (
        ("moisture", "moisture"),
        ("pure", "pure"),
        ("other", "other seed"),
        ("inert", "inert"),
        ("hundred_seed_weights", "hundred seeds weigh"),
    ):
        if row.get(field):
            said.append(f"{title} {write(row[field])}")
    if row.get("pools") is not None:
        said.append(
            f"{write(row.get('positive_pools')) or '?'} of {write(row['pools'])} pools positive,"
            f" {write(row.get('seeds_per_pool'))} seeds a pool"
        )
        if row.get("targets"):
            said.append(f"targets {write(row['targets'])}")
        if row.get("detection_limit"):
            said.append(f"detection limit {write(row['detection_limit'])}")
    return ", ".join(said) or "nothing recorded"


def _signature(name: str) -> Signature:
    return Signature(
        f"I have compared the dossier of lot {name} with the records it names.",
        ("Inspector: name, signature", "Operation: name, signature", "Place and date"),
    )
