"""Odds in words: two digits, nothing below the floor, and what is not covered said every time."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.dossier.lot_odds import EventOdds, LotOdds, LotParent, SeedCheck
from certgen.dossier.odds import Assumption
from certgen.dossier.odds_wording import (
    NEVER_COVERED,
    explain_assumption,
    list_open,
    say_chance,
    say_part,
    say_span,
    tell_lot,
)
from certgen.figures.transmission import Span

FLOOR = 0.001
CLEAR = LotParent("T1", True, False, Span(0.75, 0.75), Span(1.0, 1.0), {"55-1": 0.025})
LOT = LotOdds(
    "L1", FLOOR, (CLEAR,), (), (EventOdds(("55-1",), Span(0.0073, 0.0249), 0.0, 0.0),),
    Span(0.0413, 0.0869), Span(0.0551, 0.116), None, (), 0.0, 0.0,
)  # fmt: skip
CHECK = SeedCheck("G5", ("35S", "nptII"), ("55-1",), 10, 100, 0.00299, (), Span(0.005, 0.005))

NO_BOUND = ("its controls failed", "its sample is of other seed")


def plain(text):
    """Without the spaces that don't break."""
    return text.replace("\u00a0", " ")


def told(lot):
    """The four lines, by the first word of what is asked."""
    return {asked.partition(" ")[0]: plain(answer) for asked, answer in tell_lot(lot)}


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "below 0.1 %"), (0.000999, "below 0.1 %"), (0.001, "0.10 %"), (0.00726, "0.73 %"),
        (0.0249, "2.5 %"), (0.12, "12 %"), (0.99, "99 %"), (0.9949, "99 %"), (0.996, "above 99 %"),
        (1 - 1e-12, "above 99 %"), (1.0, "100 %"),
    ],
)  # fmt: skip
def test_a_chance_has_two_digits_and_a_floor(chance, said):
    """And is never quite certain."""
    assert said == plain(say_chance(chance, FLOOR))


def test_the_words_of_the_floor_follow_from_the_figure():
    """An operation's own floor is told as it is; without any, nothing is nothing."""
    assert ["below 0.05 %", "below 2 %", "0 %"] == [
        plain(say_chance(0, floor)) for floor in (0.0005, 0.02, 0)
    ]


@settings(max_examples=500)
@given(st.floats(0, 1) | st.floats(0, 0.02), st.sampled_from((0.0001, 0.001, 0.02)))
def test_no_figure_below_the_floor_is_ever_printed(chance, floor):
    """As a chance or as a part: what stands there is the floor or above, with two digits at most."""
    for text in (say_chance(chance, floor), say_part(chance, floor)):
        (figure,) = re.findall(r"[0-9.]+", text)
        assert float(figure) >= 100 * floor - 1e-9
        assert chance >= floor or text.startswith("below")
    digits = re.sub(r"^0\.0*|[^0-9]", "", say_chance(chance, floor).removeprefix("below "))
    assert len(digits) <= 2 or digits == "100"


def test_a_span_says_its_unit_once():
    """One figure where both ends read alike."""
    spans = [Span(0.0073, 0.0249), Span(0.0249, 0.02491), Span(0.0, 0.02), Span(0.0413, 0.1)]

    assert ["0.73 to 2.5 %", "2.5 %", "below 0.1 % to 2.0 %", "4.1 to 10 %"] == [
        plain(say_span(span, FLOOR)) for span in spans
    ]
    assert "4.1 to 10.0 %" == plain(say_span(spans[3], FLOOR, part=True))
    assert ["100 %", "above 99 %", "0.73 %", "0.020 %"] == [
        plain(say_part(part, 0.0001)) for part in (1.0, 0.9996, 0.0073, 0.0002)
    ]


def test_the_four_lines_of_a_sound_lot():
    """What passed, how much of the seed, no test of it, and what nothing covers."""
    assert {
        "A": "0.73 to 2.5 %",
        "If": "4.1 to 8.7 % of the seed (one copy), 5.5 to 11.6 % (two copies)",
        "The": "no test that counts is recorded",
        "Not": NEVER_COVERED,
    } == told(LOT)


def test_what_the_lots_own_test_rules_out():
    """Its bound with targets and sides, what it would have missed; and why it may rule out nothing."""
    assert (
        "0.30 % (test G5 for 35S and nptII, one-sided 95 %); it would have missed one such parent with a"
        " chance of 0.50 %"
    ) == told(replace(LOT, check=CHECK))["The"]
    assert (
        "no bound by test G5: its controls failed and its sample is of other seed"
        == told(replace(LOT, check=replace(CHECK, bound=None, missing=None, reasons=NO_BOUND)))["The"]
    )
    assert "no bound: test G6 found some" == told(replace(LOT, check=CHECK, positive_tests=("G6",)))["The"]
    assert told(replace(LOT, check=replace(CHECK, targets=())))["The"].startswith(
        "0.30 % (test G5 for no target"
    )


def test_what_is_open_is_told_with_its_part():
    """Events, parents and pollen, each; and that the figures above are of the cleared parents alone."""
    open_ = replace(CLEAR, tree="T2", cleared=False)
    blind = EventOdds(("X17-2", "16-0-1"), None, 1.0, 1.0)
    some = EventOdds(("63-1",), Span(0.0249, 0.0249), 0.25, 0.25)
    lot = replace(
        LOT, parents=(CLEAR, open_), events=(*LOT.events, blind, some), unknown=0.3926, open_pollen=0.0548
    )

    assert [
        "X17-2 and 16-0-1, which no method could see on any parent",
        "63-1 on parents of 25.0 % of the seed, whose methods can’t see it",
        "parents not on record, 39.3 % of the seed",
        "T2, which no result clears",
        "the pollen of 5.5 % of the seed, which nothing shows",
    ] == [plain(one) for one in list_open(lot)]
    assert (
        "55-1: 0.73 to 2.5 %; X17-2 and 16-0-1: 100 %, no method could see them; 63-1: 2.5 %"
        " (cleared parents alone)"
    ) == told(lot)["A"]


def test_many_open_parents_are_counted():
    """The heaviest is named."""
    many = tuple(replace(CLEAR, tree=f"T{at}", cleared=False, two=Span(0, at / 10)) for at in range(1, 6))

    assert ["5 parents, T5 before all, which no result clears"] == list(list_open(replace(LOT, parents=many)))


def test_a_parent_that_tested_positive_is_called_so():
    """Before those that nothing clears."""
    found, bare = (replace(CLEAR, tree=f"T{at}", cleared=False, found=at == 2) for at in (2, 3))

    assert ["T2, which tested positive", "T3, which no result clears"] == list(
        list_open(replace(LOT, parents=(CLEAR, bare, found)))
    )


def test_a_lot_without_parents_or_results_has_no_figure():
    """It isn't said to pass."""
    assert "not known: no parent is on record" == told(replace(LOT, parents=(), unknown=1.0))["A"]
    bare = replace(LOT, parents=(replace(CLEAR, cleared=False),))
    assert "100 %: no parent has a result that clears it" == told(bare)["A"]
    unseen = replace(bare, events=(EventOdds(("55-1",), None, 0.0, 1.0),))
    assert ["T1, which no result clears"] == list(list_open(unseen))
    assert "not known: no event of concern is named" == told(replace(LOT, events=()))["A"]
    assert "not known: no parent is on record" == told(replace(LOT, one=None, two=None))["If"]


@pytest.mark.parametrize(
    ("key", "percent", "said"),
    [
        (
            "prior_transgene_pct",
            10,
            "Before any test 10 of 100 trees carry an event (the appendix alone asks this)",
        ),
        ("handling_error_pct", 0.5, "Of 1,000 leaves or labels 5 are another tree’s"),
        ("selfed_share_pct", 75.0, "Of 100 seeds of a selfed carrier with one copy 75 carry"),
        ("gus_sensitivity_pct", 98.0, "Stain: of 100 leaves of carriers it finds 98"),
        ("gus_specificity_pct", 99.1, "Stain: of 100 clean leaves it calls 0.9 positive"),
    ],
)
def test_each_assumption_in_words_that_need_no_statistics(key, percent, said):
    """Counts of leaves, trees and seeds."""
    assert said == explain_assumption(Assumption(key, "Stain: something", percent, "", ""))
