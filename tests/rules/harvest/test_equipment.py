from __future__ import annotations

from datetime import date, timedelta

import pytest

ON = date(2026, 10, 31)


def day(number):
    """A day in July."""
    return date(2026, 7, number)


def run(seasons, name, harvest, when, *pieces, on=(), to=3, **more):
    """A batch on some equipment. Its seed dries three days on a rack of its own, or where `on` says."""
    drying = {"method": "fan", "from": when, "on": on or (f"rack {name}",)}
    drying |= {} if to is None else {"to": when + timedelta(to)}
    return {
        **seasons.batch(name, [harvest] if harvest else []),
        "date": when,
        "equipment": pieces,
        "drying": drying,
        **more,
    }


def loose(record):
    """The run, without a word on where its seed dried."""
    return {**record, "drying": {key: value for key, value in record["drying"].items() if key != "on"}}


def clean(name, when, *pieces, before=None, after=None):
    """A cleaning of some equipment."""
    record = {"cleaning": name, "date": when, "equipment": pieces, "method": "washed"}
    told = {"before": before, "after": after}
    return {**record, **{key: value for key, value in told.items() if value}}


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


def dirty(find, season):
    """The batches that are found."""
    return [gap.id for gap in find(season, "equipment-not-cleaned")]


def test_one_variety_after_itself_needs_no_cleaning(seasons, find):
    """Seed of the same sort that stays in the sieve does no harm."""
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "A2", day(2), "sieve")]

    assert [] == dirty(find, farm(seasons, batches))


def test_another_variety_needs_a_cleaning_between(seasons, find):
    """Each change of variety does, forth and back; the gap names the pieces and the batch before."""
    batches = [
        run(seasons, "X1", "A1", day(1), "mixer", "sieve"),
        run(seasons, "X2", "B1", day(5), "mixer", "sieve"),
        run(seasons, "X3", "A2", day(9), "Sieve "),
    ]
    first, second = find(farm(seasons, batches), "equipment-not-cleaned")

    assert ("X2", "X3") == (first.id, second.id)
    assert (
        "mixer and sieve last held seed of batch X1 (organic, Amber Kestrel) on 1 July 2026" in first.message
    )
    assert "the cleaning of mixer and sieve before batch X2" == first.supply


@pytest.mark.parametrize(
    ("cleaned", "expected"),
    [
        ((day(3), ["sieve"], {}), []),
        ((day(3), ["SIEVE"], {"before": "X2"}), []),
        ((day(3), ["mixer"], {"before": "X2"}), ["X2"]),
        ((day(1), ["sieve"], {"before": "X1"}), ["X2"]),
        ((day(1), ["sieve"], {"before": "X2"}), ["X2"]),
        ((day(1), ["sieve"], {}), ["X2"]),
        ((day(1), ["sieve"], {"after": "X1"}), []),
        ((day(2), ["sieve"], {}), []),
        ((day(4), ["sieve"], {}), []),
        ((day(5), ["sieve"], {}), ["X2"]),
        ((day(5), ["sieve"], {"after": "X1"}), ["X2"]),
        ((day(5), ["sieve"], {"before": "X2"}), []),
        ((day(6), ["sieve"], {}), ["X2"]),
        ((date(2026, 6, 30), ["sieve"], {}), ["X2"]),
    ],
)
def test_the_cleaning_must_lie_between_the_two_uses(seasons, cleaned, expected, find):
    """On the day of either run it counts only if it says on which side of it it was; of another piece, or
    before the first, or after the second, it never does."""
    when, pieces, told = cleaned
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "B1", day(5), "sieve")]

    assert expected == dirty(find, farm(seasons, batches, [clean("C1", when, *pieces, **told)]))


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({}, ["X1", "X2"]),
        ({"before": "X1"}, ["X1", "X2"]),
        ({"before": "X2"}, ["X1", "X2"]),
        ({"after": "X1"}, ["X1", "X2"]),
        ({"after": "X1", "before": "X2"}, []),
        ({"after": "X2", "before": "X1"}, []),
    ],
)
def test_two_runs_and_a_cleaning_on_one_day(seasons, told, expected, find):
    """Nobody knows which run came first unless the cleaning names both: either may have met the other."""
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", "B1", day(1), "sieve")]

    assert expected == dirty(find, farm(seasons, batches, [clean("C1", day(1), "sieve", **told)]))


@pytest.mark.parametrize(
    ("cleaned", "expected"),
    [
        ([], ["X1", "X2"]),
        ([(3, {})], ["X1", "X2"]),
        ([(3, {"before": "X2"})], ["X1"]),
        ([(2, {"after": "X1"})], ["X1", "X2"]),
        ([(3, {"before": "X2", "after": "X1"})], []),
    ],
)
def test_seed_may_lie_where_nobody_says_that_it_lay_elsewhere(seasons, cleaned, expected, find):
    """X1 dries until the fourth day and names no place; X2 is run on the third. Only a cleaning that names
    both shows that the sieve was emptied of the one before the other."""
    batches = [
        loose(run(seasons, "X1", "A1", day(1), "sieve")), run(seasons, "X2", "B1", day(3), "sieve"),
    ]  # fmt: skip
    cleaning = [clean(f"C{at}", day(at), "sieve", **told) for at, told in cleaned]

    assert expected == dirty(find, farm(seasons, batches, cleaning))


@pytest.mark.parametrize(
    ("on", "when", "cleaned", "expected"),
    [
        # What lies on the tray until the fourth day meets whatever comes onto it by then.
        ("tray", 3, None, ["X1", "X2"]),
        ("tray", 4, None, ["X1", "X2"]),
        ("tray", 5, None, ["X2"]),
        # No cleaning can have emptied it before.
        ("tray", 3, (2, {}), ["X1", "X2"]),
        ("tray", 3, (3, {"after": "X1", "before": "X2"}), ["X1", "X2"]),
        ("tray", 5, (3, {}), ["X2"]),
        ("tray", 5, (4, {}), []),
        ("tray", 5, (5, {"before": "X2"}), []),
        ("tray", 5, (5, {}), ["X2"]),
        # A rack of its own meets nothing.
        ("rack", 3, None, []),
    ],
)
def test_what_dries_meets_what_is_laid_beside_it(seasons, on, when, cleaned, expected, find):
    """From the day of the run to the day on which it was dry, both among them."""
    batches = [
        run(seasons, "X1", "A1", day(1), "mixer", on=(on,)),
        run(seasons, "X2", "B1", day(when), "sieve", on=("Tray",)),
    ]
    cleaning = [clean("C1", day(cleaned[0]), "tray", **cleaned[1])] if cleaned else []

    assert expected == dirty(find, farm(seasons, batches, cleaning))


def test_a_tray_among_the_equipment_is_where_seed_dries(seasons, find):
    """By its name; the sieve beside it then is no place to dry."""
    first = loose(run(seasons, "X1", "A1", day(1), "sieve", "drying tray"))
    by_tray = run(seasons, "X2", "B1", day(3), "drying tray")
    by_sieve = run(seasons, "X2", "B1", day(3), "sieve")
    cleaning = [clean("C1", day(2), "sieve", "drying tray")]

    assert ["X1", "X2"] == dirty(find, farm(seasons, [first, by_tray], cleaning))
    assert [] == dirty(find, farm(seasons, [first, by_sieve], cleaning))


@pytest.mark.parametrize(
    ("packed", "expected"), [(7, ["X2"]), (8, ["X1", "X2"]), (9, ["X1", "X2"]), (None, ["X1", "X2"])]
)
def test_seed_of_which_nobody_says_when_it_was_dry_lay_there_until_it_was_packed(
    seasons, packed, expected, find
):
    """And for good, if it never was. X2 comes onto the tray seven days after X1 did."""
    first = run(seasons, "X1", "A1", day(1), on=("tray",), to=None)
    second = run(seasons, "X2", "B1", day(8), on=("tray",))
    lots = [] if packed is None else [
        {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "packed": day(packed)}
    ]  # fmt: skip

    assert expected == dirty(find, farm(seasons, [first, second], lots=lots))


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        ({"status": "conventional"}, ["X1"]),
        ({"status": "transitional"}, ["X1"]),
        ({"harvests": (), "other_seed": "bought-in lettuce"}, ["X1"]),
        ({}, []),
    ],
)
def test_a_run_that_names_no_equipment_may_have_gone_through_any(seasons, other, expected, find):
    """Of other seed, on the day before; until a cleaning since."""
    unnamed = loose({**run(seasons, "X9", "A2", day(2)), **other})
    batches = [run(seasons, "X1", "A1", day(3), "sieve"), unnamed]
    season = farm(seasons, batches, lots=[seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=30)])
    found = find(season, "equipment-not-cleaned")

    assert expected == [gap.id for gap in found if gap.id == "X1"]
    assert all("may have gone through sieve" in gap.message for gap in found if gap.id == "X1")
    cleaning = [clean("C1", day(3), "sieve", "rack X1", before="X1")]
    assert [] == [one for one in dirty(find, farm(seasons, batches, cleaning)) if one == "X1"]


def test_lower_status_needs_a_cleaning_and_higher_does_not(seasons, find):
    """Organic seed in a run that claims less harms nobody."""
    low = run(seasons, "X1", "A1", day(1), "sieve", status="conventional")
    high = run(seasons, "X2", "A2", day(2), "sieve")

    assert ["X2"] == dirty(find, farm(seasons, [low, high]))
    swapped = [{**high, "date": day(1)}, {**low, "date": day(2)}]
    assert [] == dirty(find, farm(seasons, swapped))


def test_seed_from_elsewhere_is_other_seed(seasons, find):
    """A run of no picking in the records leaves its seed behind as well."""
    other = run(seasons, "X1", None, day(1), "sieve", other_seed="bought-in lettuce")

    assert ["X2"] == dirty(find, farm(seasons, [other, run(seasons, "X2", "A1", day(2), "sieve")]))


def test_the_season_before_counts(seasons, find):
    """The last use may lie in last year's records, and so may the cleaning since."""
    last = date(2025, 9, 1)
    used = run(seasons, "X9", "B1", last, "sieve")
    now = [run(seasons, "X1", "A1", day(1), "sieve")]
    before = farm(seasons, [used], label="2025")
    cleaned = farm(seasons, [used], [clean("C9", last + timedelta(1), "sieve")], label="2025")

    assert ["X1"] == dirty(find, farm(seasons, now, previous=before))
    assert [] == dirty(find, farm(seasons, now, previous=cleaned))


def test_a_run_without_equipment_matters_where_other_seed_is_handled(seasons, find):
    """On a farm of one variety there is nothing that could go along."""
    bare = run(seasons, "X1", "A1", day(1))
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=30)]
    (alone,) = find(farm(seasons, [bare], lots=lots), "equipment-unnamed")
    (beside,) = find(
        farm(seasons, [bare, run(seasons, "X2", "B1", day(4), "sieve")], lots=lots), "equipment-unnamed"
    )

    assert ("advice", "unproven") == (alone.weight, beside.weight)


def test_runs_of_one_day_may_have_come_in_any_order(seasons, find):
    """Only cleanings that name the runs on both their sides show in which."""
    batches = [
        run(seasons, "X2", "B1", day(1), "sieve"),
        run(seasons, "X1", "A1", day(1), "sieve"),
        run(seasons, "X3", "A2", day(1), "sieve"),
    ]
    between = [clean(f"C{at}", day(1), "sieve", after="X2", before=f"X{at}") for at in (1, 3)]

    assert ["X2", "X1", "X3"] == dirty(find, farm(seasons, batches))
    assert ["X2", "X3"] == dirty(find, farm(seasons, batches, between[:1]))
    assert [] == dirty(find, farm(seasons, batches, between))


def test_a_cleaning_of_the_evening_must_say_what_it_came_after(seasons, find):
    """Each run of its day may have been the last."""
    batches = [
        run(seasons, "X1", "A1", day(1), "sieve"),
        run(seasons, "X2", "A2", day(1), "sieve"),
        run(seasons, "X3", "B1", day(2), "sieve"),
    ]
    evening = [clean(f"C{at}", day(1), "sieve", after=f"X{at}") for at in (1, 2)]

    assert ["X3"] == dirty(find, farm(seasons, batches))
    assert ["X3"] == dirty(find, farm(seasons, batches, [clean("C1", day(1), "sieve", before="X3")]))
    assert ["X3"] == dirty(find, farm(seasons, batches, evening[:1]))
    assert [] == dirty(find, farm(seasons, batches, evening))


def test_what_the_season_before_left_dirty_is_told_there(seasons, find):
    """Only this season's runs are asked; a run of the same day may have come before or after."""
    last = [run(seasons, "X8", "A1", day(1), "sieve"), run(seasons, "X9", "B1", day(1), "sieve")]
    before = farm(seasons, last, label="2025")
    now = farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")], previous=before)

    assert ["X1"] == dirty(find, now)
    assert "batch X9" in find(now, "equipment-not-cleaned")[0].message
    cleaned = farm(seasons, last, [clean("C9", day(1), "sieve", before="X8")], label="2025")
    assert ["X1"] == dirty(find, farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")], previous=cleaned))


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
def test_any_step_up_in_status_needs_a_cleaning(seasons, statuses, expected, find):
    """The same status again and a lower one need none; of a run that claims nothing nobody asks."""
    batches = [
        run(seasons, f"X{at}", f"A{at}", day(at), "sieve", status=status)
        for at, status in enumerate(statuses, start=1)
    ]

    assert expected == dirty(find, farm(seasons, batches))


def test_seed_of_an_unknown_variety_is_no_other(seasons, find):
    """A run without pickings and without a word is told by another rule, on either side of this one."""
    for batches in (
        [run(seasons, "X1", None, day(1), "sieve"), run(seasons, "X2", "A1", day(2), "sieve")],
        [run(seasons, "X1", "A1", day(1), "sieve"), run(seasons, "X2", None, day(2), "sieve")],
    ):
        assert [] == dirty(find, farm(seasons, batches))


@pytest.mark.parametrize(
    ("beside", "weight"),
    [
        ({}, "advice"),
        ({"status": "transitional"}, "unproven"),
        ({"other_seed": "bought-in lettuce"}, "unproven"),
    ],
)
def test_other_seed_is_of_lower_status_or_from_elsewhere(seasons, beside, weight, find):
    """Either is enough to ask what the equipment was; a run that names it is not asked."""
    batches = [run(seasons, "X1", "A1", day(1)), run(seasons, "X2", "A2", day(4), "sieve", **beside)]
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, day=30)]
    (gap,) = find(farm(seasons, batches, lots=lots), "equipment-unnamed")

    assert ("X1", weight) == (gap.id, gap.weight)


def test_silent_runs_are_one_gap(seasons, find):
    """One question for all of them."""
    batches = [run(seasons, "X1", "A1", day(1)), run(seasons, "X2", "A2", day(4))]
    (gap,) = find(farm(seasons, batches), "equipment-unnamed")

    assert ("X1", "X2") == gap.ids
    assert () == find(farm(seasons, [run(seasons, "X1", "A1", day(1), "sieve")]), "equipment-unnamed")


def test_what_ran_after_a_strangers_cup_is_in_doubt(seasons, find):
    """Fruit of its own variety was in that run as well; the cup is other seed all the same. The run itself is
    told by another rule, and not here for the clean one before it."""
    cup = run(seasons, "X2", "A1", day(2), "sieve") | {"other_seed": "a cup of okra"}
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), cup, run(seasons, "X3", "A2", day(3), "sieve")]

    assert ["X3"] == dirty(find, farm(seasons, batches))


def test_a_strangers_cup_of_the_same_name_is_other_seed(seasons, find):
    """Nobody here knows its parents, whatever it is called; and the run after it had it in its sieve."""
    name = seasons.planting()["variety"]
    cup = run(seasons, "X2", "A1", day(2), "sieve") | {"other_seed": name}
    batches = [run(seasons, "X1", "A1", day(1), "sieve"), cup, run(seasons, "X3", "A2", day(3), "sieve")]

    assert ["X3"] == dirty(find, farm(seasons, batches))
