"""The chapter of what is computed beyond the records: odds, contributions, tests, a spot check.

The spot check is drawn so that anybody can repeat it, with room for what is found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.shares import share_parents
from certgen.dossier.spot_check import CONFIDENCE, DETECT, own_draw, own_text
from certgen.report.chapters.figures.contamination import build_contamination
from certgen.report.chapters.figures.contributions import build_contributions
from certgen.report.chapters.figures.odds import build_odds, percent
from certgen.report.chapters.figures.seed_tests import build_seed_tests
from certgen.report.tables import Column, table
from certgen.report.wording import key, whole
from certgen.typeset.parts import Chapter, Prose, Section

if TYPE_CHECKING:
    from certgen.dossier.spot_check import Drawn, Kind
    from certgen.report.context import Context
    from certgen.typeset.parts import Grid, Part

LEAD = (
    "Records that hang together are half of an inspection; what follows is what can be computed from"
    " them. Each table says what it rests on; the formulas, with this season’s numbers put in, stand"
    " under ‘How everything was computed’."
)


def build_figures(context: Context) -> Chapter:
    """The chapter, in the order: odds, foreign pollen, contributions, tests of the seed, spot check."""
    shares = share_parents(context.result)
    return Chapter(
        "figures",
        (
            Section("figures", "What the figures say", 1, (Prose((LEAD,)),), style="chapter"),
            build_odds(context, shares),
            build_contamination(context),
            build_contributions(context, shares),
            build_seed_tests(context),
            build_spot_check(context),
        ),
    )


_KINDS: Final[tuple[tuple[Kind, str], ...]] = (
    ("bags", "Bags to look at"),
    ("trees", "Parent trees to look at"),
)


def build_spot_check(context: Context) -> Section:
    """The section of the spot check: bags, then parent trees."""
    sheets = [_show_sheet(context, kind, title) for kind, title in _KINDS]
    drawn = [sheet for sheet in sheets if sheet is not None]
    drawing = (
        f"Drawn with the text “{own_text(context.result)}”: whoever takes the SHA-256 of the text, a vertical"
        " bar and each identifier, and sorts by it within each block, draws the same. An inspector who would"
        " rather draw anew takes a text that nobody could have chosen beforehand and runs ‘certgen sample’"
        " with it."
    )
    size = (
        f"The size is such that {percent(DETECT)} of faulty items or more are found with a confidence of"
        f" {percent(CONFIDENCE)}. Computed, hypergeometric: a plan, no standard."
    )
    parts: tuple[Part, ...] = (Prose((drawing, size)), *drawn)
    if not drawn:
        parts = (Prose(("No bag and no parent tree is recorded, so there is nothing to draw from.",)),)
    return Section("spot-check", "A spot check", 2, parts, style="part")


def _show_sheet(context: Context, kind: Kind, title: str) -> Grid | None:
    check = own_draw(context.result, kind)
    if check is None:
        return None
    name = "bagging" if kind == "bags" else "trees"
    misses = ", ".join(f"{faults}: {percent(chance)}" for faults, chance in check.misses)

    def says(at: int, field: str) -> Column[Drawn]:
        return Column(field[0].upper() + field[1:], "text", lambda item: item.says[at][1] or None)

    return table(
        f"{title}: {whole(check.size)} of {whole(check.population)}",
        (
            Column(
                "Bag" if kind == "bags" else "Tree",
                "key",
                lambda item: key(item.identifier, f"{name}/{item.identifier}"),
            ),
            Column("Stands", "text", lambda item: _say_where(item, kind)),
            *(says(at, field) for at, (field, _) in enumerate(check.drawn[0].says)),
            Column("Found on the spot", "text", lambda _item: "_" * 22),
        ),
        check.drawn,
        note=f"The chance that this sample holds none of so many faulty ones: {misses}.",
    )


def _say_where(item: Drawn, kind: Kind) -> str | None:
    parts = (
        item.block,
        item.tree if kind == "bags" else "",
        f"row {item.row}" if item.row else "",
        f"place {item.position}" if item.position else "",
    )
    return " · ".join(part for part in parts if part) or None
