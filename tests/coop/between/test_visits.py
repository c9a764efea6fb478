"""Group figures from the standards, and a draw that anybody can repeat."""

from __future__ import annotations

import hashlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.between.visits import Risk, draw_sample, list_figures, size_sample
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
