"""The chapter of what is computed beyond the records: odds, foreign pollen, tests of the seed.

What these rest on, and what is for those who compute it again, stands in the appendix.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.report.chapters.figures.contamination import build_contamination, build_pollen_ground
from certgen.report.chapters.figures.contributions import build_contributions
from certgen.report.chapters.figures.formulas import build_formulas
from certgen.report.chapters.figures.odds import HOW_TO_READ, build_odds, build_odds_ground
from certgen.report.chapters.figures.odds_appendix import build_odds_appendix
from certgen.report.chapters.figures.seed_tests import build_seed_ground, build_seed_tests
from certgen.typeset.parts import Chapter, Prose, Section

if TYPE_CHECKING:
    from certgen.report.context import Context

LEAD: Final = "What can be computed from records that hang together; the ground of it stands in the appendix."


def build_figures(context: Context) -> Chapter:
    """The chapter: how to read the odds, the odds, foreign pollen, tests of the seed."""
    opening = Section("figures", "What the figures say", 1, (Prose(HOW_TO_READ),), lead=LEAD, style="chapter")
    sections = (opening, build_odds(context), build_contamination(context), build_seed_tests(context))
    return Chapter("figures", sections)


def build_grounds(context: Context) -> tuple[Section, ...]:
    """The sections of the appendix that say what these figures rest on."""
    sections = (
        build_formulas(context),
        build_odds_appendix(context),
        build_odds_ground(context),
        build_pollen_ground(context),
        build_contributions(context, context.shares),
        build_seed_ground(context),
    )
    return tuple(section for section in sections if section is not None)
