"""What of a season's own mapping lasts into the next one, and what its person has to state anew.

A figure that asks as much as the crop's own, or more, lasts. What lets something pass, or speaks for records
that don't exist yet, holds only if somebody says so again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from certgen.rules.wording import join
from certgen.standards.practice import change_practice

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from certgen.examination import Result

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Statement:
    """Something of the `season` mapping that its person has to state anew: the field, its value, and why."""

    field: str
    value: Any
    why: str


def sort_details(result: Result) -> tuple[Record, list[Statement]]:
    """What of the `season` mapping lasts, by field as it was typed, and what somebody has to state anew."""
    raw = result.season.details.raw
    details: Record = {}
    if raw.get("review_triggers"):
        details["review_triggers"] = raw["review_triggers"]
    measured = {key: value for key, value in (raw.get("map") or {}).items() if key != "drawn"}
    if measured:
        details["map"] = measured
    restated = []
    if raw.get("routine"):
        restated.append(Statement("routine", raw["routine"], "nobody has said yet that it still holds."))
    tighter, looser = _sort_practice(result)
    if tighter:
        details["practice"] = tighter
    if looser:
        restated.append(
            Statement(
                "practice", looser, "they let pass what the crop's own figures would not: are they true?"
            )
        )
    _sort_scale(result, details, restated)
    _sort_events(result, details, restated)
    if restated and raw.get("note"):
        restated.append(Statement("note", raw["note"], "it may hold the grounds of what is stated anew."))
    return details, restated


def _sort_practice(result: Result) -> tuple[Record, Record]:
    """Own figures that ask more than the crop's, or as much, and those that may let something pass."""
    tighter: Record = {}
    looser: Record = {}
    for key, own in result.season.details.practice.items():
        usual = result.profile.practice.get(key)
        changed, _ = change_practice(result.profile, {key: own})
        new = changed.get(key)
        within = (
            usual is not None
            and new is not None
            and "usual" not in own
            and usual.range[0] <= new.range[0]
            and new.range[1] <= usual.range[1]
        )
        (tighter if within else looser)[key] = own
    return tighter, looser


def _sort_scale(result: Result, details: Record, restated: list[Statement]) -> None:
    step = result.season.details.raw.get("scale_step")
    if step is None:
        return
    if result.case.scale_step_mg <= result.case.by_the_book().scale_step_mg:
        details["scale_step"] = step
    else:
        restated.append(Statement("scale_step", step, "it is coarser than the crop's figure."))


def _sort_events(result: Result, details: Record, restated: list[Statement]) -> None:
    """A list of events that lacks one of the crop's is stated anew; whatever it has besides is kept."""
    own, usual = result.case.events_of_concern, result.profile.default_events
    typed = result.season.details.events_of_concern
    if not typed:
        return
    dropped = [event for event in usual if event not in own]
    besides = [event for event in own if event not in usual]
    if not dropped:
        details["events_of_concern"] = list(typed)
        return
    if besides:
        details["events_of_concern"] = [*usual, *besides]
    why = (
        f"it leaves out {join(dropped)}: who says that seed with {'it' if len(dropped) == 1 else 'them'} "
        "can't have come to your district, and on which paper?"
    )
    restated.append(Statement("events_of_concern", list(typed), why))


def state_anew(details: Record, restated: Iterable[Statement], by: str, today: date) -> Record:
    """The mapping with the statements in force, the routine in the name of whoever states it, on that day."""
    found = dict(details)
    for one in restated:
        if one.field == "routine":
            found["routine"] = {**one.value, "stated_by": by.strip(), "date": today}
        elif one.field == "practice":
            found["practice"] = {**found.get("practice", {}), **one.value}
        else:
            found[one.field] = one.value
    return found
