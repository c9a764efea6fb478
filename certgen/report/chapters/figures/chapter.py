"""The chapter of what is computed beyond the records: odds, contributions, tests, a spot check.

The spot check is drawn so that anybody can repeat it, with room for what is found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.dossier.spot_check import CONFIDENCE, DETECT, own_draw, own_text, say_population
from certgen.report.chapters.figures.contamination import build_contamination
from certgen.report.chapters.figures.contributions import build_contributions
from certgen.report.chapters.figures.odds import build_odds, build_odds_reading, percent
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
    """The chapter: the odds and how to read them, foreign pollen, parents, seed tests, spot check."""
    return Chapter(
        "figures",
        (
            Section("figures", "What the figures say", 1, (Prose((LEAD,)),), style="chapter"),
            build_odds_reading(),
            build_odds(context),
            build_contamination(context),
            build_contributions(context, context.shares),
            build_seed_tests(context),
            build_spot_check(context),
        ),
    )


_KINDS: Final[tuple[tuple[Kind, str], ...]] = (
    ("bags", "Bags to look at"),
    ("trees", "Parent trees to look at"),
    ("lots", "Lots to look at"),
)
_TABLES: Final[dict[Kind, str]] = {"bags": "bagging", "trees": "trees", "lots": "lots"}


def build_spot_check(context: Context) -> Section:
    """The section of the spot check: bags by their papers, then parent trees and lots that are there."""
    sheets = [_show_sheet(context, kind, title) for kind, title in _KINDS]
    drawn = [sheet for sheet in sheets if sheet is not None]
    drawing = (
        "This is the grower’s own draw, for going through one’s own papers, and no inspection’s: its text is"
        f" “{own_text(context.result)}”, and whoever writes the records can try them until such a draw spares"
        " what it should. It shows what a check looks like. Whoever takes the SHA-256 of the text, a vertical"
        " bar and each identifier, and sorts by it within each group, draws the same."
    )
    inspection = (
        "An inspection decides by a text of the inspector’s own, told only after the records were frozen:"
        " ‘certgen sample --freeze’ prints a fingerprint of them, the inspector notes it and then tells the"
        " text, and ‘certgen sample --frozen’ draws from what hangs, stands or lies in store that day."
    )
    size = (
        f"The size is such that {percent(DETECT)} of faulty items or more are found with a confidence of"
        f" {percent(CONFIDENCE)}, wherever they are; each block or variety has one at least. Computed,"
        " hypergeometric: a plan, no standard."
    )
    parts: tuple[Part, ...] = (Prose((drawing, inspection, size)), *drawn)
    if not drawn:
        parts = (Prose(("No bag, parent tree or lot is recorded, so there is nothing to draw from.",)),)
    return Section("spot-check", "A spot check", 2, parts, style="part")


def _show_sheet(context: Context, kind: Kind, title: str) -> Grid | None:
    check = own_draw(context.result, kind)
    if check is None:
        return None
    name = _TABLES[kind]
    misses = ", ".join(f"{faults}: {percent(chance)}" for faults, chance in check.misses)

    def says(at: int, field: str) -> Column[Drawn]:
        return Column(field[0].upper() + field[1:], "text", lambda item: item.says[at][1] or None)

    return table(
        f"{title}: {whole(check.size)} of {whole(check.population)} {say_population(check.asked, check.on)}",
        (
            Column(
                kind[:-1].capitalize(),
                "key",
                lambda item: key(item.identifier, f"{name}/{item.identifier}"),
            ),
            Column("Of" if kind == "lots" else "Stands", "text", lambda item: _say_where(item, kind)),
            *(says(at, field) for at, (field, _) in enumerate(check.drawn[0].says) if field != "hangs"),
            Column(
                "Found in the papers" if check.asked.on_record else "Found on the spot",
                "text",
                lambda _item: "_" * 22,
            ),
        ),
        check.drawn,
        note=f"The chance, at worst, that this sample holds none of so many faulty ones: {misses}.",
    )


def _say_where(item: Drawn, kind: Kind) -> str | None:
    if kind == "lots":
        return item.variety or None
    parts = (
        item.block,
        item.tree if kind == "bags" else "",
        f"row {item.row}" if item.row else "",
        f"place {item.position}" if item.position else "",
    )
    return " · ".join(part for part in parts if part) or None
