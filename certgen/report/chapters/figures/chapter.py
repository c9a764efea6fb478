"""The chapter of what is computed beyond the records: odds, contributions, tests, a spot check."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.shares import share_parents
from certgen.report.chapters.figures.contributions import build_contributions
from certgen.report.chapters.figures.odds import build_odds
from certgen.report.chapters.figures.seed_tests import build_seed_tests
from certgen.report.chapters.figures.spot_check import build_spot_check
from certgen.typeset.parts import Chapter, Prose, Section

if TYPE_CHECKING:
    from certgen.report.context import Context

LEAD = (
    "Records that hang together are half of an inspection; what follows is what can be computed from"
    " them. Each table says what it rests on; the formulas, with this season’s numbers put in, stand"
    " under ‘How everything was computed’."
)


def build_figures(context: Context) -> Chapter:
    """The chapter, in the order: odds, contributions, tests of the seed, spot check."""
    shares = share_parents(context.result)
    return Chapter(
        "figures",
        (
            Section("figures", "What the figures say", 1, (Prose((LEAD,)),), style="chapter"),
            build_odds(context, shares),
            build_contributions(context, shares),
            build_seed_tests(context),
            build_spot_check(context),
        ),
    )
