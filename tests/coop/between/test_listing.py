"""The list of members against their records, and what follows from a fault in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from certgen.coop.between.disagreements import Disagreement
from certgen.coop.between.listing import compare_listing, leave_consequences
from certgen.coop.members.facts import Grams, LotFact, MemberSummary, Stated

if TYPE_CHECKING:
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
ON = date(2026, 11, 25)
SPAN = {"start": "2025-11-01", "last": "2026-10-31"}
LOT = LotFact("B-1", True, "Amber Kestrel", Grams(1), Grams(1), (), 1, 1, (), packed="2026-07-02")


def stated(key: str, **changes: Any) -> Stated:
    """What a member's records say of themselves."""
    found = Stated(operation=f"Farm {key}", certificate=f"CERT-{key}", label="2026", standards=("us-nop",))
    return found._replace(**{**SPAN, **changes})


@pytest.fixture
def listing(coop_of: Callable[..., Coop], summary: Make) -> Callable[..., dict[str, tuple[str, ...]]]:
    """The kinds found in a co-op of A, B and C, with whom each is about, but for some changes of B."""

    def compare(
        records: dict[str, Any] | None = None, entry: dict[str, Any] | None = None, **coop: Any
    ) -> dict[str, tuple[str, ...]]:
        whole = coop_of("A", "B", "C")
        members = tuple(replace(one, **(entry or {})) if one.key == "B" else one for one in whole.members)
        summaries = {key: summary(key, stated=stated(key)) for key in "AC"}
        about = dict(records or {})
        facts = {"fingerprint": about.pop("fingerprint", "seal of B"), "lots": (LOT,)}
        summaries["B"] = summary("B", stated=stated("B", **about), **facts)
        found = compare_listing(replace(whole, members=members, **coop), summaries, ON)
        return {one.kind: one.members for one in found}

    return compare


def test_a_sound_list_says_nothing(listing: Callable[..., dict[str, tuple[str, ...]]]) -> None:
    """Three members, three certificates, one season."""
    assert {} == listing()


@pytest.mark.parametrize(
    ("records", "entry", "expected"),
    [
        ({"certificate": "CERT-X"}, {}, {"certificate-differs": ("B",)}),
        ({"certificate": "cert a"}, {"certificate": "CERT-A"}, {"certificate-shared": ("A", "B")}),
        ({}, {"certificate": "CERT-A"}, {"certificate-differs": ("B",), "certificate-shared": ("A", "B")}),
        ({"fingerprint": "seal of C"}, {}, {"records-handed-in-twice": ("B", "C")}),
        ({"start": "2024-11-01", "last": "2025-10-31"}, {}, {"season-differs": ("B",)}),
        ({"start": "2026-01-01", "last": "2026-12-31"}, {}, {}),
        ({}, {"joined": date(2026, 11, 1)}, {"member-not-in-season": ("B",)}),
        ({}, {"joined": date(2027, 1, 1)}, {"member-not-in-season": ("B",)}),
        ({}, {"joined": date(2026, 2, 10)}, {}),
        ({}, {"left": date(2025, 6, 1)}, {"member-not-in-season": ("B",)}),
        ({}, {"left": date(2026, 7, 1)}, {"member-not-in-season": ("B",)}),
        ({}, {"left": date(2026, 7, 2)}, {}),
    ],
)
def test_each_fault_is_named(
    listing: Callable[..., dict[str, tuple[str, ...]]],
    records: dict[str, Any],
    entry: dict[str, Any],
    expected: dict[str, tuple[str, ...]],
) -> None:
    """One change of the list or of what B handed in, one fault; who came or went on time is none."""
    assert expected == listing(records, entry)


def test_a_lot_without_a_day_isnt_of_a_members_days(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Whoever leaves the packing day out isn't better off than who writes one after it left."""
    coop = coop_of("B")
    members = (replace(coop.members[0], left=date(2026, 7, 1)),)
    summaries = {"B": summary("B", stated=stated("B"), lots=(LOT._replace(packed=""),))}
    found = list(compare_listing(replace(coop, members=members), summaries, ON))
    assert ["member-not-in-season"] == [one.kind for one in found]
    assert ["B-1"] == [part.lot for one in found for part in one.reach]


def test_two_entries_of_one_farm_are_named(listing: Callable[..., dict[str, tuple[str, ...]]]) -> None:
    """They state one operation and one certificate: what follows from it isn't told again."""
    same = {"operation": "farm  a", "certificate": "CERT-A"}
    found = listing(same, {"certificate": "CERT-A"})
    assert ("A", "B") == found["member-listed-twice"]


def test_a_groups_certificate_is_every_members(listing: Callable[..., dict[str, tuple[str, ...]]]) -> None:
    """Where the group holds it, nobody else does."""
    own = {"certificate": "GROUP-1"}
    assert {} == listing(own, own, certificate="GROUP-1")


def test_a_standard_of_the_coop_is_every_members(
    listing: Callable[..., dict[str, tuple[str, ...]]],
) -> None:
    """Whoever's records don't name it was never held against it."""
    assert {} == listing(standards=("us-nop",))
    assert "standard-not-claimed" in listing(standards=("us-nop", "eu"))


def test_consequences_of_one_farm_listed_twice_are_left_out() -> None:
    """They say the cause once more; what is about others stays."""
    cause = Disagreement("member-listed-twice", ("A", "B"), (), "")
    follows = Disagreement("lot-number-shared", ("A", "B"), (), "")
    other = Disagreement("lot-number-shared", ("A", "C"), (), "")
    assert [cause, other] == list(leave_consequences([cause, follows, other]))
    assert [follows] == list(leave_consequences([follows]))
