"""What to do first, and at which stages of the job findings stand; a lot's grams by standing, in words."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from certgen.dossier.mending import say_unweighed
from certgen.report.chapters.standards_apart import build_standards_apart
from certgen.report.drawings.standing import LotBar
from certgen.report.tables import Column, grams, table
from certgen.report.wording import linked, linked_gaps, say, weigh, whole
from certgen.rules.findings import WEIGHTS
from certgen.rules.registry import load_rules
from certgen.typeset.parts import Cell, Chapter, Note, Prose, Run, Section

if TYPE_CHECKING:
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
#: Mends past these would spill over the page; the first are those that matter most.
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


def build_season(context: Context) -> Chapter | None:
    """What to do first and where the findings stand; None where there is nothing to do."""
    parts = (*_unread(context), *_show_mending(context), *_say_stages(context))
    parting = build_standards_apart(context)
    if not parts and parting is None:
        return None
    section = Section("season", "What to do first", 1, parts, style="chapter")
    return Chapter("season", (section, parting) if parting else (section,))


def _say_stages(context: Context) -> list[Part]:
    """How many findings each stage of the job has; stages without any are named."""
    stages = _stages(context)
    told = [f"{name}: {_say_weights(counts)}" for name, counts in stages.items() if any(counts)]
    clean = [name for name, counts in stages.items() if not any(counts)]
    if not told:
        return []
    none = f" None in: {'; '.join(clean)}." if clean else ""
    return [Note((Run(f"By stage of the job. {'; '.join(told)}.{none}"),))]


def _say_weights(counts: tuple[int, ...]) -> str:
    pairs = zip(WEIGHTS, counts, strict=True)
    return ", ".join(f"{whole(count)} {weight}" for weight, count in pairs if count)


def _unread(context: Context) -> list[Part]:
    """What couldn't be read stands before everything else: it may say anything."""
    gaps = [gap for gap in context.result.gaps if gap.rule == "record-unread"]
    return [Prose(tuple(gap.message for gap in gaps))] if gaps else []


def _show_mending(context: Context) -> list[Part]:
    mend = context.result.mend
    unweighed = say_unweighed(context.result)
    if not mend:
        return [Prose((unweighed,))] if unweighed else []
    left = len(mend) - _MENDS
    more = f" {whole(left)} more stand in certgen check." if left > 0 else ""
    return [
        table(
            "",
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
            note=f"Best first. Each line counts what becomes traced once the lines above it are done.{more}"
            f"{' ' if unweighed else ''}{unweighed}",
        )
    ]


def _say_mend(mend: Mend) -> Cell:
    return Cell(say(f"{mend.action.capitalize()} {mend.text}"))


def _stages(context: Context) -> dict[str, tuple[int, ...]]:
    """How many findings of each weight every stage has, in the order of the job."""
    rules = load_rules()
    counts: Counter[tuple[str, str]] = Counter()
    for gap in context.result.gaps:
        rule = rules.get(gap.rule)
        module = rule.stage if rule else "references"
        # A module of rules that is new stands under its own name until it is given a stage.
        counts[_STAGE_OF.get(module, module.replace("_", " ").capitalize()), gap.weight] += 1
    names = dict.fromkeys((*STAGE_WORDS, *(name for name, _ in counts)))
    return {name: tuple(counts[name, weight] for weight in WEIGHTS) for name in names}
