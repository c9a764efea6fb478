from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from certgen.examination import examine_season
from certgen.lineage import Node
from certgen.rules.scope import Assay, Scopes, scope_of_negative

ON = date(2026, 10, 31)
ALL = ("55-1", "63-1", "X17-2")


def case(season, *events):
    """The season as a case, with events of concern."""
    return examine_season(replace(season, details=replace(season.details, events_of_concern=events)), ON).case


@pytest.mark.parametrize(
    ("more", "seen"),
    [
        ({"method": "gus", "targets": ()}, ("55-1", "63-1")),
        ({"targets": ("nptII",)}, ALL),
        ({"targets": ("35S",)}, ALL),
        ({"targets": ("event 55-1",)}, ("55-1",)),
        ({"targets": ("something else",)}, ()),
        ({"targets": ()}, ()),
    ],
)
def test_a_tree_is_ruled_out_for_what_its_test_could_see(seasons, stocked, more, seen) -> None:
    """The blue stain can't see an event without its marker; a test without targets sees nothing."""
    sample = {name: value for name, value in seasons.sample("S1", "T1", **more).items() if value != ()}
    scope = scope_of_negative(case(stocked(screening=[sample])), "trees", "T1")

    assert (seen, tuple(event for event in ALL if event not in seen)) == (scope.seen, scope.unseen)
    assert scope.sentence.startswith("In the leaf of tree T1 the ")


@pytest.mark.parametrize(
    "more", [{"result": "positive"}, {"result": "inconclusive"}, {"controls": "failed"}, {"tree": "T9"}]
)
def test_without_a_negative_that_counts_nothing_is_ruled_out(seasons, stocked, more) -> None:
    """Void, doubtful, positive or missing: the tree and every lot of it stay open."""
    scopes = Scopes(case(stocked(screening=[{**seasons.sample("S1", "T1"), **more}])))

    assert ((), ALL, ()) == (
        scopes.of_tree("T1").seen,
        scopes.of_tree("T1").unseen,
        scopes.of_tree("T1").assays,
    )
    assert (("T1",), ()) == (scopes.of_lot("L1").open_parents, scopes.of_lot("L1").seen)
    assert scopes.of_lot("L1").sentence.endswith("so nothing is ruled out for the lot.")


@pytest.fixture
def two_parents(seasons, stocked):
    """Lot L1 of two trees, the first tested by PCR, the second as given."""

    def build(**more):
        second = {name: value for name, value in seasons.sample("S2", "T2", **more).items() if value != ()}
        return stocked(
            trees=[seasons.tree("T1"), seasons.tree("T2")],
            screening=[seasons.sample("S1", "T1"), second],
            bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
            harvests=[seasons.harvest("H1", ["B1", "B2"])],
        )

    return build


def test_a_lot_is_ruled_out_only_for_what_all_its_parents_are(two_parents) -> None:
    """The blue stain on one of two parents leaves X17-2 open for the lot, and the sentence says so."""
    scope = Scopes(case(two_parents(method="gus", targets=()))).of_lot("L1")

    assert (("55-1", "63-1"), ("X17-2",)) == (scope.seen, scope.unseen)
    assert 2 == scope.sentence.count("in 1 of them")
    assert "of X17-2 or any other event it claims nothing" in scope.sentence
    assert {Assay("gus"), Assay("pcr", ("35S", "nptII", "NOS"))} == set(scope.assays)


def test_one_open_parent_leaves_the_lot_open(two_parents) -> None:
    """The other parent's negative doesn't speak for it."""
    scope = Scopes(case(two_parents(controls="failed"))).of_lot("L1")

    assert "Of the 2 parents of lot L1, tree T2 has no negative result that counts" in scope.sentence
    assert () == scope.seen


def test_events_of_concern_bound_what_is_said(stocked) -> None:
    """An event that nobody needs ruled out isn't boasted of, and an unknown one stays open."""
    scope = Scopes(case(stocked(), "63-1", "Line 99")).of_tree("T1")

    assert (("63-1",), ("Line 99",)) == (scope.seen, scope.unseen)


def test_tests_of_the_seed_itself_are_told_beside(stocked) -> None:
    """They are a sample: they are reported, and rule out nothing further."""
    test = {
        "test": "G2", "lot": "L1", "date": ON, "kind": "transgene", "pools": 2, "seeds_per_pool": 50,
        "positive_pools": 0, "targets": ("35S",),
    }  # fmt: skip
    sentence = Scopes(case(stocked(tests=[test]))).of_lot("L1").sentence

    assert sentence.endswith("of its own seed 100 were tested for 35S, and none showed it.")


def test_parents_of_an_earlier_season_are_judged_by_its_samples(seasons, stocked) -> None:
    """K1 was blended in: its parent bears the number of one of this season's trees, and was never tested."""
    before = replace(stocked(lots=[seasons.lot("K1", [{"batch": "X1", "weight": "8 g"}], 8)], screening=[]))
    before = replace(before, details=replace(before.details, label="2025"))
    season = stocked(lots=[seasons.lot("L1", [{"lot": "K1", "weight": "8 g"}], 8)])
    scopes = Scopes(case(replace(season, previous=before)))

    assert ALL == scopes.of_tree("T1").seen
    assert ((), ("T1",)) == (scopes.of_lot("L1").seen, scopes.of_lot("L1").open_parents)


def test_a_lot_without_parents_has_no_negative(seasons, stocked) -> None:
    """Nothing leads back to a leaf."""
    scope = Scopes(case(stocked(lots=[seasons.lot("L1", [], 8)]))).of_lot("L1")

    assert (Node("lots", "L1"), ()) == (scope.about, scope.seen)
    assert "back to no parent" in scope.sentence


def test_only_trees_and_lots_have_a_scope(stocked) -> None:
    """A bag was never tested."""
    with pytest.raises(KeyError):
        scope_of_negative(case(stocked()), "bagging", "B1")
