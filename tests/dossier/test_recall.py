"""A recall: every lot that holds the seed, each of its grams, each holder; and what records of it came to."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from printed import plain
from seasons import bag, batch, harvest, lot, movement, one_line, sale, season_of, tree

from certgen.dossier.recall import follow_recall
from certgen.dossier.recall_notices import draft_recall, say_span
from certgen.dossier.recall_outcomes import list_outcomes
from certgen.dossier.recall_shares import Span
from certgen.dossier.search import UnknownRecordError
from certgen.examination import examine_season

COVERS = (
    "certgen.dossier.recall_notices",
    "certgen.dossier.recall_outcomes",
    "certgen.dossier.recall_shares",
)
ON = date(2026, 10, 31)


def lines(**tables):
    """Two lines of 8 g, T1 to X1 and T2 to X2; lot L1 of X1, and L2 of 4 g of X2 and 3 g of L1."""
    first = one_line()
    return {
        **first,
        "trees": [*first["trees"], tree("T2")],
        "bagging": [*first["bagging"], bag("B2", "T2")],
        "harvests": [*first["harvests"], harvest("H2", ["B2"])],
        "batches": [*first["batches"], batch("X2", ["H2"])],
        "lots": [
            *first["lots"],
            lot("L2", [{"batch": "X2", "weight": "4 g"}, {"lot": "L1", "weight": "3 g"}], 7, day=1),
        ],
        **tables,
    }


def recalled(names, **tables):
    """The recall of what the names mean."""
    return follow_recall(examine_season(season_of(**lines(**tables)), ON), names)


def spans(recall):
    """By lot what of it is called back."""
    return {one.lot: (one.span.low_mg, one.span.high_mg) for one in recall.lots}


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (["L1"], {"L1": (8000, 8000), "L2": (3000, 3000)}),
        (["X1"], {"L1": (8000, 8000), "L2": (3000, 3000)}),
        (["T1"], {"L1": (8000, 8000), "L2": (3000, 3000)}),
        (["bag:B1"], {"L1": (8000, 8000), "L2": (3000, 3000)}),
        (["X2"], {"L2": (4000, 4000)}),
        (["L2"], {"L2": (7000, 7000)}),
        (["X1", "X2"], {"L1": (8000, 8000), "L2": (7000, 7000)}),
    ],
)
def test_a_recall_finds_every_lot_and_how_much_of_it_is_meant(names, found):
    """Through runs and blends, from whatever it begins with."""
    assert found == spans(recalled(names))


def test_of_a_run_of_two_trees_nobody_can_tell_how_much_is_of_one():
    """A part of it, or none, or all."""
    both = {"harvests": [harvest("H1", ["B1", "B2"])], "batches": [batch("X1", ["H1"]), batch("X2", ["H1"])]}

    assert {"L1": (0, 8000), "L2": (0, 7000)} == spans(recalled(["T1"], **both))
    assert {"L1": (8000, 8000), "L2": (7000, 7000)} == spans(recalled(["H1"], **both))


def test_a_recall_begins_with_what_holds_seed():
    """An invoice or a buyer is no such thing, nor is a bag whose seed is in no lot."""
    with pytest.raises(UnknownRecordError, match="A recall begins with a lot"):
        recalled(["INV-M1"], movements=[sale("M1", "L1", 1)])
    with pytest.raises(UnknownRecordError, match="No lot holds seed of B9"):
        recalled(["B9"], bagging=[bag("B1", "T1"), bag("B9", "T2")], harvests=[harvest("H1", ["B1"])])


def test_a_holder_is_told_of_what_has_not_come_back():
    """Deliveries of every lot together, whichever way the name is written; a sample too that bears papers."""
    back = movement("M4", "L1", "returned", 1, 90, party="Quillmere Growers", document="R1", opened=False)
    gift = movement("M5", "L2", "sampled", 1, 91, party="Ash Farm", status="organic")
    given = [
        sale("M1", "L1", 2), {**sale("M2", "L2", 4), "party": "quillmere  growers"},
        {**sale("M3", "L1", 1), "party": "Elm Farm"}, back, gift,
        movement("M6", "L1", "returned", 1, 92, party="Elm Farm", document="R2", opened=False),
    ]  # fmt: skip
    recall = recalled(["X1"], movements=given)

    assert [
        ("Quillmere Growers", 5000, Span(1000, 4000)),
        ("Elm Farm", 0, Span(0, 0)),
        ("Ash Farm", 1000, Span(0, 1000)),
    ] == [(one.party, one.weight_mg, one.span) for one in recall.holders]
    assert ["20261031/1", "20261031/2", ""] == [one.number for one in draft_recall(recall)]


def test_what_was_told_is_no_longer_open():
    """By the latest recall on record that takes in the lots, each lot for itself."""
    told = {
        "party": "Quillmere Growers",
        "lot": "L1",
        "weight": "2 g",
        "told_on": "2026-10-02",
        "notice": "Q/7",
    }
    more = {**told, "weight": "9 g", "lot": "L2"}
    call = {"recall": "Q1", "kind": "recall", "opened": "2026-10-01", "about": ["L1"], "reason": "a doubt."}
    sales = [sale("M1", "L1", 2), sale("M2", "L2", 1)]
    half = recalled(["L1"], movements=sales, recalls=[{**call, "notices": [told]}])
    all_ = recalled(["Q1"], movements=sales, recalls=[{**call, "notices": [told, more]}])

    assert (1000, 0) == (half.untold_mg, all_.untold_mg)
    notice, certifier = draft_recall(half)
    assert ("Q/7", "Quillmere Growers") == (notice.number, notice.party)
    assert "We call back seed that you had of us. The reason: a doubt." in notice.before[0]
    assert ("Fernhollow Organic Certification", False) == (certifier.party, certifier.asks)
    assert "2 October 2026" == draft_recall(all_)[1].rows[0][-1]


def test_a_drill_says_that_it_is_one():
    """Nobody is to lock seed away for it, and nobody counts as told."""
    call = {"recall": "Q1", "kind": "drill", "opened": "2026-10-01", "about": ["L1"]}
    first, _ = draft_recall(recalled(["Q1"], movements=[sale("M1", "L1", 2)], recalls=[call]))

    assert first.before[0].startswith("This is a drill.")
    assert not [text for text in first.after if "keep what is left" in text]


KINDS = ("sold", "transferred", "returned", "sampled", "discarded", "retained", "counted", "received")
MOVES = st.lists(
    st.tuples(st.sampled_from(KINDS), st.sampled_from(("L1", "L2")), st.integers(1, 9000), st.booleans(),
              st.integers(40, 60)),
    max_size=7,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(moves=MOVES, name=st.sampled_from(("L1", "L2", "X1", "T2")))
@example(moves=[("sold", "L1", 1000, False, 40), ("returned", "L1", 1000, False, 40)], name="L1")
@example(moves=[*[("sold", "L1", 1, False, 40)] * 3, ("returned", "L1", 1, False, 40)], name="L1")
def test_grams_are_conserved(moves, name):
    """What is with others, here, used up and nowhere is all there was, whatever the book says."""
    told = [
        movement(f"M{at}", of, kind, grams / 1000, day, document=f"D{at}",
                 party="Ash Farm" if one else "Elm Farm")
        for at, (kind, of, grams, one, day) in enumerate(moves)
    ]  # fmt: skip
    recall = recalled([name], movements=told)
    books = recall.result.case.books

    for one in recall.lots:
        assert books[one.lot].weight_mg == sum(one.sums().values()) == one.weight_mg
        assert 0 <= one.span.low_mg <= one.span.high_mg <= one.weight_mg
        for place in one.places:
            assert 0 <= place.span.low_mg <= place.span.high_mg <= max(0, place.weight_mg)
    sums = recall.sums
    assert sums["all"] == sum(sums[key] for key in ("out", "on_hand", "used", "unaccounted"))
    for holder in recall.holders:
        assert 0 <= holder.span.low_mg <= holder.span.high_mg <= holder.weight_mg
    if not any(one.beyond_mg for one in recall.lots):
        assert sums["out"] == sum(holder.weight_mg for holder in recall.holders)


@pytest.mark.parametrize(
    ("weight", "span", "said"),
    [
        (10_000, (10_000, 10_000), "all of it"),
        (10_000, (0, 0), "none of it"),
        (10_000, (4_000, 4_000), "4 g of it"),
        (10_000, (4_000, 6_000), "at least 4 g and at most 6 g of it"),
        (10_000, (4_000, 10_000), "at least 4 g of it, perhaps all"),
        (10_000, (0, 6_000), "at most 6 g of it"),
        (10_000, (0, 10_000), "nobody can tell how much of it"),
    ],
)
def test_shares_are_said_as_they_are_known(weight, span, said):
    """No more is said than the records bear out."""
    assert said == plain(say_span(weight, Span(*span)))


@pytest.mark.parametrize(
    ("times", "minutes"),
    [(("08:10", "08:47"), 37), (("23:50", "00:10"), 20), (("08:10", None), None), ((None, "08:10"), None)],
)
def test_a_drill_takes_its_time_and_finds_a_share(times, minutes):
    """Of what had left by its day: what the answers account for, no holder's for another's."""
    clock = {key: value for key, value in zip(("started", "ended"), times, strict=True) if value}
    answer = {"party": "Quillmere Growers", "lot": "L1", "answered_on": "2026-09-20", "sown": "90 g"}
    drill = {"recall": "Q1", "kind": "drill", "opened": "2026-09-20", "about": ["L1"], "notices": [answer]}
    sales = [
        sale("M1", "L1", 2), {**sale("M2", "L2", 1), "party": "Ash Farm"},
        {**sale("M3", "L1", 1), "date": "2026-09-21"},
    ]  # fmt: skip
    result = examine_season(season_of(**lines(movements=sales, recalls=[{**drill, **clock}])), ON)
    (outcome,) = list_outcomes(result)

    assert (minutes, 3000, 2000, 1, 1) == (
        outcome.minutes, outcome.left_mg, outcome.found_mg, outcome.told, outcome.answered
    )  # fmt: skip
    assert 2 / 3 == outcome.share


def test_of_nothing_no_share_is_found():
    """A drill of a lot that nobody has had."""
    drill = {"recall": "Q1", "kind": "drill", "opened": "2026-09-20", "about": ["L1"]}
    (outcome,) = list_outcomes(examine_season(season_of(**lines(recalls=[drill])), ON))

    assert (None, None) == (outcome.share, outcome.minutes)
