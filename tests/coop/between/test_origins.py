"""Lines from one member's seed into another's trees."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from certgen.coop.between.numbers import Directory
from certgen.coop.between.origins import Origins
from certgen.coop.between.transfers import find_transfers
from certgen.coop.members.facts import GapFact, Grams, LotFact, MemberSummary, MoveFact, PlantingFact

if TYPE_CHECKING:
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
TRACED, UNPROVEN = Grams(5, 0, 0), Grams(0, 5, 0)


def lot(
    name: str, own: Grams = TRACED, answered: Grams = TRACED, *outside: str, plantings: tuple[str, ...] = ()
) -> LotFact:
    """A lot of one member."""
    return LotFact(name, True, "Amber Kestrel", own, answered, outside, 1, 1, plantings)


def gap(planting: str, named_lot: str, supplier: str) -> GapFact:
    """The gap of a planting that names a lot nobody here has."""
    return GapFact(
        "reference-unknown",
        "unproven",
        "references",
        "plantings",
        planting,
        "f.yaml",
        1,
        "m",
        "r",
        (),
        named_lot,
        supplier,
    )


def sent(lot: str, to: str) -> MoveFact:
    """Two grams that left by a dispatch note."""
    return MoveFact(f"out {lot}", "2025-08-04", lot, "transferred", 2000, to, f"DN {lot}", "organic")


def came(lot: str, of: str) -> MoveFact:
    """The same as the other book has it."""
    return sent(lot, of)._replace(movement=f"in {lot}", kind="received")


def chain(summary: Make, first: Grams) -> dict[str, MemberSummary]:
    """C's lot was grown from B's, and B's from A's, whose standing is given."""
    return {
        "A": summary("A", lots=(lot("A1", first, first),), moves=(sent("A1", "Farm B"),)),
        "B": summary(
            "B",
            lots=(lot("B1", UNPROVEN, TRACED, "A1", plantings=("PB",)),),
            plantings=(PlantingFact("PB", "A1", "Farm A", False),),
            gaps=(gap("PB", "A1", "Farm A"),),
            moves=(came("A1", "Farm A"), sent("B1", "Farm C")),
        ),
        "C": summary(
            "C",
            lots=(lot("C1", UNPROVEN, TRACED, "B1", plantings=("PC",)),),
            plantings=(PlantingFact("PC", "B1", "Farm B", False),),
            gaps=(gap("PC", "B1", "Farm B"),),
            moves=(came("B1", "Farm B"),),
        ),
    }


@pytest.fixture
def look(coop_of: Callable[..., Coop]) -> Callable[[dict[str, MemberSummary]], Origins]:
    """Looks the members' lots up."""

    def make(summaries: dict[str, MemberSummary]) -> Origins:
        directory = Directory(coop_of(*summaries).members, summaries)
        return Origins(summaries, directory, find_transfers(summaries, directory))

    return make


def test_a_line_is_traced_through_every_member_to_the_first_parents(
    summary: Make, look: Callable[..., Origins]
) -> None:
    """Where the first lot is traced, so are those grown from it, and the trail names them all."""
    summaries = chain(summary, TRACED)
    origins = look(summaries)
    assert TRACED == origins.standing("C", summaries["C"].lots[0])
    assert ("B:lots/B1", "A:lots/A1") == origins.trail("C", summaries["C"].plantings[0])
    assert origins.answers("C", summaries["C"].gaps[0])
    assert [] == list(origins.compare())


def test_one_unproven_lot_leaves_the_whole_line_unproven(summary: Make, look: Callable[..., Origins]) -> None:
    """What A can't prove neither B nor C can, and both are told whose lot it is."""
    summaries = chain(summary, UNPROVEN)
    origins = look(summaries)
    assert UNPROVEN == origins.standing("C", summaries["C"].lots[0])
    assert [("origin-unproven", ("B", "A")), ("origin-unproven", ("C", "B"))] == [
        (one.kind, one.members) for one in origins.compare()
    ]


def test_seed_that_comes_back_to_itself_is_answered_for_by_nobody(
    summary: Make, look: Callable[..., Origins]
) -> None:
    """A's lot grew from B's and B's from A's: the walk ends, and nothing is traced by it."""
    summaries = chain(summary, UNPROVEN)
    circle = summary(
        "A",
        lots=(lot("A1", UNPROVEN, TRACED, "B1", plantings=("PA",)),),
        plantings=(PlantingFact("PA", "B1", "Farm B", False),),
        gaps=(gap("PA", "B1", "Farm B"),),
    )
    summaries = {**summaries, "A": circle}
    origins = look(summaries)
    assert UNPROVEN == origins.standing("C", summaries["C"].lots[0])
    assert 2 == len(origins.trail("C", summaries["C"].plantings[0]))


@pytest.mark.parametrize(
    ("supplier", "kind"), [("Farm A", "origin-unknown"), ("", None), ("Brackwen Seed Exchange", None)]
)
def test_a_lot_that_nobody_has(
    summary: Make, look: Callable[..., Origins], supplier: str, kind: str | None
) -> None:
    """Only a member can be missing a lot; somebody outside the co-op keeps other books."""
    planting = PlantingFact("P", "X9", supplier, False)
    summaries = {"A": summary("A"), "B": summary("B", plantings=(planting,))}
    assert ([kind] if kind else []) == [one.kind for one in look(summaries).compare()]


def test_a_lot_that_another_member_has_without_being_named(
    summary: Make, look: Callable[..., Origins]
) -> None:
    """The number alone doesn't say whose seed it was: the office asks."""
    planting = PlantingFact("P", "A1", "", False)
    summaries = {"A": summary("A", lots=(lot("A1"),)), "B": summary("B", plantings=(planting,))}
    assert ["origin-unnamed"] == [one.kind for one in look(summaries).compare()]
