"""A spot check, drawn so that anybody can repeat it, with room for what is found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.spot_check import count_population, draw_check, plan_size
from certgen.report.packet import Grid, Head, Prose, Row, Section
from certgen.report.view.odds import percent
from certgen.report.view.wording import cell, key, whole

if TYPE_CHECKING:
    from certgen.dossier.spot_check import Kind
    from certgen.report.packet import Part
    from certgen.report.view.story import Story

#: The share of faulty items that the drawn sample is to find, and how surely.
_DETECT: Final = 0.10
_CONFIDENCE: Final = 0.95


def spot_text(story: Story) -> str:
    """The text that the packet's own draw is made with: label, operation and day of the examination."""
    details = story.season.details
    return f"{details.label} {details.operation.name} {story.result.on.isoformat()}"


def build_spot_check(story: Story) -> Section:
    """The section of the spot check: bags, then parent trees."""
    text = spot_text(story)
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
                    f"The size is such that {percent(_DETECT)} of faulty items or more are found with a"
                    f" confidence of {percent(_CONFIDENCE)}. Computed, hypergeometric: a plan, no standard."
                ),
            )
        )
    ]
    kinds: tuple[tuple[Kind, str], ...] = (("bags", "Bags to look at"), ("trees", "Parent trees to look at"))
    for kind, title in kinds:
        part = _sheet(story, kind, title, text)
        if part is not None:
            parts.append(part)
    if len(parts) == 1:
        parts = [Prose(("No bag and no parent tree is recorded, so there is nothing to draw from.",))]
    return Section("spot-check", "A spot check", 2, tuple(parts), style="part")


def _sheet(story: Story, kind: Kind, title: str, text: str) -> Grid | None:
    total = count_population(story.result, kind)
    if not total:
        return None
    check = draw_check(story.result, kind, text, plan_size(total, _DETECT, _CONFIDENCE))
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
        f"{title}: {whole(check.size)} of {whole(total)}",
        (
            Head("Bag" if kind == "bags" else "Tree", "key"),
            Head("Stands"),
            *(Head(name[0].upper() + name[1:]) for name in names),
            Head("Found on the spot"),
        ),
        tuple(rows),
        note=f"The chance that this sample holds none of so many faulty ones: {misses}.",
    )
