"""The inspector's visits: what she found, what she asked for, and what became of it.

Nothing here makes any seed better. What she found against it stays against it until a filed paper shows its
end, and then the seed is what the other records make of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.rules.findings import Finding
from certgen.rules.record_keeping.visit_entries import (
    AGAINST_SEED,
    is_answered,
    is_closed,
    is_settled,
    list_entries,
    list_visits,
    nodes_meant,
)
from certgen.rules.registry import rule
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.rules.case import Case
    from certgen.rules.record_keeping.visit_entries import Entry, Visit

_RECORDS: Final = ("us-nop:205.103(b)(2)", "us-nop:205.400(f)", "eu:2018/848 39(1)")
_ANSWERS: Final = ("us-nop:205.406(a)", "us-nop:205.400(f)", "eu:2018/848 27")


def _name(entry: Entry) -> str:
    """ "Finding NC-1 of visit V26-1 (16 June 2026)"."""
    what = {"findings": f"Finding {entry.number}", "requests": "A request", "exercises": "An exercise"}
    return f"{what[entry.column]} of visit {entry.visit.visit} ({day(entry.visit.first)})"


def _at(case: Case, entry: Entry, field: str, message: str) -> Finding:
    """An advice at an entry's field. What an earlier year left open is told in this one."""
    steps = (entry.column, entry.position, field)
    visit = entry.visit
    if visit.own:
        return Finding("visits", visit.visit, visit.row, steps, message, reaches=())
    place = case.season.place("visits", visit.row, *steps)
    return Finding("visits", visit.visit, None, steps, message, reaches=(), place=place)


@rule(
    weight="unproven",
    clauses=("us-nop:205.403(d)(4)", "us-nop:205.403(d)(5)", "us-nop:205.103(b)(2)", "eu:2018/848 39(1)"),
    remedy="Clear the difference up, write the day under `settled`, and name the paper that shows it under "
    "`paper` and as the visit's evidence. Then the lot is what its other records make of it.",
)
def exercise_differs(case: Case) -> Iterator[Finding]:
    """An inspector's exercise came out otherwise than the records, and no paper shows how that ended.

    What was traced, balanced or counted on the spot weighs more than the book. Until the difference is
    cleared up, the seed of what the exercise was about isn't proved.
    """
    for one in list_entries(case, "exercises"):
        if one.says["outcome"] != "differs" or is_settled(case, one):
            continue
        about, figures = join(one.about), one.text("figures")
        yield Finding(
            "visits",
            one.visit.visit,
            one.visit.row,
            ("exercises", one.position, "outcome"),
            f"Visit {one.visit.visit} of {day(one.visit.first)}: the {one.says['kind']} of {about} came out "
            f"otherwise than the records{f' ({figures})' if figures else ''}, and no paper shows how that"
            " ended.",
            reaches=nodes_meant(case, one.about),
            supply=f"what clears up the {one.says['kind']} of {about} at visit {one.visit.visit}",
        )


@rule(
    weight="unproven",
    clauses=(*_RECORDS, "eu:2018/848 27"),
    remedy="Answer it and ask the certifier to close it. Then write the day under `closed`, who closed it "
    "under `closed_by`, and name the letter under `letter` and as the visit's evidence.",
)
def finding_against_seed(case: Case) -> Iterator[Finding]:
    """An inspector's finding puts seed in question, and no letter of the certifier closes it.

    Other seed in the drier, a parent that isn't the one on record, grams that don't balance, a substance that
    isn't allowed: what it is about isn't proved until whoever found it says that it is settled. That it was
    answered doesn't close it.
    """
    for one in list_entries(case, "findings"):
        if one.says["kind"] not in AGAINST_SEED or is_closed(case, one):
            continue
        told = one.text("found")
        yield Finding(
            "visits",
            one.visit.visit,
            one.visit.row,
            ("findings", one.position, "kind"),
            f"{_name(one)} ({one.says['kind']}) is about {join(one.about)}{f': {told}' if told else ''}. No"
            " letter closes it.",
            reaches=nodes_meant(case, one.about),
            supply=f"the certifier's letter that closes finding {one.number} of visit {one.visit.visit}",
        )


@rule(
    weight="advice",
    clauses=_ANSWERS,
    remedy="Answer it, write the day under `done` and what was done under `action`, and name what shows it. "
    "Where the certifier allowed more time, write the new day under `deadline` and file the letter.",
)
def finding_overdue(case: Case) -> Iterator[Finding]:
    """A finding wasn't answered by its day.

    A finding that nobody answers grows heavier by itself: what was minor becomes a reason to propose that the
    certificate be suspended.
    """
    for one in list_entries(case, "findings"):
        last = one.day("deadline")
        if one.visit.earlier or one.visit.strange:
            # An earlier year's has a rule of its own.
            continue
        if last is not None and case.on > last and not is_answered(case, one):
            yield _at(
                case,
                one,
                "deadline",
                f"{_name(one)} was to be answered by {day(last)}, and no answer is on record.",
            )


@rule(
    weight="advice",
    clauses=_ANSWERS,
    remedy="Have it closed before the inspector comes again, or tell her at the opening how far it is. Write "
    "what was done, by which paper, and the certifier's letter into last year's record of the visit.",
)
def finding_left_open(case: Case) -> Iterator[Finding]:
    """A finding of an earlier year isn't closed yet.

    It is the first thing that the next inspection looks at.
    """
    for one in list_entries(case, "findings"):
        if not one.visit.earlier or one.visit.strange or is_closed(case, one):
            continue
        last, done = one.day("deadline"), one.day("done")
        told = "nothing says what was done about it"
        if is_answered(case, one) and done is not None:
            told = f"it was answered on {day(done)}"
        until = f", due by {day(last)}," if last is not None else ""
        yield _at(
            case, one, "finding", f"{_name(one)}{until} isn't closed by a letter of the certifier; {told}."
        )


@rule(
    weight="advice",
    clauses=_RECORDS,
    remedy="Name the file under `paper`, name it among the visit's evidence too, and put it into the "
    "evidence folder.",
)
def answer_without_paper(case: Case) -> Iterator[Finding]:
    """A finding or a request is answered, by the record, and no paper shows what was handed in.

    The certifier has a copy. Whoever asks later, a buyer or the next inspector, has only this folder.
    """
    for column, field in (("findings", "done"), ("requests", "answered")):
        for one in list_entries(case, column):
            told = one.day(field)
            if told is not None and one.visit.own and not one.shown["paper"]:
                yield _at(
                    case,
                    one,
                    field,
                    f"{_name(one)} was answered on {day(told)}, and no filed paper shows it.",
                )


@rule(
    weight="advice",
    clauses=_RECORDS,
    remedy="Write who closed it under `closed_by`, and name the certifier's letter under `letter` and among "
    "the visit's evidence. Without one it counts as open.",
)
def finding_closed_unshown(case: Case) -> Iterator[Finding]:
    """A finding is called closed, and nobody's name or no letter of the certifier stands for it.

    Only whoever made a finding can close it. The grower's own word leaves it open.
    """
    for one in list_entries(case, "findings"):
        told = one.day("closed")
        if told is None or not one.visit.own:
            continue
        lacking = [
            word
            for word, there in (
                ("who closed it", one.text("closed_by")),
                ("by which letter", one.shown["letter"]),
            )
            if not there
        ]
        if lacking:
            yield _at(
                case, one, "closed",
                f"{_name(one)} is called closed since {day(told)}, and nothing shows {join(lacking)}.",
            )  # fmt: skip


@rule(
    weight="advice",
    clauses=("us-nop:205.400(f)", "us-nop:205.103(c)", "eu:2018/848 39(1)"),
    remedy="Hand it in, write the day under `answered` and name the file under `paper`. Where it can't be "
    "had, write to the certifier and file the letter.",
)
def request_unanswered(case: Case) -> Iterator[Finding]:
    """Something that the inspector asked for wasn't handed in by its day."""
    for one in list_entries(case, "requests"):
        last = one.day("by")
        if one.visit.strange:
            continue
        if last is not None and case.on > last and not is_answered(case, one):
            told = f"{_name(one)} ({one.says['asked']}) was to be answered by {day(last)}"
            yield _at(case, one, "by", f"{told}, and no answer is on record.")


#: Of each kind of entry the days that can't lie before the visit, and those that can't lie ahead of today.
_DAYS: Final = {
    "exercises": (("settled",), ("settled",)),
    "requests": (("by", "answered"), ("answered",)),
    "findings": (("deadline", "done", "closed"), ("done", "closed")),
}


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Look the days up in the letters and correct the one that is wrong. A day that can't be true "
    "closes nothing.",
)
def visit_dates_contradict(case: Case) -> Iterator[Finding]:
    """The days of a visit can't all be true: an end before the beginning, an answer before the question.

    An entry whose day contradicts the visit's counts as if it weren't there.
    """
    for visit in list_visits(case):
        if visit.own:
            yield from _of_visit(case, visit)
    for column, (not_before, not_ahead) in _DAYS.items():
        for one in list_entries(case, column):
            if one.visit.own:
                yield from _of_entry(case, one, not_before, not_ahead)


def _of_visit(case: Case, visit: Visit) -> Iterator[Finding]:
    told = f"Visit {visit.visit} began on {day(visit.first)}"
    found = []
    if visit.announced is not None and visit.announced > visit.first:
        said = f"{told} and was announced on {day(visit.announced)}, after that."
        found.append(("notice.given", said))
    if visit.until is not None and visit.until < visit.first:
        found.append(("to", f"{told} and ended on {day(visit.until)}, before that."))
    if visit.first > case.on and any(True for _ in _entries_of(case, visit)):
        said = f"Visit {visit.visit} is to be on {day(visit.first)}, and tells already what came of it."
        found.append(("from", said))
    for field, said in found:
        yield Finding("visits", visit.visit, visit.row, (field,), said, reaches=())


def _entries_of(case: Case, visit: Visit) -> Iterator[Entry]:
    for column in _DAYS:
        yield from (one for one in list_entries(case, column) if one.visit.row == visit.row)


def _of_entry(
    case: Case, one: Entry, not_before: tuple[str, ...], not_ahead: tuple[str, ...]
) -> Iterator[Finding]:
    for field in not_before:
        told = one.day(field)
        if told is not None and told < one.visit.first:
            said = f"{_name(one)} bears {day(told)} as its day under `{field}`, before the visit."
            yield _at(case, one, field, said)
        elif told is not None and field in not_ahead and told > case.on:
            said = f"{_name(one)} bears {day(told)} as its day under `{field}`, which hasn't come yet."
            yield _at(case, one, field, said)
    done, closed = one.day("done"), one.day("closed")
    if done is not None and closed is not None and closed < done:
        said = f"{_name(one)} was closed on {day(closed)}, before it was answered on {day(done)}."
        yield _at(case, one, "closed", said)
