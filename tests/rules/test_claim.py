from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from printed import plain
from seasons import without

from certgen.examination import examine_season
from certgen.rules import RULES, run_rules

ON = date(2026, 10, 31)
CLAIM = {"claim-unproven": RULES["claim-unproven"]}


# What nothing shows


def test_what_is_shown_is_no_gap(stocked, case_of):
    """Not even with all other rules switched off."""
    assert () == run_rules(case_of(stocked()), CLAIM).gaps


def test_what_nothing_shows_is_one_gap_an_obligation(seasons, stocked, case_of):
    """However many records it stands at; its words say of which."""
    bags = [without(seasons.bag(f"B{at}", "T1"), "secured") for at in (1, 2)]
    season = stocked(bagging=bags, harvests=[seasons.harvest("H1", ["B1", "B2"])])
    (gap,) = run_rules(case_of(season), CLAIM).gaps

    assert "Nothing in the records shows that bags B1 and B2 were tied." == gap.message
    assert "what shows that bags B1 and B2 were tied" == gap.supply
    assert (("B1", "B2"), ("L1",), "unproven", "own") == (gap.ids, gap.lots, gap.weight, gap.touches)
    assert season.place("bagging", 0) == gap.place


def test_one_record_is_told_in_the_singular(seasons, stocked, case_of):
    """And the words end with a full stop."""
    (gap,) = run_rules(case_of(stocked(bagging=[without(seasons.bag("B1", "T1"), "secured")])), CLAIM).gaps

    assert "Nothing in the records shows that bag B1 was tied." == gap.message


def test_what_a_rule_has_a_word_for_is_told_once(seasons, stocked, case_of):
    """By that rule; where it has a word for one of two, the claim tells of the other."""
    bags = [without(seasons.bag(f"B{at}", "T1"), "secured") for at in (1, 2)]
    season = stocked(bagging=bags, harvests=[seasons.harvest("H1", ["B1", "B2"])])

    def about_one(_):
        """Why."""
        yield next(iter(RULES["bag-not-secured"].check(case_of(season))))._replace(cause=1)

    told = {"bag-not-secured": RULES["bag-not-secured"]}
    half = {"bag-not-secured": replace(told["bag-not-secured"], check=about_one)}

    assert ["bag-not-secured"] == [gap.rule for gap in run_rules(case_of(season), {**told, **CLAIM}).gaps]
    found = {gap.rule: gap.ids for gap in run_rules(case_of(season), {**half, **CLAIM}).gaps}
    assert {"bag-not-secured": ("B1",), "claim-unproven": ("B2",)} == found


def test_advice_explains_nothing(seasons, stocked, case_of):
    """A rule that lets it pass leaves the claim as open as it was."""
    season = stocked(bagging=[without(seasons.bag("B1", "T1"), "secured")])
    slug = "bag-not-secured"

    def kindly(_):
        """Why."""
        yield from (one._replace(weight="advice") for one in RULES[slug].check(case_of(season)))

    rules = {slug: replace(RULES[slug], check=kindly), **CLAIM}

    assert [("advice", slug), ("unproven", "claim-unproven")] == sorted(
        (gap.weight, gap.rule) for gap in run_rules(case_of(season), rules).gaps
    )


def test_a_rule_that_is_about_something_else_explains_nothing(seasons, stocked, case_of):
    """That the flower's stage is unknown says nothing of the knot."""
    season = stocked(bagging=[without(seasons.bag("B1", "T1"), "secured", "stage")])
    rules = {slug: RULES[slug] for slug in ("bag-stage-unknown", "claim-unproven")}
    found = run_rules(case_of(season), rules).gaps

    assert ["bag-stage-unknown", "claim-unproven"] == sorted(gap.rule for gap in found)
    assert {"Nothing in the records shows that bag B1 was tied."} == {
        gap.message for gap in found if gap.rule == "claim-unproven"
    }


def test_grams_that_are_not_accounted_for_leave_the_lot_open_as_a_whole(seasons, stocked, case_of):
    """No gram can be named."""
    count = seasons.movement("M1", "L1", "counted", 6)
    found, _, standings = run_rules(case_of(stocked(movements=[count])), CLAIM)
    lot = standings.judge()["L1"]

    assert [("whole", ("L1",))] == [(gap.touches, gap.lots) for gap in found]
    assert ("unproven", 6_000, 2_000) == (lot.standing, lot.traced_mg, lot.unaccounted_mg)


def test_what_stands_behind_no_lot_is_not_asked_for(seasons, stocked, case_of):
    """A bag that nobody picked, and a tree without seed."""
    bags = [seasons.bag("B1", "T1"), without(seasons.bag("B2", "T2"), "secured", "stage", "covered")]

    assert () == run_rules(case_of(stocked(bagging=bags)), CLAIM).gaps


# Own figures


def own(season, **details):
    """The season with own figures; `practice` without reasons, which it gets."""
    practice = {
        key: {**change, "reason": "our own trials"} for key, change in details.pop("practice", {}).items()
    }
    step = {"scale_step": details.pop("scale_step")} if "scale_step" in details else {}
    raw = {**season.details.raw, **step}
    return replace(season, details=replace(season.details, practice=practice, raw=raw, **details))


def loosened(season):
    """What own figures let pass, and whether the lot is traced."""
    result = examine_season(season, ON)
    return [gap for gap in result.gaps if gap.rule == "own-figure-loosens"], result.lots["L1"].standing


def two_fruits(seasons, stocked):
    """A picking that counts two fruit of one bag."""
    return stocked(harvests=[seasons.harvest("H1", ["B1"], fruits=2)])


def test_an_own_figure_that_lets_something_pass_is_said(seasons, stocked):
    """Within the crop's bounds it may; the finding, the record and the figure are named."""
    season = two_fruits(seasons, stocked)
    (gap,), standing = loosened(own(season, practice={"fruits_per_bag": {"high": 2}}))

    assert "traced" == standing
    assert (
        "By the crop's own figures more would be found. The season's `fruits_per_bag` lets pass "
        "more-fruit-than-bags at H1."
    ) == gap.message
    assert ("advice", (), ("practice", "fruits_per_bag")) == (gap.weight, gap.lots, gap.field)
    assert ([], "unproven") == loosened(season)


def test_an_own_figure_for_one_kind_of_storage_is_said(seasons, stocked):
    """Rules cite the general figure; the one for a storage's name may loosen as well."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    season = stocked(lots=[lot | {"storage": "cool room", "storage_temperature": "17 C"}])
    (gap,), _ = loosened(own(season, practice={"storage_c_cool_room": {"high": 18}}))

    assert (
        "The season's `storage_c_cool_room` lets pass storage-temperature-out-of-range at L1." in gap.message
    )


@pytest.mark.parametrize(
    "practice",
    [
        {},
        # Tighter than the crop's, beyond its bounds, or about what is fine either way.
        {"days_covered": {"low": 8}},
        {"fruits_per_bag": {"high": 3}},
        {"rinses": {"high": 12}},
    ],
)
def test_a_figure_that_lets_nothing_pass_is_not_told(stocked, practice):
    """Nothing would be found by the crop's own."""
    found, standing = loosened(own(stocked(), practice=practice))

    assert ([], "traced") == (found, standing)


def test_a_figure_beyond_the_crops_bounds_changes_nothing(seasons, stocked):
    """Two fruit a bag is the most that can be."""
    found, standing = loosened(own(two_fruits(seasons, stocked), practice={"fruits_per_bag": {"high": 3}}))

    assert ([], "unproven") == (found, standing)


@pytest.mark.parametrize(
    ("events", "expected", "standing"),
    [
        ((), 0, "unproven"),
        (("55-1", "63-1"), 1, "traced"),
        (("55-1", "63-1", "X17-2"), 0, "unproven"),
        # What is found at the same sample for another event is told there.
        (("63-1", "Line 99"), 0, "unproven"),
    ],
)
def test_events_that_a_season_leaves_out_are_said(seasons, stocked, events, expected, standing):
    """The blue stain sees two of the three."""
    stain = without(seasons.sample("S1", "T1", method="gus", incubation="12 h"), "targets")
    found, lot = loosened(own(stocked(screening=[stain]), events_of_concern=events))

    assert (expected, standing) == (len(found), lot)
    assert all("The season's `events_of_concern` lets pass" in gap.message for gap in found)
    assert all("method-does-not-cover at S1" in gap.message for gap in found)


@pytest.mark.parametrize(
    ("step", "weight", "expected", "standing"),
    [
        ("0.5 g", "8.5 g", 1, "traced"),
        ("0.5 g", "8.1 g", 0, "traced"),
        ("0.5 g", "8.6 g", 0, "unproven"),
        ("0.01 g", "8.1 g", 0, "unproven"),
        ("0.1 g", "8.1 g", 0, "traced"),
    ],
)
def test_a_coarse_scale_is_said_where_it_lets_grams_pass(seasons, stocked, step, weight, expected, standing):
    """More than the crop's figure, and only where the books would not close by it."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "weight": weight}
    found, told = loosened(own(stocked(lots=[lot]), scale_step=step))

    assert (expected, standing) == (len(found), told)
    assert all("`scale_step` lets pass lot-without-source at L1" in gap.message for gap in found)


def test_several_figures_are_told_together(seasons, stocked):
    """Each with what it lets pass; of many records some, and how many more."""
    bags = [seasons.bag(f"B{at}", "T1") for at in range(1, 7)]
    harvests = [seasons.harvest(f"H{at}", [f"B{at}"], fruits=2) for at in range(1, 7)]
    batches = [seasons.batch("X1", [one["harvest"] for one in harvests])]
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "weight": "8.5 g"}
    season = stocked(bagging=bags, harvests=harvests, batches=batches, lots=[lot])
    (gap,), _ = loosened(own(season, practice={"fruits_per_bag": {"high": 2}}, scale_step="0.5 g"))

    assert "`fruits_per_bag` lets pass more-fruit-than-bags at H1, H2, H3, H4 and 2 more" in gap.message
    assert "; `scale_step` lets pass lot-without-source at L1" in gap.message


# Seed that has left


def left(season):
    """What is said of seed that has left."""
    return [gap for gap in examine_season(season, ON).gaps if gap.rule == "suspect-seed-left"]


def test_traced_seed_may_leave(seasons, stocked):
    """Nothing is suspect about it."""
    assert [] == left(stocked(movements=[seasons.sale("M1", "L1", 2)]))


@pytest.mark.parametrize(
    ("tables", "weight", "standing"),
    [
        ({"screening": []}, "unproven", "unproven"),
        ({"plantings": []}, "unproven", "unproven"),
        ({"harvests": [{"harvest": "H1", "trees": ["T1"]}]}, "rejects", "rejected"),
    ],
)
def test_suspect_seed_that_left_is_told_at_its_movement(seasons, stocked, tables, weight, standing):
    """Which lot, how much, to whom, on which paper, and when; it touches no gram once more."""
    made = {
        name: [{**seasons.harvest("H1", []), **one} for one in rows] if name == "harvests" else rows
        for name, rows in tables.items()
    }
    (gap,) = left(stocked(movements=[seasons.sale("M1", "L1", 2)], **made))

    assert (weight, ("L1",), (), "M1", ("lot",)) == (gap.weight, gap.lots, gap.starts, gap.id, gap.field)
    assert (
        f"2 g of lot L1, which is {standing}, was sold to Quillmere Growers on INV-M1 on 17 August 2026."
        == plain(gap.message)
    )


@pytest.mark.parametrize(
    ("lost", "said"),
    [
        (("party",), "was sold on INV-M1 on"),
        (("document",), "was sold to Quillmere Growers on 17"),
        (("party", "document"), "was sold on 17"),
    ],
)
def test_what_the_papers_don_t_say_isn_t_said(seasons, stocked, lost, said):
    """That it is missing has a gap of its own."""
    (gap,) = left(stocked(screening=[], movements=[without(seasons.sale("M1", "L1", 2), *lost)]))

    assert said in gap.message


@pytest.mark.parametrize(
    ("kind", "expected"), [("sold", 1), ("transferred", 1), ("sown", 0), ("discarded", 0)]
)
def test_only_what_left_for_somebody_else_is_told(seasons, stocked, kind, expected):
    """Sown seed is told at its planting."""
    move = {**seasons.sale("M1", "L1", 2), "kind": kind}

    assert expected == len(left(stocked(screening=[], movements=[move])))


@pytest.mark.parametrize(("day", "expected"), [(59, 0), (60, 1), (61, 1)])
def test_what_left_before_it_was_mixed_is_not_suspect(seasons, stocked, day, expected):
    """Seed from elsewhere came in on the sixtieth day, before what went out of it."""
    came = seasons.movement("M1", "L1", "received", 5, 60, party="Hollin Nursery", document="D-1")
    sale = {**seasons.sale("M2", "L1", 3), "date": seasons.PICKED + timedelta(day)}

    assert expected == len(left(stocked(movements=[came, sale])))


@pytest.mark.parametrize("change", [{"status": None}, {"document": None}, {"last_certified_operation": None}])
def test_a_sale_whose_papers_alone_are_wrong_is_no_suspect_seed(seasons, stocked, change):
    """Nothing speaks against the seed itself."""
    sale = {
        key: value for key, value in {**seasons.sale("M1", "L1", 2), **change}.items() if value is not None
    }
    result = examine_season(stocked(movements=[sale]), ON)

    assert "unproven" == result.lots["L1"].standing
    assert [] == [gap for gap in result.gaps if gap.rule == "suspect-seed-left"]


def test_a_lot_with_missing_grams_is_no_suspect_seed(seasons, stocked):
    """What was counted, and what was sold, goes back to its trees."""
    moves = [seasons.movement("M1", "L1", "counted", 6, 65), seasons.sale("M2", "L1", 2)]

    assert [] == left(stocked(movements=moves))


@pytest.mark.parametrize(("screened", "weight"), [(False, "rejects"), (True, "unproven")])
def test_seed_of_last_year_that_turns_out_suspect_is_told_this_year(seasons, carried, screened, weight):
    """A leaf of K1's mother, cut this year, came out positive, and the rest of K1 is still there: what was
    sold of it this year and last. Where last year's leaf said otherwise, nobody knows."""
    gone = {**seasons.sale("M9", "K1", 3), "date": date(2025, 10, 1)}
    samples = [seasons.sample("S1", "T1"), seasons.sample("S2", "T9", result="positive")]
    before = {"movements": [gone], **({} if screened else {"screening": []})}
    found = left(carried(before=before, screening=samples, movements=[seasons.sale("M1", "K1", 1)]))

    assert [("M1", weight, ("K1",)), ("M9", weight, ("K1",))] == sorted(
        (gap.id, gap.weight, gap.lots) for gap in found
    )


def test_without_standings_nothing_has_left(stocked, case_of):
    """The rule has its turn once the lots are judged."""
    assert [] == list(RULES["suspect-seed-left"].check(case_of(stocked())))
