"""What recalls, drills and complaints on record came to: how long they took, what of the seed was found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from certgen.figures.validity import keeps_until
from certgen.records.rows import is_absent
from certgen.rules.seed.deliveries import list_deliveries
from certgen.rules.seed.departures import LEAVING
from certgen.rules.seed.recalls import add_answers, holder_of, list_recalls
from certgen.rules.wording import day

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date
    from typing import Any

    from certgen.examination import Result
    from certgen.rules.seed.deliveries import Delivery
    from certgen.rules.seed.recalls import Called


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a record of a recall came to. `minutes` is from start to end, None where a time is missing.

    `left_mg` had left its lots by the day on which it was opened, and `found_mg` of that the answers, and
    what had come back, account for. `answered` of `told` notices were answered.
    """

    called: Called
    minutes: int | None
    left_mg: int
    found_mg: int
    told: int
    answered: int

    @property
    def share(self) -> float | None:
        """The part of what had left that was found; None where nothing had left."""
        return self.found_mg / self.left_mg if self.left_mg else None


def list_outcomes(result: Result) -> tuple[Outcome, ...]:
    """What each recall, drill and complaint of the season's own records came to, by day."""
    own = result.case.own("recalls")
    called = [one for one in list_recalls(result.case) if own[one.row]]
    return tuple(_come_to(result, one) for one in sorted(called, key=lambda one: (one.opened, one.name)))


def _come_to(result: Result, called: Called) -> Outcome:
    row = result.case.season.table("recalls").loc[called.row]
    before = [one for one in list_deliveries(result.case, called.lots) if one.day <= called.opened]
    return Outcome(
        called,
        _count_minutes(row["started"], row["ended"]),
        sum(one.gross_mg for one in before),
        _find_mass(called, before),
        sum(1 for one in called.notices if one.get("told_on") or one.get("answered_on")),
        sum(1 for one in called.notices if one.get("answered_on")),
    )


def _find_mass(called: Called, before: Sequence[Delivery]) -> int:
    answers: dict[tuple[str, str], int] = {}
    for notice in called.notices:
        holder = holder_of(notice)
        answers[holder] = answers.get(holder, 0) + add_answers(notice)
    gross: dict[tuple[str, str], int] = {}
    back: dict[tuple[str, str], int] = {}
    for one in before:
        gross[one.holder] = gross.get(one.holder, 0) + one.gross_mg
        back[one.holder] = back.get(one.holder, 0) + one.gross_mg - one.kept_mg
    return sum(min(mass, back[holder] + answers.get(holder, 0)) for holder, mass in gross.items())


def _count_minutes(started: Any, ended: Any) -> int | None:
    if is_absent(started) or is_absent(ended):
        return None
    first, last = (60 * int(clock[:2]) + int(clock[3:]) for clock in (started, ended))
    return (last - first) % (24 * 60)


@dataclass(frozen=True, slots=True)
class OpenRecall:
    """What of a recall, complaint or drill is still to be done: by the day `last`, if practice names one, and
    on what that rests. Of a drill that is to come it is about the season.
    """

    table: str
    name: str
    about: str
    first: date | None
    last: date | None
    basis: str


def list_open_recalls(result: Result) -> Iterator[OpenRecall]:
    """What is open on the day of the examination, and when the next drill is due once seed has left."""
    case = result.case
    known = [one for one in list_outcomes(result) if one.called.opened <= result.on]
    usual = case.practice("complaint_answer_days")
    for one in known:
        called = one.called
        settled = called.shown and called.closed is not None and called.closed <= result.on
        if called.kind == "drill" or settled:
            continue
        told = f"{one.told} told, {one.answered} answered"
        last, basis = None, ""
        if called.kind == "complaint" and usual is not None and usual.high is not None:
            last = called.opened + timedelta(days=int(usual.high))
            basis = f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
        about = f"{called.kind} about {', '.join(called.about)}: {told}"
        yield OpenRecall("recalls", called.name, about, called.opened, last, basis)
    yield from _next_drill(result)


def _next_drill(result: Result) -> Iterator[OpenRecall]:
    import pandas as pd

    usual = result.case.practice("recall_drill_months")
    moves = result.case.season.table("movements")
    left = moves[moves["kind"].isin(LEAVING)]["date"]
    if usual is None or usual.high is None or not (left <= pd.Timestamp(result.on)).any():
        return
    basis = f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
    # Of all years: a drill of last autumn is in last year's folder.
    days = [
        one.opened for one in list_recalls(result.case) if one.kind == "drill" and one.opened <= result.on
    ]
    last = max(days, default=None)
    about = (
        "drill of a recall: none is on record" if last is None else f"drill of a recall: last on {day(last)}"
    )
    until = None if last is None else keeps_until(last, usual.high)
    yield OpenRecall("season", result.season.details.label, about, None, until, basis)


def say_share(outcome: Outcome) -> str:
    """The share of what had left that was found, in whole per cent, down; nothing where nobody answered."""
    if outcome.share is None or not outcome.answered:
        return ""
    return f"{100 * outcome.found_mg // outcome.left_mg} %"
