"""The chapter of what is computed beyond the records: odds, contributions, tests, a spot check."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.dossier.shares import share_parents
from certgen.report.packet import Chapter, Prose, Section
from certgen.report.view.contributions import build_contributions
from certgen.report.view.odds import build_odds
from certgen.report.view.seed_tests import build_seed_tests
from certgen.report.view.spot_check import build_spot_check

if TYPE_CHECKING:
    from certgen.report.view.story import Story

LEAD = (
    "Records that hang together are half of an inspection; what follows is what can be computed from"
    " them. Each table says what it rests on; the formulas, with this season’s numbers put in, stand"
    " under ‘How everything was computed’."
)


def build_figures(story: Story) -> Chapter:
    """The chapter, in the order: odds, contributions, tests of the seed, spot check."""
    shares = share_parents(story.result)
    return Chapter(
        "figures",
        (
            Section("figures", "What the figures say", 1, (Prose((LEAD,)),), style="chapter"),
            build_odds(story, shares),
            build_contributions(story, shares),
            build_seed_tests(story),
            build_spot_check(story),
        ),
    )
