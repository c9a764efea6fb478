"""The season on a page: each lot's standing by gram, gaps by stage, what to do first, the
orchard."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from certgen.records.rows import plain_rows
from certgen.report.chapters.notices import show_suspect
from certgen.report.chapters.standards_apart import build_standards_apart
from certgen.report.drawings.orchard import OrchardBlock, OrchardPicture, OrchardTree, draw_orchard
from certgen.report.drawings.standing import (
    LotBar,
    Stage,
    StagesPicture,
    StandingPicture,
    draw_stages,
    draw_standing,
)
from certgen.report.tables import Column, grams, table
from certgen.report.wording import count_of, linked, linked_gaps, say, weigh, whole
from certgen.rules.findings import WEIGHTS
from certgen.rules.registry import load_rules
from certgen.typeset.parts import Cell, Chapter, Picture, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from certgen.examination import SeasonSummary
    from certgen.lineage import LotStanding, Mend
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: Stages of the job in words, in order, and the modules of rules that look at each.
STAGE_WORDS = {
    "The claim as a whole": ("claim",),
    "Identifiers, dates, papers": (
        "records",
        "references",
        "dates",
        "papers",
        "plan",
        "follow_up",
        "explanations",
    ),
    "Land, plantings, inputs": ("land", "orchard", "land_map", "plantings", "inputs", "compost", "pests"),
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
    parts = [f"{weigh(milligrams)} {word}" for word, milligrams in grams_of(lot) if milligrams]
    return ", ".join(parts) or "no weight recorded"


def grams_of(standing: LotStanding | SeasonSummary) -> tuple[tuple[str, int], ...]:
    """The milligrams of a lot, or of all lots, by standing."""
    return (
        ("traced", standing.traced_mg),
        ("unproven", standing.unproven_mg),
        ("rejected", standing.rejected_mg),
        ("unaccounted", standing.unaccounted_mg),
    )


def lot_bars(lots: list[LotStanding]) -> tuple[LotBar, ...]:
    """Bars for a picture of standing."""
    return tuple(
        LotBar(lot.lot, lot.variety, lot.standing, tuple(mg for _, mg in grams_of(lot)), say_standing(lot))
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
    parts = (
        *_unread(context),
        *show_suspect(context),
        Prose((_opening_words(context),)),
        *_show_standing(context, width),
        *_show_mending(context),
        _show_stages(context, width),
    )
    sections = [Section("season", "The season on a page", 1, parts, kicker="At a glance", style="chapter")]
    orchard = _show_orchard(context, width)
    if orchard:
        lead = "Every tree in its row and place: its sex, its screening, and whether it is a parent."
        sections.append(Section("orchard", "The orchard", 2, tuple(orchard), lead=lead, style="part"))
    parting = build_standards_apart(context)
    if parting is not None:
        sections.append(parting)
    return Chapter("season", tuple(sections))


def _show_standing(context: Context, width: float) -> list[Part]:
    """Each lot's grams as a bar."""
    lots = list(context.result.lots.values())
    if not lots:
        return []
    shown = _shown(lots)
    said = "; ".join(f"{lot.lot}: {say_standing(lot)}" for lot in shown)
    picture = StandingPicture("Each lot’s standing by gram", said, lot_bars(shown), width)
    caption = (
        "Bars are to one scale. Solid: traced. Hatched: unproven. Crossed: rejected. Empty: unaccounted."
        f"{_say_others(lots, shown)}"
    )
    return [Picture("standing", draw_standing(picture), f"Each lot’s standing by gram. {said}.", caption)]


def _show_stages(context: Context, width: float) -> Part:
    """The gaps by stage of the job; stages without any are named."""
    stages = _stages(context)
    faulty = tuple(stage for stage in stages if any(stage.counts))
    clean = [stage.name for stage in stages if not any(stage.counts)]
    none = f"No gap in: {'; '.join(clean)}."
    if not faulty:
        return Prose((none,))
    said = "; ".join(f"{stage.name}: {_say_weights(stage)}" for stage in stages)
    caption = "One shape a gap: crossed square rejects, diamond unproven, ring advice."
    return Picture(
        "stages",
        draw_stages(StagesPicture("Gaps by stage of the job", said, faulty, width)),
        f"Gaps by stage of the job. {said}.",
        f"{caption} {none}" if clean else caption,
    )


def _say_weights(stage: Stage) -> str:
    counts = zip(WEIGHTS, stage.counts, strict=True)
    return ", ".join(f"{count} {weight}" for weight, count in counts if count) or "none"


def _opening_words(context: Context) -> str:
    summary = context.result.summary
    lots = sum(summary.lots.values())
    if not lots:
        return "No lot has been packed yet. What follows shows how the records stand so far."
    words = f"{count_of('lots', lots)} weighing {weigh(summary.weight_mg)}: "
    words += ", ".join(
        f"{weigh(milligrams)} {word}"
        for word, milligrams in grams_of(summary)
        if milligrams or word != "unaccounted"
    )
    words += (
        ". Traced means: from each of these grams back to screened parents there is a record at every step,"
        " and none speaks against the claim. Unproven grams lack evidence; more of it can mend them."
        " Rejected grams have a record against them; only taking that part out mends the lot."
    )
    if summary.unaccounted_mg:
        words += " Unaccounted grams are nowhere: a count did not find them."
    return words


def _unread(context: Context) -> list[Part]:
    """What couldn't be read stands before everything else: it may say anything."""
    gaps = [gap for gap in context.result.gaps if gap.rule == "record-unread"]
    return [Prose(tuple(gap.message for gap in gaps))] if gaps else []


def _show_mending(context: Context) -> list[Part]:
    mend = context.result.mend
    if not mend:
        return []
    left = len(mend) - _MENDS
    more = f" {whole(left)} more stand in certgen check." if left > 0 else ""
    return [
        table(
            "What to do first",
            (
                Column("", "key", lambda row: str(row[0]), "3%"),
                Column(
                    "What to do",
                    "text",
                    lambda row: _say_mend(row[1]),
                    "51%",
                ),
                grams("Proves", lambda row: row[1].proves_mg, "12%"),
                Column("Lots", "text", lambda row: Cell(linked("lots", row[1].lots)), "20%"),
                Column("Gaps", "text", lambda row: Cell(linked_gaps(at + 1 for at in row[1].gaps)), "14%"),
            ),
            list(enumerate(mend[:_MENDS], start=1)),
            note=f"Best first. Each line counts what becomes traced once the lines above it are done.{more}",
        )
    ]


def _say_mend(mend: Mend) -> Cell:
    return Cell(say(f"{mend.action.capitalize()} {mend.text}"))


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


def _show_orchard(context: Context, width: float) -> list[Part]:
    """Every tree in its place, in as many pictures as a page needs."""
    parts: list[Part] = []
    for number, group in enumerate(_share_out(_blocks(context))):
        said = _say_blocks(group)
        picture = OrchardPicture("The orchard", said, tuple(group), width)
        parts.append(Picture(f"orchard-{number}", draw_orchard(picture), f"The orchard. {said}"))
    return parts


def _blocks(context: Context) -> list[OrchardBlock]:
    """The trees of each block, under the block's name and status."""
    season = context.season
    block_of = dict(plain_rows(season.table("plantings"), "planting", "block"))
    about = {block: rest for block, *rest in plain_rows(season.table("blocks"), "block", "name", "status")}
    trees: defaultdict[str, list[OrchardTree]] = defaultdict(list)
    for row in context.own_rows("trees"):
        trees[block_of.get(row["planting"]) or ""].append(_draw_tree(context, row))
    named = {block: (f"Block {block}" if block else "No block", *about.get(block, ())) for block in trees}
    return [
        OrchardBlock(" · ".join(part for part in named[block] if part), tuple(listed))
        for block, listed in trees.items()
    ]


def _draw_tree(context: Context, row: Mapping[str, Any]) -> OrchardTree:
    return OrchardTree(
        row["tree"] or "",
        row["row"] or "",
        row["position"] or "",
        row["sex"] or "unknown",
        context.verdicts.get(row["tree"], "not screened"),
        row["tree"] in context.parents,
        row["removed"] is not None,
    )


def _share_out(blocks: Iterable[OrchardBlock]) -> list[list[OrchardBlock]]:
    """The blocks by picture, those with more trees than a picture holds in pieces."""
    pictures: list[list[OrchardBlock]] = []
    size = 0
    for block in blocks:
        for start in range(0, len(block.trees), _TREES_A_PICTURE):
            piece = block.trees[start : start + _TREES_A_PICTURE]
            if not pictures or size + len(piece) > _TREES_A_PICTURE:
                pictures.append([])
                size = 0
            pictures[-1].append(OrchardBlock(block.name if start == 0 else f"{block.name}, continued", piece))
            size += len(piece)
    return pictures


def _say_blocks(blocks: list[OrchardBlock]) -> str:
    said = []
    for block in blocks:
        counts = Counter(tree.screening for tree in block.trees)
        words = ", ".join(f"{whole(count)} {word}" for word, count in sorted(counts.items()))
        positive = [tree.tree for tree in block.trees if tree.screening == "positive"]
        at = f"; positive: {', '.join(positive)}" if positive else ""
        said.append(f"{block.name}: {count_of('trees', len(block.trees))}, {words}{at}.")
    return " ".join(said)
