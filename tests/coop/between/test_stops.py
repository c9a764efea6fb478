"""Days on which a member's seed may not leave it, and what leaves on them all the same."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from certgen.coop.between.numbers import Directory
from certgen.coop.between.stops import Stops, find_stopped
from certgen.coop.between.transfers import find_transfers
from certgen.coop.members.control import Certificate, Control, Inspection, Sanction
from certgen.coop.members.facts import MemberSummary, MoveFact

if TYPE_CHECKING:
    from certgen.coop.between.disagreements import Disagreement
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
ON = date(2026, 11, 25)
SANCTION = Sanction("S-1", "A", "suspended", date(2026, 8, 10), "why")


def move(day: str, party: str = "Quillmere Growers", **changes: Any) -> MoveFact:
    """Two grams of L1 that left A."""
    return MoveFact("M1", day, "L1", "sold", 2000, party, "INV-1", "organic")._replace(**changes)


@pytest.fixture
def look(coop_of: Callable[..., Coop], summary: Make) -> Callable[..., list[Disagreement]]:
    """What left A, or came to B, on days on which it couldn't."""

    def find(
        control: Control, *sent: MoveFact, came: tuple[MoveFact, ...] = (), joined: date = date(2020, 1, 1)
    ) -> list[Disagreement]:
        coop = coop_of("A", "B")
        members = tuple(replace(one, joined=joined) if one.key == "A" else one for one in coop.members)
        coop = replace(coop, control=control, members=members)
        summaries = {"A": summary("A", moves=sent), "B": summary("B", moves=came)}
        directory = Directory(members, summaries)
        transfers = find_transfers(summaries, directory)
        return list(find_stopped(Stops(coop, ON), summaries, transfers, directory))

    return find


@pytest.mark.parametrize(
    ("day", "stopped"),
    [
        ("2026-08-09", False),
        ("2026-08-10", True),
        ("2026-09-20", True),
        ("2026-10-02", True),
        ("2026-10-03", False),
    ],
)
def test_both_edges_of_a_sanction_are_stopped(
    look: Callable[..., list[Disagreement]], day: str, stopped: bool
) -> None:
    """Nobody can tell whether seed left before or after the letter of that day."""
    lifted = replace(SANCTION, lifted=date(2026, 10, 2), lifted_with="l.txt")
    found = look(Control(sanctions=(lifted,), filed=("l.txt",)), move(day))
    assert ["seed-moved-while-stopped"] * stopped == [one.kind for one in found]
    assert all([("A", "L1", 2000)] == [tuple(part) for part in one.reach] for one in found)


@pytest.mark.parametrize(
    ("changes", "stopped"),
    [
        ({"measure": "warning"}, False),
        ({"measure": "sales stopped"}, True),
        ({"measure": "excluded"}, True),
        ({"lots": ("L2",)}, False),
        ({"lots": ("L2", "L1")}, True),
        ({"member": "B"}, False),
        ({"until": date(2026, 8, 31)}, True),
        ({"lifted": date(2026, 8, 20)}, True),
    ],
)
def test_what_a_measure_stops(
    look: Callable[..., list[Disagreement]], changes: dict[str, Any], stopped: bool
) -> None:
    """Its lots, or all; a day set for looking again ends nothing, and so does a lifting without its paper."""
    found = look(Control(sanctions=(replace(SANCTION, **changes),)), move("2026-09-20"))
    assert stopped == bool(found)


def test_one_book_is_enough(look: Callable[..., list[Disagreement]]) -> None:
    """A's book is silent, B's shows that the seed came: both are told, and the seed is kept apart."""
    came = move("2026-09-20", "Farm A", kind="received", movement="R1")
    (found,) = look(Control(sanctions=(SANCTION,)), came=(came,))
    assert (("A", "B"), ("B:movements/R1",)) == (found.members, found.records)
    assert "keep it apart" in found.tell("B")
    assert "your seed was stopped since 10 August 2026" in found.tell("A")
    # Why a neighbour's seed is stopped is between the co-op and the neighbour.
    assert "suspended" not in found.tell("B")


def test_a_pair_of_entries_is_told_once(look: Callable[..., list[Disagreement]]) -> None:
    """Sent before and booked in on the day of the sanction: that day is the doubtful one."""
    sent = move("2026-08-09", "Farm B", kind="transferred")
    came = move("2026-08-10", "Farm A", kind="received", movement="R1")
    (found,) = look(Control(sanctions=(SANCTION,)), sent, came=(came,))
    assert "10 August 2026" in found.message


@pytest.mark.parametrize(
    ("day", "earlier", "stopped"),
    [
        ("2026-01-01", False, False),
        ("2026-09-30", False, False),
        ("2026-10-01", False, True),
        ("2025-12-31", False, True),
        ("2025-08-04", True, False),
    ],
)
def test_seed_leaves_under_a_valid_certificate(
    look: Callable[..., list[Disagreement]],
    coop_of: Callable[..., Coop],
    day: str,
    earlier: bool,
    stopped: bool,
) -> None:
    """Of years before the list begins it says nothing; in this season every day counts."""
    valid = Certificate("A", "C-1", "valid", date(2026, 1, 1), date(2026, 9, 30), paper="c.txt")
    control = Control(certificates=(valid,), filed=("c.txt",))
    coop = replace(coop_of("A"), control=control)
    assert stopped == bool(Stops(coop, ON).explain("A", move(day, earlier=earlier)))
    assert stopped == bool(look(control, move(day))) or earlier


@pytest.mark.parametrize(
    ("day", "stopped"),
    [("2026-02-28", False), ("2026-03-01", True), ("2026-05-01", True), ("2026-05-02", False)],
)
def test_a_new_members_land_is_inspected_first(
    look: Callable[..., list[Disagreement]], day: str, stopped: bool
) -> None:
    """From the day it joined until the day after its first inspection. An old member's first isn't known."""
    seen = Inspection("I-1", "A", date(2026, 5, 1), "K. Nettle", ("East",), "i.txt")
    control = Control(inspections=(seen,), filed=("i.txt",))
    assert stopped == bool(look(control, move(day), joined=date(2026, 3, 1)))
    assert [] == look(control, move(day))
    never = look(Control(), move("2026-06-01"), joined=date(2026, 3, 1))
    assert "no inspection of the co-op's own is on file" in never[0].message
