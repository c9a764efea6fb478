from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)


def gaps(season, slug, *standards):
    """What one rule finds."""
    rulebooks = tuple(load_rulebook(key) for key in standards or ("us-nop",))
    case = Case(season, build_lineage(season), load_profile(season.details.crop), rulebooks, ON)
    found, crashed = run_rules(case, {slug: RULES[slug]})
    assert () == crashed
    return found


def farm(seasons, samples, **tables):
    """Two trees, a bag and a lot on each, with the given samples."""
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
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


def test_a_sample_older_than_its_tree_proves_nothing(seasons):
    """The lot rests on it, so it is unproven."""
    (gap,) = gaps(farm(seasons, [old(seasons, "S1", "T1")]), "screening-before-planting")

    assert ("unproven", "S1", ("L1",)) == (gap.weight, gap.id, gap.lots)


def test_an_old_sample_beside_a_good_one_is_a_loose_end(seasons):
    """A later sample clears the tree, so no lot rests on the older one."""
    samples = [old(seasons, "S1", "T1"), seasons.sample("S2", "T1")]
    (gap,) = gaps(farm(seasons, samples), "screening-before-planting")

    assert "advice" == gap.weight


@pytest.mark.parametrize(("days", "found"), [(-1, 1), (0, 0)])
def test_a_sample_of_the_day_of_planting_is_the_trees_own(seasons, days, found):
    """The day before, it can't have been."""
    when = date(2025, 2, 10) + timedelta(days)
    sample = seasons.sample("S1", "T1", collected=when, submitted=when, reported=when)

    assert found == len(gaps(farm(seasons, [sample]), "screening-before-planting"))


@pytest.mark.parametrize(
    ("result", "weights"), [("negative", ["unproven"]), ("positive", ["advice"]), (None, [])]
)
def test_an_old_sample_that_clears_nothing_is_a_loose_end(seasons, result, weights):
    """No lot rests on a positive, and one without a result says nothing yet."""
    sample = {**old(seasons, "S1", "T1"), "result": result}
    sample = {name: value for name, value in sample.items() if value is not None}

    assert weights == [gap.weight for gap in gaps(farm(seasons, [sample]), "screening-before-planting")]


def test_a_pool_with_one_younger_tree_touches_only_that_tree(seasons):
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
    (gap,) = gaps(season, "screening-before-planting")

    assert "tree T2" in gap.message


def without(record, *fields):
    """The record, less some fields."""
    return {key: value for key, value in record.items() if key not in fields}


@pytest.mark.parametrize(
    ("lost", "said", "field"),
    [
        (("report",), "without a report's number or the letter", ("report",)),
        (("laboratory",), "without the laboratory", ("laboratory",)),
        (("laboratory", "report"), "without the laboratory and a report's number", ("laboratory",)),
    ],
)
def test_a_result_needs_a_laboratory_and_a_letter(seasons, lost, said, field):
    """What is missing is said, and where to write it."""
    (gap,) = gaps(farm(seasons, [without(seasons.sample("S1", "T1"), *lost)]), "report-missing")

    assert said in gap.message
    assert (field, "unproven") == (gap.field, gap.weight)


def test_a_letter_in_evidence_stands_for_the_number(seasons):
    """Either shows where the result is written."""
    sample = {**without(seasons.sample("S1", "T1"), "report"), "evidence": ("letters/one.txt",)}

    assert () == gaps(farm(seasons, [sample]), "report-missing")


def test_a_bare_result_beside_a_sound_one_is_a_loose_end(seasons):
    """The tree is cleared by the sample that has its letter."""
    samples = [without(seasons.sample("S1", "T1"), "report"), seasons.sample("S2", "T1")]
    (gap,) = gaps(farm(seasons, samples), "report-missing")

    assert ("S1", "advice") == (gap.id, gap.weight)


def test_a_sample_without_result_needs_no_report_yet(seasons):
    """A pending sample is told elsewhere."""
    sample = without(seasons.sample("S1", "T1"), "report", "result", "reported", "controls")

    assert () == gaps(farm(seasons, [sample]), "report-missing")
    assert () == gaps(farm(seasons, [sample]), "controls-unwritten")


def test_every_odd_figure_of_a_sample_is_told_at_once(seasons):
    """One sample, one gap; a figure beyond reason is called so."""
    sample = seasons.sample(
        "S1", "T1", method="gus", petiole="6 in", incubation="30 min", temperature="80 C",
        submitted=seasons.SCREENED + timedelta(9), reported=seasons.SCREENED + timedelta(90),
    )  # fmt: skip
    sample = without(sample, "targets")
    (gap,) = gaps(farm(seasons, [sample]), "sample-out-of-range")

    assert "advice" == gap.weight
    for said in (
        "152.4 mm",
        "0.5 hours",
        "80 °C, where practice is 35 to 39 °C, and such",
        "9 days",
        "90 days",
    ):
        assert said in gap.message


@pytest.mark.parametrize("petiole", ["15 mm", "75 mm"])
def test_a_figure_on_the_bound_is_usual(seasons, petiole):
    """The range includes its ends."""
    assert () == gaps(farm(seasons, [seasons.sample("S1", "T1", petiole=petiole)]), "sample-out-of-range")


def test_void_controls_are_told_once(seasons):
    """A tree with nothing better is `parent-inconclusive`; beside a good sample the void one is told here."""
    void = seasons.sample("S1", "T1", controls="failed")

    assert () == gaps(farm(seasons, [void]), "screening-void-controls")
    (gap,) = gaps(farm(seasons, [void, seasons.sample("S2", "T1")]), "screening-void-controls")
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
def test_only_a_result_can_be_void(seasons, more, said):
    """Failed and missing controls are told apart; an inconclusive result claims nothing."""
    samples = [seasons.sample("S1", "T1", **more), seasons.sample("S2", "T1")]
    found = gaps(farm(seasons, samples), "screening-void-controls")

    assert (1 if said else 0) == len(found)
    assert all(said in gap.message for gap in found)


def test_a_void_pool_is_told_once(seasons):
    """Unless one of its trees has nothing better."""
    void = {**seasons.sample("S1", "", controls="failed"), "trees": ("T1", "T2")}
    del void["tree"], void["mark"]
    good = [seasons.sample("S2", "T1"), seasons.sample("S3", "T2")]

    assert ["S1"] == [gap.id for gap in gaps(farm(seasons, [void, *good]), "screening-void-controls")]
    assert () == gaps(farm(seasons, [void, good[0]]), "screening-void-controls")


def test_unwritten_controls_are_one_gap_a_report(seasons):
    """A letter covers many samples, and so does one question to the laboratory."""
    samples = [without(seasons.sample(f"S{n}", f"T{n}"), "controls") for n in (1, 2)]
    (gap,) = gaps(farm(seasons, samples), "controls-unwritten")

    assert ("S1", "S2") == gap.ids
    assert "the controls of report BF-2201" == gap.supply
    assert gap.message.endswith("of sample S1 and 1 more of report BF-2201.")


def test_unwritten_controls_of_a_lone_sample(seasons):
    """Without a report the sample is all there is to ask by; a void result was never taken."""
    sample = without(seasons.sample("S1", "T1"), "controls", "report")
    (gap,) = gaps(farm(seasons, [sample, seasons.sample("S2", "T2")]), "controls-unwritten")

    assert ("Nothing is written about the controls of sample S1.", "the controls of sample S1") == (
        gap.message,
        gap.supply,
    )
