from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from certgen.rules import evidence
from certgen.rules.obligations import OBLIGATIONS

FUNCTIONS = {one.key: one.shown for one in OBLIGATIONS}


@pytest.fixture
def shown(stocked, case_of):
    """`shown(key, profile=…, standards=…, **tables)`: for each row of its table whether it is shown."""

    def shown(key, profile=None, standards=("us-nop",), step=None, **tables):
        season = stocked(**tables)
        if step is not None:
            raw = {**season.details.raw, "scale_step": step}
            season = replace(season, details=replace(season.details, raw=raw))
        values = FUNCTIONS[key](case_of(season, *standards, profile=profile))
        assert values.dtype == bool
        return values.tolist()

    return shown


def changed(record, **more):
    """The record with some fields changed; None takes a field out."""
    return {key: value for key, value in {**record, **more}.items() if value is not None}


@pytest.mark.parametrize("key", FUNCTIONS)
def test_each_is_shown_of_a_clean_line_and_of_no_record(shown, key):
    """Row for row; where no record stands there is no row."""
    tables = "blocks plantings trees screening bagging harvests batches lots tests"
    empty = {name: [] for name in tables.split()}

    assert [True] == shown(key)
    assert [] == shown(key, **empty)


def test_every_function_of_evidence_is_some_obligations():
    """None lies idle; two say whose word it is."""
    functions = {
        value for name, value in vars(evidence).items()
        if callable(value) and not name.startswith("_") and value.__module__ == evidence.__name__
    }  # fmt: skip

    assert functions == {*FUNCTIONS.values(), *(one.by for one in OBLIGATIONS if one.by is not None)}


# Lots


def lot(seasons, *parts, weight="8 g", **more):
    """Lot L1 of some parts, each a source and its weight."""
    sources = [{**source, "weight": mass} for source, mass in parts]
    return changed(seasons.lot("L1", sources, 8), weight=weight, **more)


X1, L0, BOUGHT = {"batch": "X1"}, {"lot": "L0"}, {"supplier": "Brackwen Seed Exchange"}


@pytest.mark.parametrize(
    ("parts", "weight", "step", "sources", "accounted"),
    [
        ([(X1, "8 g")], "8 g", None, True, True),
        ([(X1, "8 g")], "8.1 g", None, True, True),
        ([(X1, "8 g")], "8.101 g", None, False, True),
        ([(X1, "8 g")], "7.9 g", None, True, True),
        ([(X1, "8 g")], "7.899 g", None, True, False),
        ([(X1, "4 g"), (X1, "4 g")], "8.002 g", "0.001 g", True, True),
        ([(X1, "4 g"), (X1, "4 g")], "8.003 g", "0.001 g", False, True),
        ([(X1, "4 g"), (X1, "4 g")], "7.998 g", "0.001 g", True, True),
        ([(X1, "4 g"), (X1, "4 g")], "7.997 g", "0.001 g", True, False),
        ([], "8 g", None, False, True),
        ([(X1, "4 g"), (L0, "4 g")], "8 g", None, True, True),
        ([({"batch": "X9"}, "8 g")], "8 g", None, False, True),
        ([({"lot": "L9"}, "8 g")], "8 g", None, False, True),
        ([({"lot": "L1"}, "8 g")], "8 g", None, False, True),
        ([(BOUGHT, "8 g")], "8 g", None, False, True),
        ([(X1, "4 g"), (BOUGHT, "4 g")], "8 g", None, False, True),
        ([({**X1, **L0}, "8 g")], "8 g", None, False, True),
        ([({**X1, **BOUGHT}, "8 g")], "8 g", None, False, True),
    ],
)
def test_a_lot_comes_out_of_named_runs_and_lots(
    seasons, shown, parts, weight, step, sources, accounted
) -> None:
    """That are there, one for each part, and add up to it within what the scale shows: no less for where it
    came from, and no more for where it went."""
    lots = [lot(seasons, *parts, weight=weight), changed(seasons.lot("L0", [{**X1, "weight": "4 g"}], 4))]

    assert [sources, True] == shown("lot-sources", step=step, lots=lots)
    assert accounted == shown("lot-accounted", step=step, lots=lots)[0]


@pytest.mark.parametrize(
    ("kind", "grams", "accounted", "undisturbed"),
    [
        ("counted", 8, True, True),
        ("counted", 7.9, True, True),
        ("counted", 7.8, False, True),
        ("counted", 8.1, True, True),
        ("counted", 8.2, True, False),
        ("sold", 8.1, True, True),
        ("sold", 8.2, False, True),
        ("received", 1, True, False),
        ("returned", 1, True, False),
        ("sampled", 1, True, True),
    ],
)
def test_the_book_shows_what_came_in_and_what_is_missing(seasons, shown, kind, grams, accounted, undisturbed):
    """Each of the two by itself."""
    moves = [seasons.movement("M1", "L1", kind, grams)]

    assert [accounted] == shown("lot-accounted", movements=moves)
    assert [undisturbed] == shown("lot-undisturbed", movements=moves)


def test_something_that_got_into_a_lot_disturbs_it(seasons, shown):
    """By the grower's own word; about another lot it says nothing here."""
    for about, expected in (("L1", False), ("L9", True)):
        incident = {"incident": "I1", "date": seasons.PICKED, "kind": "mixing", "about": [about]}
        assert [expected] == shown("lot-undisturbed", incidents=[incident])


@pytest.mark.parametrize(
    ("lot_", "variety", "status"),
    [
        ({}, True, True),
        ({"variety": "AMBER  kestrel"}, True, True),
        ({"variety": "Moth Lantern"}, False, True),
        ({"status": "transitional"}, True, True),
        ({"sources": [{"lot": "L0", "weight": "8 g"}]}, True, True),
        ({"sources": [{"batch": "X9", "weight": "8 g"}]}, False, False),
        ({"sources": [{"supplier": "Brackwen Seed Exchange", "weight": "8 g"}]}, False, False),
        ({"sources": []}, False, False),
    ],
)
def test_all_that_is_in_a_lot_is_what_it_is_called(seasons, shown, lot_, variety, status):
    """What nobody knows is not."""
    lots = [changed(lot(seasons, (X1, "8 g")), **lot_), seasons.lot("L0", [{**X1, "weight": "4 g"}], 4)]

    assert variety == shown("lot-variety", lots=lots)[0]
    assert status == shown("lot-status", lots=lots)[0]


@pytest.mark.parametrize(
    ("batch", "trees", "variety", "status"),
    [("transitional", ["T1"], True, False), ("organic", ["T1", "T2"], False, True)],
)
def test_a_run_hands_on_what_it_is(seasons, shown, batch, trees, variety, status):
    """A lower status, or two varieties, of which neither is the lot's."""
    tables = {
        "plantings": [seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
        "trees": [seasons.tree("T1"), seasons.tree("T2", planting="P2")],
        "bagging": [seasons.bag(f"B{at}", of) for at, of in enumerate(trees)],
        "harvests": [seasons.harvest("H1", [f"B{at}" for at in range(len(trees))])],
        "batches": [seasons.batch("X1", ["H1"], status=batch)],
    }

    assert [variety] == shown("lot-variety", **tables)
    assert [status] == shown("lot-status", **tables)


WASHED = {"container_use": "re-used", "previous_contents": "papaya seed, 2025"}


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, True),
        ({"packaging": "-"}, False),
        ({"packaging": "foil, with a fungicide"}, False),
        ({"container_use": "re-used"}, False),
        ({**WASHED, "container_cleaned": 0}, True),
        ({**WASHED, "container_cleaned": 1}, False),
        ({**WASHED, "container_cleaned": -1}, True),
        (WASHED, False),
        ({"container_use": "re-used", "container_cleaned": 0}, False),
        ({**WASHED, "container_cleaned": 0, "previous_contents": "seed with a fungicide"}, True),
        ({"previous_contents": "seed with a fungicide"}, False),
        ({"packaging_contains": "fungicide"}, False),
        ({"packaging_contains": "unknown"}, False),
        ({"packaging_contains": "nothing"}, True),
        ({"status": "conventional", "packaging": None, "container_use": None}, True),
    ],
)
def test_packaging_is_new_or_its_past_is_told(seasons, shown, more, expected):
    """Washed by the day of packing; what claims nothing is asked nothing."""
    packed = seasons.lot("L1", [], 8)["packed"]
    if "container_cleaned" in more:
        more = {**more, "container_cleaned": packed + timedelta(more["container_cleaned"])}

    assert [expected] == shown("lot-packaging", lots=[changed(lot(seasons, (X1, "8 g")), **more)])


# Runs


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, True),
        ({"harvests": ["H1", "H9"]}, False),
        ({"harvests": ["H9"]}, False),
        ({"other_seed": "bought-in lettuce"}, False),
        ({"other_seed": "?"}, False),
        ({"other_seed": "none"}, True),
    ],
)
def test_a_run_is_of_pickings_that_are_there(seasons, shown, more, expected):
    """And of nothing else; that there was no other seed says nothing against it."""
    assert [expected] == shown("run-pickings", batches=[changed(seasons.batch("X1", ["H1"]), **more)])


@pytest.mark.parametrize(
    ("batch", "packed", "harvest", "expected"),
    [
        ({}, "8 g", {}, True),
        ({"dry_weight": "30 g", "wet_weight": "60 g"}, "8 g", {}, True),
        ({"dry_weight": "31 g", "wet_weight": "60 g"}, "8 g", {}, False),
        ({"dry_weight": "8 g", "wet_weight": "8 g"}, "8 g", {}, True),
        ({"dry_weight": "8 g", "wet_weight": "7.9 g"}, "8 g", {}, False),
        ({}, "8.1 g", {}, True),
        ({}, "8.101 g", {}, False),
        ({}, "8 g", {"weight": "160 g"}, True),
        ({}, "8 g", {"weight": "159 g"}, False),
        ({"dry_weight": "1 g"}, "1 g", {"weight": "30 g"}, True),
        ({"dry_weight": "1 g"}, "1 g", {"weight": "29 g"}, False),
        ({}, "8 g", {"weight": "10 kg"}, True),
        ({}, "8 g", {"weight": "10.1 kg"}, False),
        ({}, "8 g", {"weight": None}, True),
    ],
)
def test_a_run_gave_what_its_fruit_can_hold(seasons, shown, batch, packed, harvest, expected):
    """By count and by weight, of fruit that weighs what fruit does; its lots took no more than it gave."""
    assert [expected] == shown(
        "run-weight",
        batches=[changed(seasons.batch("X1", ["H1"]), **batch)],
        lots=[lot(seasons, (X1, packed), weight=packed)],
        harvests=[changed(seasons.harvest("H1", ["B1"]), **harvest)],
    )


@pytest.mark.parametrize("figure", [{"fruit_weight_g": None}, {"seeds_per_fruit": None}])
def test_a_crop_without_a_figure_bounds_by_the_others(seasons, shown, crop, figure):
    """A fruit of any weight, or of any number of seeds."""
    tables = {"harvests": [seasons.harvest("H1", ["B1"], weight="12 kg")]}
    heavy = {"batches": [seasons.batch("X1", ["H1"], dry_weight="31 g", wet_weight="60 g")]}
    profile = crop(**figure)

    assert [[False], [False]] == [shown("run-weight", **one) for one in (tables, heavy)]
    assert [["fruit_weight_g" in figure], ["seeds_per_fruit" in figure]] == [
        shown("run-weight", profile=profile, **one) for one in (tables, heavy)
    ]


@pytest.mark.parametrize(
    ("status", "called", "trees", "expected"),
    [
        ("organic", "organic", ["T1"], True),
        ("transitional", "organic", ["T1"], False),
        ("conventional", "transitional", ["T1"], True),
        ("organic", "organic", ["T1", "T2"], False),
        ("organic", "organic", [], False),
    ],
)
def test_a_run_is_of_one_variety_and_no_lower_status(seasons, shown, status, called, trees, expected):
    """Than it is called; of a variety that nobody knows nothing is shown."""
    assert [expected] == shown(
        "run-unmixed",
        plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
        trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
        bagging=[seasons.bag(f"B{at}", of) for at, of in enumerate(trees)],
        harvests=[seasons.harvest("H1", [f"B{at}" for at in range(len(trees))], status=status)],
        batches=[seasons.batch("X1", ["H1"], status=called)],
    )


@pytest.mark.parametrize(
    ("other", "named", "cleaned", "expected"),
    [
        ({}, True, None, True),
        ({}, False, None, True),
        ({"status": "conventional"}, False, None, False),
        ({"status": "conventional"}, True, None, False),
        ({"status": "conventional"}, True, {"before": "X1"}, True),
        ({"status": "conventional", "equipment": ["sieve"]}, True, None, True),
    ],
)
def test_equipment_is_named_and_clean_where_other_seed_is_handled(
    seasons, shown, other, named, cleaned, expected
):
    """A run of the same sort and status leaves nothing behind."""
    batch = changed(seasons.batch("X1", ["H1"], day=9), equipment=("mixer",) if named else None)
    first = {**seasons.batch("X2", ["H1"]), **other}
    washed = {"cleaning": "C1", "date": batch["date"], "equipment": ["mixer"], "method": "hot water"}

    assert (
        expected
        == shown(
            "run-equipment", batches=[batch, first], cleaning=[{**washed, **cleaned}] if cleaned else []
        )[0]
    )


@pytest.mark.parametrize(
    ("packed", "kept", "expected"),
    [
        ("8 g", None, True),
        ("7.9 g", None, True),
        ("7.899 g", None, False),
        ("8.1 g", None, True),
        ("8.101 g", None, False),
        ("7 g", {"weight": "1 g", "why": "spilt"}, True),
        ("7 g", {"weight": "0.9 g", "why": "spilt"}, True),
        ("7 g", {"weight": "0.8 g", "why": "spilt"}, False),
        ("7 g", {"weight": "1 g", "why": "tbd"}, False),
    ],
)
def test_what_was_dried_was_packed_or_has_an_end(seasons, shown, packed, kept, expected):
    """Within what the scale shows."""
    assert [expected] == shown(
        "run-remainder",
        batches=[changed(seasons.batch("X1", ["H1"]), never_packed=kept)],
        lots=[lot(seasons, (X1, packed), weight=packed)],
    )


# Pickings


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, True),
        ({"fruits": 2}, False),
        ({"bags": ["B1", "B2"], "fruits": 2}, True),
        ({"bags": ["B1", "B2"], "fruits": 1}, True),
        ({"bags": ["B1", "B9"], "fruits": 2}, False),
        ({"bags": ["B1", "B1"], "fruits": 2}, False),
        ({"bags": None}, False),
        ({"bags": None, "fruits": 0}, True),
        ({"trees": ["T1"]}, True),
        ({"trees": ["T1"], "fruits": 2}, False),
        ({"bags": None, "trees": ["T1"]}, False),
    ],
)
def test_each_fruit_has_its_bag(seasons, shown, more, expected):
    """A bag that is there, and no more fruit than bags; a tree named beside its bag is the same fruit."""
    bags = [seasons.bag(f"B{at}", "T1") for at in (1, 2)]

    assert [expected] == shown(
        "picking-bags", bagging=bags, harvests=[changed(seasons.harvest("H1", ["B1"]), **more)]
    )


def test_a_bag_whose_fruit_is_in_two_pickings_shows_neither(seasons, shown, crop):
    """Unless a bag may bear two by the crop's profile."""
    harvests = [seasons.harvest(name, ["B1"]) for name in ("H1", "H2")]

    assert [False, False] == shown("picking-bags", harvests=harvests)
    assert [True, True] == shown("picking-bags", harvests=harvests, profile=crop(fruits_per_bag={"high": 2}))
    assert [False, False] == shown("picking-bags", harvests=harvests, profile=crop(fruits_per_bag=None))


@pytest.mark.parametrize(
    ("block", "harvest", "standards", "expected"),
    [
        ({}, {}, ("us-nop",), True),
        ({"status": "transitional"}, {}, ("us-nop",), False),
        ({"status": "transitional"}, {"status": "transitional"}, ("us-nop",), True),
        ({"status": "transitional"}, {"bags": None, "fruits": 0}, ("us-nop",), True),
        ({"organic_since": 0}, {}, ("us-nop",), True),
        ({"organic_since": 1}, {}, ("us-nop",), False),
        ({"organic_since": None}, {}, ("us-nop",), False),
        ({"last_prohibited_substance": None}, {}, ("us-nop",), False),
        ({"block": "West"}, {}, ("us-nop",), False),
    ],
)
def test_the_land_of_each_fruit_was_organic_that_day(seasons, shown, block, harvest, standards, expected):
    """Since that day at the latest, with its history; fruit that claims less is asked less."""
    if isinstance(block.get("organic_since"), int):
        block = {**block, "organic_since": seasons.PICKED + timedelta(block["organic_since"])}

    assert [expected] == shown(
        "picking-land",
        standards=standards,
        blocks=[changed(seasons.block(), **block)],
        harvests=[changed(seasons.harvest("H1", ["B1"]), **harvest)],
    )


# Bags


@pytest.mark.parametrize(
    ("tag", "expected"),
    [
        ({}, True),
        ({"variety": "AMBER  kestrel"}, True),
        ({"variety": "AK"}, True),
        ({"variety": "Moth Lantern"}, False),
        ({"tree": "T2"}, False),
        ({"date": "2026-01-13"}, False),
        ({"bag": "B1"}, True),
        ({"bag": "B2"}, False),
    ],
)
def test_a_tag_says_what_the_log_says(seasons, shown, tag, expected):
    """In full, or by the short name that its planting declares; the bag's number where it bears one."""
    bag = seasons.bag("B1", "T1")

    assert [expected] == shown(
        "bag-tag", plantings=[seasons.planting(short="AK")], bagging=[{**bag, "tag": {**bag["tag"], **tag}}]
    )


@pytest.mark.parametrize(("stage", "expected"), [("closed bud", True), ("open", False)])
def test_only_a_closed_bud_is_one(seasons, shown, stage, expected):
    """By the profile's word."""
    assert [expected] == shown("bag-bud", bagging=[seasons.bag("B1", "T1", stage=stage)])


@pytest.mark.parametrize(
    ("sex", "flower", "father", "expected"),
    [
        ("hermaphrodite", "hermaphrodite", None, True),
        ("hermaphrodite", "hermaphrodite", {}, True),
        ("hermaphrodite", "hermaphrodite", {"planting": "P2"}, False),
        ("unknown", "hermaphrodite", None, True),
        ("hermaphrodite", "female", {}, False),
        ("hermaphrodite", "male", None, False),
        ("female", "female", None, False),
        ("female", "female", {}, True),
        ("female", "female", {"sex": "male"}, True),
        ("female", "female", {"sex": "female"}, False),
        ("female", "female", {"planting": "P2"}, False),
        ("unknown", "female", {}, True),
        ("female", "hermaphrodite", None, False),
    ],
)
def test_a_flower_sets_seed_of_its_own_pollen_or_of_a_fit_tree(seasons, shown, sex, flower, father, expected):
    """Of its variety; and it is such as its tree bears."""
    bag = changed(seasons.bag("B1", "T1", flower=flower), pollen_parent="T2" if father is not None else None)

    assert [expected] == shown(
        "bag-flower",
        plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
        trees=[seasons.tree("T1", sex=sex), seasons.tree("T2", **(father or {}))],
        bagging=[bag],
    )


@pytest.mark.parametrize(("secured", "expected"), [(True, True), (False, False), (None, False)])
def test_somebody_says_that_it_was_tied(seasons, shown, secured, expected):
    """A blank says nothing."""
    assert [expected] == shown("bag-tied", bagging=[changed(seasons.bag("B1", "T1"), secured=secured)])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, True),
        ({"uncovered": 7, "checks": []}, True),
        ({"uncovered": 6, "checks": []}, False),
        ({"uncovered": None, "checks": []}, False),
    ],
)
def test_a_bag_held_as_long_as_it_was_needed(seasons, shown, more, expected):
    """As its days come to (see the tests of that)."""
    if isinstance(more.get("uncovered"), int):
        more = {**more, "uncovered": seasons.COVERED + timedelta(more["uncovered"])}

    assert [expected] == shown("bag-held", bagging=[changed(seasons.bag("B1", "T1"), **more)])


@pytest.mark.parametrize(
    ("use", "held", "days", "expected"),
    [
        ("new", None, None, True),
        (None, None, None, False),
        ("re-used", None, None, False),
        ("re-used", "papaya flowers, 2025", 0, True),
        ("re-used", "papaya flowers, 2025", 1, False),
        ("re-used", "papaya flowers, 2025", None, False),
        ("re-used", None, 0, False),
        ("re-used", "unknown", 0, False),
    ],
)
def test_a_bag_is_new_or_washed_by_the_day_it_was_put_on(seasons, shown, use, held, days, expected):
    """With what it held."""
    washed = None if days is None else seasons.COVERED + timedelta(days)
    bag = changed(seasons.bag("B1", "T1"), bag_use=use, previous_contents=held, bag_cleaned=washed)

    assert [expected] == shown("bag-clean", bagging=[bag])


@pytest.mark.parametrize(
    ("twin", "expected"),
    [
        ({}, [True, True]),
        ({"secured": False}, [False, True]),
        ({"secured": False, "tree": "T2"}, [True, True]),
    ],
)
def test_no_other_bag_of_its_tag_failed(seasons, shown, twin, expected):
    """The one that failed has rules of its own."""
    of = twin.get("tree", "T1")
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", of, **{**twin, "tree": of})]

    assert expected == shown("bag-tag-own", trees=[seasons.tree("T1"), seasons.tree("T2")], bagging=bags)


@pytest.mark.parametrize(
    ("bag", "days", "expected"),
    [
        ({}, 147, True),
        ({"fruit_marked": None}, 147, False),
        ({"fruit_marked": False}, 147, False),
        ({"fruit_marked": None, "uncovered": None}, 147, True),
        ({"fruit_marked": None, "uncovered": 147}, 147, True),
        ({"fruit_marked": None, "uncovered": 146}, 147, False),
        ({"outcome": "dropped"}, 147, False),
        ({"outcome": "lost"}, 147, False),
        ({"outcome": None}, 147, True),
        # A fruit takes 112 days at least, and 300 at most.
        ({}, 112, True),
        ({}, 111, False),
        ({}, 300, True),
        ({}, 301, False),
        ({"covered": None}, 147, False),
    ],
)
def test_the_fruit_is_the_one_that_the_bag_covered(seasons, shown, bag, days, expected):
    """Picked under the cover or by its mark, in a time in which it can ripen."""
    if isinstance(bag.get("uncovered"), int):
        bag = {**bag, "uncovered": seasons.COVERED + timedelta(bag["uncovered"])}
    picked = seasons.harvest("H1", ["B1"], date=seasons.COVERED + timedelta(days))

    assert [expected] == shown(
        "bag-fruit", bagging=[changed(seasons.bag("B1", "T1"), **bag)], harvests=[picked]
    )


def test_a_bag_of_which_no_fruit_was_picked_shows_none(seasons, shown, crop):
    """Nor does one of a crop of which nobody knows how long it ripens, if its days aren't known."""
    bags = [seasons.bag("B1", "T1"), seasons.bag("B2", "T1")]
    profile = crop(days_covering_to_picking=None)
    undated = [changed(seasons.bag("B1", "T1"), covered=None)]

    assert [True, False] == shown("bag-fruit", bagging=bags)
    assert [True, False] == shown("bag-fruit", bagging=bags, profile=profile)
    assert [False] == shown("bag-fruit", bagging=undated, profile=profile)


@pytest.mark.parametrize(
    ("mother", "father", "expected"),
    [
        ({"days": 90}, None, True),
        ({"days": 89}, None, False),
        ({"days": -1}, None, False),
        ({"gone": 0}, None, True),
        ({"gone": -1}, None, False),
        ({}, {}, True),
        ({}, {"days": 0}, True),
        ({}, {"days": -1}, False),
        ({}, {"gone": 0}, True),
        ({}, {"gone": -1}, False),
    ],
)
def test_the_trees_stood_there_that_day(seasons, shown, mother, father, expected):
    """The mother for ninety days at least, so that it could flower; neither removed before."""
    trees, plantings = [], []
    for number, told in enumerate((mother, father or {}), start=1):
        gone = {"removed": seasons.COVERED + timedelta(told["gone"])} if "gone" in told else {}
        trees.append(seasons.tree(f"T{number}", planting=f"P{number}", **gone))
        planted = seasons.COVERED - timedelta(told.get("days", 300))
        plantings.append(seasons.planting(f"P{number}", planted=planted))
    bag = changed(seasons.bag("B1", "T1"), pollen_parent=None if father is None else "T2")

    assert [expected] == shown("bag-tree", trees=trees, plantings=plantings, bagging=[bag])


def test_a_tree_that_nobody_knows_is_not_shown(seasons, shown, crop):
    """A crop that flowers at any age asks only that it stood there."""
    profile = crop(days_planting_to_flowering=None)
    fresh = {"plantings": [seasons.planting(planted=seasons.COVERED)]}

    assert [False] == shown("bag-tree", bagging=[seasons.bag("B1", "T9")])
    assert [False] == shown("bag-tree", bagging=[seasons.bag("B1", "T1", pollen_parent="T9")])
    assert [False] == shown("bag-tree", **fresh)
    assert [True] == shown("bag-tree", profile=profile, **fresh)


@pytest.mark.parametrize(
    ("days", "more", "expected"),
    [
        (0, {}, True),
        (1, {}, False),
        (0, {"result": "positive"}, False),
        (0, {"mark": "T9"}, False),
        (0, {"targets": ("uidA",)}, False),
        (0, {"targets": ("nptII",)}, True),
        (0, {"controls": "failed"}, False),
    ],
)
@pytest.mark.parametrize("which", ["T1", "T2"])
def test_both_parents_were_cleared_by_the_day_of_covering(seasons, shown, which, days, more, expected):
    """Of every event, by samples that prove something."""
    when = seasons.COVERED + timedelta(days)
    late = {"collected": when, "submitted": when, "reported": when + timedelta(5)}
    samples = [
        {**seasons.sample(f"S-{tree}", tree), **({**late, **more} if tree == which else {})}
        for tree in ("T1", "T2")
    ]
    trees = [seasons.tree("T1", sex="female"), seasons.tree("T2")]
    bag = seasons.bag("B1", "T1", flower="female", pollen_parent="T2")

    assert [expected] == shown("bag-screened", trees=trees, screening=samples, bagging=[bag])


# Plantings and blocks

OTHER = {"material_status": "untreated non-organic", "search_log": "letters/BF-2201.txt"}
STATED = {**OTHER, "non_gm_statement": "letters/BF-2201.txt"}


@pytest.mark.parametrize(
    ("more", "block", "expected"),
    [
        ({}, "organic", True),
        ({"origin": None}, "organic", False),
        ({"origin": None}, "transitional", False),
        ({"origin": None}, "conventional", True),
        ({"origin": {"supplier": "Brackwen Seed Exchange"}}, "organic", False),
        (
            {"origin": {"supplier": "Brackwen Seed Exchange"}, "evidence": "letters/BF-2201.txt"},
            "organic",
            True,
        ),
        ({"origin": {"lot": "L1"}}, "organic", True),
        ({"origin": {"lot": "L1"}, "variety": "Moth Lantern"}, "organic", False),
        ({"origin": {"lot": "L9"}}, "organic", False),
        (OTHER, "organic", False),
        (STATED, "organic", True),
        ({**STATED, "search_log": None}, "organic", False),
        ({**STATED, "material_status": "treated"}, "organic", False),
        ({**STATED, "material_status": "treated", "evidence": "letters/BF-2201.txt"}, "organic", True),
        ({**OTHER, "origin": {"lot": "L1"}}, "organic", True),
    ],
)
def test_the_seed_of_a_planting_is_known_and_fit(seasons, shown, more, block, expected):
    """An own lot of its name and status, or a supplier with the papers that the material needs."""
    assert [expected] == shown(
        "planting-origin",
        blocks=[seasons.block(status=block)],
        plantings=[changed(seasons.planting(), **more)],
    )


@pytest.mark.parametrize(
    ("more", "standards", "expected"),
    [
        ({}, ("us-nop",), True),
        ({"boundary": None}, ("us-nop",), False),
        ({"buffer": None}, ("us-nop",), False),
        ({"buffer": "0 m"}, ("us-nop",), False),
        ({"buffer": None, "boundary": "organic neighbours all round"}, ("us-nop",), True),
        ({"boundary": None, "buffer": None}, ("eu",), True),
        ({"boundary": None, "status": "transitional"}, ("us-nop",), True),
    ],
)
def test_a_blocks_edges_are_told_where_a_standard_asks(seasons, shown, more, standards, expected):
    """Of organic land."""
    assert [expected] == shown("block-status", standards=standards, blocks=[changed(seasons.block(), **more)])
