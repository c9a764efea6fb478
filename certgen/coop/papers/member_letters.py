"""A letter a member: what is open with it and what it can do, worst first, each matter by a number.

A letter names another member only where the two deal with one another, and then no more of it than what went
between them. No comparison with others stands in it unless five or more are compared. What a letter says is
put together here; `letter_lines` writes it as text, `letter_pages` sets it on paper.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.coop.between.visits import NOT_CERTIFICATION
from certgen.coop.papers.handing_in import say_handing_in, tell_handing_in
from certgen.coop.papers.letter_lines import write_lines
from certgen.coop.papers.open_matters import count_open, list_open, list_settled
from certgen.rules.wording import capital, day, join
from certgen.rules.wording import count as count_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

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
    ("rejects", "unproven", "question"): "This concerns other members too, or needs a look",
    ("control",): "This is for the co-op's own control",
}
#: Places told of one disagreement.
_PLACES: Final = 3
#: Reasons told below a lot.
_REASONS: Final = 6
_NO_REASON: Final = "more than this letter has room for; “certgen check” in your folder lists it"
#: A field's or a table's name, as rules mark it.
_MARKED: Final = re.compile("`([^`]*)`")

_CLOSING: Final = (
    "“Traced” means that every gram can be followed back to screened parents. A missing entry can still be "
    "written, with today's date and a note. Please write nothing that did not happen."
)


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing that is open, with the number that the letter gives it."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class LetterPart:
    """Matters under one heading."""

    heading: str
    matters: tuple[Matter, ...]


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter before it is written: from whom and to whom, its matters, then plain lists (a heading, items),
    and how it ends.
    """

    member: str
    sender: str
    to: str
    day: str
    opening: str
    parts: tuple[LetterPart, ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...]
    closing: str
    signed: str


def write_letters(result: CoopResult) -> dict[str, str]:
    """The letters' texts by file name."""
    return {name_letter(view.member): write_letter(result, view) for view in result.members}


def name_letter(member: Member) -> str:
    """The name of a member's letter."""
    return f"{member.key}.txt"


def name_page(member: Member) -> str:
    """The name of a member's letter on paper."""
    return f"{member.key}.pdf"


def write_letter(result: CoopResult, view: MemberView) -> str:
    """One member's letter."""
    return "\n".join(write_lines(build_letter(result, view))) + "\n"


def build_letter(result: CoopResult, view: MemberView) -> Letter:
    """What one member's letter says."""
    season = f" for season {view.summary.stated.label}" if view.summary.stated.label else ""
    opening = f"We have gone through your records{season}. {_verdict(result, view)}{_until(result)}"
    parts = tuple(_number_parts(_list_parts(result, view)))
    lots = tuple(_say_lot(line, parts) for line in view.lots)
    handing_in = tell_handing_in(result, view)
    send = () if handing_in is None else tuple(say_handing_in(handing_in))
    lists = (("Your lots", lots), ("What to send us, and how", send), *list_settled(result, view.member.key))
    return Letter(
        view.member.key,
        result.coop.name,
        f"To {view.member.name} ({view.member.key})",
        day(result.on),
        opening,
        parts,
        tuple((heading, tuple(map(_say_plainly, items))) for heading, items in lists if items),
        f"{_CLOSING} {NOT_CERTIFICATION}",
        result.coop.office,
    )


def _say_plainly(text: str) -> str:
    """Names out of the records between quotation marks; what a member reads is no form."""
    return _MARKED.sub("“\\1”", text)


def _number_parts(parts: Iterable[tuple[str, list[str]]]) -> Iterator[LetterPart]:
    number = 0
    for heading, texts in parts:
        matters = [Matter(number + at, _say_plainly(text)) for at, text in enumerate(texts, 1)]
        number += len(matters)
        if matters:
            yield LetterPart(heading, tuple(matters))


def _list_parts(result: CoopResult, view: MemberView) -> Iterator[tuple[str, list[str]]]:
    """Headings with what stands under them, worst first."""
    yield from list_open(result, view.member.key)
    yield "This could not be read", _errors(view)
    for weight, heading in _HEADINGS.items():
        yield heading, _gaps(view, weight)
    for weights, heading in _BETWEEN.items():
        told = [one for one in _concerning(result, view) if one.weight in weights]
        yield heading, [text for one in told if (text := _tell_placed(result, view.member.key, one))]


def _concerning(result: CoopResult, view: MemberView) -> list[Disagreement]:
    found = [result.disagreements[position] for position in view.disagreements]
    return [one for one in found if not result.is_settled(one)]


def _tell_placed(result: CoopResult, member: str, one: Disagreement) -> str:
    """The words to a member, with the places in its own records."""
    told = one.tell(member)
    own = [
        f"{file}, line {line}"
        for record, file, line in result.locate(one)
        if record.startswith(f"{member}:") and file and line
    ]
    shown = join([*dict.fromkeys(own[:_PLACES]), *(["further"] if len(own) > _PLACES else [])])
    return f"{told} ({shown})" if told and shown else told


def _until(result: CoopResult) -> str:
    """The day to answer by, where the office gives one."""
    by = result.answer_by
    return "" if by is None else f" Please answer by {day(by)}, unless another day stands below."


def _say_lot(line: LotLine, parts: tuple[LetterPart, ...]) -> str:
    """A lot by gram; where it isn't traced, the numbers of what stands in its way."""
    masses = join(line.standing.phrases()) or "no weight written"
    text = f"{line.fact.lot} ({line.fact.variety}): {masses}"
    if line.standing.standing == "traced":
        parents = line.parents
        count = f"{parents.cleared} of {parents.all} {'parent' if parents.all == 1 else 'parents'} screened"
        return f"{text}; {count}."
    numbers, others = _find_numbers(line, parts)
    if len(others) > _REASONS:
        others = [*others[:_REASONS], f"{len(others) - _REASONS} more, which “certgen check” lists"]
    word = "number" if len(numbers) == 1 else "numbers"
    ways = [f"{word} {join(map(str, numbers))} above"] if numbers else []
    return f"{text}. What stands in its way: {'; '.join([*ways, *others])}."


def _find_numbers(line: LotLine, parts: tuple[LetterPart, ...]) -> tuple[list[int], list[str]]:
    """The numbers of the matters that tell a lot's reasons, and the reasons that none of them tells."""
    told = [(matter.number, _flatten(matter.text)) for part in parts for matter in part.matters]
    numbers, others = set(), []
    for reason in dict.fromkeys(line.reasons) or [_NO_REASON]:
        said = _flatten(_say_plainly(reason)).rstrip(".")
        number = next((number for number, matter in told if said in matter), None)
        if number is None:
            others.append(reason.rstrip("."))
        else:
            numbers.add(number)
    return sorted(numbers), others


def _flatten(text: str) -> str:
    return " ".join(text.casefold().split())


def _errors(view: MemberView) -> list[str]:
    errors = list(view.summary.errors)
    hidden = view.summary.error_count - len(errors)
    return [*errors, f"And {hidden} more like these."] if hidden > 0 else errors


def _verdict(result: CoopResult, view: MemberView) -> str:
    concerning = [one for one in _concerning(result, view) if one.tell(view.member.key)]
    told = len(concerning)
    questions = sum(one.weight == "question" for one in concerning)
    asked = count_open(result, view.member.key)
    unproven = view.open_counts.get("unproven", 0) - sum(gap.weight == "unproven" for gap in view.waiting)
    if view.readiness == "evidence missing" and not view.lots and not unproven + told + asked:
        return "There is no lot in them yet, so nothing is claimed and nothing is shown to be traced."
    return {
        "ready": _say_ready(asked, questions),
        "evidence missing": f"{_things(unproven + told + asked)} still missing or unclear.",
        "against the claim": "Some of them speak against the claim that the seed is sold under.",
        "not read": "We could not read them, so we can't say yet how you stand.",
    }[view.readiness]


def _say_ready(asked: int, questions: int) -> str:
    if asked:
        return f"{_things(asked)} still to be answered."
    if questions:
        verb = "is" if questions == 1 else "are"
        return f"Nothing is missing; {count_of(questions, 'question')} {verb} below."
    return "Nothing is missing. Thank you."


def _things(count: int) -> str:
    return "One thing is" if count == 1 else f"{count} things are" if count else "Something is"


def _gaps(view: MemberView, weight: str) -> list[str]:
    waiting = set(view.waiting)
    gaps = [gap for gap in view.gaps if gap.weight == weight and gap not in waiting]
    hidden = view.open_counts.get(weight, 0) - len(gaps) - sum(gap.weight == weight for gap in waiting)
    more = [f"And {hidden} more; “certgen check” in your folder lists them all."] if hidden > 0 else []
    return [*map(_tell, gaps), *more] if gaps else []


def _tell(gap: GapFact) -> str:
    place = f" ({gap.file}, line {gap.line})" if gap.line else f" ({gap.file})" if gap.file else ""
    return f"{capital(gap.message)}{place} {gap.remedy}"
