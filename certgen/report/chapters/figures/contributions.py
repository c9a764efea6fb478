"""What each parent gave to each lot, and aids to planning the next planting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.planning import compare_progeny, find_dry_targets, plan_holes
from certgen.report.chapters.figures.odds import percent
from certgen.report.wording import cell, figure, key, whole
from certgen.rules.wording import join
from certgen.typeset.parts import Cell, Grid, Head, Prose, Row, Run, Section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.dossier.shares import LotParents
    from certgen.report.context import Context
    from certgen.typeset.parts import Part

#: Parents of a lot listed singly, the largest first.
_MOST = 12


def build_contributions(context: Context, shares: Mapping[str, LotParents]) -> Section:
    """The section of parents' contributions."""
    if not shares:
        parts: list[Part] = [Prose(("No lot has a parent on record.",))]
    else:
        parts = [
            Grid(
                "Parents of each lot by their part of the seed",
                (
                    Head("Lot", "key"),
                    Head("Parents", "number"),
                    Head("Count as", "number"),
                    Head("Known for", "number"),
                    Head("Largest parts first"),
                ),
                tuple(_lot(context, lot) for lot in shares.values()),
                note="Shared out by recorded fruit, not by counted seed; pollen parents of crossed seed"
                " count half. ‘Count as’ is the effective number, 1/Σp²: so many parents of equal"
                " parts would give the same diversity. For selfed seed it is a note and no verdict."
                " Computed.",
            )
        ]
    parts += _aids(context)
    return Section("contributions", "What each parent gave", 2, tuple(parts), style="part")


def _lot(context: Context, lot: LotParents) -> Row:
    ranked = sorted(
        lot.shares.items(), key=lambda one: (-one[1], context.order["trees"].get(one[0], 0), one[0])
    )
    runs: list[Run] = []
    for tree, share in ranked[:_MOST]:
        runs.append(Run("; " if runs else ""))
        runs.append(Run(tree, f"trees/{tree}" if tree in context.order["trees"] else ""))
        runs.append(Run(f"\u00a0{percent(float(share))}"))
    if len(ranked) > _MOST:
        runs.append(Run(f"; {whole(len(ranked) - _MOST)} more"))
    return Row(
        (
            key(lot.lot, f"lots/{lot.lot}"),
            figure(whole(len(lot.shares))),
            figure(f"{lot.effective:.1f}"),
            figure(percent(float(lot.known))),
            Cell(tuple(run for run in runs if run.text)),
        )
    )


def _aids(context: Context) -> list[Part]:
    parts: list[Part] = []
    progeny = compare_progeny(context.result)
    if progeny:
        rows = []
        for one in progeny:
            counted = ", ".join(f"{whole(number)} {sex}" for sex, number in one.counted.items())
            expected = " : ".join(f"{percent(share)} {sex}" for sex, share in one.expected.items())
            said = "nothing to compare with"
            if one.fit is not None:
                said = f"χ² {one.fit.statistic:.2f}, a chance of {percent(one.fit.chance)} to stray as far"
                said += "; few plants, so rough" if one.fit.small else ""
            rows.append(
                Row(
                    (
                        key(one.planting, f"plantings/{one.planting}"),
                        key(one.lot),
                        cell(join(one.parents) or "not known"),
                        cell(counted),
                        cell(expected or "–"),
                        cell(said),
                    )
                )
            )
        parts.append(
            Grid(
                "Sexes of plantings grown from own lots",
                (
                    Head("Planting", "key"),
                    Head("Lot", "key"),
                    Head("Parents"),
                    Head("Counted"),
                    Head("To expect"),
                    Head("Fit"),
                ),
                tuple(rows),
                note="A planting aid, never a verdict: trees thinned by sex stray by design, and"
                " measured progeny strays from 2 : 1 too.",
            )
        )
    holes = plan_holes(context.result)
    if holes is not None:
        chances = ", ".join(f"{number}: {percent(chance)}" for number, chance in holes.chances)
        parts.append(
            Prose(
                (
                    (
                        "Seedlings a planting hole, with the chance of at least one hermaphrodite:"
                        f" {chances}. {holes.enough} are enough for {percent(holes.confidence)}. Computed"
                        f" with a share of {percent(holes.share)}: {holes.basis}. For seed of selfed"
                        " hermaphrodites."
                    ),
                )
            )
        )
    targets = find_dry_targets(context.result)
    if targets:
        parts.append(
            Grid(
                "Seed moister than it usually stores",
                (
                    Head("Batch", "key"),
                    Head("Weighs", "number"),
                    Head("Moisture", "number"),
                    Head("Dry to", "number"),
                    Head("It then weighs", "number"),
                ),
                tuple(
                    Row(
                        (
                            key(one.batch, f"batches/{one.batch}"),
                            figure(f"{one.weight_g:g} g"),
                            figure(f"{one.moisture:g} %"),
                            figure(f"{one.wanted:g} %"),
                            figure(f"{one.target_g:.1f} g"),
                        )
                    )
                    for one in targets
                ),
                note="W·(100 − m) / (100 − m′): nothing but water leaves. Computed.",
            )
        )
    return parts
