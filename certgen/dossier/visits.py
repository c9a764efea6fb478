"""What inspections left open, and what stands on record of a lot or any other record from them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Literal

from certgen.rules.record_keeping.visit_entries import (
    is_answered,
    is_closed,
    is_settled,
    list_entries,
    list_visits,
    nodes_meant,
)
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterable

    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.rules.case import Case
    from certgen.rules.record_keeping.visit_entries import Entry, Visit

#: What an entry of each column is called.
_CALLED: Final = {"findings": "finding", "requests": "request", "exercises": "exercise"}


@dataclass(frozen=True, slots=True)
class OpenItem:
    """Something that an inspection left open on the day: a finding that no letter closes, a request without
    an answer, a difference that no paper clears up.

    `last` is its deadline, `answered` the day of an answer that didn't close it. `earlier` says that it is
    of a year before the season.
    """

    kind: Literal["finding", "request", "exercise"]
    visit: Visit
    number: str
    about: tuple[str, ...]
    says: str
    ground: str
    severity: str
    last: date | None
    answered: date | None

    @property
    def earlier(self) -> bool:
        """Whether it is of a year before the season."""
        return self.visit.earlier

    @property
    def state(self) -> str:
        """What was done about it by now."""
        if self.answered is not None:
            return f"answered on {day(self.answered)}, not closed"
        return "no answer on record" if self.kind != "exercise" else "not cleared up"


@dataclass(frozen=True, slots=True)
class Mention:
    """An exercise or a finding that is about a record: in words, and how it came out."""

    visit: Visit
    kind: Literal["finding", "exercise"]
    number: str
    says: str
    outcome: str


def list_open(case: Case) -> tuple[OpenItem, ...]:
    """What is open on the day, of all years: the earlier first, then by deadline."""
    ends = {"findings": is_closed, "requests": is_answered, "exercises": _is_in_order}
    found = [
        _open(case, one)
        for column, is_ended in ends.items()
        for one in list_entries(case, column)
        if one.visit.first <= case.on and not one.visit.strange and not is_ended(case, one)
    ]
    return tuple(sorted(found, key=lambda one: (one.visit.first, one.last or date.max, one.number)))


def _is_in_order(case: Case, one: Entry) -> bool:
    return one.says["outcome"] != "differs" or is_settled(case, one)


def _open(case: Case, one: Entry) -> OpenItem:
    answered = one.day("done") if one.column == "findings" and is_answered(case, one) else None
    return OpenItem(
        kind=_CALLED[one.column],  # type: ignore[arg-type]
        visit=one.visit,
        number=one.number,
        about=one.about,
        says=_say(one),
        ground=one.text("ground"),
        severity=one.text("severity"),
        last=one.day({"findings": "deadline", "requests": "by"}.get(one.column, "")),
        answered=answered,
    )


def _say(one: Entry) -> str:
    if one.column == "requests":
        return one.text("asked")
    if one.column == "findings":
        return one.text("found") or str(one.says["kind"])
    figures = one.text("figures")
    return f"{one.says['kind']}{f': {figures}' if figures else ''}"


def mentions_of(result: Result, nodes: Iterable[Node]) -> tuple[Mention, ...]:
    """The exercises and findings of all years that are about any of some records, in order of the visits."""
    case, wanted = result.case, set(nodes)
    found = []
    for column in ("exercises", "findings"):
        for one in list_entries(case, column):
            if wanted & set(nodes_meant(case, one.about)):
                outcome = str(one.says.get("outcome", ""))
                if column == "exercises" and outcome == "differs" and is_settled(case, one):
                    outcome = f"differs, settled {one.says['settled'].isoformat()}"
                if column == "findings":
                    shut = is_closed(case, one)
                    outcome = f"closed {one.says['closed'].isoformat()}" if shut else "open"
                kind = _CALLED[column]
                says = f"{_say(one)} (about {join(one.about)})"
                found.append(Mention(one.visit, kind, one.number, says, outcome))  # type: ignore[arg-type]
    return tuple(sorted(found, key=lambda one: (one.visit.first, one.kind, one.number)))


def next_visit(case: Case) -> Visit | None:
    """The visit that is announced or under way on the day, if one is on record."""
    ahead = [one for one in list_visits(case) if max(one.first, one.until or one.first) >= case.on]
    return min((one for one in ahead if not one.strange), key=lambda one: one.first, default=None)


def say_deadline(one: OpenItem) -> str:
    """ "by 31 March 2026", or that no day is given."""
    return f"by {day(one.last)}" if one.last is not None else "no day given"
