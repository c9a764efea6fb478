"""What failed bags leave open to foreign pollen: the bags, each lot's bound, and the shares it rests on."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from certgen.dossier.contamination import bound_pollen
from certgen.report.chapters.figures.odds import percent, percentage
from certgen.report.tables import Column, table
from certgen.report.wording import key, whole
from certgen.rules.wording import join
from certgen.typeset.parts import Prose, Section

if TYPE_CHECKING:
    from certgen.dossier.contamination import SeasonContamination
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

_NO_BAG = (
    "No bag of this season is recorded to have been looked at, so nothing bounds what foreign pollen brought:"
    " record each check of a bag with its day and what was found."
)


def build_contamination(context: Context) -> Section:
    """The section; screening of the parents says nothing of the pollen that reached their flowers."""
    found = bound_pollen(context.result)
    words = [_say_bags(found)]
    if found.lots:
        words.append(_say_lots(found))
    if found.bags.failures is not None and found.unknown:
        words.append(f"No picking is on record for {join(found.unknown)}: nothing bounds them.")
    title = "What failed bags leave open to foreign pollen"
    return Section("pollen", title, 2, (Prose((" ".join(words),)),), style="part")


def build_pollen_ground(context: Context) -> Section | None:
    """For the appendix: each lot's bound, and the shares that it rests on."""
    found = bound_pollen(context.result)
    parts: list[Part] = []
    if found.lots:
        parts.append(_show_lots(found))
    if found.fathers is not None and found.carries is not None:
        parts.append(_show_assumptions(found))
    return Section("pollen-ground", "What bounds foreign pollen", 2, tuple(parts)) if parts else None


def _say_lots(found: SeasonContamination) -> str:
    """The bound of most lots, and of those that differ."""
    bounds = {one.lot: percent(one.usual.carrying) for one in found.lots}
    (most, _), *others = Counter(bounds.values()).most_common()
    same = f"At most {most} of a lot’s seed may carry what foreign pollen brought"
    differ = join([f"{lot} {bound}" for lot, bound in bounds.items() if bound != most])
    return (
        f"{same}{f' ({differ})' if others else ''}: a bound, no estimate, and it changes no lot’s standing."
    )


def _say_bags(found: SeasonContamination) -> str:
    failures = found.bags.failures
    if failures is None:
        return _NO_BAG
    kinds = join(f"{whole(number)} {kind}" for kind, number in found.bags.kinds.items())
    unlooked = f" Of {whole(found.bags.unlooked)} more no look tells." if found.bags.unlooked else ""
    return (
        f"Of {whole(failures.checked)} bags of this season that were looked at {whole(failures.failed)} had"
        f" failed{f' ({kinds})' if kinds else ''}: {percent(failures.share)}, with exact limits from"
        f" {percent(failures.low)} to {percent(failures.high)} (two-sided, 95 %), and"
        f" {percent(failures.at_most)} at most (one-sided, 95 %).{unlooked} No screening of the parents sees"
        " what pollen brings: the seed’s own test alone does."
    )


def _show_lots(found: SeasonContamination) -> Grid:
    return table(
        "What foreign pollen may have brought, at most",
        (
            Column("Lot", "key", lambda one: key(one.lot, f"lots/{one.lot}")),
            Column("No cover shown", "number", lambda one: percentage(one.uncovered)),
            Column("Open to pollen", "number", lambda one: percentage(one.usual.open_to_pollen)),
            Column("Fathered by it", "number", lambda one: percentage(one.usual.fathered)),
            Column("Carrying, at most", "number", lambda one: percentage(one.usual.carrying)),
            Column(
                "At the low share", "number", lambda one: None if one.low is None else percentage(one.low)
            ),
            Column(
                "At the high share", "number", lambda one: None if one.high is None else percentage(one.high)
            ),
        ),
        found.lots,
        note="No cover shown: seed from fruit whose flower no record shows to have been covered. Open to"
        " pollen: that, and of the rest as much as the upper limit of the failures. It takes it that no more"
        " bags failed unseen than were seen to fail, and that bags fail each by itself (assumed). Carrying:"
        " with the shares below; the last two columns take the ends of the range of carrying pollen. A bound,"
        " no estimate; it changes no lot’s standing.",
    )


def _show_assumptions(found: SeasonContamination) -> Grid:
    assumed = [one for one in (found.fathers, found.carries) if one is not None]
    return table(
        "What the bound of foreign pollen rests on",
        (
            Column("Name under ‘practice’", "long", lambda one: one.key, "24%"),
            Column("Figure", "text", lambda one: one.title, "30%"),
            Column("Taken as", "text", lambda one: f"{one.usual or 0:g}\u00a0%"),
            Column("Source", "text", lambda one: one.source),
            Column("Kind", "text", lambda one: one.mark),
        ),
        assumed,
    )
