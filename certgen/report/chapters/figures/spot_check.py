"""A spot check, drawn so that anybody can repeat it, with room for what is found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.spot_check import CONFIDENCE, DETECT, own_draw, own_text
from certgen.report.chapters.figures.odds import percent
from certgen.report.wording import cell, key, whole
from certgen.typeset.parts import Grid, Head, Prose, Row, Section

if TYPE_CHECKING:
    from certgen.dossier.spot_check import Kind
    from certgen.report.context import Context
    from certgen.typeset.parts import Part


def build_spot_check(context: Context) -> Section:
    """The section of the spot check: bags, then parent trees."""
    text = own_text(context.result)
    parts: list[Part] = [
        Prose(
            (
                (
                    f"Drawn with the text “{text}”: whoever takes the SHA-256 of the text, a vertical bar"
                    " and each identifier, and sorts by it within each block, draws the same. An inspector"
                    " who would rather draw anew takes a text that nobody could have chosen beforehand and"
                    " runs ‘certgen sample’ with it."
                ),
                (
                    f"The size is such that {percent(DETECT)} of faulty items or more are found with a"
                    f" confidence of {percent(CONFIDENCE)}. Computed, hypergeometric: a plan, no standard."
                ),
            )
        )
    ]
    kinds: tuple[tuple[Kind, str], ...] = (("bags", "Bags to look at"), ("trees", "Parent trees to look at"))
    for kind, title in kinds:
        part = _sheet(context, kind, title)
        if part is not None:
            parts.append(part)
    if len(parts) == 1:
        parts = [Prose(("No bag and no parent tree is recorded, so there is nothing to draw from.",))]
    return Section("spot-check", "A spot check", 2, tuple(parts), style="part")


def _sheet(context: Context, kind: Kind, title: str) -> Grid | None:
    check = own_draw(context.result, kind)
    if check is None:
        return None
    table = "bagging" if kind == "bags" else "trees"
    names = [name for name, _ in check.drawn[0].says]
    misses = ", ".join(f"{faults}: {percent(chance)}" for faults, chance in check.misses)
    rows = []
    for one in check.drawn:
        at = [f"row {one.row}" if one.row else "", f"place {one.position}" if one.position else ""]
        where = [one.block, one.tree if kind == "bags" else "", *at]
        rows.append(
            Row(
                (
                    key(one.identifier, f"{table}/{one.identifier}"),
                    cell(" · ".join(part for part in where if part) or "–"),
                    *(cell(says or "–") for _, says in one.says),
                    cell("_" * 22),
                )
            )
        )
    return Grid(
        f"{title}: {whole(check.size)} of {whole(check.population)}",
        (
            Head("Bag" if kind == "bags" else "Tree", "key"),
            Head("Stands"),
            *(Head(name[0].upper() + name[1:]) for name in names),
            Head("Found on the spot"),
        ),
        tuple(rows),
        note=f"The chance that this sample holds none of so many faulty ones: {misses}.",
    )
