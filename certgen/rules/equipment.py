"""Equipment as a time line: between a use for other seed and a use for this seed stands a cleaning."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING, Final

from certgen.rules.clauses import NOT_MIXED
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, rows
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series

    from certgen.rules.case import Case

#: Lower than what stands before it.
_RANKS: Final = {status: rank for rank, status in enumerate(("conventional", "transitional", "organic"))}
#: Place within a day: run by run, each after what was cleaned for it; any other cleaning comes at night.
_NIGHT: Final = inf


def _timeline(case: Case) -> DataFrame:
    """Every use of a piece of equipment with the use before it, in this season and the one before.

    `piece` as typed, `batch`, `row`, `date`, `status`, `varieties`, `now` (false for the season before); the
    same of the use before as `last_…`; `cleaned` says whether a cleaning lies between the two.
    """
    import pandas as pd

    events: list[DataFrame] = []
    for now, season in ((True, case.season), (False, case.season.previous)):
        if season is not None:
            one = replace(case, season=season)
            uses = _uses(one)
            # A cleaning has the place within its day of the use that it was for, and comes before it.
            events += [frame.assign(now=now) for frame in (_cleanings(one, uses), uses)]
    both = pd.concat(events).sort_values(["key", "date", "now", "order"], kind="stable")
    both["done"] = both["cleaning"].astype("int64").groupby(both["key"]).cumsum()
    line = both[~both["cleaning"]]
    grouped = line.groupby("key")
    shifted = {
        f"last_{column}": grouped[column].shift()
        for column in ("batch", "date", "status", "varieties", "done")
    }
    line = line.assign(**shifted)
    return line.assign(cleaned=line["done"] > line["last_done"])[line["last_batch"].notna()]


def _uses(case: Case) -> DataFrame:
    """One row a batch and piece."""
    batches = case.season.table("batches")
    varieties = case.batch_varieties.sort_values("variety").groupby("batch")["variety"].agg("\n".join)
    what = look_up(batches["batch"], varieties.astype("str")).fillna(batches["other_seed"])
    frame = case.season.exploded("batches", "equipment").rename(columns={"id": "batch", "value": "piece"})
    at = frame["row"]
    piece = frame["piece"].astype("str")
    return frame.assign(
        piece=piece,
        key=piece.str.casefold().str.split().str.join(" "),
        date=look_up(at, batches["date"]),
        status=look_up(at, batches["status"]),
        varieties=look_up(at, what),
        order=at,
        cleaning=False,
    ).drop(columns="position")


def _cleanings(case: Case, uses: DataFrame) -> DataFrame:
    """One row a cleaning and piece, placed within its day by the batch that it made ready for."""
    table = case.season.table("cleaning")
    frame = case.season.exploded("cleaning", "equipment").rename(columns={"value": "piece"})
    at = frame["row"]
    piece, before, date = (
        frame["piece"].astype("str"),
        look_up(at, table["before"]),
        look_up(at, table["date"]),
    )
    own = uses[~uses["batch"].duplicated()].set_index("batch")
    same_day = look_up(before, own["date"]) == date
    order = look_up(before, own["order"]).where(same_day, _NIGHT)
    key = piece.str.casefold().str.split().str.join(" ")
    frame = frame.assign(piece=piece, key=key, date=date, order=order, cleaning=True).drop(
        columns=["position", "id"]
    )
    return frame[["row", "piece", "key", "date", "order", "cleaning"]]


@rule(
    weight="unproven",
    clauses=NOT_MIXED,
    remedy="Write the cleaning under `cleaning`, with its day and the equipment. If none was done, say what "
    "else kept the seed apart, and look through the seed for strangers.",
    after=("batch-mixed-status", "batch-mixed-variety"),
)
def equipment_not_cleaned(case: Case) -> Iterator[Finding]:
    """A piece of equipment last held other seed, and no cleaning is written down since.

    Seed hides in sieves, in trays and behind blades. After other seed, of another variety or of a lower
    status, only a cleaning shows that nothing of it went along. The season before counts as well.
    """
    line = _timeline(case)
    lower = line["last_status"].map(_RANKS) < line["status"].map(_RANKS)
    other = (
        line["varieties"].notna()
        & line["last_varieties"].notna()
        & (line["varieties"] != line["last_varieties"])
    )
    same_day = _cleaned_that_day(case, line)
    # Of a run that claims nothing nobody asks what went along with it.
    claims = line["status"] != "conventional"
    dirty = line[(lower | other) & claims & ~line["cleaned"] & ~same_day & line["now"]].sort_index()
    for batch, group in dirty.groupby("batch"):
        _, row, last, when, status, varieties = next(
            rows(group, "row", "last_batch", "last_date", "last_status", "last_varieties")
        )
        pieces = group["piece"].tolist()
        of = f" ({status}{', ' + join(varieties.splitlines()) if varieties else ''})"
        yield Finding(
            "batches",
            str(batch),
            row,
            ("equipment",),
            f"Before batch {batch}, {join(pieces)} last held seed of batch {last}{of} on {day(when)}, and "
            f"no cleaning "
            "is written down since.",
            supply=f"the cleaning of {join(pieces)} before batch {batch}",
        )


def _cleaned_that_day(case: Case, line: DataFrame) -> Series[bool]:
    """Uses on the day of the use before, where a cleaning of that day doesn't say which it was for."""
    table = case.season.table("cleaning")
    frame = case.season.exploded("cleaning", "equipment")
    free = frame[look_up(frame["row"], table["before"]).isna()]
    keys = free["value"].astype("str").str.casefold().str.split().str.join(" ")
    days = look_up(free["row"], table["date"]).astype("str")
    known = set((keys + "\n" + days).tolist())
    return (line["date"] == line["last_date"]) & (line["key"] + "\n" + line["date"].astype("str")).isin(known)


@rule(
    weight="unproven",
    clauses=NOT_MIXED,
    remedy="Name under `equipment` everything that the seed touched, from the mixer to the trays.",
)
def equipment_unnamed(case: Case) -> Iterator[Finding]:
    """A run doesn't say what equipment the seed touched, on a farm that handles other seed too.

    Whether the equipment was clean can't be asked of a run that names none.
    """
    frame = case.season.table("batches")
    silent = frame[frame["equipment"].str.len() == 0]
    if silent.empty:
        return
    lower = (frame["status"] != "organic").any() or frame["other_seed"].notna().any()
    mixed = lower or len(set(case.batch_varieties["variety"])) > 1
    batches = silent["batch"].tolist()
    weight: Weight | None = None if mixed else "advice"
    for row, batch in rows(silent, "batch"):
        yield Finding(
            "batches",
            batch,
            row,
            ("equipment",),
            f"Nothing says what equipment {name('batches', batches)} went through.",
            weight=weight,
            cause="equipment",
            supply=f"the equipment of {name('batches', batches)}",
        )
