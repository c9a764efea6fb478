"""A letter a member: what is missing, in plain words, worst first, with the place to look at.

A letter names another member only where the two deal with one another, and then no more of it than what went
between them. No comparison with others stands in it unless five or more are compared.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Final

from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.papers.letter_lines import say_heading, say_item, wrap
from certgen.coop.papers.open_matters import count_open, tell_open, tell_settled
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.between.result import CoopResult, LotLine, MemberView
    from certgen.coop.members.facts import GapFact
    from certgen.coop.members.member_list import Member

_HEADINGS: Final = {
    "rejects": "These records speak against the claim. Please talk to us before you sell any of this seed",
    "unproven": "This is missing. With it the seed below is proven",
    "advice": "And some advice, for when you have the time",
}
#: What concerns others too, by its weights.
_BETWEEN: Final = {
    ("unproven", "question"): "This concerns other members too, or needs a look",
    ("control",): "This is for the co-op's own control",
}
#: Reasons told below a lot.
_REASONS: Final = 6
_NO_REASON: Final = "more than this letter has room for; `certgen check` in your folder lists it"

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
    yield from wrap(f"We have gone through your records{season}. {_verdict(result, view)}{_until(result)}")
    yield from tell_open(result, view.member.key)
    yield from _errors(view)
    for weight, heading in _HEADINGS.items():
        yield from _gaps(view, weight, heading)
    for weights, heading in _BETWEEN.items():
        told = [one.tell(view.member.key) for one in _concerning(result, view) if one.weight in weights]
        if any(told):
            yield from say_heading(heading)
            for text in filter(None, told):
                yield from say_item(text)
    if view.lots:
        yield from say_heading("Your lots")
        for line in view.lots:
            yield from _lot(line)
    yield from tell_settled(result, view.member.key)
    yield ""
    yield from wrap(f"{_CLOSING} {NOT_CERTIFICATION}")
    if result.coop.office:
        yield ""
        yield result.coop.office


def _concerning(result: CoopResult, view: MemberView) -> list[Disagreement]:
    return [result.disagreements[position] for position in view.disagreements]


def _until(result: CoopResult) -> str:
    """The day to answer by, where the office gives one."""
    days = result.coop.answer_days
    if days is None:
        return ""
    try:
        return f" Please answer by {day(result.on + timedelta(days=days))}, unless another day stands below."
    except OverflowError:
        return ""


def _lot(line: LotLine) -> Iterator[str]:
    masses = join(line.standing.phrases()) or "no weight written"
    text = f"{line.fact.lot} ({line.fact.variety}): {masses}"
    if line.standing.standing == "traced":
        parents = line.parents
        count = f"{parents.cleared} of {parents.all} {'parent' if parents.all == 1 else 'parents'} screened"
        yield from say_item(f"{text}; {count}.")
        return
    yield from say_item(f"{text}. What stands in its way:")
    reasons = list(dict.fromkeys(line.reasons)) or [_NO_REASON]
    for reason in reasons[:_REASONS]:
        yield from wrap(reason, "      · ", "        ")
    if len(reasons) > _REASONS:
        yield from wrap(f"and {len(reasons) - _REASONS} more, all told above", "      · ", "        ")


def _errors(view: MemberView) -> Iterator[str]:
    errors = view.summary.errors
    if not errors:
        return
    yield from say_heading("This could not be read")
    for error in errors:
        yield from say_item(error)
    if view.summary.error_count > len(errors):
        yield from say_item(f"and {view.summary.error_count - len(errors)} more like these")


def _verdict(result: CoopResult, view: MemberView) -> str:
    told = sum(bool(one.tell(view.member.key)) for one in _concerning(result, view))
    asked = count_open(result, view.member.key)
    unproven = view.open_counts.get("unproven", 0) - sum(gap.weight == "unproven" for gap in view.waiting)
    if view.readiness == "evidence missing" and not view.lots and not unproven + told + asked:
        return "There is no lot in them yet, so nothing is claimed and nothing is shown to be traced."
    return {
        "ready": "Nothing is missing. Thank you." if not asked else f"{_things(asked)} still to be answered.",
        "evidence missing": f"{_things(unproven + told + asked)} still missing or unclear.",
        "against the claim": "Some of them speak against the claim that the seed is sold under.",
        "not read": "We could not read them, so we can't say yet how you stand.",
    }[view.readiness]


def _things(count: int) -> str:
    return "One thing is" if count == 1 else f"{count} things are" if count else "Something is"


def _gaps(view: MemberView, weight: str, heading: str) -> Iterator[str]:
    waiting = set(view.waiting)
    gaps = [gap for gap in view.gaps if gap.weight == weight and gap not in waiting]
    if not gaps:
        return
    yield from say_heading(heading)
    for gap in gaps:
        yield from say_item(_tell(gap))
    hidden = view.open_counts.get(weight, 0) - len(gaps) - sum(gap.weight == weight for gap in waiting)
    if hidden > 0:
        yield from say_item(f"and {hidden} more; `certgen check` in your folder lists them all")


def _tell(gap: GapFact) -> str:
    place = f" ({gap.file}, line {gap.line})" if gap.line else f" ({gap.file})" if gap.file else ""
    return f"{capital(gap.message)}{place} {gap.remedy}"
