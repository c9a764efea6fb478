"""A letter on paper: one page for an ordinary member, in the design of the reports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.coop.papers.member_letters import build_letter, name_page
from certgen.report.packet import GO_TO, LANGUAGE
from certgen.typeset.design import Settings, find_sheet
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.coop.between.result import CoopResult
    from certgen.coop.papers.member_letters import Letter


def set_letters(
    result: CoopResult, page: str = "A4", progress: Callable[[int, int], None] = lambda _done, _all: None
) -> dict[str, bytes]:
    """Each member's letter as PDF, by file name. Raises ValueError for an unknown paper."""
    found = {}
    for done, view in enumerate(result.members, 1):
        found[name_page(view.member)] = set_letter(result, build_letter(result, view), page)
        progress(done, len(result.members))
    return found


def set_letter(result: CoopResult, letter: Letter, page: str = "A4") -> bytes:
    """One letter as PDF."""
    settings = Settings(f"Letter to {letter.member}", LANGUAGE, find_sheet(page), result.on, GO_TO)
    data = {
        **design_of(settings),
        "sender": fit_to_set(letter.sender),
        "to": fit_to_set(letter.to),
        "day": letter.day,
        "opening": fit_to_set(letter.opening),
        "parts": [
            {
                "heading": part.heading,
                "matters": [
                    {"number": matter.number, "text": fit_to_set(matter.text)} for matter in part.matters
                ],
            }
            for part in letter.parts
        ],
        "lists": [
            {"heading": heading, "items": [fit_to_set(text) for text in items]}
            for heading, items in letter.lists
        ],
        "closing": fit_to_set(letter.closing),
        "signed": fit_to_set(letter.signed),
        "foot": f"{fit_to_set(letter.sender)} · {fit_to_set(letter.member)} · records as of {letter.day}",
    }
    return compile_typst("letter.typ", data, epoch=settings.epoch)
