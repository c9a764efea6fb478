"""Lot numbers belong to one member only."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from certgen.coop.between.numbers import Directory, compare_lot_numbers
from certgen.coop.between.transfers import find_transfers
from certgen.coop.members.facts import Grams, LotFact, MemberSummary, MoveFact

if TYPE_CHECKING:
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
LOT = LotFact("L1", True, "Amber Kestrel", Grams(1), Grams(1), (), 1, 1, ())


def test_one_lot_number_at_two_members_is_named(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Two members, one number, different seed."""
    coop = coop_of("A", "B", "C")
    summaries = {"A": summary("A", lots=(LOT,)), "B": summary("B", lots=(LOT,)), "C": summary("C")}
    (found,) = compare_lot_numbers(Directory(coop.members, summaries), ())
    assert ("lot-number-shared", ("A", "B")) == (found.kind, found.members)
    assert ("A:lots/L1", "B:lots/L1") == found.records


def test_seed_that_was_handed_on_may_keep_its_number(coop_of: Callable[..., Coop], summary: Make) -> None:
    """B had the lot from A and keeps a record of it under A's number: it is the same seed."""
    coop = coop_of("A", "B")
    moved = MoveFact("M1", "2026-08-03", "L1", "received", 1, "Farm A", "", "")
    summaries = {"A": summary("A", lots=(LOT,)), "B": summary("B", lots=(LOT,), moves=(moved,))}
    directory = Directory(coop.members, summaries)
    assert [] == list(compare_lot_numbers(directory, find_transfers(summaries, directory)))


def test_numbers_that_differ_by_marks_alone_are_asked_about(
    coop_of: Callable[..., Coop], summary: Make
) -> None:
    """Case, spaces and hyphens are written as it comes; a mark between digits tells something."""
    coop = coop_of("A", "B")

    def ask(number: str) -> list[str]:
        lots = {"A": (LOT._replace(lot="AK-26-1"),), "B": (LOT._replace(lot=number),)}
        summaries = {key: summary(key, lots=lots[key]) for key in "AB"}
        return [one.kind for one in compare_lot_numbers(Directory(coop.members, summaries), ())]

    assert ["numbers-look-alike"] == ask("ak-26-1")
    assert ["numbers-look-alike"] == ask("AK 26/1")
    assert [] == ask("AK-261")
    assert [] == ask("AK-26-2")
