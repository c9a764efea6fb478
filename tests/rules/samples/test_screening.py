from __future__ import annotations

from datetime import date, timedelta

import pytest
from seasons import pool, without

ON = date(2026, 10, 31)


def farm(seasons, samples, also=(), **tables):
    """Two trees, a bag on each and a lot of both, with the given samples; `also` are more trees."""
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2"), *also],
        screening=samples,
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1", "B2"])],
        batches=[seasons.batch("X1", ["H1"], 2)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "16 g"}], 16)],
        **tables,
    )


def old(seasons, name, of):
    """A sample from before the tree was planted."""
    when = date(2024, 12, 2)
    return seasons.sample(name, of, collected=when, submitted=when, reported=when + timedelta(9))


def test_a_sample_older_than_its_tree_proves_nothing(seasons, find):
    """The lot rests on it, so it is unproven."""
    (gap,) = find(farm(seasons, [old(seasons, "S1", "T1")]), "screening-before-planting")

    assert ("unproven", "S1", ("L1",)) == (gap.weight, gap.id, gap.lots)


def test_an_old_sample_beside_a_good_one_is_a_loose_end(seasons, find):
    """A later sample clears the tree, so no lot rests on the older one."""
    samples = [old(seasons, "S1", "T1"), seasons.sample("S2", "T1")]
    (gap,) = find(farm(seasons, samples), "screening-before-planting")

    assert "advice" == gap.weight


@pytest.mark.parametrize(("days", "found"), [(-1, 1), (0, 0)])
def test_a_sample_of_the_day_of_planting_is_the_trees_own(seasons, days, found, find):
    """The day before, it can't have been."""
    when = date(2025, 2, 10) + timedelta(days)
    sample = seasons.sample("S1", "T1", collected=when, submitted=when, reported=when)

    assert found == len(find(farm(seasons, [sample]), "screening-before-planting"))


@pytest.mark.parametrize(
    ("result", "weights"), [("negative", ["unproven"]), ("positive", ["advice"]), (None, [])]
)
def test_an_old_sample_that_clears_nothing_is_a_loose_end(seasons, result, weights, find):
    """No lot rests on a positive, and one without a result says nothing yet."""
    sample = {**old(seasons, "S1", "T1"), "result": result}
    sample = {name: value for name, value in sample.items() if value is not None}

    assert weights == [gap.weight for gap in find(farm(seasons, [sample]), "screening-before-planting")]


def test_a_pool_with_one_younger_tree_touches_only_that_tree(seasons, find):
    """Of a pool's trees the one that wasn't there yet is named."""
    pool = {**old(seasons, "S1", "T1"), "trees": ("T1", "T2")}
    del pool["tree"], pool["mark"]
    season = seasons.season_of(
        blocks=[seasons.block()],
        plantings=[
            seasons.planting(planted=date(2024, 3, 1)),
            seasons.planting("P2", planted=date(2025, 2, 10)),
        ],
        trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
        screening=[pool],
    )
    (gap,) = find(season, "screening-before-planting")

    assert "tree T2" in gap.message


@pytest.mark.parametrize(
    ("lost", "said", "field"),
    [
        (("report", "evidence"), "without a report's number or the letter.", ("report",)),
        (("laboratory",), "without the laboratory.", ("laboratory",)),
        (("laboratory", "report", "evidence"), "without the laboratory and a report's number or the letter.",
         ("laboratory",)),
    ],
)  # fmt: skip
def test_a_result_needs_a_laboratory_and_a_letter(seasons, lost, said, field, find):
    """What is missing is said, and where to write it."""
    (gap,) = find(farm(seasons, [without(seasons.sample("S1", "T1"), *lost)]), "report-missing")

    assert gap.message.endswith(said)
    assert (field, "unproven") == (gap.field, gap.weight)


@pytest.mark.parametrize("kept", ["report", "evidence"])
def test_a_letter_in_evidence_stands_for_the_number(seasons, kept, find):
    """Either shows where the result is written."""
    lost = {"report", "evidence"} - {kept}

    assert () == find(farm(seasons, [without(seasons.sample("S1", "T1"), *lost)]), "report-missing")


@pytest.mark.parametrize(
    ("field", "word", "expected"),
    [
        ("laboratory", "?", 1),
        ("laboratory", "n/a", 1),
        ("laboratory", " Unknown ", 1),
        ("laboratory", "Unknown Reach Laboratory", 0),
        ("report", "-", 1),
        ("report", "none", 1),
        ("report", "tbd", 1),
        ("report", "x", 1),
        ("report", "x-1", 0),
    ],
)
def test_an_entry_that_says_nothing_is_none(seasons, field, word, expected, find):
    """A question mark is no laboratory, and a dash no letter."""
    sample = {**without(seasons.sample("S1", "T1"), "evidence"), field: word}

    assert expected == len(find(farm(seasons, [sample]), "report-missing"))


def test_a_letter_says_it_for_its_samples(seasons, find):
    """Its laboratory and its number, and so does the routine for the laboratory."""
    samples = [without(seasons.sample(f"S{n}", f"T{n}"), "laboratory", "report", "evidence") for n in (1, 2)]
    letter = {"letter": "BF-2201", "laboratory": "Bracken Ford", "samples": ["S1"], "result": "negative"}
    (gap,) = find(farm(seasons, samples, letters=[letter]), "report-missing")

    assert "S2" == gap.id


def test_a_bare_result_beside_a_sound_one_is_a_loose_end(seasons, find):
    """The tree is cleared by the sample that has its letter."""
    samples = [without(seasons.sample("S1", "T1"), "report", "evidence"), seasons.sample("S2", "T1")]
    (gap,) = find(farm(seasons, samples), "report-missing")

    assert ("S1", "advice") == (gap.id, gap.weight)


@pytest.mark.parametrize(
    ("lost", "said", "field"),
    [
        ((), None, None),
        (("collected",), "Nothing says of sample S1 when it was cut.", ("collected",)),
        (("method",), "Nothing says of sample S1 how it was tested.", ("method",)),
        (("collected", "method"), "Nothing says of sample S1 when it was cut and how it was tested.",
         ("collected",)),
    ],
)  # fmt: skip
def test_a_sample_has_a_day_and_a_method(seasons, lost, said, field, find):
    """Once it has a result; beside a sample that clears the tree it is advice."""
    bare = without(seasons.sample("S1", "T1"), "submitted", "reported", *lost)
    found = find(farm(seasons, [bare]), "sample-undated")
    beside = find(farm(seasons, [bare, seasons.sample("S2", "T1")]), "sample-undated")
    waiting = farm(seasons, [without(bare, "result")])

    assert ([(said, field, "unproven")] if said else []) == [
        (gap.message, gap.field, gap.weight) for gap in found
    ]
    assert ["advice"] * len(found) == [gap.weight for gap in beside]
    assert () == find(waiting, "sample-undated")


def test_a_walk_gives_its_samples_their_day(seasons, find):
    """The samples that it names; a method it can't give."""
    samples = [without(seasons.sample(f"S{n}", f"T{n}"), "collected", "submitted") for n in (1, 2)]
    walk = {"round": "R1", "kind": "sampling", "date": seasons.SCREENED, "by": "R. Alder", "samples": ["S1"]}

    assert ["S2"] == [gap.id for gap in find(farm(seasons, samples, rounds=[walk]), "sample-undated")]


@pytest.mark.parametrize(
    ("method", "leaves", "expected"),
    [("pcr", 20, 0), ("pcr", 21, 1), ("gus", 10, 0), ("gus", 11, 1), ("strip", 10, 0), ("strip", 11, 1)],
)
def test_a_method_bears_so_many_leaves(seasons, method, leaves, expected, find):
    """By the profile; a negative of more proves nothing of any of them, and is cited by its method."""
    trees = [f"T{n}" for n in range(1, leaves + 1)]
    targets = {"targets": ("35S", "nptII")} if method != "gus" else {"incubation": "12 h"}
    record = pool("S9", *trees, method=method, **targets)
    record = without(record, "targets") if method == "gus" else record
    season = farm(seasons, [record], also=[seasons.tree(name) for name in trees[2:]])
    found = find(season, "pool-too-large")

    assert ["unproven"] * expected == [gap.weight for gap in found]
    assert all(f"is a pool of {leaves} leaves, where practice is at most" in gap.message for gap in found)
    assert all((f"practice:pool_leaves_{method}",) == gap.clauses[-1:] for gap in found)


@pytest.mark.parametrize(
    ("result", "beside", "expected"),
    [
        ("negative", False, ["unproven"]),
        ("negative", True, ["advice"]),
        ("positive", False, []),
        ("inconclusive", False, []),
    ],
)
def test_a_pool_that_is_too_large_matters_where_nothing_else_clears_its_trees(
    seasons, crop, result, beside, expected, find
):
    """What such a pool shows to be there is there."""
    singles = [seasons.sample(f"S{n}", f"T{n}") for n in (1, 2)] if beside else []
    season = farm(seasons, [pool("S9", "T1", "T2", result=result), *singles])
    found = find(season, "pool-too-large", profile=crop(pool_leaves_pcr={"high": 1}))

    assert expected == [gap.weight for gap in found]


def test_a_crop_without_the_figure_knows_no_pool_too_large(seasons, crop, find):
    """Its profile says nothing of the method's leaves, or has no such method."""
    season = farm(seasons, [pool("S9", "T1", "T2")])

    assert () == find(season, "pool-too-large", profile=crop(pool_leaves_pcr=None))
    assert () == find(season, "pool-too-large", profile=crop(pool_leaves_pcr={"high": None}))


@pytest.mark.parametrize(
    ("single", "result", "expected"),
    [
        ({"result": "positive"}, "negative", ["unproven"]),
        ({"result": "positive", "controls": "failed"}, "negative", []),
        ({"result": "negative"}, "negative", []),
        ({"result": "inconclusive"}, "negative", []),
        ({"result": "positive"}, "positive", []),
        (None, "negative", []),
    ],
)
def test_a_clean_pool_that_holds_a_carrier_missed_it(seasons, single, result, expected, find):
    """So it says nothing of its other trees, which are named; the carrier has a gap of its own."""
    singles = [] if single is None else [seasons.sample("S1", "T1", **single)]
    found = find(farm(seasons, [pool("S9", "T1", "T2", result=result), *singles]), "pool-conflicting")

    assert expected == [gap.weight for gap in found]
    assert all((("trees", "T2"),) == tuple((n.table, n.id) for n in gap.starts) for gap in found)


def test_a_tree_of_such_a_pool_that_is_clean_by_itself_is_not_in_doubt(seasons, find):
    """Nothing rests on the pool then."""
    singles = [seasons.sample("S1", "T1", result="positive"), seasons.sample("S2", "T2")]
    (gap,) = find(farm(seasons, [pool("S9", "T1", "T2"), *singles]), "pool-conflicting")

    assert ("advice", ()) == (gap.weight, gap.starts)


def test_a_sample_without_result_needs_no_report_yet(seasons, find):
    """A pending sample is told elsewhere."""
    sample = without(seasons.sample("S1", "T1"), "report", "result", "reported", "controls")

    assert () == find(farm(seasons, [sample]), "report-missing")
    assert () == find(farm(seasons, [sample]), "controls-unwritten")


def test_every_odd_figure_of_a_sample_is_told_at_once(seasons, find):
    """One sample, one gap; a figure beyond reason is called so, and a stain beyond it proves nothing."""
    sample = seasons.sample(
        "S1", "T1", method="gus", petiole="6 in", incubation="30 min", temperature="80 C",
        submitted=seasons.SCREENED + timedelta(9), reported=seasons.SCREENED + timedelta(90),
    )  # fmt: skip
    sample = without(sample, "targets")
    (gap,) = find(farm(seasons, [sample]), "sample-out-of-range")

    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)
    for said in (
        "152.4 mm",
        "0.5 hours",
        "80 °C, where practice is 35 to 39 °C, and such",
        "9 days",
        "90 days",
    ):
        assert said in gap.message


@pytest.mark.parametrize(
    ("more", "weights"),
    [
        ({"incubation": "59 min"}, ["unproven"]),
        ({"incubation": "1 h"}, ["advice"]),
        ({"incubation": "5 h"}, ["advice"]),
        ({"incubation": "6 h"}, []),
        ({"incubation": "18 h"}, []),
        ({"incubation": "48 h"}, ["advice"]),
        ({"incubation": "96 h"}, ["advice"]),
        ({"incubation": "97 h"}, ["unproven"]),
        ({"temperature": "24.9 C"}, ["unproven"]),
        ({"temperature": "25 C"}, ["advice"]),
        ({"temperature": "50 C"}, ["advice"]),
        ({"temperature": "50.1 C"}, ["unproven"]),
        ({"incubation": "59 min", "result": "positive"}, ["advice"]),
        ({"temperature": "24.9 C", "result": "inconclusive"}, ["unproven"]),
    ],
)
def test_a_stain_far_outside_its_protocol_proves_nothing(seasons, more, weights, find):
    """Outside the usual it is worth less, outside the possible nothing; what turned blue is blue."""
    sample = seasons.sample(
        "S1", "T1", **{"method": "gus", "incubation": "12 h", "temperature": "37 C", **more}
    )
    found = find(farm(seasons, [without(sample, "targets")]), "sample-out-of-range")

    assert weights == [gap.weight for gap in found]


def test_a_spoilt_stain_beside_a_sound_test_is_a_loose_end(seasons, find):
    """The tree is cleared by the other."""
    stain = seasons.sample("S1", "T1", method="gus", incubation="10 min")
    samples = [without(stain, "targets"), seasons.sample("S2", "T1")]
    (gap,) = find(farm(seasons, samples), "sample-out-of-range")

    assert ("S1", "advice") == (gap.id, gap.weight)


@pytest.mark.parametrize("petiole", ["24 mm", "50 mm"])
def test_a_figure_on_the_bound_is_usual(seasons, petiole, find):
    """The range includes its ends."""
    assert () == find(farm(seasons, [seasons.sample("S1", "T1", petiole=petiole)]), "sample-out-of-range")


def test_void_controls_are_told_once(seasons, find):
    """A tree with nothing better is `parent-inconclusive`; beside a good sample the void one is told here."""
    void = seasons.sample("S1", "T1", controls="failed")

    assert () == find(farm(seasons, [void]), "screening-void-controls")
    (gap,) = find(farm(seasons, [void, seasons.sample("S2", "T1")]), "screening-void-controls")
    assert ("S1", "advice") == (gap.id, gap.weight)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"controls": "failed"}, "is entered as negative, but the controls of its run failed."),
        ({"controls": "not run"}, "is entered as negative, but the controls of its run weren't run."),
        ({"controls": "failed", "result": "positive"}, "is entered as positive, but"),
        ({"controls": "failed", "result": "inconclusive"}, None),
        ({"controls": "passed"}, None),
    ],
)
def test_only_a_result_can_be_void(seasons, more, said, find):
    """Failed and missing controls are told apart; an inconclusive result claims nothing."""
    samples = [seasons.sample("S1", "T1", **more), seasons.sample("S2", "T1")]
    found = find(farm(seasons, samples), "screening-void-controls")

    assert (1 if said else 0) == len(found)
    assert all(said in gap.message for gap in found)


def test_a_void_pool_is_told_once(seasons, find):
    """Unless one of its trees has nothing better."""
    void = {**seasons.sample("S1", "", controls="failed"), "trees": ("T1", "T2")}
    del void["tree"], void["mark"]
    good = [seasons.sample("S2", "T1"), seasons.sample("S3", "T2")]

    assert ["S1"] == [gap.id for gap in find(farm(seasons, [void, *good]), "screening-void-controls")]
    assert () == find(farm(seasons, [void, good[0]]), "screening-void-controls")


OWN = "Larkfold Seed Orchard"


@pytest.mark.parametrize("laboratory", [OWN, "our own bench", "R. Alder", "in-house"])
def test_on_the_own_bench_the_controls_must_be_written(seasons, laboratory, find):
    """One gap a report, since one look at the bench's book answers it."""
    samples = [without(seasons.sample(f"S{n}", f"T{n}", laboratory=laboratory), "controls") for n in (1, 2)]
    (gap,) = find(farm(seasons, samples), "controls-unwritten")

    assert (("S1", "S2"), "unproven", ("L1",)) == (gap.ids, gap.weight, gap.lots)
    assert "the controls of report BF-2201" == gap.supply
    assert gap.message.endswith("of sample S1 and 1 more of report BF-2201, tested on the own bench.")


def test_a_laboratory_answers_for_its_controls_itself(seasons, find):
    """To write down what its letter says of them is advice."""
    samples = [without(seasons.sample(f"S{n}", f"T{n}"), "controls") for n in (1, 2)]
    (gap,) = find(farm(seasons, samples), "controls-unwritten")

    assert (("S1", "S2"), "advice") == (gap.ids, gap.weight)
    assert gap.message.endswith("of sample S1 and 1 more of report BF-2201.")


def test_unwritten_controls_of_a_lone_sample(seasons, find):
    """Without a report the sample is all there is to ask by; a void result was never taken."""
    sample = without(seasons.sample("S1", "T1", laboratory=OWN), "controls", "report")
    (gap,) = find(farm(seasons, [sample, seasons.sample("S2", "T2")]), "controls-unwritten")

    assert (
        "Nothing is written about the controls of sample S1, tested on the own bench.",
        "the controls of sample S1",
    ) == (gap.message, gap.supply)


@pytest.mark.parametrize(
    ("laboratory", "lost", "field"),
    [
        (OWN, ("incubation",), ("incubation",)),
        (OWN, ("controls",), ("controls",)),
        (OWN, ("controls", "incubation"), ("controls",)),
        (OWN, (), None),
        ("Bracken Ford Plant Diagnostics", ("incubation",), None),
    ],
)
def test_how_long_a_stain_stood_is_asked_on_the_own_bench(seasons, laboratory, lost, field, find):
    """A laboratory keeps to its protocol, and its letter says that it did."""
    stain = seasons.sample("S1", "T1", method="gus", incubation="12 h", laboratory=laboratory)
    found = find(farm(seasons, [without(stain, "targets", *lost)]), "controls-unwritten")

    assert ([(field, "unproven")] if field else []) == [(gap.field, gap.weight) for gap in found]


def test_unwritten_controls_beside_a_sound_test_are_advice(seasons, find):
    """Another sample clears the tree."""
    bare = without(seasons.sample("S1", "T1", laboratory=OWN), "controls")
    (gap,) = find(farm(seasons, [bare, seasons.sample("S2", "T1")]), "controls-unwritten")

    assert ("S1", "advice") == (gap.id, gap.weight)
