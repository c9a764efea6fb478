"""The calendar of what falls due, read by the rules of RFC 5545 alone, without the library that wrote it.

Sections: 3.1 content lines end with CRLF and are folded at 75 octets, a fold is CRLF and one blank; 3.3.4
dates are eight digits; 3.3.11 text escapes backslash, semicolon, comma and line feed; 3.6 what a calendar and
its components must hold; 3.6.1 an event ends before its DTEND; 3.8.4.7 and 3.8.7.2 one UID and DTSTAMP.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.dossier.due import Due, list_due
from certgen.examination import examine
from certgen.exchange.interchange.calendar import build_calendar

COVERS = ("certgen.exchange.interchange.calendar",)
_ESCAPED = {"\\\\": "\\", "\\;": ";", "\\,": ",", "\\n": "\n", "\\N": "\n"}
BAG = Due(
    "bag to take off", "bagging", "B1", "tree 7", date(2026, 6, 3), date(2026, 6, 5), "later", "practice"
)


@pytest.fixture(scope="module")
def result(example_season):
    """The example on a day on which much is due."""
    return examine(example_season, date(2026, 6, 1))


def unfold(text: str) -> list[str]:
    """The content lines of section 3.1, each physical line held to its length and its end."""
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert "\r" not in text.replace("\r\n", "")
    physical = text.removesuffix("\r\n").split("\r\n")
    assert 75 >= max(len(line.encode()) for line in physical)
    return "\r\n".join(physical).replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")


def value_of(lines: list[str], name: str) -> str:
    """The unescaped text of a property, which stands once."""
    found = [line for line in lines if re.match(rf"{name}[;:]", line)]
    assert 1 == len(found)
    value = found[0].split(":", 1)[1]
    assert not re.search(r"(?<!\\)(?:\\\\)*(?:\\[^\\;,nN]|[;,])", value)
    return re.sub(r"\\[\\;,nN]", lambda one: _ESCAPED[one[0]], value)


def components(lines: list[str]) -> list[tuple[str, list[str]]]:
    """The components of a calendar in order, alarms left out of the lines of what they belong to."""
    found: list[tuple[str, list[str]]] = []
    open_: list[str] = []
    for line in lines:
        if line.startswith("BEGIN:"):
            open_.append(line[6:])
            if len(open_) == 2:
                found.append((open_[1], []))
        elif line.startswith("END:"):
            assert open_.pop() == line[4:]
        elif len(open_) == 2:
            found[-1][1].append(line)
    assert [] == open_
    return found


def test_the_calendar_of_the_example(result):
    """Each component holds what the standard asks for, with names that are one of a kind."""
    lines = unfold(build_calendar(result, list_due(result)))
    assert ("BEGIN:VCALENDAR", "END:VCALENDAR") == (lines[0], lines[-1])
    assert {"VERSION:2.0", "PRODID:-//certgen//what falls due//EN"} <= set(lines[1:5])
    uids = []
    for kind, own in components(lines):
        uids.append(value_of(own, "UID"))
        assert re.fullmatch(r"2026060\dT000000Z", value_of(own, "DTSTAMP"))
        if kind == "VEVENT":
            first, after = value_of(own, "DTSTART"), value_of(own, "DTEND")
            assert re.fullmatch(r"[0-9]{8}", first)
            assert first < after
            assert "DTSTART;VALUE=DATE:" + first in own
        else:
            assert "VTODO" == kind
    assert len(uids) == len(set(uids)) > 100


def test_alarms_say_what_they_must(result):
    """3.6.6: an alarm that is shown has an action, a trigger and words."""
    text = "\n".join(unfold(build_calendar(result, (BAG,))))
    alarms = re.findall(r"BEGIN:VALARM\n(.*?)\nEND:VALARM", text, re.DOTALL)
    assert [("ACTION:DISPLAY", True, True)] * 2 == [
        ("ACTION:DISPLAY" if "ACTION:DISPLAY" in one else "", "TRIGGER:P" in one, "DESCRIPTION:" in one)
        for one in alarms
    ]


@given(st.text(max_size=200), st.text(alphabet=',;\\\n\r:"é木瓜😀 ', max_size=200))
def test_text_of_any_kind_comes_through(result, name, about):
    """Signs that the standard uses, wide letters at a fold, blanks and controls: one line, read as it was."""
    lines = unfold(build_calendar(result, (replace(BAG, identifier=name, about=about),)))
    ((_, own),) = components(lines)
    shown = " ".join("".join(sign if sign.isprintable() else " " for sign in about).split())
    assert "@" in name or shown in value_of(own, "SUMMARY")
