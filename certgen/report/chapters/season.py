"""The season on a page: each lot's standing by gram, gaps by stage, the shortest way to clean, the
orchard."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from certgen.records.rows import plain_rows
from certgen.report.chapters.notices import show_suspect
from certgen.report.chapters.standards_apart import build_standards_apart
from certgen.report.drawings.orchard import OrchardBlock, OrchardPicture, OrchardTree, draw_orchard
from certgen.report.drawings.stages import Stage, StagesPicture, draw_stages
from certgen.report.drawings.standing import LotBar, StandingPicture, draw_standing
from certgen.report.wording import cell, count_of, figure, say, weigh, whole
from certgen.rules.findings import WEIGHTS
from certgen.rules.registry import load_rules
from certgen.typeset.parts import Cell, Chapter, Grid, Head, Picture, Prose, Row, Run, Section

if TYPE_CHECKING:
    from certgen.lineage import LotStanding
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: Stages of the job in words, in order, and the modules of rules that look at each.
STAGE_WORDS = {
    "The claim as a whole": ("claim",),
    "Identifiers, dates, papers": ("records", "references", "dates", "papers", "follow_up", "explanations"),
    "Land, plantings, inputs": ("land", "orchard", "plantings"),
    "Parents and screening": ("parents", "screening", "detection"),
    "Bagging": ("bagging", "covering"),
    "Harvest": ("picking", "ripeness"),
    "Extraction and drying": ("processing", "extraction", "equipment", "drying"),
    "Lots, storage, labels": ("lots", "storage", "labels"),
    "Tests": ("seed_tests", "germination", "germination_conditions"),
    "Stock and sales": ("stock", "sales"),
}
_STAGE_OF = {module: words for words, modules in STAGE_WORDS.items() for module in modules}
#: More trees than this are drawn block by block in pictures of their own.
_TREES_A_PICTURE = 420
#: Bars and mends past these would spill over the page; the first are those that matter most.
_BARS = 20
_MENDS = 10


def say_standing(lot: LotStanding) -> str:
    """`412 g traced`, or each part in words."""
    parts = [
        f"{weigh(milligrams)} {word}"
        for word, milligrams in (
            ("traced", lot.traced_mg),
            ("unproven", lot.unproven_mg),
            ("rejected", lot.rejected_mg),
            ("unaccounted", lot.unaccounted_mg),
        )
        if milligrams
    ]
    return ", ".join(parts) or "no weight recorded"


def lot_bars(lots: list[LotStanding]) -> tuple[LotBar, ...]:
    """Bars for a picture of standing."""
    return tuple(
        LotBar(
            lot.lot,
            lot.variety,
            lot.standing,
            (lot.traced_mg, lot.unproven_mg, lot.rejected_mg, lot.unaccounted_mg),
            say_standing(lot),
        )
        for lot in lots
    )


def _shown(lots: list[LotStanding]) -> list[LotStanding]:
    """The lots that get a bar: all, or of many those with most grams that are not traced."""
    if len(lots) <= _BARS:
        return lots
    worst = sorted(lots, key=lambda lot: (lot.traced_mg - lot.weight_mg, -lot.weight_mg))[:_BARS]
    kept = {lot.lot for lot in worst}
    return [lot for lot in lots if lot.lot in kept]


def _say_others(lots: list[LotStanding], shown: list[LotStanding]) -> str:
    kept = {lot.lot for lot in shown}
    others = Counter(lot.standing for lot in lots if lot.lot not in kept)
    if not others:
        return ""
    words = ", ".join(f"{whole(count)} {standing}" for standing, count in others.most_common())
    return (
        f" Shown are the {whole(len(shown))} lots with most grams to prove; not shown: {words}. The chapter"
        " of the lots has each."
    )


def build_season(context: Context, width: float) -> Chapter:
    """The chapter of the season on a page, and the orchard after it."""
    result = context.result
    lots = list(result.lots.values())
    parts: list[Part] = [*_unread(context), *show_suspect(context), Prose((_opening_words(context),))]
    if lots:
        shown = _shown(lots)
        said = "; ".join(f"{lot.lot}: {say_standing(lot)}" for lot in shown)
        parts.append(
            Picture(
                "standing",
                draw_standing(StandingPicture("Each lot’s standing by gram", said, lot_bars(shown), width)),
                f"Each lot’s standing by gram. {said}.",
                "Bars are to one scale. Solid: traced. Hatched: unproven. Crossed: rejected."
                " Empty: unaccounted." + _say_others(lots, shown),
            )
        )
    parts += _mending(context)
    stages = _stages(context)
    said = "; ".join(
        f"{stage.name}: "
        + (", ".join(f"{n} {w}" for w, n in zip(WEIGHTS, stage.counts, strict=True) if n) or "none")
        for stage in stages
    )
    faulty = tuple(stage for stage in stages if any(stage.counts))
    clean = [stage.name for stage in stages if not any(stage.counts)]
    none = f"No gap in: {'; '.join(clean)}."
    if faulty:
        parts.append(
            Picture(
                "stages",
                draw_stages(StagesPicture("Gaps by stage of the job", said, faulty, width)),
                f"Gaps by stage of the job. {said}.",
                "One shape a gap: crossed square rejects, diamond unproven, ring advice."
                + (f" {none}" if clean else ""),
            )
        )
    else:
        parts.append(Prose((none,)))
    sections = [
        Section("season", "The season on a page", 1, tuple(parts), kicker="At a glance", style="chapter")
    ]
    orchard = _orchard(context, width)
    if orchard:
        sections.append(
            Section(
                "orchard",
                "The orchard",
                2,
                tuple(orchard),
                lead="Every tree in its row and place: its sex, its screening, and whether it is a parent.",
                style="part",
            )
        )
    parting = build_standards_apart(context)
    if parting is not None:
        sections.append(parting)
    return Chapter("season", tuple(sections))


def _opening_words(context: Context) -> str:
    summary = context.result.summary
    lots = sum(summary.lots.values())
    if not lots:
        return "No lot has been packed yet. What follows shows how the records stand so far."
    words = f"{count_of('lots', lots)} weighing {weigh(summary.weight_mg)}: "
    words += ", ".join(
        f"{weigh(milligrams)} {word}"
        for word, milligrams in (
            ("traced", summary.traced_mg),
            ("unproven", summary.unproven_mg),
            ("rejected", summary.rejected_mg),
            ("unaccounted", summary.unaccounted_mg),
        )
        if milligrams or word != "unaccounted"
    )
    words += (
        ". Traced means: from each of these grams back to screened parents there is a record at every step,"
    )
    words += " and none speaks against the claim. Unproven grams lack evidence; more of it can mend them."
    words += " Rejected grams have a record against them; only taking that part out mends the lot."
    if summary.unaccounted_mg:
        words += " Unaccounted grams are nowhere: a count did not find them."
    return words


def _unread(context: Context) -> list[Part]:
    """What couldn't be read stands before everything else: it may say anything."""
    gaps = [gap for gap in context.result.gaps if gap.rule == "record-unread"]
    return [Prose(tuple(gap.message for gap in gaps))] if gaps else []


def _mending(context: Context) -> list[Part]:
    mend = context.result.mend
    if not mend:
        return []
    left = len(mend) - _MENDS
    rows = []
    for number, one in enumerate(mend[:_MENDS], start=1):
        gaps: list[Run] = []
        for position in one.gaps:
            if gaps:
                gaps.append(Run(", "))
            gaps.append(Run(str(position + 1), f"gap/{position + 1}"))
        lots: list[Run] = []
        for lot in one.lots:
            if lots:
                lots.append(Run(", "))
            lots.append(Run(lot, f"lots/{lot}"))
        rows.append(
            Row(
                (
                    cell(str(number), kind="key"),
                    Cell(say(f"{one.action.capitalize()} {one.text}")),
                    figure(weigh(one.proves_mg)),
                    Cell(tuple(lots)),
                    Cell(tuple(gaps)),
                )
            )
        )
    return [
        Grid(
            "The shortest way to clean",
            (
                Head("", "key", "3%"),
                Head("What to do", share="51%"),
                Head("Proves", "number", "12%"),
                Head("Lots", share="20%"),
                Head("Gaps", share="14%"),
            ),
            tuple(rows),
            note="Best first. Each line counts what becomes traced once the lines above it are done."
            + (f" {whole(left)} more stand in certgen check." if left > 0 else ""),
        )
    ]


def _stages(context: Context) -> tuple[Stage, ...]:
    rules = load_rules()
    counts: Counter[tuple[str, str]] = Counter()
    for gap in context.result.gaps:
        rule = rules.get(gap.rule)
        module = rule.stage if rule else "references"
        # A module of rules that is new stands under its own name until it is given a stage.
        counts[_STAGE_OF.get(module, module.replace("_", " ").capitalize()), gap.weight] += 1
    names = dict.fromkeys((*STAGE_WORDS, *(name for name, _ in counts)))
    return tuple(
        Stage(name, (counts[name, "rejects"], counts[name, "unproven"], counts[name, "advice"]))
        for name in names
    )


def _orchard(context: Context, width: float) -> list[Part]:
    season = context.season
    block_of = dict(plain_rows(season.table("plantings"), "planting", "block"))
    names = dict(plain_rows(season.table("blocks"), "block", "name"))
    status = dict(plain_rows(season.table("blocks"), "block", "status"))
    blocks: dict[str, list[OrchardTree]] = {}
    for tree, planting, row, position, sex, removed in plain_rows(
        season.table("trees"), "tree", "planting", "row", "position", "sex", "removed"
    ):
        blocks.setdefault(block_of.get(planting) or "", []).append(
            OrchardTree(
                tree or "",
                row or "",
                position or "",
                sex or "unknown",
                context.verdicts.get(tree, "not screened"),
                tree in context.parents,
                removed is not None,
            )
        )
    groups: list[list[OrchardBlock]] = []
    size = 0
    for block, trees in blocks.items():
        words = " · ".join(
            part
            for part in (f"Block {block}" if block else "No block", names.get(block), status.get(block))
            if part
        )
        for start in range(0, len(trees), _TREES_A_PICTURE):
            piece = tuple(trees[start : start + _TREES_A_PICTURE])
            if not groups or size + len(piece) > _TREES_A_PICTURE:
                groups.append([])
                size = 0
            groups[-1].append(OrchardBlock(words if start == 0 else f"{words}, continued", piece))
            size += len(piece)
    parts: list[Part] = []
    for number, group in enumerate(groups):
        said = _say_blocks(group)
        picture = OrchardPicture("The orchard", said, tuple(group), width)
        parts.append(Picture(f"orchard-{number}", draw_orchard(picture), f"The orchard. {said}"))
    return parts


def _say_blocks(blocks: list[OrchardBlock]) -> str:
    said = []
    for block in blocks:
        found = Counter(tree.screening for tree in block.trees)
        words = ", ".join(f"{whole(count)} {word}" for word, count in sorted(found.items()))
        positive = [tree.tree for tree in block.trees if tree.screening == "positive"]
        at = f"; positive: {', '.join(positive)}" if positive else ""
        said.append(f"{block.name}: {count_of('trees', len(block.trees))}, {words}{at}.")
    return " ".join(said)
