"""All members' books together: what passed between them cancels."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.balance import combine
from certgen.coop.between.transfers import Transfer
from certgen.coop.members.facts import MemberSummary, MoveFact

GRAMS = st.integers(0, 10**9)


@given(st.lists(st.tuples(GRAMS, st.booleans(), GRAMS), max_size=8))
def test_what_members_agree_on_cancels_and_the_rest_is_the_difference(
    passed: list[tuple[int, bool, int]],
) -> None:
    """A packs enough and sends; B books some in: came − went − difference = in store, whatever is booked."""
    sent = sum(mass for mass, _, _ in passed)
    received = sum(mass for _, booked, mass in passed if booked)
    packed = sent + 1000
    books = [
        MemberSummary(
            "A", "read", balance={"V": {"produced_mg": packed, "transferred_mg": sent, "closing_mg": 1000}}
        ),
        MemberSummary("B", "read", balance={"V": {"received_mg": received, "closing_mg": received}}),
    ]

    def move(kind: str, mass: int) -> MoveFact:
        return MoveFact("M", "2026-08-01", "L", kind, mass, "", "", "")

    transfers = [
        Transfer("A", "B", (move("transferred", out),), (move("received", into),) if booked else ())
        for out, booked, into in passed
    ]
    whole = combine(books, transfers)[-1]
    assert (packed, 0) == (whole.came_mg, whole.went_mg)
    assert sent - received == whole.difference_mg
    assert whole.closing_mg == whole.came_mg - whole.went_mg - whole.difference_mg


def test_a_blend_of_two_varieties_is_no_income_of_all() -> None:
    """What a member's lot of one variety took from its lot of another came from nobody and left nobody."""
    books = {
        "Red": {"produced_mg": 500, "blended_from_mg": 40, "closing_mg": 540},
        "Gold": {"produced_mg": 100, "blended_into_mg": 40, "closing_mg": 60},
    }
    *_, whole = combine([MemberSummary("A", "read", balance=books)], [])

    assert (600, 0, 600) == (whole.came_mg, whole.went_mg, whole.closing_mg)
