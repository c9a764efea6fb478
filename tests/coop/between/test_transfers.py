"""Seed between members: every entry of one book has its fellow in the other, or the office hears of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.numbers import Directory
from certgen.coop.between.transfers import Transfer, compare_transfers, find_transfers
from certgen.coop.members.facts import MemberSummary, MoveFact, Stated

if TYPE_CHECKING:
    from certgen.coop.members.member_list import Coop

Make = Callable[..., MemberSummary]
OUT = MoveFact("O1", "2026-08-03", "L1", "transferred", 4000, "Farm B", "DN-1", "organic")
IN = MoveFact("I1", "2026-08-04", "L1", "received", 4000, "farm  a", "DN-1", "organic")


def books(coop: Coop, summary: Make, sent: list[MoveFact], received: list[MoveFact]) -> list[Transfer]:
    """The transfers between two members with these books."""
    summaries = {"A": summary("A", moves=tuple(sent)), "B": summary("B", moves=tuple(received))}
    return list(find_transfers(summaries, Directory(coop.members, summaries)))


@pytest.fixture
def kinds(coop_of: Callable[..., Coop], summary: Make) -> Callable[..., list[tuple[str, str]]]:
    """Tells what two books disagree on."""

    def tell(sent: list[MoveFact], received: list[MoveFact]) -> list[tuple[str, str]]:
        coop = coop_of("A", "B")
        summaries = {"A": summary("A", moves=tuple(sent)), "B": summary("B", moves=tuple(received))}
        directory = Directory(coop.members, summaries)
        found = compare_transfers(find_transfers(summaries, directory), directory)
        return [(one.kind, one.message) for one in found]

    return tell


def test_books_that_agree_say_nothing(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """The same lot, weight and paper, a day apart; names in another spelling mean the same member."""
    assert [] == kinds([OUT], [IN])
    assert [] == kinds([OUT._replace(kind="sold")], [IN])


def test_an_entry_without_a_fellow_is_named_once(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """Booked out and not in, or in and not out."""
    assert ["transfer-not-booked-in"] == [kind for kind, _ in kinds([OUT], [])]
    assert ["transfer-not-booked-out"] == [kind for kind, _ in kinds([], [IN])]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"weight_mg": 3000}, "4\u00a0g left and 3\u00a0g arrived"),
        ({"lot": "L2"}, "it left as lot L1 and arrived as lot L2"),
        ({"date": "2026-08-01"}, "before it left"),
        ({"date": "2026-09-01"}, "29 days later"),
        ({"kind": "returned"}, "returned goods"),
        ({"status": "transitional"}, "it left as organic and arrived as transitional"),
    ],
)
def test_each_difference_is_told(
    kinds: Callable[..., list[tuple[str, str]]], change: dict[str, object], words: str
) -> None:
    """Kind, day, weight, lot and status: one difference, one disagreement that says it."""
    ((kind, message),) = kinds([OUT], [IN._replace(**change)])  # type: ignore[arg-type]
    assert "transfer-differs" == kind
    assert words in message


def test_sums_of_a_paper_are_compared_before_lines(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """Lines in another order, and one line against two deliveries; without a paper only where sums agree."""
    one, two = IN._replace(weight_mg=3000), IN._replace(movement="I2", weight_mg=1000, date="2026-08-09")
    lines = [OUT._replace(weight_mg=1000), OUT._replace(movement="O2", weight_mg=3000)]
    assert [] == kinds(lines, [one, two])
    assert [] == kinds([OUT], [one, two])
    ((kind, message),) = kinds([OUT], [one, two._replace(weight_mg=3000)])
    assert ("transfer-differs", True) == (kind, "4\u00a0g left and 6\u00a0g in 2 entries arrived" in message)
    bare = [move._replace(document="") for move in (OUT, one, two)]
    assert [] == kinds(bare[:1], bare[1:])


def test_what_came_back_is_no_disagreement(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """Sent on by the one, booked as returned by the other, who had sent it there before."""
    first = OUT._replace(date="2026-07-01", party="Farm A"), IN._replace(date="2026-07-01", party="Farm B")
    back = IN._replace(kind="returned", movement="I3", document="RN-1")
    away = OUT._replace(movement="O3", document="RN-1")
    # B sent it to A in July, and A sends it back in August.
    assert [] == kinds([first[1]._replace(movement="I0"), away], [first[0]._replace(movement="O0"), back])


def test_a_day_is_a_question(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """Two people may well write one handing over a day apart, either way round."""
    found = kinds([OUT], [IN._replace(date="2026-08-02")])
    assert ["transfer-day-differs"] == [kind for kind, _ in found]


@pytest.mark.parametrize(
    ("sent", "received", "expected"),
    [
        ("2026-10-25", None, "transfer-under-way"),
        ("2026-10-10", None, "transfer-not-booked-in"),
        (None, "2025-11-05", "transfer-under-way"),
        (None, "2025-11-20", "transfer-not-booked-out"),
    ],
)
def test_at_a_seasons_edge_the_other_book_may_not_cover_it(
    coop_of: Callable[..., Coop], summary: Make, sent: str | None, received: str | None, expected: str
) -> None:
    """What left last comes in the next season's book, and what came first left in the one before."""
    stated = Stated(first="2025-11-01", last="2026-10-31")
    moves = {
        "A": (OUT._replace(date=sent),) if sent else (),
        "B": (IN._replace(date=received),) if received else (),
    }
    summaries = {key: summary(key, moves=moves[key], stated=stated) for key in "AB"}
    directory = Directory(coop_of("A", "B").members, summaries)
    found = compare_transfers(find_transfers(summaries, directory), directory)
    assert [expected] == [one.kind for one in found]


def test_somebody_outside_is_nobodys_disagreement(kinds: Callable[..., list[tuple[str, str]]]) -> None:
    """A buyer who is no member has no book to hold against."""
    assert [] == kinds([OUT._replace(party="Quillmere Growers")], [])


def test_of_a_book_that_wasnt_read_nothing_is_said(coop_of: Callable[..., Coop], summary: Make) -> None:
    """A member whose records can't be read has booked nothing wrongly."""
    coop = coop_of("A", "B")
    summaries = {"A": summary("A", moves=(OUT,)), "B": summary("B", state="unreadable")}
    directory = Directory(coop.members, summaries)
    assert [] == list(compare_transfers(find_transfers(summaries, directory), directory))


def test_papers_pair_before_weights(coop_of: Callable[..., Coop], summary: Make) -> None:
    """Two transfers of one weight and lot are told apart by their dispatch notes."""
    sent = [OUT, OUT._replace(movement="O2", document="DN-2", date="2026-08-04")]
    received = [IN._replace(document="DN-2", movement="I2", date="2026-08-05"), IN]
    pairs = {
        (one.sent[0].movement, one.received[0].movement)
        for one in books(coop_of("A", "B"), summary, sent, received)
        if one.sent and one.received
    }
    assert {("O1", "I1"), ("O2", "I2")} == pairs


def test_very_many_entries_without_a_paper_are_paired_in_order(
    coop_of: Callable[..., Coop], summary: Make
) -> None:
    """Holding each against each would never end; lot and weight pair them, and none is lost."""
    days = [f"2026-{month:02d}-{day:02d}" for month in range(1, 13) for day in range(1, 29)]
    sent = [
        OUT._replace(movement=f"O{at}", document="", date=days[at % len(days)], weight_mg=1000 + at % 7)
        for at in range(2000)
    ]
    received = [
        move._replace(movement=f"I{at}", party="A", kind="received") for at, move in enumerate(sent[1:])
    ]
    found = books(coop_of("A", "B"), summary, sent, received)
    assert 2000 == len(found)
    assert 1 == sum(not one.received for one in found)
    assert {()} == {one.differences for one in found}


MOVES = st.lists(
    st.tuples(
        st.integers(1, 5),
        st.sampled_from(["L1", "L2"]),
        st.sampled_from(["", "D1", "D2"]),
        st.integers(1, 28),
    ),
    max_size=6,
)


@given(MOVES, MOVES)
def test_no_entry_is_lost_or_used_twice(
    sent: list[tuple[int, str, str, int]], received: list[tuple[int, str, str, int]]
) -> None:
    """Whatever stands in the books, each entry is in exactly one transfer."""
    from datetime import date

    from certgen.coop.members.member_list import Member

    def move(kind: str, party: str, at: int, entry: tuple[int, str, str, int]) -> MoveFact:
        weight, lot, document, day = entry
        return MoveFact(f"{kind}{at}", f"2026-08-{day:02d}", lot, kind, weight, party, document, "")

    outs = tuple(move("sold", "B", at, entry) for at, entry in enumerate(sent))
    ins = tuple(move("received", "A", at, entry) for at, entry in enumerate(received))
    summaries = {"A": MemberSummary("A", "read", moves=outs), "B": MemberSummary("B", "read", moves=ins)}
    members = [Member(key, key, "folder", key, "", date(2020, 1, 1)) for key in "AB"]
    found = find_transfers(summaries, Directory(members, summaries))
    assert sorted(outs) == sorted(move for one in found for move in one.sent)
    assert sorted(ins) == sorted(move for one in found for move in one.received)
