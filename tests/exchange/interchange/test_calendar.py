"""What falls due as a calendar: what stands on which days, with which alarms, and how it is called."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from certgen.dossier.due import Due, list_due
from certgen.examination import examine
from certgen.exchange.interchange.calendar import build_calendar, name_entry

ON = date(2026, 6, 1)
TAKE_OFF = Due(
    "bag to take off",
    "bagging",
    "B1",
    "tree 7",
    date(2026, 6, 3),
    date(2026, 6, 5),
    "later",
    "days: 12",
)


@pytest.fixture(scope="module")
def result(example_season):
    """The example on a day on which bags hang."""
    return examine(example_season, ON)


def read(result, *due):
    """The entries of a calendar of these, as the library reads them."""
    return Calendar.from_ical(build_calendar(result, due)).subcomponents


def days(entry):
    """The first and the last day of an event, and how long before or after its first morning alarms sound."""
    alarms = [one["trigger"].dt for one in entry.subcomponents]
    return entry["dtstart"].dt, entry["dtend"].dt - timedelta(days=1), alarms


def test_each_thing_is_one_entry_with_a_name_of_its_own(result):
    """All but what is ready, no two alike, the same on any run and whatever day it is looked at."""
    due = list_due(result)
    listed = [one for one in due if one.state != "ready"]
    entries = read(result, *due)
    uids = [str(one["uid"]) for one in entries]

    assert len(listed) == len(entries) == len(set(uids))
    assert build_calendar(result, due) == build_calendar(result, due)
    assert {datetime(2026, 6, 1, tzinfo=UTC)} == {one["dtstamp"].dt for one in entries}
    later = replace(result, on=date(2026, 6, 20))
    known = {str(one["uid"]) for one in read(later, *list_due(result))}
    assert set(uids) == known


def test_a_state_that_changes_changes_no_name(result):
    """What is late, or told in other words, is the same entry still."""
    late = replace(TAKE_OFF, state="overdue", about="tree 7, torn")
    assert name_entry(result, TAKE_OFF) == name_entry(result, late)
    assert name_entry(result, TAKE_OFF) != name_entry(result, replace(TAKE_OFF, subject="bag to pick"))


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (TAKE_OFF, (date(2026, 6, 3), date(2026, 6, 5), [timedelta(hours=7), timedelta(days=2, hours=7)])),
        (replace(TAKE_OFF, last=None), (date(2026, 6, 3), date(2026, 6, 3), [timedelta(hours=7)])),
        (
            replace(TAKE_OFF, last=None, first=date(2026, 5, 30), state="due"),
            (ON, ON, [timedelta(hours=7)]),
        ),
        (
            replace(TAKE_OFF, first=date(2026, 5, 20), last=date(2026, 5, 28), state="overdue"),
            (ON, ON, [timedelta(hours=7)]),
        ),
        (
            replace(TAKE_OFF, subject="bag to pick", first=date(2026, 5, 1), last=date(2026, 8, 1)),
            (ON, ON, [timedelta(hours=7)]),
        ),
        (
            replace(TAKE_OFF, subject="germination test", first=None, last=date(2026, 9, 30)),
            (date(2026, 9, 30), date(2026, 9, 30), [timedelta(hours=7, days=-30), timedelta(hours=7)]),
        ),
        (
            replace(TAKE_OFF, subject="inspection", part="finding 1", last=date(2026, 9, 30)),
            (date(2026, 9, 30), date(2026, 9, 30), [timedelta(hours=7, days=-7), timedelta(hours=7)]),
        ),
        (
            replace(TAKE_OFF, subject="keep", first=None, last=date(2031, 12, 31)),
            (date(2031, 12, 31), date(2031, 12, 31), []),
        ),
    ],
    ids=["window", "from", "since", "overdue", "ripening", "ahead", "deadline", "kept"],
)  # fmt: skip
def test_a_thing_stands_on_its_days(result, one, expected):
    """On all of a short window, on today what is late or ripens slowly, on its last day what has one."""
    assert expected == days(read(result, one)[0])


@pytest.mark.parametrize("first", [date(2026, 1, 22), None])
def test_what_has_no_day_is_a_to_do(result, first):
    """It stands until it is done."""
    one = replace(TAKE_OFF, subject="incident open", table="incidents", first=first, last=None, state="due")
    entry = read(result, one)[0]
    assert ("VTODO", "due" in entry, "dtstart" in entry) == (entry.name, False, first is not None)


def test_it_is_told_in_words(result):
    """A line that says what to do, the record, the days, the ground, the cautions, and how to go on."""
    entry = read(result, replace(TAKE_OFF, subject="bag to pick", first=date(2026, 7, 1)))[0]
    assert "Bag B1: fruit to pick from now on (tree 7)" == entry["summary"]
    told = entry["description"]
    assert [True] * 4 == [
        part in told for part in ("Bag B1: tree 7.", "By days: 12.", "Caution. Ladders", "import it again")
    ]
    late = read(result, replace(TAKE_OFF, state="overdue"))[0]
    assert "Overdue: bag B1: take it off the flower (tree 7)" == late["summary"]


def test_no_address_of_anybody_stands_in_it(result):
    """Nobody is invited, and an address in somebody's words is left out; controls don't come through."""
    one = replace(TAKE_OFF, about="ask r.tamsin@example.org\r\nATTENDEE:mailto:x@y.example\x00\u202e, soon")
    text = build_calendar(result, (one,))
    assert [False] * 5 == [sign in text for sign in ("@", "\nATTENDEE", "ORGANIZER", "\x00", "\u202e")]
    assert "(address left out)" in Calendar.from_ical(text).subcomponents[0]["summary"]
