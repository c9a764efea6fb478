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


def day(number):
    """A day in July."""
    return date(2026, 7, number)


def run(seasons, name, harvest, when, *pieces, **more):
    """A batch on some equipment."""
    drying = {"method": "fan", "from": when, "to": when + timedelta(3)}
    return {
        **seasons.batch(name, [harvest] if harvest else []),
        "date": when,
        "equipment": pieces,
        "drying": drying,
        **more,
    }


def clean(name, when, *pieces, before=None):
    """A cleaning of some equipment."""
    record = {"cleaning": name, "date": when, "equipment": pieces, "method": "washed"}
    return {**record, "before": before} if before else record


def farm(seasons, batches, cleaning=(), **more):
    """Two varieties: pickings A1, A2 of one and B1 of the other."""
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
        trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
        bagging=[
            seasons.bag("K1", "T1"),
            seasons.bag("K2", "T1"),
            seasons.bag("K3", "T2", variety="Moth Lantern"),
        ],
        harvests=[
            seasons.harvest("A1", ["K1"]),
            seasons.harvest("A2", ["K2"]),
            seasons.harvest("B1", ["K3"]),
        ],
        batches=list(batches),
        cleaning=list(cleaning),
        **more,
    )


def dirty(season):
    """The batches that are found."""
    return [gap.id for gap in gaps(season, "equipment-not-cleaned")]


def test_one_variety_after_itself_needs_no_cleaning(seasons):
    """Seed of the same sort that stays in the sieve does no harm."""
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "A2", day(2), "sieve")]

    assert [] == dirty(farm(seasons, batches))


def test_another_variety_needs_a_cleaning_between(seasons):
    """Each change of variety does, forth and back; the gap names the pieces and the batch before."""
    batches = [
        run(seasons, "X1", "A1", day(1), "mixer", "sieve"),
        run(seasons, "X2", "B1", day(5), "mixer", "sieve"),
        run(seasons, "X3", "A2", day(9), "Sieve "),
    ]
    first, second = gaps(farm(seasons, batches), "equipment-not-cleaned")

    assert ("X2", "X3") == (first.id, second.id)
    assert (
        "mixer and sieve last held seed of batch X1 (organic, Amber Kestrel) on 1 July 2026" in first.message
    )
    assert "the cleaning of mixer and sieve before batch X2" == first.supply


@pytest.mark.parametrize(
    ("cleaned", "expected"),
    [
        ((day(3), ["sieve"], None), []),
        ((day(3), ["SIEVE"], "X2"), []),
        ((day(3), ["mixer"], "X2"), ["X2"]),
        ((day(1), ["sieve"], "X1"), ["X2"]),
        ((day(1), ["sieve"], None), []),
        ((day(5), ["sieve"], "X2"), []),
        ((day(6), ["sieve"], None), ["X2"]),
        ((date(2026, 6, 30), ["sieve"], None), ["X2"]),
    ],
)
def test_the_cleaning_must_lie_between_the_two_uses(seasons, cleaned, expected):
    """Before the first, after the second, of another piece, or for the run before: none of these will do."""
    when, pieces, before = cleaned
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "B1", day(5), "sieve")]
    assert expected == dirty(farm(seasons, batches, [clean("C1", when, *pieces, before=before)]))


@pytest.mark.parametrize(("before", "expected"), [("X1", ["X2"]), ("X2", []), (None, [])])
def test_two_runs_and_a_cleaning_on_one_day(seasons, before, expected):
    """The cleaning says which run it was for; where it doesn't, it is believed."""
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "B1", day(1), "sieve")]

    assert expected == dirty(farm(seasons, batches, [clean("C1", day(1), "sieve", before=before)]))


def test_lower_status_needs_a_cleaning_and_higher_does_not(seasons):
    """Organic seed in a run that claims less harms nobody."""
    low = run(seasons, "X1", "A1", day(1), "sieve", status="conventional")
    high = run(seasons, "X2", "A2", day(2), "sieve")

    assert ["X2"] == dirty(farm(seasons, [low, high]))
    swapped = [{**high, "date": day(1)}, {**low, "date": day(2)}]
    assert [] == dirty(farm(seasons, swapped))


def test_seed_from_elsewhere_is_other_seed(seasons):
    """A run of no picking in the records leaves its seed behind as well."""
    other = run(seasons, "X1", None, day(1), "sieve", other_seed="bought-in lettuce")

    assert ["X2"] == dirty(farm(seasons, [other, run(seasons, "X2", "A1", day(2), "sieve")]))


def test_the_season_before_counts(seasons):
    """The last use may lie in last year's records, and so may the cleaning since."""
    last = date(2025, 9, 1)
    used = run(seasons, "X9", "B1", last, "sieve")
    now = [run(seasons, "X1", "A1", day(1), "sieve")]
    before = farm(seasons, [used], label="2025")
    cleaned = farm(seasons, [used], [clean("C9", last + timedelta(1), "sieve")], label="2025")

    assert ["X1"] == dirty(farm(seasons, now, previous=before))
    assert [] == dirty(farm(seasons, now, previous=cleaned))


def test_a_run_without_equipment_matters_where_other_seed_is_handled(seasons):
    """On a farm of one variety there is nothing that could go along."""
    bare = run(seasons, "X1", "A1", day(1))
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=30)]
    (alone,) = gaps(farm(seasons, [bare], lots=lots), "equipment-unnamed")
    (beside,) = gaps(
        farm(seasons, [bare, run(seasons, "X2", "B1", day(4), "sieve")], lots=lots), "equipment-unnamed"
    )

    assert ("advice", "unproven") == (alone.weight, beside.weight)


def test_runs_of_one_day_are_taken_in_the_order_they_were_written(seasons):
    """The second of the day needs the cleaning, and one that says it was for the first won't do."""
    batches = [
        run(seasons, "X2", "B1", day(1), "sieve"),
        run(seasons, "X1", "A1", day(1), "sieve"),
        run(seasons, "X3", "A2", day(1), "sieve"),
    ]

    assert ["X1"] == dirty(farm(seasons, batches))
    assert ["X1"] == dirty(farm(seasons, batches, [clean("C1", day(1), "sieve", before="X3")]))
    assert [] == dirty(farm(seasons, batches, [clean("C1", day(1), "sieve", before="X1")]))


def test_a_cleaning_of_the_evening_comes_after_all_runs_of_its_day(seasons):
    """It names a run of another day: so it lies between the first day's runs and the next."""
    batches = [
        run(seasons, "X1", "A1", day(1), "sieve"),
        run(seasons, "X2", "A2", day(1), "sieve"),
        run(seasons, "X3", "B1", day(2), "sieve"),
    ]

    assert ["X3"] == dirty(farm(seasons, batches))
    assert [] == dirty(farm(seasons, batches, [clean("C1", day(1), "sieve", before="X3")]))


def test_what_the_season_before_left_dirty_is_told_there(seasons):
    """Only this season's runs are asked; a run of the same day comes after the season before."""
    last = [run(seasons, "X8", "A1", day(1), "sieve"), run(seasons, "X9", "B1", day(1), "sieve")]
    before = farm(seasons, last, label="2025")
    now = farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")], previous=before)

    assert ["X1"] == dirty(now)
    assert "batch X9" in gaps(now, "equipment-not-cleaned")[0].message
    cleaned = farm(seasons, last, [clean("C9", day(1), "sieve", before="X8")], label="2025")
    assert ["X1"] == dirty(farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")], previous=cleaned))


@pytest.mark.parametrize(
    ("statuses", "expected"),
    [
        (("conventional", "transitional"), ["X2"]),
        (("transitional", "organic"), ["X2"]),
        (("conventional", "conventional"), []),
        (("organic", "transitional"), []),
        (("transitional", "transitional"), []),
    ],
)
def test_any_step_up_in_status_needs_a_cleaning(seasons, statuses, expected):
    """The same status again and a lower one need none; of a run that claims nothing nobody asks."""
    batches = [
        run(seasons, f"X{at}", f"A{at}", day(at), "sieve", status=status)
        for at, status in enumerate(statuses, start=1)
    ]

    assert expected == dirty(farm(seasons, batches))


def test_seed_of_an_unknown_variety_is_no_other(seasons):
    """A run without pickings and without a word is told by another rule, on either side of this one."""
    for batches in (
        [run(seasons, "X1", None, day(1), "sieve"), run(seasons, "X2", "A1", day(2), "sieve")],
        [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", None, day(2), "sieve")],
    ):
        assert [] == dirty(farm(seasons, batches))


@pytest.mark.parametrize(
    ("beside", "weight"),
    [
        ({}, "advice"),
        ({"status": "transitional"}, "unproven"),
        ({"other_seed": "bought-in lettuce"}, "unproven"),
    ],
)
def test_other_seed_is_of_lower_status_or_from_elsewhere(seasons, beside, weight):
    """Either is enough to ask what the equipment was; a run that names it is not asked."""
    batches = [run(seasons, "X1", "A1", day(1)), run(seasons, "X2", "A2", day(4), "sieve", **beside)]
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=30)]
    (gap,) = gaps(farm(seasons, batches, lots=lots), "equipment-unnamed")

    assert ("X1", weight) == (gap.id, gap.weight)


def test_silent_runs_are_one_gap(seasons):
    """One question for all of them."""
    batches = [run(seasons, "X1", "A1", day(1)), run(seasons, "X2", "A2", day(4))]
    (gap,) = gaps(farm(seasons, batches), "equipment-unnamed")

    assert ("X1", "X2") == gap.ids
    assert () == gaps(farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")]), "equipment-unnamed")
