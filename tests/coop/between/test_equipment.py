"""Shared equipment: between two members' seed stands a cleaning."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from certgen.coop.between.equipment import compare_equipment
from certgen.coop.members.facts import MemberSummary, UseFact

Make = Callable[..., MemberSummary]


def use(day: int, record: str, *, cleaning: bool = False, name: str = "Co-op  Mixer") -> UseFact:
    """An entry of the shared mixer."""
    return UseFact(name, f"2026-06-{day:02d}", 0, cleaning, record, ("Amber Kestrel",), "organic")


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ([use(19, "X1")], [use(22, "X2")], 1),
        ([use(19, "X1"), use(20, "C1", cleaning=True)], [use(22, "X2")], 0),
        ([use(19, "X1")], [use(22, "C2", cleaning=True), use(22, "X2")], 0),
        ([use(19, "X1")], [use(18, "C2", cleaning=True), use(22, "X2")], 1),
        ([use(19, "X1"), use(23, "X3")], [use(22, "X2")], 2),
        ([use(19, "X1", name="our own mixer")], [use(22, "X2")], 0),
        ([use(19, "X1"), use(20, "X2")], [], 0),
        # Cleaned on the day of the first use, after it; or before it, as its record says.
        ([use(19, "X1"), use(19, "C1", cleaning=True)], [use(22, "X2")], 0),
        ([use(19, "X1"), use(19, "C1", cleaning=True)._replace(before="X1")], [use(22, "X2")], 1),
        # One cleaning stands between two members once, and none before the first use does.
        ([use(19, "X1"), use(19, "C1", cleaning=True), use(20, "X3")], [use(19, "X2")], 1),
        ([use(18, "C1", cleaning=True), use(19, "X1")], [use(19, "X2")], 1),
        ([use(19, "X1"), use(20, "C1", cleaning=True), use(21, "X3")], [use(22, "X2")], 1),
    ],
)
def test_only_a_change_of_hands_without_a_cleaning_is_named(
    summary: Make, first: list[UseFact], second: list[UseFact], expected: int
) -> None:
    """A cleaning at either member does; a member's own sequence is its own check's business."""
    summaries = {"A": summary("A", uses=tuple(first)), "B": summary("B", uses=tuple(second))}
    assert expected == len(list(compare_equipment(summaries, ("co-op mixer",))))


def test_what_isnt_listed_as_shared_is_each_members_own(summary: Make) -> None:
    """Two members may both have 'the mixer'."""
    summaries = {"A": summary("A", uses=(use(19, "X1"),)), "B": summary("B", uses=(use(22, "X2"),))}
    assert [] == list(compare_equipment(summaries, ()))


def test_equipment_that_looks_like_the_shared_piece_is_asked_about(summary: Make) -> None:
    """A slip of the pen would keep it out of the comparison; a name of its own is its own."""

    def ask(name: str) -> list[str]:
        summaries = {"A": summary("A", uses=(use(19, "X1", name=name),)), "B": summary("B")}
        return [one.kind for one in compare_equipment(summaries, ("co-op mixer",))]

    assert ["equipment-looks-alike"] == ask("co-op mixr")
    assert [] == ask("coop mixer")
    assert [] == ask("our own mixer")
