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


def test_a_pool_is_never_told_as_single_leaves(stocked, seasons) -> None:
    """How many leaves were in it stands beside the method, apart from leaves tested alone."""
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1", method="gus", targets=()), seasons.pool("S2", "T1", "T2")],
    )
    scope = Scopes(case(season)).of_tree("T1")

    assert {Assay("gus"), Assay("pcr", ("35S", "nptII", "NOS"), 2)} == set(scope.assays)
    assert (
        "the blue stain (GUS) and the DNA test (PCR) for 35S, nptII or NOS in a pool of 2" in scope.sentence
    )


def test_one_open_parent_leaves_the_lot_open(two_parents) -> None:
    """The other parent's negative doesn't speak for it."""
    scope = Scopes(case(two_parents(controls="failed"))).of_lot("L1")

    assert "Of the 2 parents of lot L1, tree T2 has no negative result that counts" in scope.sentence
    assert () == scope.seen


def test_events_of_concern_bound_what_is_said(stocked) -> None:
    """An event that nobody needs ruled out isn't boasted of, and an unknown one stays open."""
    scope = Scopes(case(stocked(), "63-1", "Line 99")).of_tree("T1")

    assert (("63-1",), ("Line 99",)) == (scope.seen, scope.unseen)


@pytest.mark.parametrize(
    ("controls", "told"),
    [("passed", "of its own seed 100 were tested for 35S, and none showed it."), (None, "claims nothing."),
     ("failed", "claims nothing.")],
)  # fmt: skip
def test_tests_of_the_seed_itself_are_told_beside(stocked, controls, told) -> None:
    """They are a sample: reported, and ruling out nothing further; a run without its controls isn't."""
    test = {
        "test": "G2", "lot": "L1", "date": ON, "kind": "transgene", "pools": 2, "seeds_per_pool": 50,
        "positive_pools": 0, "targets": ("35S",), "laboratory": "Ostrow Seed Laboratory",
        **({"controls": controls} if controls else {}),
    }  # fmt: skip
    sentence = Scopes(case(stocked(tests=[test]))).of_lot("L1").sentence

    assert sentence.endswith(told)


def test_parents_of_an_earlier_season_are_judged_by_all_years_samples(seasons, carried) -> None:
    """Last year's K1 was blended in: its parent T9 was never tested, or last year, or this year."""
    lots = [seasons.lot("L1", [{"lot": "K1", "weight": "8 g"}], 8)]
    now = [seasons.sample("S1", "T1"), seasons.sample("S2", "T9")]
    untested = Scopes(case(carried(before={"screening": []}, lots=lots)))
    tested = [
        Scopes(case(carried(lots=lots))),
        Scopes(case(carried(before={"screening": []}, lots=lots, screening=now))),
    ]

    assert ((), ("T9",)) == (untested.of_lot("L1").seen, untested.of_lot("L1").open_parents)
    assert [(ALL, ())] * 2 == [(one.of_lot("L1").seen, one.of_lot("L1").open_parents) for one in tested]
    assert ALL == untested.of_tree("T1").seen


def test_a_lot_without_parents_has_no_negative(seasons, stocked) -> None:
    """Nothing leads back to a leaf."""
    scope = Scopes(case(stocked(lots=[seasons.lot("L1", [], 8)]))).of_lot("L1")

    assert (Node("lots", "L1"), ()) == (scope.about, scope.seen)
    assert "back to no parent" in scope.sentence


def test_only_trees_and_lots_have_a_scope(stocked) -> None:
    """A bag was never tested."""
    with pytest.raises(KeyError):
        scope_of_negative(case(stocked()), "bagging", "B1")


@pytest.mark.parametrize(
    ("more", "how", "what"),
    [
        ({}, "DNA test (PCR) for 35S, nptII or NOS", "events 55-1, 63-1 and X17-2; of any other event"),
        (
            {"method": "gus", "targets": ("nptII",)},
            "blue stain (GUS)",
            "events 55-1 and 63-1; of X17-2 or any other event",
        ),
        (
            {"targets": ("event 55-1",)},
            "DNA test (PCR) for event 55-1",
            "event 55-1; of 63-1 or X17-2 or any other event",
        ),
    ],
)
def test_a_sentence_claims_what_the_test_could_see(seasons, stocked, more, how, what) -> None:
    """By its title, with its targets where the method has a choice of them."""
    scope = Scopes(case(stocked(screening=[seasons.sample("S1", "T1", **more)]))).of_tree("T1")
    told = f"In the leaf of tree T1 the {how} found nothing, which speaks against {what} it claims nothing."

    assert told == scope.sentence


def test_a_test_that_could_see_nothing_speaks_against_nothing(seasons, stocked) -> None:
    """The events that it leaves open are named."""
    sample = seasons.sample("S1", "T1", targets=("something else",))
    scope = Scopes(case(stocked(screening=[sample]))).of_tree("T1")

    assert scope.sentence.endswith(
        "speaks against none of the events to be ruled out (55-1, 63-1 and X17-2)."
    )


def test_a_method_that_the_crop_does_not_know_keeps_its_word_and_sees_nothing(stocked) -> None:
    """Its targets are told as they were typed."""
    known = case(stocked())
    scope = Scopes(replace(known, profile=replace(known.profile, methods={}))).of_tree("T1")

    assert () == scope.seen
    assert "tree T1 the pcr for 35S, nptII or NOS found nothing" in scope.sentence


def test_a_negative_whose_method_nobody_wrote_down_sees_nothing(seasons, stocked) -> None:
    """Of the tree and of its lot; what could have been seen is unknown, so it is said to be."""
    sample = {name: value for name, value in seasons.sample("S1", "T1").items() if name != "method"}
    scopes = Scopes(case(stocked(screening=[sample])))

    assert ((), ()) == (scopes.of_tree("T1").seen, scopes.of_lot("L1").seen)
    assert (
        "In the leaf of tree T1 the test of a method that nobody wrote down for 35S, nptII or NOS found "
        "nothing, which speaks against none of the events to be ruled out (55-1, 63-1 and X17-2)."
    ) == scopes.of_tree("T1").sentence


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"result": "positive"}, "Tree T1 tested positive, so nothing is ruled out for it."),
        (
            {"controls": "failed"},
            "No negative result that counts stands for tree T1, so nothing is ruled out for it.",
        ),
    ],
)
def test_why_nothing_is_ruled_out_for_a_tree(seasons, stocked, more, told) -> None:
    """Each verdict in its own words; an unknown tree has no result either."""
    scopes = Scopes(case(stocked(screening=[seasons.sample("S1", "T1", **more)])))

    assert told == scopes.of_tree("T1").sentence
    assert "No negative result that counts stands for tree T9" in scopes.of_tree("T9").sentence


def test_results_that_contradict_each_other_rule_nothing_out(seasons, stocked) -> None:
    """Nor does the negative among them."""
    samples = [seasons.sample("S1", "T1", result="positive"), seasons.sample("S2", "T1")]
    scope = Scopes(case(stocked(screening=samples))).of_tree("T1")

    assert "The results of tree T1 contradict one another, so nothing is ruled out for it." == scope.sentence
    assert ((), ()) == (scope.seen, scope.assays)


def test_what_all_parents_had_is_told_without_a_number(two_parents, stocked) -> None:
    """A number of them is told where it wasn't all; a sole parent is called so."""
    both = Scopes(case(two_parents())).of_lot("L1")
    one = Scopes(case(stocked())).of_lot("L1")

    assert both.sentence.startswith(
        "In the leaves of all 2 parents of lot L1 the DNA test (PCR) for 35S, nptII or NOS found nothing"
    )
    assert one.sentence.startswith(
        "In the leaves of tree T1, the one parent of lot L1 the DNA test (PCR) for"
    )


@pytest.mark.parametrize(
    ("screened", "told"),
    [
        ((), "Of the 2 parents of lot L1, trees T1 and T2 have no negative result that counts"),
        (("T1",), "Of the 2 parents of lot L1, tree T2 has no negative result that counts"),
    ],
)
def test_open_parents_are_named(seasons, two_parents, screened, told) -> None:
    """However many they are."""
    season = two_parents()
    tables = {name: [season.record_at(name, row) for row in range(len(season.table(name)))]
              for name in season.tables}  # fmt: skip
    tables["screening"] = [one for one in tables["screening"] if one["tree"] in screened]
    scope = Scopes(case(seasons.season_of(**tables))).of_lot("L1")

    assert f"{told}, so nothing is ruled out for the lot." == scope.sentence


def test_a_sole_open_parent_is_called_so(stocked) -> None:
    """And is one of one."""
    scope = Scopes(case(stocked(screening=[]))).of_lot("L1")

    assert scope.sentence.startswith(
        "The only parent of lot L1, tree T1, has no negative result that counts,"
    )


def test_a_giver_of_pollen_is_a_parent(seasons, stocked) -> None:
    """Where any bag names one."""
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        bagging=[seasons.bag("B1", "T1", pollen_parent="T2")],
    )

    assert ("T2",) == Scopes(case(season)).of_lot("L1").open_parents


def pools(name, **more):
    """A transgene test of L1: two pools of fifty."""
    return {
        "test": name, "lot": "L1", "date": ON, "kind": "transgene", "pools": 2, "seeds_per_pool": 50,
        "positive_pools": 0, "targets": ("35S",), "controls": "passed",
        "laboratory": "Ostrow Seed Laboratory", **more,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("tests", "told"),
    [
        ([], "of any other event it claims nothing."),
        ([pools("G2", lot="L9")], "of any other event it claims nothing."),
        ([pools("G2", controls="failed")], "of any other event it claims nothing."),
        ([pools("G2", controls="failed", positive_pools=1)], "of any other event it claims nothing."),
        ([pools("G2", positive_pools=1), pools("G3")], "; a test of its own seed was positive."),
        ([pools("G2", controls="passed"), pools("G3", targets=("NOS", "35S"))],
         "; of its own seed 200 were tested for 35S or NOS, and none showed it."),
        ([{"test": "G2", "lot": "L1", "date": ON, "kind": "moisture", "moisture": "9 %"}],
         "of any other event it claims nothing."),
    ],
)  # fmt: skip
def test_sound_tests_of_the_lots_own_seed_are_told(stocked, tests, told) -> None:
    """Together, with what they looked for; those of another lot, of another kind or void aren't."""
    assert Scopes(case(stocked(tests=tests))).of_lot("L1").sentence.endswith(told)


def test_a_scope_is_asked_for_by_table(stocked) -> None:
    """Of a tree or of a lot."""
    known = case(stocked())

    assert Node("lots", "L1") == scope_of_negative(known, "lots", "L1").about
    assert Node("trees", "T1") == scope_of_negative(known, "trees", "T1").about
