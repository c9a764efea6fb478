"""What is cleared, due, outstanding and to be kept."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.dossier.due import SUBJECTS, list_due
from certgen.examination import examine_season


def dues(seasons, on, subject, **tables):
    """The dues of one subject, as (identifier, first, last, state)."""
    result = examine_season(seasons.season_of(**tables), on)
    return [
        (one.identifier, one.first, one.last, one.state) for one in list_due(result) if one.subject == subject
    ]


def test_a_tree_is_cleared_from_the_day_of_its_result(seasons):
    """Not the day before; and no longer once it is felled."""
    day = seasons.SCREENED
    tables = {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting()],
        "trees": [seasons.tree("T1", removed=date(2026, 5, 1)), seasons.tree("T2", sex="male")],
        "screening": [seasons.sample("S1", "T1", reported=day), seasons.sample("S2", "T2")],
    }

    assert [] == dues(seasons, day - timedelta(1), "cleared for bagging", **tables)
    assert [("T1", day, None, "ready")] == dues(seasons, date(2026, 4, 30), "cleared for bagging", **tables)
    assert [] == dues(seasons, date(2026, 5, 1), "cleared for bagging", **tables)


def test_a_tree_is_not_cleared_while_its_result_is_outstanding(seasons):
    """From the day on which the result came in it is cleared; until then the sample is awaited."""
    came = seasons.SCREENED + timedelta(7)
    tables = {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting()],
        "trees": [seasons.tree("T1")],
        "screening": [seasons.sample("S1", "T1", reported=came)],
    }

    before = [dues(seasons, came - timedelta(1), subject, **tables) for subject in SUBJECTS[:2]]
    after = [dues(seasons, came, subject, **tables) for subject in SUBJECTS[:2]]

    assert ([], ["S1"]) == (before[0], [one[0] for one in before[1]])
    assert ([("T1", came, None, "ready")], []) == tuple(after)


def test_a_sample_without_a_result_is_outstanding(seasons):
    """From when it was sent; overdue when it takes longer than usual."""
    sample = seasons.sample("S1", "T1")
    for name in ("result", "reported", "report"):
        del sample[name]
    tables = {"trees": [seasons.tree("T1")], "screening": [sample]}
    (_, first, last, state), *_ = dues(
        seasons, seasons.SCREENED + timedelta(2), "result outstanding", **tables
    )

    assert (seasons.SCREENED + timedelta(1), "due") == (first, state)
    late = last + timedelta(1)
    assert "overdue" == dues(seasons, late, "result outstanding", **tables)[0][3]


@pytest.mark.parametrize(("days", "state"), [(111, "later"), (112, "due"), (210, "due"), (211, "overdue")])
def test_fruit_is_due_within_the_crops_interval(days, state, seasons):
    """112 to 210 days from covering, both included."""
    found = dues(
        seasons, seasons.COVERED + timedelta(days), "bag to pick",
        trees=[seasons.tree("T1")], bagging=[seasons.bag("B1", "T1")],
    )  # fmt: skip

    assert [("B1", state)] == [(name, told) for name, _, _, told in found]


def test_picked_and_dropped_fruit_is_due_no_more(seasons):
    """What hangs no longer need not be picked."""
    tables = {
        "trees": [seasons.tree("T1")],
        "bagging": [seasons.bag("B1", "T1"), seasons.bag("B2", "T1", outcome="dropped")],
        "harvests": [seasons.harvest("H1", ["B1"])],
    }

    assert ["B1"] == [one[0] for one in dues(seasons, seasons.PICKED - timedelta(1), "bag to pick", **tables)]
    assert [] == dues(seasons, seasons.PICKED, "bag to pick", **tables)


def test_a_lot_sold_out_needs_no_test(seasons):
    """The clock of a germination test runs for seed in stock only."""
    tables = {
        "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)],
        "tests": [seasons.germination("G1", "L1")],
    }
    on = date(2026, 10, 31)

    assert ["L1"] == [one[0] for one in dues(seasons, on, "germination test", **tables)]
    assert [] == dues(seasons, on, "germination test", movements=[seasons.sale("M1", "L1", 40)], **tables)


def test_practice_counts_to_the_day_and_seed_law_to_the_end_of_a_month(seasons):
    """A test of 7 August holds six months of practice until 7 February; seed law's five until 31 January."""
    tested, packed = seasons.PICKED + timedelta(60), seasons.PICKED + timedelta(40)
    tables = {
        "lots": [seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40, storage="open room")],
        "tests": [seasons.germination("G1", "L1")],
    }
    on = date(2026, 8, 31)
    assert (date(2026, 8, 7), date(2026, 7, 18)) == (tested, packed)

    assert [("L1", None, date(2027, 2, 7), "later")] == dues(seasons, on, "germination test", **tables)
    assert [("L1", None, date(2026, 9, 18), "due")] == dues(seasons, on, "storage", **tables)
    law = dues(seasons, on, "germination test", standards=("us-nop", "seed-law"), **tables)
    assert [("L1", None, date(2027, 1, 31), "later")] == law


def test_a_lot_in_stock_without_a_test_is_overdue(seasons):
    """It cannot be sold with a germination on its label."""
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)]

    assert [("L1", None, None, "overdue")] == dues(seasons, date(2026, 10, 31), "germination test", lots=lots)


def test_every_due_has_a_subject_that_readers_know(seasons):
    """And they come in the order of the subjects."""
    season = seasons.season_of(
        standards=("us-nop", "seed-law"),
        trees=[seasons.tree("T1")],
        bagging=[seasons.bag("B1", "T1")],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)],
        incidents=[{"incident": "I1", "date": date(2026, 3, 1), "kind": "other", "about": ("B1",)}],
    )
    places = [SUBJECTS.index(one.subject) for one in list_due(examine_season(season, date(2026, 10, 31)))]

    assert sorted(places) == places
    assert len(set(places)) > 3
