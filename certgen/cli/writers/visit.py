"""The inspector's working papers as a terminal shows them, part by part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.terminal import Terminal
from certgen.dossier.visit_papers import ABOUT
from certgen.exchange.field_paper.visit_sheets import build_sections
from certgen.rules.wording import day

if TYPE_CHECKING:
    from certgen.dossier.visit_papers import VisitPapers
    from certgen.examination import Result


def write_text(result: Result, papers: VisitPapers) -> None:
    """Writes each part that says something; what is only to be written on is left to paper."""
    out = Terminal()
    out.season(result)
    out.line(f"As of {day(result.on)}.")
    out.text(ABOUT)
    for section in build_sections(result, papers):
        rows = [[cell for cell in row if cell] for row in section.rows]
        rows = [row for row in rows if row]
        if not rows and not section.lead:
            continue
        out.heading(section.title)
        if section.lead:
            out.text(section.lead, 2)
        out.cautions(result.profile.cautions.at(*section.work) if section.work else ())
        for row in rows:
            out.text("  ".join(row), 2, hang=2)
    out.line()
