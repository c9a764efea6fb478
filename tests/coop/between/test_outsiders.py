"""Parties in stock books that are no members: misspelt ones, and whoever handed a lot on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from certgen.coop.between.numbers import Directory
from certgen.coop.between.outsiders import compare_outsiders
from certgen.coop.members.facts import Grams, LotFact, MemberSummary, MoveFact
from certgen.coop.members.member_list import Member

Make = Callable[..., MemberSummary]
LOT = LotFact("L1", True, "Amber Kestrel", Grams(9000), Grams(9000), (), 1, 1, ())
OUT = MoveFact("O1", "2026-08-03", "L1", "transferred", 4000, "Hollow Acer", "DN-1", "organic")
IN = MoveFact("I1", "2026-08-04", "L1", "received", 4000, "Adler Bank", "DN-1", "organic")
NAMES = {"A": "Alder Bank", "B": "Hollow Acre"}


@pytest.fixture
def kinds(summary: Make) -> Callable[..., list[str]]:
    """What is found of A, who holds lot L1, and B, with these entries."""

    def tell(sent: list[MoveFact], received: list[MoveFact]) -> list[str]:
        members = [Member(key, name, "folder", key, "", date(2020, 1, 1)) for key, name in NAMES.items()]
        summaries = {
            "A": summary("A", moves=tuple(sent), lots=(LOT,)),
            "B": summary("B", moves=tuple(received)),
        }
        found = compare_outsiders(summaries, Directory(members, summaries))
        return [one.kind for one in found]

    return tell


def test_a_misspelt_member_is_asked_about(kinds: Callable[..., list[str]]) -> None:
    """Once a name, on either side; a name that is like nobody's is somebody else's."""
    assert ["party-looks-alike"] == kinds([OUT, OUT._replace(movement="O2")], [])
    assert [] == kinds([OUT._replace(party="Quillmere Growers")], [])
    assert [] == kinds([OUT._replace(party="Hollow Acre")], [])


def test_misspelt_names_hide_no_sums(kinds: Callable[..., list[str]]) -> None:
    """4 g left and 40 g came, each by a name that means nobody: more came than went."""
    found = kinds([OUT], [IN._replace(weight_mg=40000)])
    assert ["party-looks-alike", "party-looks-alike", "origin-overdrawn"] == found


def test_what_came_through_somebody_outside_is_told(kinds: Callable[..., list[str]]) -> None:
    """Not more than went there: then the office asks for the papers on the way."""
    away, back = OUT._replace(party="Regional Seed Office"), IN._replace(party="regional seed-office")
    assert ["lot-through-others"] == kinds([away], [back])
    assert ["lot-through-others"] == kinds([away], [back._replace(weight_mg=3000)])
    assert ["origin-overdrawn"] == kinds([away], [back._replace(weight_mg=4001)])


def test_what_a_member_sent_on_counts_too(kinds: Callable[..., list[str]]) -> None:
    """B had A's lot and sent 4 g of it away; what comes back to B from there is no more than that."""
    away = OUT._replace(party="Regional Seed Office")
    back = IN._replace(party="Regional Seed Office", weight_mg=5000)
    assert ["origin-overdrawn"] == kinds([], [away, back])


def test_a_number_that_others_use_too_is_only_asked_about(kinds: Callable[..., list[str]]) -> None:
    """Nothing of A's lot went there: a supplier outside may number its lots alike."""
    assert ["lot-through-others"] == kinds([], [IN._replace(party="Tarrowmere Seed Exchange")])
