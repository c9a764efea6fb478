"""What a new season takes over from the one before: facts that last, and stock that was counted.

Nothing taken over makes seed better than the season before showed it to be. What a person answers for
(the routine, figures of one's own, a shorter list of events, keys) is laid down as a comment to be stated
anew, and is in force only if somebody is named who states it. Papers, results and bags stay where they are:
the new season reads them there.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.due import list_due
from certgen.exchange.editing.restatement import sort_details, state_anew
from certgen.figures.validity import add_years
from certgen.records.joining.farm import seasons_of
from certgen.records.quantities import format_mass
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import load_tables
from certgen.rules.wording import capital, count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from certgen.examination import Result
    from certgen.exchange.editing.restatement import Statement
    from certgen.records import Season
    from certgen.records.tables import Field

Record = dict[str, Any]

#: Of the operation, what one audit or certificate says of one year.
_OF_ONE_YEAR: Final = ("valid_from", "valid_until", "inspected")
#: Fields that are only an entry's own: who typed it, and its papers, which lie in the season before.
_OF_THE_ENTRY: Final = ("recorded_by",)


#: What falls due that a season leaves to be finished.
_LEFT_OPEN: Final = frozenset(
    {"bag to pick", "result outstanding", "inspection", "incident open", "recall open"}
)


@dataclass(frozen=True, slots=True)
class Uncounted:
    """A lot in stock that nobody counted since it last moved: the entry it would open with, and why it isn't
    laid down.
    """

    entry: Record
    why: str


@dataclass(frozen=True, slots=True)
class Takeover:
    """What the new season begins with.

    `details` are fields of the `season` mapping, `operation` those of its operation, `restated` what waits
    for somebody to state it. `records` are by table; `uncounted` is stock that is to be counted first.
    `taken` and `left` say in sentences what was taken over and what wasn't.
    """

    label: str
    path: str
    details: Mapping[str, Any]
    operation: Mapping[str, Any]
    restated: tuple[Statement, ...]
    records: Mapping[str, Sequence[Record]]
    uncounted: tuple[Uncounted, ...]
    taken: tuple[str, ...]
    left: tuple[str, ...]


def days_after(season: Season) -> tuple[date, date]:
    """The first day after a season, and the last of the year that begins with it."""
    first = season.details.end + timedelta(days=1)
    return first, year_from(first)


def year_from(first: date) -> date:
    """The last day of the year that begins on a day."""
    return add_years(first, 1) - timedelta(days=1)


def label_after(season: Season, first: date, last: date) -> str:
    """What the season from `first` to `last` is called unless it is given a name: its year, as the season
    before was called by its first day's or its last.
    """
    details = season.details
    by_last = details.label == str(details.end.year)
    return str(last.year if by_last else first.year)


def path_between(folder: Path, old: Path) -> str:
    """The way from a new season's folder to the one before. Raises `ValueError` where there is none, or
    where one lies in the other and would be read as its part.
    """
    new, before = folder.resolve(), old.resolve()
    if new == before:
        raise ValueError(f"{folder} is the season before itself; name a folder beside it")
    for inner, outer in ((new, before), (before, new)):
        if inner.is_relative_to(outer) and not _is_hidden(inner, outer):
            raise ValueError(
                f"{inner.name} would lie inside {outer.name}, and be read as part of it; name a folder "
                f"beside it, such as {(before if outer == before else new).parent / new.name}"
            )
    return os.path.relpath(before, new).replace(os.sep, "/")


def _is_hidden(inner: Path, outer: Path) -> bool:
    return any(part.startswith(".") for part in inner.relative_to(outer).parts)


def take_over(result: Result, path: str, first: date, label: str, *, stated_by: str, today: date) -> Takeover:
    """What a season that begins on `first` takes over from one examined; `path` leads there from the new
    folder.

    With `stated_by` that person states anew, on `today`, what the season before stated. Raises `ValueError`
    for a season that would begin before the other ended, or bear a name that is taken.
    """
    season = result.season
    _check_label(season, first, label)
    details, restated = sort_details(result)
    details["previous"] = path
    if stated_by.strip():
        details, restated = state_anew(details, restated, stated_by, today), []
    trees, gone = _living_trees(season, first)
    records: dict[str, Sequence[Record]] = {
        "blocks": list(_copies(season, "blocks")),
        "plantings": list(_planted(season, trees)),
        "trees": trees,
    }
    records["movements"], uncounted = _opening_stock(result, first)
    operation = dict(season.details.raw["operation"])
    dropped = [name for name in _OF_ONE_YEAR if operation.pop(name, None) is not None]
    carried = Takeover(
        season.details.label, path, details, operation, tuple(restated), records, tuple(uncounted), (), ()
    )
    return replace(
        carried, taken=tuple(_say_taken(carried)), left=tuple(_say_left(result, carried, gone, dropped))
    )


def _check_label(season: Season, first: date, label: str) -> None:
    if first <= season.details.end:
        raise ValueError(
            f"season {season.details.label} ends on {day(season.details.end)}, and the next begins after "
            f"that: leave --from out, or give {season.details.end + timedelta(days=1)} or a later day"
        )
    taken = [one.details.label for _, one in seasons_of(season)]
    if label in taken:
        raise ValueError(
            f"a season before is called {label} already; give this one its own name with --label"
        )


# Records


def _copies(season: Season, table: str) -> Iterator[Record]:
    """The records of a table as they were typed, each number once, without their papers."""
    key = load_tables()[table].key
    seen: set[Any] = set()
    for row, identifier in enumerate(plain_values(season.table(table)[key])):
        if identifier in seen:
            continue
        seen.add(identifier)
        yield _without_papers(load_tables()[table].fields, season.record_at(table, row))


def _without_papers(fields: Mapping[str, Field], record: Mapping[str, Any]) -> Record:
    """A record without the files it names: they lie in the season before, which is read there."""
    found = {}
    for key, value in record.items():
        if key in _OF_THE_ENTRY or key == "packet" or fields[key].kind == "evidence":
            continue
        kept = _without_papers(fields[key].fields, value) if isinstance(value, dict) else value
        if kept != {}:
            found[key] = kept
    return found


def _living_trees(season: Season, first: date) -> tuple[list[Record], list[str]]:
    """The trees that stand on a season's first day, and the numbers of those that don't."""
    living, gone = [], []
    for record in _copies(season, "trees"):
        removed = record.get("removed")
        if removed is None or removed >= first:
            living.append(record)
        else:
            gone.append(str(record["tree"]))
    return living, gone


def _planted(season: Season, trees: Sequence[Record]) -> Iterator[Record]:
    """The plantings with a living tree, and those of which no tree is on the register yet."""
    known = set(plain_values(season.table("trees")["planting"]))
    standing = {record["planting"] for record in trees}
    for record in _copies(season, "plantings"):
        if record["planting"] in standing or record["planting"] not in known:
            yield record


def _opening_stock(result: Result, first: date) -> tuple[list[Record], list[Uncounted]]:
    """An entry for each lot in stock that was counted after it last moved, and one to be counted for each
    other.
    """
    stem = _number_stem(first, set(plain_values(result.farm.table("movements")["movement"])))
    counts = _last_counts(result)
    opened: list[Record] = []
    waiting: list[Uncounted] = []
    strange = set(result.farm.table("lots")["lot"][result.case.strange("lots")])
    for lot, book in result.books.items():
        stock = book.stock_before(first)
        if stock <= 0 or lot in strange:
            continue
        number = f"{stem}{len(opened) + len(waiting) + 1:02d}"
        entry: Record = {"movement": number, "date": first, "lot": lot, "kind": "opening stock"}
        if book.counted is not None and book.counted < first:
            movement, weight = counts[lot, book.counted]
            opened.append(
                {**entry, "weight": weight, "note": f"as counted on {day(book.counted)}, {movement}"}
            )
            continue
        last = max((when for when, _ in book.stocks if when < first), default=None)
        since = f" since it moved on {day(last)}" if last is not None else ""
        why = f"by the book {format_mass(stock)} of lot {lot} is there, and nobody counted it{since}"
        weight = format_mass(stock).replace("\N{NO-BREAK SPACE}", " ")
        waiting.append(Uncounted({**entry, "weight": weight}, why))
    return opened, waiting


def _last_counts(result: Result) -> dict[tuple[str, date], tuple[str, str]]:
    """By lot and day the last count: its movement, and the weight as it was typed."""
    moves = result.farm.table("movements")
    counted = plain_rows(moves[moves["kind"] == "counted"], "lot", "date", "movement", "weight")
    return {(lot, when): (movement, weight) for lot, when, movement, weight in counted}


def _number_stem(first: date, taken: set[Any]) -> str:
    """The beginning of the numbers of opening entries, such as `OS27-`, with which no number begins yet."""
    stem = f"OS{first:%y}-"
    while any(isinstance(one, str) and re.match(re.escape(stem), one) for one in taken):
        stem = f"O{stem}"
    return stem


# In words


def _say_taken(carried: Takeover) -> Iterator[str]:
    records = carried.records
    parts = [
        count(len(records[table]), table) for table in ("blocks", "plantings", "trees") if records[table]
    ]
    if parts:
        yield f"{join(parts)}, as season {carried.label} told them; their papers are read there."
    if records["movements"]:
        yield f"The opening stock of {count(len(records['movements']), 'lots')}, as last counted."
    fields = [f"`{key}`" for key in carried.details if key != "previous"]
    yield f"Of the season itself {join(['the operation', *fields])}."


def _say_left(
    result: Result, carried: Takeover, gone: Sequence[str], dropped: Sequence[str]
) -> Iterator[str]:
    if result.errors:
        faults = count(len(result.errors), "fault")
        yield f"Whatever can't be read of season {carried.label} ({faults}); certgen check names each."
    for one in carried.restated:
        yield f"`{one.field}` stands in season.yaml as a comment, to be stated anew: {one.why}"
    for lot in carried.uncounted:
        yield f"Opening stock: {lot.why}. Count it, then take the signs # away in stock.yaml."
    yield from _say_gone(result.season, carried, gone)
    yield from _say_papers(result.season, dropped)
    yield from _say_open(result)
    yield (
        f"Samples, letters, bags, pickings, runs, lots, tests, sales and papers of season {carried.label} "
        f"stay in {carried.path} and are read from there; write nothing of them again."
    )


def _say_gone(season: Season, carried: Takeover, gone: Sequence[str]) -> Iterator[str]:
    if gone:
        yield f"{capital(name('trees', gone))}, removed by then."
    kept = {record["planting"] for record in carried.records["plantings"]}
    empty = [one for one in plain_values(season.table("plantings")["planting"]) if one not in kept]
    if empty:
        yield f"{capital(name('plantings', empty))}, of which no tree is left."


def _say_papers(season: Season, dropped: Sequence[str]) -> Iterator[str]:
    """What somebody approved or certified for one season, and papers that have to be there again."""
    raw = season.details.raw
    if dropped:
        words = join([name.replace("_", " ") for name in dropped])
        yield f"Of the certificate: {words}. Enter what this year's certificate and visit say."
    if raw.get("plan"):
        yield "The sections of the plan: enter those that the certifier has by now, with their papers."
    if (raw.get("map") or {}).get("drawn"):
        yield "The map that was drawn by hand: copy its file into evidence/ and name it under `map`."
    if raw.get("evidence"):
        yield "The season's own papers: put this year's certificate into evidence/ and name it."
    if raw.get("known_signers"):
        yield "The keys of known signers: they are read there; write down only what has changed."
    approved = len(season.columns("materials"))
    if approved:
        yield f"{capital(count(approved, 'materials'))}: enter what is approved for this season."


def _say_open(result: Result) -> Iterator[str]:
    """What the season before left to be done, and where that goes."""
    open_: dict[str, set[str]] = {}
    for one in list_due(result):
        # A drill that is due is the whole season's.
        if one.subject in _LEFT_OPEN and one.table != "season":
            open_.setdefault(one.table, set()).add(one.identifier)
    for table, numbers in open_.items():
        listed = capital(name(table, sorted(numbers)))
        if table == "bagging":
            hang = "hangs" if len(numbers) == 1 else "hang"
            yield f"{listed} still {hang}: enter the picking in this season under the same number."
        else:
            are, them = ("is", "it") if len(numbers) == 1 else ("are", "them")
            yield f"{listed} {are} still open: finish {them} in season {result.season.details.label}."
