"""Group figures from the standards, and a draw that anybody can repeat."""

from __future__ import annotations

import hashlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.visits import (
    Risk,
    Visit,
    draw_sample,
    draw_two_stages,
    list_figures,
    say_order,
    say_visits,
    size_sample,
)
from certgen.dossier.spot_check import DrawKey
from certgen.figures.draws import mix_key
from certgen.standards import demand_kinds, load_rulebook


@pytest.mark.parametrize(
    ("standards", "members", "size"),
    [
        # us-nop 205.403(a)(2)(iii), the certifier's sample (from memory): the more of 1.4 × √members and 2 %.
        (("us-nop",), 100, 14),
        (("us-nop",), 10_000, 200),
        # eu 2021/279 7 (read): 5 %, and all if there are ten or fewer.
        (("eu",), 100, 10),
        (("eu",), 1000, 50),
        (("us-nop", "eu"), 100, 14),
        (("eu",), 4, 4),
        # No figure: the square root, common practice.
        (("canada",), 100, 10),
    ],
)
def test_the_sample_is_as_large_as_the_strictest_rulebook_asks(
    standards: tuple[str, ...], members: int, size: int
) -> None:
    """Worked by hand from the figures beside each case."""
    assert size == size_sample(standards, members)[0]


def test_every_group_figure_of_a_rulebook_is_listed_with_its_mark() -> None:
    """None is left out, and each says how it was come by."""
    for standard in ("us-nop", "eu"):
        asked = {key for key in load_rulebook(standard).demands if key.startswith("group_")}
        found = list_figures((standard,), 50)
        assert asked == {one.key for one in found}
        assert all(one.mark and one.clause.startswith(f"{standard}:") for one in found)
    assert {key for key in demand_kinds() if key.startswith("group_")}


def test_too_many_members_are_said_to_be() -> None:
    """eu 2021/279 4 (read): at most 2,000 members."""
    (largest,) = (one for one in list_figures(("eu",), 2100) if one.key == "group_members_max")
    assert "2100: too many by 100" == largest.here


def test_the_draw_is_the_one_described() -> None:
    """Worked again from its description: smallest −ln(u)/w first, u from the SHA-256 of 'text|key'."""
    risks = [Risk(f"M{number}", (("evidence is missing", number % 3),), high=False) for number in range(30)]

    def place(risk: Risk) -> float:
        digest = hashlib.sha256(f"agreed|{risk.member}".encode()).digest()
        return -math.log(int.from_bytes(digest, "big") / 2**256) / (1 + risk.points)

    expected = [risk.member for risk in sorted(risks, key=place)[:7]]
    assert expected == [one.member for one in draw_sample("agreed", risks, 7)]


@given(st.lists(st.tuples(st.integers(0, 9), st.booleans()), max_size=40), st.integers(0, 40), st.text())
def test_high_risk_is_always_visited(told: list[tuple[int, bool]], size: int, seed: str) -> None:
    """Everyone at high risk, nobody twice, and as many as were asked for where there are so many."""
    risks = [Risk(f"M{at}", (("x", points),), high) for at, (points, high) in enumerate(told)]
    drawn = [one.member for one in draw_sample(seed, risks, size)]
    high = {risk.member for risk in risks if risk.high}
    assert high <= set(drawn)
    assert len(drawn) == len(set(drawn)) == max(len(high), min(size, len(risks)))


KEY = DrawKey("dice 4 4 1 6 2 5 3", "0" * 64, noted=True)
RISKS = [Risk(f"M{at}", (("x", at % 3),), at == 7) for at in range(12)]
LOTS = {
    risk.member: [f"{risk.member}:lots/L{at}" for at in range(index % 5)] for index, risk in enumerate(RISKS)
}


def test_lots_are_drawn_within_the_members_drawn() -> None:
    """Members as before, of each the lots with the smallest SHA-256 of 'fingerprint|text|name': by hand."""
    sample = draw_two_stages(KEY, RISKS, LOTS, (5, "five"), 2)
    lead = mix_key(KEY.fingerprint, KEY.text)

    assert [one.member for one in draw_sample(lead, RISKS, 5)] == [one.member for one in sample.visits]
    for visit in sample.visits:
        lots = LOTS[visit.member]
        by_hand = sorted(lots, key=lambda lot: hashlib.sha256(f"{lead}|{lot}".encode()).hexdigest())[:2]
        assert (tuple(by_hand), len(lots)) == (visit.lots, visit.of_lots)


def test_lots_of_one_number_are_drawn_apart() -> None:
    """Ten members with the same lot numbers don't all show the same one: the member's key is hashed too."""
    risks = [Risk(f"M{at}", (), high=True) for at in range(10)]
    lots = {risk.member: [f"{risk.member}:lots/L{at}" for at in range(6)] for risk in risks}
    sample = draw_two_stages(KEY, risks, lots, (10, "ten"), 1)

    assert len({visit.lots[0].partition(":")[2] for visit in sample.visits}) > 2


@given(st.integers(0, 12), st.integers(1, 6))
def test_chances_to_miss_fall_with_what_is_looked_at(size: int, each: int) -> None:
    """More members or more lots miss no more; whoever visits all and looks at all misses nothing."""
    found = dict(draw_two_stages(KEY, RISKS, LOTS, (size, ""), each).misses)
    for more in ((min(12, size + 1), each), (size, each + 1)):
        other = dict(draw_two_stages(KEY, RISKS, LOTS, (more[0], ""), more[1]).misses)
        assert found.keys() == other.keys()
        assert all(other[what] <= found[what] + 1e-9 for what in found)
    assert {0.0} == {round(chance, 9) for _, chance in draw_two_stages(KEY, RISKS, LOTS, (12, ""), 4).misses}


def test_a_larger_visit_holds_the_smaller() -> None:
    """More members, or more lots of each, beside those that were drawn already."""
    few, more = (draw_two_stages(KEY, RISKS, LOTS, (size, ""), size // 3) for size in (4, 9))
    wide = {visit.member: set(visit.lots) for visit in more.visits}

    assert all(set(visit.lots) <= wide[visit.member] for visit in few.visits)


def test_nobody_to_visit() -> None:
    """A list without members that can be drawn, or without lots, is no error."""
    assert ((), ()) == (
        draw_two_stages(KEY, [], {}, (0, "none"), 3).visits, draw_two_stages(KEY, [], {}, (0, ""), 3).misses,
    )  # fmt: skip
    (visit,) = draw_two_stages(KEY, [Risk("M", (), high=False)], {"M": []}, (1, ""), 3).visits
    assert (Visit("M", 0, "drawn"), "no lot on record") == (visit, say_visits(visit))


def test_the_words_say_who_knew_what_first() -> None:
    """Noted before the text, or nothing of the kind."""
    own = draw_two_stages(DrawKey("Four Wells 2026-11-25", "0" * 64), RISKS, LOTS, (5, ""), 2)

    assert say_order(draw_two_stages(KEY, RISKS, LOTS, (5, ""), 2)).startswith(
        "What the members handed in was"
    )
    assert say_order(own).startswith("Nothing shows")
