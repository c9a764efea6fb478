from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.standards import PROFILES, StandardError, load_profile
from certgen.standards.reading import Section
from certgen.standards.screening import (
    Target,
    event_targets,
    fold,
    parse_events,
    parse_methods,
)

IDENTIFIED = [event for key in PROFILES for event in load_profile(key).events.values() if event.oecd]


def oecd_check_digit(body: str) -> int:
    """The digit by the OECD guidance: letters A=1 to Z=26, digits as they are, Ø=0, digits added until
    one is left.
    """
    total = sum(
        0 if char == "Ø" else int(char) if char.isdecimal() else ord(char) - ord("A") + 1
        for char in body
        if char != "-"
    )
    while total > 9:
        total = sum(map(int, str(total)))
    return total


@pytest.mark.parametrize("event", IDENTIFIED, ids=lambda event: event.oecd)
def test_identifiers_carry_their_check_digit(event) -> None:
    """Every OECD unique identifier in a profile agrees with the digit worked out from its other
    characters.
    """
    body, _, digit = event.oecd.rpartition("-")

    assert int(digit) == oecd_check_digit(body)


def test_older_texts_misprint_one_identifier() -> None:
    """X17-2 is -9; the -6 of older texts fails the check (the biosafety record itself was corrected)."""
    event = load_profile("papaya").events["X17-2"]

    assert "UFL-X17CP-9" == event.oecd
    assert 6 != oecd_check_digit("UFL-X17CP")
    assert "-6" in event.note


def test_a_blue_stain_sees_only_events_with_a_working_marker() -> None:
    """The stain finds 55-1 and 63-1; X17-2 carries no working uidA gene (public biosafety record)."""
    gus = load_profile("papaya").methods["gus"]

    assert {"55-1", "63-1"} == gus.sees()
    assert {"55-1", "63-1"} == gus.sees(["35S"])
    assert "X17-2" in gus.cannot_see


@pytest.mark.parametrize(
    ("method", "targets", "events"),
    [
        ("pcr", [], set()),
        ("pcr", ["nptII"], {"55-1", "63-1", "X17-2", "Huanong No. 1"}),
        ("pcr", ["35S"], {"55-1", "63-1", "X17-2", "16-0-1", "18-2-4", "Huanong No. 1"}),
        ("pcr", ["p-35s", "NOS terminator"], {"55-1", "63-1", "X17-2", "16-0-1", "18-2-4", "Huanong No. 1"}),
        ("pcr", ["CP"], {"55-1", "63-1", "X17-2"}),
        ("pcr", ["CP-YK"], {"16-0-1", "18-2-4"}),
        ("pcr", ["event 55-1"], {"55-1"}),
        ("pcr", ["UFL-X17CP-9"], {"X17-2"}),
        ("pcr", ["PRSV-SC"], {"PRSV-SC"}),
        ("strip", ["coat protein"], {"55-1", "63-1", "X17-2"}),
        ("strip", ["35S"], set()),
        ("pcr", ["something else"], set()),
    ],
)
def test_a_negative_speaks_only_to_events_with_the_targets(method, targets, events) -> None:
    """Which events a clean result rules out follows from what was looked for."""
    assert events == load_profile("papaya").methods[method].sees(targets)


def test_unknown_targets_are_told() -> None:
    """A target that nobody knows is named as it was typed, so that the grower can mend it."""
    assert ("p36S",) == load_profile("papaya").methods["pcr"].unknown_targets(["P-35S", "p36S"])


@given(st.lists(st.sampled_from(sorted(load_profile("papaya").methods["pcr"].targets))))
def test_more_targets_never_see_less(targets) -> None:
    """What a test sees is the union of what each target shows."""
    pcr = load_profile("papaya").methods["pcr"]

    assert frozenset().union(*(pcr.sees([target]) for target in targets)) == pcr.sees(targets)


@given(st.text())
def test_folding_twice_is_folding_once(text) -> None:
    """Names are compared in a form that no further folding changes."""
    assert fold(text) == fold(fold(text))


def test_a_stains_controls_make_or_void_it() -> None:
    """A plate whose positive control is not blue is void, not negative."""
    gus = load_profile("papaya").methods["gus"]

    assert 3 == len(gus.controls)
    assert "void, not negative" in gus.void_when


TARGETS = {
    "uidA": Target("uidA", "marker", ("gus",), "It is there."),
    "T2": Target("T2", "other", ("tee",), "It is."),
}
EVENT = {"title": "Event A", "default": True, "elements": {"uidA": "read"}, "source": "s", "mark": "read"}
METHOD = {
    "title": "Stain",
    "needs_targets": True,
    "targets": ["uidA", "event"],
    "negative_means": "n",
    "cannot_see": "c",
    "sensitivity": 0.9,
    "specificity": 1,
    "performance_mark": "assumed",
    "source": "s",
    "mark": "read",
}


def methods(**changes):
    """One method over one event, with changes to its data."""
    events = parse_events(Section({"events": {"A": EVENT}}, "p"), TARGETS)
    file = Section({"methods": {"stain": METHOD | changes}}, "p")
    return parse_methods(file, TARGETS | event_targets(events), events)


def test_event_stands_for_every_event_specific_target() -> None:
    """An event-specific test sees its event by name although no element is shared."""
    stain = methods()["stain"]

    assert ("uidA", "A") == stain.targets
    assert frozenset({"A"}) == stain.sees(["event A"])


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"targets": ["T3"]}, "unknown target T3"),
        ({"sensitivity": 0}, "give a share above 0"),
        ({"specificity": 1.2}, "give a share above 0"),
        ({"controls": ["blank"]}, "controls and void_when go together"),
        ({"void_when": "never"}, "controls and void_when go together"),
    ],
)
def test_a_wrong_method_is_refused(changes, message) -> None:
    """Each mistake in a method's data is named."""
    with pytest.raises(StandardError, match=message):
        methods(**changes)


def test_an_event_with_an_unknown_element_is_refused() -> None:
    """An element that no target stands for could never be seen."""
    with pytest.raises(StandardError, match="unknown entry T3"):
        parse_events(Section({"events": {"A": EVENT | {"elements": {"T3": "read"}}}}, "p"), TARGETS)


def test_one_name_for_two_targets_is_refused() -> None:
    """A typed target must mean one thing."""
    twice = TARGETS | {"T2": Target("T2", "other", ("G.U.S.",), "It is.")}

    with pytest.raises(StandardError, match="stands for two targets"):
        parse_methods(Section({"methods": {"stain": METHOD | {"targets": ["uidA", "T2"]}}}, "p"), twice, {})
