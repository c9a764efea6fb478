"""A letter a member: what is missing, in plain words, worst first, with the place to look at.

A letter names another member only where their papers disagree, and then no more of it than the paper itself.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from certgen.coop.between.result import KINDS
from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.members.facts import GapFact
    from certgen.coop.members.member_list import Member

_WIDTH: Final = 78
_HEADINGS: Final = {
    "rejects": "These records speak against the claim. Please talk to us before you sell any of this seed",
    "unproven": "This is missing. With it the seed below is proven",
    "advice": "And some advice, for when you have the time",
}

_CLOSING: Final = (
    "“Traced” means that every gram can be followed back to screened parents. A missing entry can still be "
    "written, with today's date and a note. Please write nothing that did not happen."
)


def write_letters(result: CoopResult) -> dict[str, str]:
    """The letters' texts by file name."""
    return {name_letter(view.member): write_letter(result, view) for view in result.members}


def name_letter(member: Member) -> str:
    """The name of a member's letter."""
    return f"{member.key}.txt"


def write_letter(result: CoopResult, view: MemberView) -> str:
    """One member's letter."""
    return "\n".join(_lines(result, view)) + "\n"


def _lines(result: CoopResult, view: MemberView) -> Iterator[str]:
    season = f" for season {view.summary.stated.label}" if view.summary.stated.label else ""
    yield result.coop.name
    yield f"To {view.member.name} ({view.member.key})"
    yield day(result.on)
    yield ""
    yield from _paragraph(f"We have gone through your records{season}. {_verdict(view)}")
    yield from _errors(view)
    for weight, heading in _HEADINGS.items():
        yield from _gaps(view, weight, heading)
    disagreements = [result.disagreements[position] for position in view.disagreements]
    if disagreements:
        yield from _heading("Here your papers and others' don't agree")
        for one in disagreements:
            yield from _item(f"{one.message} {KINDS[one.kind].remedy}")
    if view.lots:
        yield from _heading("Your lots")
        for line in view.lots:
            masses = join(line.standing.phrases())
            yield from _item(f"{line.fact.lot} ({line.fact.variety}): {masses or 'no weight written'}.")
    yield ""
    yield from _paragraph(f"{_CLOSING} {NOT_CERTIFICATION}")
    if result.coop.office:
        yield ""
        yield result.coop.office


def _errors(view: MemberView) -> Iterator[str]:
    errors = view.summary.errors
    if not errors:
        return
    yield from _heading("This could not be read")
    for error in errors:
        yield from _item(error)
    if view.summary.error_count > len(errors):
        yield from _item(f"and {view.summary.error_count - len(errors)} more like these")


def _verdict(view: MemberView) -> str:
    if view.readiness == "evidence missing" and not view.lots and not view.open_counts.get("unproven"):
        return "There is no lot in them yet, so nothing is claimed and nothing is shown to be traced."
    missing = view.open_counts.get("unproven", 0) + len(view.disagreements)
    return {
        "ready": "Nothing is missing. Thank you.",
        "evidence missing": f"{_things(missing)} still missing or unclear.",
        "against the claim": "Some of them speak against the claim that the seed is sold under.",
        "not read": "We could not read them, so we can't say yet how you stand.",
    }[view.readiness]


def _things(count: int) -> str:
    return "One thing is" if count == 1 else f"{count} things are" if count else "Something is"


def _gaps(view: MemberView, weight: str, heading: str) -> Iterator[str]:
    gaps = [gap for gap in view.gaps if gap.weight == weight]
    if not gaps:
        return
    yield from _heading(heading)
    for gap in gaps:
        yield from _item(_tell(gap))
    hidden = view.open_counts.get(weight, 0) - len(gaps)
    if hidden > 0:
        yield from _item(f"and {hidden} more; `certgen check` in your folder lists them all")


def _tell(gap: GapFact) -> str:
    place = f" ({gap.file}, line {gap.line})" if gap.line else f" ({gap.file})" if gap.file else ""
    return f"{capital(gap.message)}{place} {gap.remedy}"


def _heading(text: str) -> Iterator[str]:
    yield ""
    yield from _paragraph(f"{text}:")


def _paragraph(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _item(text: str) -> list[str]:
    return _paragraph(text, "  - ", "    ")
