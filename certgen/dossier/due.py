"""What is cleared, what falls due and when: the season as a diary, seen from a day.

Until when records and samples are to be kept, as the season's standards ask, falls due as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from textwrap import shorten
from typing import TYPE_CHECKING, Any, Literal

from certgen.dossier.clearance import list_clearances
from certgen.dossier.recall_outcomes import list_open_recalls
from certgen.dossier.visits import list_open, next_visit
from certgen.figures.ledger import stock_on
from certgen.figures.validity import add_years, keeps_until, last_ship_day
from certgen.records.joining.farm import seasons_of
from certgen.records.rows import plain_rows
from certgen.rules.seed.departures import tests_of
from certgen.rules.wording import count

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from pandas import DataFrame, Series

    from certgen.examination import Result
    from certgen.standards import Demand, Rulebook

Subject = Literal[
    "cleared for bagging", "result outstanding", "screening to complete", "bag to take off", "bag to pick",
    "germination test",
    "storage", "inspection", "incident open", "recall open", "keep",
]  # fmt: skip
State = Literal["overdue", "due", "later", "ready"]
#: In the order in which a grower reads them.
SUBJECTS: tuple[Subject, ...] = (
    "cleared for bagging",
    "result outstanding",
    "screening to complete",
    "bag to take off",
    "bag to pick",
    "germination test",
    "storage",
    "inspection",
    "incident open",
    "recall open",
    "keep",
)
_SOON = timedelta(days=30)
#: Letters of what an inspection found that stand in a line; its record has all.
_WIDE = 70


@dataclass(frozen=True, slots=True)
class Due:
    """One thing to do or to know, with the `first` and `last` day of its window (None where there is none).

    `state` is `ready` for what is cleared or need be kept no longer, `later` before the window (or more than
    30 days ahead of a last day), `due` within it, `overdue` after it. `basis` says what the days rest on.
    `part` tells several of one record apart, by what doesn't change while they are open.
    """

    subject: Subject
    table: str
    identifier: str
    about: str
    first: date | None
    last: date | None
    state: State
    basis: str
    part: str = ""


def list_due(result: Result) -> tuple[Due, ...]:
    """Everything due, by subject and then by day, as of the day of the examination."""
    entries = [
        *_cleared(result),
        *_outstanding(result),
        *_bags(result),
        *_germination(result),
        *_storage(result),
        *_inspections(result),
        *_incidents(result),
        *_recalls(result),
        *_retention(result),
    ]
    order = {subject: place for place, subject in enumerate(SUBJECTS)}
    return tuple(
        sorted(
            entries,
            key=lambda entry: (
                order[entry.subject],
                # What is ready since some day is ready: then it is looked up by its number.
                date.min if entry.state == "ready" else entry.last or entry.first or date.max,
                entry.identifier,
            ),
        )
    )


def _state(on: date, first: date | None, last: date | None) -> State:
    if last is not None and on > last:
        return "overdue"
    if first is not None:
        return "due" if on >= first else "later"
    return "due" if last is not None and last - on <= _SOON else "later"


def _cleared(result: Result) -> Iterator[Due]:
    """Trees that may be bagged, and those whose clean results don't prove yet what a bag on them needs."""
    for one in list_clearances(result):
        if one.lacks:
            about = "; ".join(part for part in (one.about, one.lacks) if part)
            yield Due("screening to complete", "trees", one.tree, about, one.since, None, "due", "")
        else:
            basis = f"sample {one.sample}"
            yield Due("cleared for bagging", "trees", one.tree, one.about, one.since, None, "ready", basis)


def _outstanding(result: Result) -> Iterator[Due]:
    """Samples without a result."""
    usual = result.case.practice("days_sample_to_report")
    patience = None if usual is None or usual.high is None else timedelta(days=int(usual.high))
    basis = "" if usual is None else f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
    frame, on = result.case.season.table("screening"), _stamp(result)
    later = frame["reported"] > on
    waiting = frame[(frame["result"].isna() | later) & (frame["collected"] <= on)]
    for sample, tree, submitted, collected, laboratory in _rows(
        waiting, "sample", "tree", "submitted", "collected", "laboratory"
    ):
        sent = submitted or collected
        last = None if sent is None or patience is None else sent + patience
        about = f"{f'tree {tree}' if tree else 'a pool'}{f' at {laboratory}' if laboratory else ''}"
        state: State = "overdue" if last is not None and result.on > last else "due"
        yield Due("result outstanding", "screening", sample, about, sent, last, state, basis)


def _bags(result: Result) -> Iterator[Due]:
    """Bags still on their flower, and fruit not yet picked."""
    bags, on = result.case.bags, _stamp(result)
    covered = bags[(bags["covered"] <= on) & (result.case.own("bagging") | may_hang(result, bags))]
    lost = covered["outcome"].isin(["dropped", "lost"])
    picked = result.case.picked
    gone = covered["bag"].isin(picked.loc[picked["date"] <= on, "bag"])
    on_flower = covered[~(covered["uncovered"] <= on) & ~lost & ~gone]
    hanging = covered[~lost & ~gone]
    yield from _bag_windows(result, "bag to take off", on_flower, "days_covered")
    yield from _bag_windows(result, "bag to pick", hanging, "days_covering_to_picking")


def may_hang(result: Result, bags: DataFrame) -> Series[bool]:
    """Bags so young when the season began that their fruit could still hang."""
    import pandas as pd

    usual = result.case.practice("days_covering_to_picking")
    days = 0 if usual is None or usual.high is None else int(usual.high)
    return bags["covered"] >= pd.Timestamp(result.season.details.start - timedelta(days=days))


def _bag_windows(result: Result, subject: Subject, bags: DataFrame, key: str) -> Iterator[Due]:
    """Each bag with the days that practice leaves it, counted from covering."""
    usual = result.case.practice(key)
    if usual is None:
        return
    basis = f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
    # A bag's days are few, and there are thousands of bags: each day's window is found once.
    windows: dict[date, tuple[date | None, date | None, State]] = {}
    for bag, tree, when in _rows(bags, "bag", "tree", "covered"):
        if when not in windows:
            first = when + timedelta(days=int(usual.low)) if usual.low is not None else None
            last = when + timedelta(days=int(usual.high)) if usual.high is not None else None
            windows[when] = (first, last, _state(result.on, first, last))
        yield Due(subject, "bagging", bag, f"tree {tree}" if tree else "no tree", *windows[when], basis)


def _stock(result: Result) -> dict[str, int]:
    """What each lot holds on the day, in milligrams; lots with nothing left are not listed."""
    stock = stock_on(result.ledger, result.on)
    return {str(lot): int(mass) for lot, mass in stock.items() if mass > 0}


def _germination(result: Result) -> Iterator[Due]:
    """Until when each lot in stock may be sold on its newest germination test."""
    # Seed law counts to the end of a month, practice to the day.
    terms: list[tuple[Callable[[date], date], str]] = [
        (partial(last_ship_day, months=int(demand.value)), f"{demand.clause} ({demand.mark})")  # type: ignore[arg-type]
        for _, demand in result.case.demand("ship_by_months")
    ]
    usual = result.case.practice("germination_test_age_months")
    if usual is not None and usual.high is not None:
        told = f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
        terms.append((partial(keeps_until, months=usual.high), told))
    if not terms:
        return
    tests = tests_of(result.case, "germination")
    newest = dict(_rows(tests[tests["date"] <= _stamp(result)], "lot", "date"))
    for lot, mass in _stock(result).items():
        day = newest.get(lot)
        about = f"{mass / 1000:g} g in stock"
        if day is None:
            basis = min((end(result.on), told) for end, told in terms)[1]
            yield Due(
                "germination test", "lots", lot, f"{about}, no test on record", None, None, "overdue", basis
            )
            continue
        last, basis = min((end(day), told) for end, told in terms)
        yield Due("germination test", "lots", lot, about, None, last, _state(result.on, None, last), basis)


def _storage(result: Result) -> Iterator[Due]:
    """Until when each lot in stock usually keeps, stored as it is."""
    stock = _stock(result)
    for lot, packed, storage in _rows(result.case.keyed("lots"), "lot", "packed", "storage"):
        usual = result.case.practice("storage_months_" + storage.replace(" ", "_")) if storage else None
        if lot not in stock or packed is None or usual is None or usual.high is None:
            continue
        last = keeps_until(packed, usual.high)
        basis = f"{usual.title.lower()}: {usual.text()} ({usual.mark})"
        yield Due(
            "storage",
            "lots",
            lot,
            f"{stock[lot] / 1000:g} g in stock, {storage}",
            None,
            last,
            _state(result.on, None, last),
            basis,
        )


def _inspections(result: Result) -> Iterator[Due]:
    """What inspections left open, by its deadline, and the visit that is announced."""
    for one in list_open(result.case):
        ground = f" ({one.ground})" if one.ground else ""
        says = shorten(one.says, _WIDE, placeholder=" …")
        about = f"{one.kind} {one.number}{ground}, {one.state}: {says}"
        # What was answered in time waits for the certifier.
        waits = one.answered is not None and (one.last is None or one.answered <= one.last)
        state: State = "due" if waits else _state(result.on, one.visit.first, one.last)
        part = f"{one.kind} {one.number}"
        yield Due("inspection", "visits", one.visit.visit, about, one.visit.first, one.last, state, "", part)
    yield from _announced(result)


def _announced(result: Result) -> Iterator[Due]:
    ahead = next_visit(result.case)
    if ahead is not None and ahead.first >= result.on:
        who = ", ".join(part for part in (ahead.inspector, ahead.certifier) if part)
        about = f"{ahead.kind} visit{f' by {who}' if who else ''}"
        last = max(ahead.first, ahead.until or ahead.first)
        state: State = "due" if ahead.first - result.on <= _SOON else "later"
        yield Due("inspection", "visits", ahead.visit, about, ahead.first, last, state, "")


def _incidents(result: Result) -> Iterator[Due]:
    frame, on = result.case.season.table("incidents"), _stamp(result)
    open_ = frame[~(frame["closed"] <= on) & (frame["date"] <= on)]
    for incident, kind, day, action in _rows(open_, "incident", "kind", "date", "action"):
        about = f"{kind}{'' if action else ', no action written'}"
        yield Due("incident open", "incidents", incident, about, day, None, "due", "")


def _recalls(result: Result) -> Iterator[Due]:
    """Recalls and complaints that nothing has settled, and the next drill."""
    for one in list_open_recalls(result):
        state: State = "due" if one.last is None else _state(result.on, None, one.last)
        yield Due("recall open", one.table, one.name, one.about, one.first, one.last, state, one.basis)


def _retention(result: Result) -> Iterator[Due]:
    """Records and samples, with the last day that they are to be kept."""
    for one in list_retention(result):
        years = count(one.years, "year")
        table = "season" if one.what == "records of the season" else "lots"
        state: State = "ready" if one.until is not None and result.on > one.until else "later"
        about = f"{one.what}: {years} from when {one.why}" if table == "lots" else f"{one.what}: {years}"
        if one.until is None:
            about = f"{one.what}: {one.why}"
        basis = f"{one.clause} ({one.mark})"
        part = f"{one.what}, {one.clause}"
        yield Due("keep", table, one.identifier, about, None, one.until, state, basis, part)


def _stamp(result: Result) -> Any:
    """The day as columns are compared with it: one without any day in it holds no `date` to compare."""
    import pandas as pd

    return pd.Timestamp(result.on)


def _rows(frame: DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    return plain_rows(frame, *columns)


Kept = Literal["records of the season", "records of the lot", "file sample"]


@dataclass(frozen=True, slots=True)
class Keep:
    """What is to be kept, of which season or lot, and until when (None: for longer than can be said yet).

    `counted_from` is the day that the clock starts on, and `why` says what that day is; the day itself is
    computed. `clause` names the clause, `mark` how it was read.
    """

    what: Kept
    identifier: str
    until: date | None
    years: int
    counted_from: date | None
    why: str
    clause: str
    mark: str


def list_retention(result: Result) -> tuple[Keep, ...]:
    """The clocks of each season and lot on record, of every standard that sets one; the longest first asked.

    Records made on several days are counted from the last of them, which is on the safe side. A file sample
    may go some time after the whole lot is gone, so a lot in stock has no day yet.
    """
    return (
        *_keep_seasons(result),
        *_keep_lots(result, "records of the lot", "seed_record_years"),
        *_keep_lots(result, "file sample", "file_sample_years"),
    )


def _keep_seasons(result: Result) -> Iterator[Keep]:
    asked = _asked(result, "record_years")
    for _, season in seasons_of(result.season):
        for _, demand, years in asked:
            end = season.details.end
            until = add_years(end, years)
            yield Keep(
                "records of the season", season.details.label, until, years, end,
                "the season's last day", demand.clause, demand.mark,
            )  # fmt: skip


def _keep_lots(result: Result, what: Kept, key: str) -> Iterator[Keep]:
    ledger = result.ledger
    # A count moves nothing: an empty box that is counted again starts no clock anew.
    moved = ledger[ledger["change_mg"] != 0]
    last = {str(lot): day.date() for lot, day in moved.groupby("lot")["date"].max().items()}
    stock = {str(lot): int(mass) for lot, mass in stock_on(ledger, result.on).items()}
    for _, demand, years in _asked(result, key):
        for lot in dict.fromkeys((*result.lots, *last)):
            start = last.get(lot)
            left = start is None or stock.get(lot, 0) > 0 or start > result.on
            until = None if start is None or left else add_years(start, years)
            why = "seed of the lot is still there" if left else "the last seed of the lot went"
            yield Keep(what, lot, until, years, None if left else start, why, demand.clause, demand.mark)


def _asked(result: Result, key: str) -> list[tuple[Rulebook, Demand, int]]:
    return [
        (book, demand, int(demand.value))
        for book, demand in result.case.demand(key)
        if isinstance(demand.value, int | float)
    ]
