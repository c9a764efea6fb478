"""What each parent gave to each lot, and aids to planning the next planting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.planning import compare_progeny, find_dry_targets, plan_holes
from certgen.report.chapters.figures.odds import percent, percentage
from certgen.report.tables import Amount, Column, table
from certgen.report.wording import key, whole
from certgen.rules.wording import join
from certgen.typeset.parts import Cell, Prose, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.dossier.planning import Progeny
    from certgen.dossier.shares import LotParents
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: Parents of a lot listed singly, the largest first.
_MOST = 12


def build_contributions(context: Context, shares: Mapping[str, LotParents]) -> Section:
    """The section of parents' contributions."""
    parts = (
        _show_lots(context, shares),
        *_show_progeny(context),
        *_say_holes(context),
        *_show_dry_targets(context),
    )
    return Section("contributions", "What each parent gave", 2, parts, style="part")


def _show_lots(context: Context, shares: Mapping[str, LotParents]) -> Part:
    if not shares:
        return Prose(("No lot has a parent on record.",))
    return table(
        "Parents of each lot by their part of the seed",
        (
            Column("Lot", "key", lambda lot: key(lot.lot, f"lots/{lot.lot}")),
            Column("Parents", "number", lambda lot: len(lot.shares)),
            Column("Count as", "number", lambda lot: f"{lot.effective:.1f}"),
            Column("Known for", "number", lambda lot: percentage(float(lot.known))),
            Column("Largest parts first", "text", lambda lot: _largest(context, lot)),
        ),
        list(shares.values()),
        note="Shared out by recorded fruit, not by counted seed; pollen parents of crossed seed"
        " count half. ‘Count as’ is the effective number, 1/Σp²: so many parents of equal"
        " parts would give the same diversity. For selfed seed it is a note and no verdict."
        " Computed.",
    )


def _largest(context: Context, lot: LotParents) -> Cell:
    """The parents that gave most, each leading to its record."""
    order = context.order["trees"]
    ranked = sorted(lot.shares.items(), key=lambda item: (-item[1], order.get(item[0], 0), item[0]))
    runs: list[Run] = []
    for tree, share in ranked[:_MOST]:
        if runs:
            runs.append(Run("; "))
        runs.append(Run(tree, f"trees/{tree}" if tree in order else ""))
        runs.append(Run(f"\u00a0{percent(float(share))}"))
    if len(ranked) > _MOST:
        runs.append(Run(f"; {whole(len(ranked) - _MOST)} more"))
    return Cell(tuple(runs))


def _show_progeny(context: Context) -> list[Part]:
    """The sexes of plantings grown from own lots beside what their parents let expect."""
    progeny = compare_progeny(context.result)
    if not progeny:
        return []
    return [
        table(
            "Sexes of plantings grown from own lots",
            (
                Column("Planting", "key", lambda row: key(row.planting, f"plantings/{row.planting}")),
                Column("Lot", "key", lambda row: row.lot),
                Column("Parents", "text", lambda row: join(row.parents) or "not known"),
                Column("Counted", "text", _say_counted),
                Column("To expect", "text", _say_expected),
                Column("Fit", "text", _say_fit),
            ),
            progeny,
            note="A planting aid, never a verdict: trees thinned by sex stray by design, and"
            " measured progeny strays from 2 : 1 too.",
        )
    ]


def _say_counted(row: Progeny) -> str:
    return ", ".join(f"{whole(number)} {sex}" for sex, number in row.counted.items())


def _say_expected(row: Progeny) -> str | None:
    return " : ".join(f"{percent(share)} {sex}" for sex, share in row.expected.items()) or None


def _say_fit(row: Progeny) -> str:
    if row.fit is None:
        return "nothing to compare with"
    small = "; few plants, so rough" if row.fit.small else ""
    return f"χ² {row.fit.statistic:.2f}, a chance of {percent(row.fit.chance)} to stray as far{small}"


def _say_holes(context: Context) -> list[Part]:
    """How many seedlings to put in a planting hole."""
    holes = plan_holes(context.result)
    if holes is None:
        return []
    chances = ", ".join(f"{number}: {percent(chance)}" for number, chance in holes.chances)
    words = (
        f"Seedlings a planting hole, with the chance of at least one hermaphrodite: {chances}."
        f" {holes.enough} are enough for {percent(holes.confidence)}. Computed with a share of"
        f" {percent(holes.share)}: {holes.basis}. For seed of selfed hermaphrodites."
    )
    return [Prose((words,))]


def _show_dry_targets(context: Context) -> list[Part]:
    """To which weight seed is to be dried that is moister than it usually stores."""
    targets = find_dry_targets(context.result)
    if not targets:
        return []
    return [
        table(
            "Seed moister than it usually stores",
            (
                Column("Batch", "key", lambda row: key(row.batch, f"batches/{row.batch}")),
                Column("Weighs", "number", lambda row: Amount(f"{row.weight_g:g}", "g", " ")),
                Column("Moisture", "number", lambda row: Amount(f"{row.moisture:g}", "%", " ")),
                Column("Dry to", "number", lambda row: Amount(f"{row.wanted:g}", "%", " ")),
                Column("It then weighs", "number", lambda row: Amount(f"{row.target_g:.1f}", "g", " ")),
            ),
            targets,
            note="W·(100 − m) / (100 − m′): nothing but water leaves. Computed.",
        )
    ]
