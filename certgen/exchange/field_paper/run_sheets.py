"""Sheets for the house: opening fruit and washing seed, and drying it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.field_paper.sheet import FieldSheet
from certgen.records.rows import plain_rows
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.examination import Result

#: Runs that fit on one sheet, a column each.
RUNS: Final = 4
#: Fields of a run that nobody writes while it runs.
_LATER: Final = frozenset({"status", "other_seed", "note", "recorded_by", "evidence"})
#: Readings of a run that have a line of the drying log, and the runs where none waits on record.
_READINGS: Final = 7
_UNNAMED: Final = 3
#: What practice says of drying, by the profile's names.
_OF_DRYING: Final = ("drying_c", "drying_days_fan", "drying_days_oven", "drying_days_shade", "moisture_pct")


def build_run_sheet(result: Result) -> FieldSheet:
    """A column a run, a line a field of its record; above them the pickings that wait to be opened."""
    case = result.case
    opened = set(case.processed["harvest"].dropna().tolist())
    harvests = case.season.table("harvests")[case.own("harvests")]
    waiting = [
        f"{harvest} ({picked.isoformat()})"
        for harvest, picked in plain_rows(harvests, "harvest", "date")
        if harvest not in opened and picked is not None and picked <= result.on
    ]
    table = load_tables()["batches"]
    rows = tuple(
        (_name_line(table.fields, column.path), *("",) * RUNS)
        for column in table.columns
        if column.kind != "mapping" and column.path[0] not in _LATER
    )
    return FieldSheet(
        "Run sheet",
        ("extraction", "cleaning", "drying"),
        ("Of the run", *(f"Run {number}" for number in range(1, RUNS + 1))),
        (0, *(1,) * RUNS),
        rows,
        spare=0,
        tight=True,
        above=f"Pickings not opened yet: {', '.join(waiting) or 'none on record'}.",
    )


def _name_line(fields: Any, path: Sequence[str]) -> str:
    """`Drying: Temperature`: a field's title, with that of what it is part of."""
    titles = []
    for step in path:
        titles.append(fields[step].title)
        fields = fields[step].fields
    return ": ".join(titles)


def build_drying_log(result: Result) -> FieldSheet:
    """A line a reading of air and trays: of the runs on record that no dry weight ends, else of new ones."""
    waiting = [
        (batch, _say_start(method, began), ", ".join(trays), wet)
        for batch, method, began, trays, wet in _undried(result)
    ] or [("", "", "", "")] * _UNNAMED
    rows = []
    for known in waiting:
        rows.append((*known, *("",) * 6))
        rows += [(known[0], *("",) * 9) for _ in range(_READINGS - 1)]
    return FieldSheet(
        "Drying log",
        ("drying",),
        (
            "Run", "Method, since", "Lies on", "Wet weight", "Day, hour", "Air, °C", "Air, %",
            "Weight on the trays", "Turned, smell, mould", "By",
        ),
        (0.7, 1, 0.8, 0.7, 1, 0.6, 0.6, 1, 1.3, 0.5),
        tuple(rows),
        spare=0,
        above=" ".join(_tell_drying(result)),
        place=1,
    )  # fmt: skip


def _undried(result: Result) -> Iterator[tuple[str, str | None, Any, tuple[str, ...], str]]:
    """Runs of the season that began by the day and of which no dry weight and no last day is written."""
    season = result.season
    for batch, opened in plain_rows(season.tables["batches"], "batch", "date"):
        record = season.record("batches", batch) or {}
        drying = record.get("drying") or {}
        if opened is None or opened > result.on or record.get("dry_weight") or drying.get("to"):
            continue
        trays = drying.get("on") or ()
        named = (trays,) if isinstance(trays, str) else tuple(map(str, trays))
        yield batch, drying.get("method"), drying.get("from"), named, str(record.get("wet_weight") or "")


def _say_start(method: str | None, began: Any) -> str:
    return ", ".join(str(part) for part in (method, began) if part is not None)


def _tell_drying(result: Result) -> Iterator[str]:
    """How the log is kept, and what practice says of the work, as the season's figures have it."""
    yield (
        "Nothing else dries on a tray that isn't empty and clean. A run's last line is its dry weight: with "
        "the day it goes into the record."
    )
    usual = [figure for key in _OF_DRYING if (figure := result.case.practice(key)) is not None]
    if usual:
        yield (
            "As usual: " + "; ".join(f"{one.title.lower()} {one.text()} ({one.mark})" for one in usual) + "."
        )
