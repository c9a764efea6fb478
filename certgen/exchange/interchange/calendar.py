"""What falls due as a calendar (RFC 5545): each thing on its days, with an alarm, told in plain words.

What has a last day is an event of whole days; it asks for no room in the day. What is open without one is a
to-do without a due date, which by the standard stands on every day until it is done. Nothing in the file
comes from a clock, and each entry keeps its UID, so that the file imported again renews what it brought. It
holds no address of anybody: nobody is invited.
"""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING, Final

from certgen.dossier.cautions import cautions_of_due
from certgen.rules.wording import capital, day, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from icalendar import Component

    from certgen.dossier.due import Due, Subject
    from certgen.examination import Result

#: Below this name the UIDs of all entries lie (RFC 9562, version 5).
_SPACE: Final = uuid.uuid5(uuid.NAMESPACE_URL, "https://certgen.example/due")

#: What a subject is, as a line of a calendar; `{name}` is the record with its noun, `{about}` what
#: is told of it.
_SUMMARIES: Final[Mapping[Subject, str]] = {
    "cleared for bagging": "{name} may be bagged",
    "result outstanding": "{name}: result awaited ({about})",
    "screening to complete": "{name}: screening to complete, bag nothing on it",
    "bag to take off": "{name}: take it off the flower ({about})",
    "bag to pick": "{name}: fruit to pick from now on ({about})",
    "germination test": "{name}: new germination test ({about})",
    "storage": "{name}: usual time in store ends ({about})",
    "inspection": "{name}: {about}",
    "incident open": "{name}: {about}",
    "recall open": "{name}: {about}",
    "keep": "{name}: to be kept until this day ({about})",
}
#: What is done about it.
_WORK: Final[Mapping[Subject, str]] = {
    "result outstanding": "Ask the laboratory if nothing comes by the last day; enter what its letter says.",
    "screening to complete": "Its clean results don't prove yet what a bag on it needs: complete them.",
    "bag to take off": "Take the bag off, mark the fruit, and write down the day and the outcome.",
    "bag to pick": "Look at the fruit; pick it ripe, with its tag, and write down the day.",
    "germination test": "Draw a sample and send it; after this day the test that there is serves no more.",
    "storage": "Test it before more of it is sold or sown.",
    "inspection": "Have the papers at hand, or hand in what is asked for.",
    "incident open": "Write what was done about it, and the day on which it was closed.",
    "recall open": "Carry it on, and write down who was told and what they answered.",
    "keep": "Keep it until this day at least.",
}  # fmt: skip
_AGAIN: Final = (
    "Once it is written down, make the calendar anew (certgen due --format ics) and import it again; what "
    "isn't due any more you take out by hand."
)
#: At this hour of the first and of the last day an alarm sounds.
_HOUR: Final = time(7)
#: What takes weeks to arrange is told so many days ahead as well.
_AHEAD: Final[Mapping[Subject, int]] = {
    "germination test": 30,
    "inspection": 7,
    "recall open": 3,
    "storage": 30,
}
#: Nobody need be woken for the day until which papers are kept.
_SILENT: Final = frozenset({"keep"})
#: What looks like an address of a person, which no calendar on other people's machines needs.
_ADDRESS: Final = re.compile(r"[^\s<>()]+@[^\s<>()]+")


def build_calendar(result: Result, due: Sequence[Due]) -> str:
    """The calendar of a season's list, lines folded and ended as the standard has it.

    Trees that may be bagged have no day on which anything falls due, and aren't in it.
    """
    from icalendar import Calendar

    details = result.season.details
    calendar = Calendar()
    calendar.add("prodid", "-//certgen//what falls due//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _plain(f"{details.operation.name}, season {details.label}"))
    for entry in _list_entries(result, due):
        calendar.add_component(entry)
    return bytes(calendar.to_ical()).decode("utf-8")


def _list_entries(result: Result, due: Sequence[Due]) -> Iterator[Component]:
    cautions = cautions_of_due(result, due)
    seen: dict[uuid.UUID, int] = {}
    for one in due:
        if one.state == "ready":
            continue
        uid = name_entry(result, one)
        # Two that nothing tells apart keep their order.
        seen[uid] = again = seen.get(uid, -1) + 1
        lines = [caution.line for caution in cautions.get(one.subject, ())]
        entry = _place(result, one)
        entry.add("uid", str(uuid.uuid5(uid, str(again)) if again else uid))
        entry.add("dtstamp", datetime.combine(result.on, time(), UTC))
        entry.add("summary", _summarise(one))
        entry.add("description", _describe(result, one, lines))
        entry.add("categories", [one.subject])
        yield entry


def name_entry(result: Result, one: Due) -> uuid.UUID:
    """What an entry is called in every calendar of its season: the same for the same thing on any day."""
    details = result.season.details
    told = (details.operation.name, details.label, one.subject, one.table, one.identifier, one.part)
    return uuid.uuid5(_SPACE, "\x1f".join(told))


def _place(result: Result, one: Due) -> Component:
    """The entry on its days, with its alarms where they lie ahead."""
    from icalendar import Event, Todo

    days = _choose_days(result, one)
    if days is None:
        entry: Component = Todo()
        if one.first is not None:
            entry.add("dtstart", one.first)
        entry.add("status", "NEEDS-ACTION")
        return entry
    first, last = days
    entry = Event()
    entry.add("dtstart", first)
    # The day after: an event of whole days ends before it.
    entry.add("dtend", last + timedelta(days=1))
    entry.add("transp", "TRANSPARENT")
    if first >= result.on and one.subject not in _SILENT:
        for alarm in _list_alarms(one, (last - first).days):
            entry.add_component(alarm)
    return entry


def _choose_days(result: Result, one: Due) -> tuple[date, date] | None:
    """The first and the last day on which the entry stands; None where nothing falls due on a day.

    What is late, or has begun and has no last day, stands on the day of the list, so that it is seen.
    """
    if one.state == "overdue":
        return None if one.last is None else (result.on, result.on)
    if one.subject == "bag to take off" and one.first is not None and one.last is not None:
        return one.first, one.last
    if one.subject in {"bag to take off", "bag to pick"} and one.first is not None:
        # Fruit ripens over months: what may be picked stands on one day, not on all of them.
        first = max(one.first, result.on)
        return first, first
    if one.last is None:
        return None
    # A visit that is announced lasts; what it left open has a deadline.
    begins = one.first if one.subject == "inspection" and not one.part else None
    return min(begins or one.last, one.last), one.last


def _list_alarms(one: Due, days: int) -> Iterator[Component]:
    """In the morning of the first and of the last day, and ahead of what takes weeks to arrange."""
    morning = timedelta(hours=_HOUR.hour)
    if one.subject in _AHEAD:
        yield _alarm(one, morning - timedelta(days=_AHEAD[one.subject]))
    yield _alarm(one, morning)
    if days:
        yield _alarm(one, morning + timedelta(days=days))


def _alarm(one: Due, trigger: timedelta) -> Component:
    """An alarm so long after the day begins on which the entry does."""
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", _summarise(one))
    alarm.add("trigger", trigger)
    return alarm


def _summarise(one: Due) -> str:
    name = _name_record(one)
    late = one.state == "overdue"
    says = _SUMMARIES[one.subject].format(name=name if late else capital(name), about=one.about or "open")
    return _plain(f"Overdue: {says}" if late else says)


def _name_record(one: Due) -> str:
    return f"{noun(one.table)} {one.identifier}"


def _describe(result: Result, one: Due, cautions: Sequence[str]) -> str:
    """The record, the days and what they rest on, what to do, and what can hurt somebody in doing it."""
    lines = [
        f"{capital(_name_record(one))}{f': {one.about}' if one.about else ''}.",
        _say_days(one),
        _WORK.get(one.subject, ""),
        f"By {one.basis}." if one.basis else "",
        *(f"Caution. {line}" for line in cautions),
        f"As the records stood on {day(result.on)}. {_AGAIN}",
    ]
    return "\n".join(_plain(line) for line in lines if line)


def _say_days(one: Due) -> str:
    if one.first is not None and one.last is not None and one.first != one.last:
        return f"From {day(one.first)} to {day(one.last)}."
    if one.last is not None:
        return f"By {day(one.last)}."
    return f"Open since {day(one.first)}." if one.first is not None else "No day is on record."


def _plain(text: str) -> str:
    """Text without what obeys or hides in it, on one line, and without anybody's address."""
    shown = "".join(sign if sign.isprintable() else " " for sign in text)
    return _ADDRESS.sub("(address left out)", " ".join(shown.split()))
