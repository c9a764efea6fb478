"""Faults of what an inspector tried, asked for and found."""

# ruff: noqa: D103 (a fault is named by its rule)
from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from planting import plants

if TYPE_CHECKING:
    from plot import Plot, Record

_NAMES = {"lots": "lot", "batches": "batch", "harvests": "harvest", "bagging": "bag"}


def _visit(plot: Plot, first: date | None = None, **more: Any) -> Record:
    """A visit in the season's first month; a co-op's own, which counts as no inspection."""
    return plot.add("visits", kind="internal", **{"from": first or plot.start + timedelta(days=20)}, **more)


def _suspect(plot: Plot) -> str:
    """Something behind a lot, or the lot, by its number."""
    table = plot.random.choice(tuple(_NAMES))
    rows = {"bagging": plot.picked, "batches": plot.runs}.get(table, lambda: plot.claiming(table))()
    return str(plot.choose(rows)[_NAMES[table]])


def _told(kind: str = "paper", **more: Any) -> dict[str, Any]:
    return {"finding": "NC-1", "kind": kind, **more}


@plants
def exercise_differs(plot: Plot) -> Any:
    end = plot.random.choice(({}, {"settled": plot.start + timedelta(days=40)}, {"paper": "nowhere.txt"}))
    one = {"kind": "mass balance", "about": [_suspect(plot)], "outcome": "differs", **end}
    return "visits", _visit(plot, exercises=[one]), "exercises", 0, "outcome"


@plants
def finding_against_seed(plot: Plot) -> Any:
    kind = plot.random.choice(("other seed", "origin", "quantity", "substance"))
    # What was done about it doesn't close it.
    one = _told(kind, about=[_suspect(plot)], action="taken apart and cleaned")
    return "visits", _visit(plot, findings=[one]), "findings", 0, "kind"


@plants
def finding_overdue(plot: Plot) -> Any:
    one = _told(deadline=plot.start + timedelta(days=50))
    return "visits", _visit(plot, findings=[one]), "findings", 0, "deadline"


@plants
def finding_left_open(plot: Plot) -> Any:
    one = _told(plot.random.choice(("paper", "plan", "label")))
    return "visits", _visit(plot, plot.start - timedelta(days=99), findings=[one]), "findings", 0, "finding"


@plants
def answer_without_paper(plot: Plot) -> Any:
    day = plot.start + timedelta(days=50)
    if plot.random.randrange(2):
        return "visits", _visit(plot, findings=[_told(done=day)]), "findings", 0, "done"
    return "visits", _visit(plot, requests=[{"asked": "a map", "answered": day}]), "requests", 0, "answered"


@plants
def finding_closed_unshown(plot: Plot) -> Any:
    one = _told(closed=plot.start + timedelta(days=60), closed_by=plot.random.choice(("R. Ash", "?")))
    return "visits", _visit(plot, findings=[one]), "findings", 0, "closed"


@plants
def request_unanswered(plot: Plot) -> Any:
    one = {"asked": "the invoice of the nursery", "by": plot.start + timedelta(days=50)}
    return "visits", _visit(plot, requests=[one]), "requests", 0, "by"


@plants
def visit_dates_contradict(plot: Plot) -> Any:
    first = plot.start + timedelta(days=20)
    if plot.random.randrange(2):
        return "visits", _visit(plot, to=first - timedelta(days=1)), "to"
    return "visits", _visit(plot, notice={"given": first + timedelta(days=1)}), "notice", "given"
