"""What screening leaves open of each lot, pair by pair of parents, and what its own seed adds."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from certgen.dossier.lot_odds import list_chances, weigh_lots
from certgen.dossier.odds import gather_evidence
from certgen.examination import examine, examine_season
from certgen.figures.odds import update_by_seed
from certgen.figures.transmission import Span

ON = date(2026, 10, 31)
SLOW = settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])


def orchard(seasons, bags, *, screened=("T1", "T2"), events=("55-1",), sources=None, **more):
    """A season of two trees, one lot of a picking of some bags, and the trees that were screened."""
    names = [bag["bag"] for bag in bags]
    grams = 8 * len(bags)
    tables = {
        "blocks": [seasons.block()],
        "plantings": [seasons.planting()],
        "trees": [seasons.tree("T1"), seasons.tree("T2")],
        "screening": [seasons.sample(f"S-{tree}", tree) for tree in screened],
        "bagging": list(bags),
        "harvests": [seasons.harvest("H1", names)],
        "batches": [seasons.batch("X1", ["H1"], len(bags))],
        "lots": [seasons.lot("L1", sources or [{"batch": "X1", "weight": f"{grams} g"}], grams)],
    }
    details = (("events_of_concern", list(events)),)
    return examine_season(seasons.season_of(details=details, **{**tables, **more}), ON)


def lot_of(result, name="L1"):
    """The odds of one lot."""
    return weigh_lots(result)[name]


def seed_test(**more):
    """A sound pooled test of the lot's seed."""
    return {
        "test": "X1", "lot": "L1", "date": date(2026, 8, 1), "sampled": date(2026, 7, 25),
        "kind": "transgene", "pools": 10, "seeds_per_pool": 100, "positive_pools": 0,
        "targets": ("35S", "nptII"), "detection_limit": "0.4 %", "controls": "passed",
        "laboratory": "Bracken Ford Plant Diagnostics", "report": "BF-9", **more,
    }  # fmt: skip


def test_selfed_seed_of_two_cleared_trees(seasons):
    """Three bags: a third of the seed and two thirds, three quarters of each with one copy."""
    lot = lot_of(
        orchard(seasons, [seasons.bag("B1", "T1"), seasons.bag("B2", "T2"), seasons.bag("B3", "T2")])
    )
    (event,) = lot.events

    assert Span(pytest.approx(0.25), pytest.approx(0.5)) == lot.one
    assert Span(pytest.approx(1 / 3), pytest.approx(2 / 3)) == lot.two
    assert event.passing.low == event.passing.high == pytest.approx(1 - 0.99 * 0.995)
    assert (0.0, 0.0, 0.0) == pytest.approx((event.blind, lot.worst, lot.unknown))
    assert () == lot.open_parents
    assert () == lot.unseen


def test_a_crossed_lot_has_two_parents_and_half_of_each(seasons):
    """Mother and father hand on a half with one copy, all with two."""
    lot = lot_of(orchard(seasons, [seasons.bag("B1", "T1", pollen_parent="T2")]))

    assert ["T1", "T2"] == [parent.tree for parent in lot.parents]
    assert {Span(0.5, 0.5)} == {parent.one for parent in lot.parents}
    assert {Span(1.0, 1.0)} == {parent.two for parent in lot.parents}


def test_a_cleared_mother_with_pollen_that_nothing_clears(seasons):
    """All of it at the worst, not half."""
    lot = lot_of(orchard(seasons, [seasons.bag("B1", "T1", pollen_parent="T2")], screened=("T1",)))

    assert ["T2"] == [parent.tree for parent in lot.open_parents]
    assert 1.0 == lot.worst


@pytest.mark.parametrize(
    "bag",
    [
        {"checks": (), "uncovered": None},
        {"flower": "female"},
        {"flower": None},
    ],
)
def test_pollen_that_nothing_shows_is_open(seasons, bag):
    """A bag that nobody saw hold, a flower that doesn't self or of which nothing is known."""
    kept = {name: value for name, value in seasons.bag("B1", "T1", **bag).items() if value is not None}
    lot = lot_of(orchard(seasons, [kept, seasons.bag("B2", "T2")]))

    assert 0.5 == lot.open_pollen == pytest.approx(lot.worst)
    assert Span(0.25, 0.375) == next(parent.one for parent in lot.parents if parent.tree == "T1")


def test_seed_without_parents_on_record_counts_in_full(seasons):
    """A quarter of the lot comes out of a batch that no record names."""
    lot = lot_of(
        orchard(
            seasons,
            [
                seasons.bag("B1", "T1"),
                seasons.bag("B2", "T1"),
                seasons.bag("B3", "T1"),
                seasons.bag("B4", "T1"),
            ],
            sources=[{"batch": "X1", "weight": "24 g"}, {"batch": "X9", "weight": "8 g"}],
        )
    )

    assert 0.25 == lot.unknown == pytest.approx(lot.worst)
    # What its parents give is of the whole lot.
    assert Span(0.75, 0.75) == lot.two


def test_a_lot_of_which_nothing_is_known(seasons):
    """No parent, no figure; the worst is all of it."""
    result = orchard(seasons, [seasons.bag("B1", "T1")], sources=[{"batch": "X9", "weight": "8 g"}])
    lot = lot_of(result)

    assert (1.0, 1.0, None, None, ()) == (lot.unknown, lot.worst, lot.one, lot.two, lot.parents)
    assert () == list_chances(result, {"L1": lot}, gather_evidence(result))


def test_an_event_that_no_method_sees_is_open_in_full(seasons):
    """And changes nothing about the one that is seen."""
    bags = [seasons.bag("B1", "T1")]
    stained = [seasons.sample("S1", "T1", method="gus")]
    both = lot_of(orchard(seasons, bags, events=("55-1", "X17-2"), screening=stained))
    one = lot_of(orchard(seasons, bags, screening=stained))

    assert ("X17-2",) == both.unseen
    assert (1.0, None, 1.0) == (both.worst, both.events[1].passing, both.events[1].blind)
    assert one.events == both.events[:1]


def test_an_event_that_is_seen_on_some_parents_alone(seasons):
    """The other's part of the seed is blind, and at the worst it carries."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    samples = [seasons.sample("S1", "T1", method="gus"), seasons.sample("S2", "T2")]
    lot = lot_of(orchard(seasons, bags, events=("55-1", "X17-2"), screening=samples))
    blind = next(one for one in lot.events if one.events == ("X17-2",))

    assert (0.5, 0.5) == pytest.approx((blind.blind, blind.worst))
    assert blind.passing.high < 0.02


def test_what_the_lots_own_seed_rules_out(seasons):
    """Its bound, and how it would have missed a parent of most and of least seed."""
    bags = [seasons.bag(f"B{at}", "T1" if at else "T2") for at in range(4)]
    result = orchard(seasons, bags, tests=[seed_test(pools=2, seeds_per_pool=5)])
    check = lot_of(result).check

    def missed(share: float) -> float:
        pool = (1 - share) ** 5 + (1 - (1 - share) ** 5) * 0.01
        return 1 - (1 - pool**2) * 0.995

    assert (("35S", "nptII"), ("55-1",), 2, 5) == (
        check.targets,
        check.events,
        check.pools,
        check.seeds_per_pool,
    )
    assert 1 - 0.05 ** (1 / 10) == pytest.approx(check.bound)
    assert (missed(0.75 * 0.75), missed(0.75 * 0.25)) == pytest.approx(
        (check.missing.low, check.missing.high)
    )


def test_of_several_seed_tests_the_one_of_most_seed_stands(seasons):
    """Void ones count for nothing, and one that found some is told apart."""
    bags = [seasons.bag("B1", "T1")]
    few, void = seed_test(test="X2", pools=1), seed_test(test="X3", pools=50, controls="failed")
    found = seed_test(test="X4", positive_pools=1)

    assert "X1" == lot_of(orchard(seasons, bags, tests=[few, seed_test(), void])).check.test
    only = lot_of(orchard(seasons, bags, tests=[void])).check
    assert ("X3", None, None) == (only.test, only.bound, only.missing)
    assert "controls failed" in only.reasons[0]
    assert () == lot_of(orchard(seasons, bags, tests=[{**void, "positive_pools": 1}])).positive_tests
    assert ("X4",) == lot_of(orchard(seasons, bags, tests=[few, found])).positive_tests


def test_the_lots_own_seed_is_taken_into_its_parents_chances(seasons):
    """Each parent's chance by its own part of the seed; none without a test that sees the event."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")]
    result = orchard(seasons, bags, tests=[seed_test(pools=1, seeds_per_pool=3)])
    known, lots = gather_evidence(result), weigh_lots(result)
    chances = {one.prior: one for one in list_chances(result, lots, known)}
    before = 0.1 * (1 - 0.99 * 0.995) / (0.1 * (1 - 0.99 * 0.995) + 0.9 * 0.99)
    after = update_by_seed(before, 0.375, 1, 3, 0.99, 0.99, 0.005)

    assert (0.01, 0.1, 0.7) == tuple(chances)
    assert (before, 1 - (1 - before) ** 2) == pytest.approx(
        (chances[0.1].any_parent.low, chances[0.1].any_parent.high)
    )
    assert (after, 1 - (1 - after) ** 2) == pytest.approx(
        (chances[0.1].with_seed.low, chances[0.1].with_seed.high)
    )
    assert Span(pytest.approx(0.75 * before), pytest.approx(0.75 * before)) == chances[0.1].average

    blind = orchard(seasons, bags, tests=[seed_test(targets=("CP-YK",))])
    (first, *_) = list_chances(blind, weigh_lots(blind), gather_evidence(blind))
    assert first.with_seed is None


def test_a_parent_that_tested_positive_is_no_cleared_one(seasons):
    """It is open, found, and at the worst all its seed carries."""
    samples = [seasons.sample("S1", "T1", result="positive"), seasons.sample("S2", "T2")]
    lot = lot_of(orchard(seasons, [seasons.bag("B1", "T1"), seasons.bag("B2", "T2")], screening=samples))

    assert [("T1", True)] == [(parent.tree, parent.found) for parent in lot.open_parents]
    assert 0.5 == pytest.approx(lot.worst)


def test_a_pollen_parent_that_no_register_names_has_the_chance_before(seasons):
    """Nothing clears it, and it may carry as likely as anything."""
    bags = [seasons.bag("B1", "T1", pollen_parent="Z9")]
    result = orchard(seasons, bags)
    lots = weigh_lots(result)
    chances = list_chances(result, lots, gather_evidence(result))

    assert ["Z9"] == [parent.tree for parent in lots["L1"].open_parents]
    assert 0.1 == pytest.approx(chances[1].any_parent.low)


@SLOW
@given(data=st.data())
def test_taking_a_result_away_never_makes_a_lot_better(seasons, data):
    """Whichever sample is left out, no more is covered and nothing passes less."""
    tables = data.draw(seasons.clean_tables())
    less = data.draw(st.sampled_from(tables["screening"]))
    fewer = {**tables, "screening": [one for one in tables["screening"] if one is not less]}
    before, after = (weigh_lots(examine_season(seasons.season_of(**one), ON)) for one in (tables, fewer))

    for name, lot in before.items():
        assert lot.worst <= after[name].worst + 1e-12
        assert len(lot.open_parents) <= len(after[name].open_parents)


def test_the_example(example_season):
    """Worked out by hand: a lot of equal screening, one with a failed bag, two with earlier parents."""
    lots = weigh_lots(examine(example_season, date(2026, 11, 20)))
    first = lots["AK-26-1"]

    assert (0.041, 0.087, 0.055, 0.116) == tuple(
        round(one, 3) for one in (first.one.low, first.one.high, first.two.low, first.two.high)
    )
    assert 0.0073 == round(first.events[0].passing.low, 4)
    assert 0.0030 == round(first.check.bound, 4)
    assert 0 == lots["AK-26-3"].unknown == lots["AK-26-3"].worst == lots["AK-25-2"].unknown
    assert 0.055 == round(lots["RC-26-2"].open_pollen, 3)
    assert ["T-306"] == [parent.tree for parent in lots["AK-26-4"].open_parents]
    assert 0 == lots["AK-25-2"].worst
