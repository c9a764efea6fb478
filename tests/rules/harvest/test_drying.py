from __future__ import annotations

from datetime import date, timedelta

import pytest
from printed import plain

from certgen.rules.harvest.drying import group_runs

ON = date(2026, 10, 31)


def farm(seasons, batch, fruits=1, **tables):
    """One batch of some fruit."""
    return seasons.season_of(
        **{
            "blocks": [seasons.block()],
            "plantings": [seasons.planting()],
            "trees": [seasons.tree("T1")],
            "bagging": [seasons.bag(f"B{n}", "T1") for n in range(fruits)],
            "harvests": [seasons.harvest("H1", [f"B{n}" for n in range(fruits)])],
            "batches": [batch],
            **tables,
        }
    )


def dried(seasons, **more):
    """A batch with its own drying."""
    batch = seasons.batch("X1", ["H1"])
    return {**batch, "drying": {**batch["drying"], **more}}


def test_every_odd_figure_of_a_run_is_told_at_once(seasons, find):
    """One run, one gap."""
    when = seasons.PICKED + timedelta(14)
    batch = dried(seasons, temperature="65 C", **{"from": when, "to": when + timedelta(9)})
    (gap,) = find(farm(seasons, {**batch, "moisture": "14 %"}), "drying-out-of-range")

    assert "advice" == gap.weight
    for said in (
        "at 65 °C, where practice is at most 40 °C, and such",
        "lay wet for 3 days",
        "9 days (fan)",
        "14 %",
    ):
        assert said in gap.message


@pytest.mark.parametrize(("humidity", "expected"), [("normal", 1), ("high", 0)])
def test_damp_air_excuses_slow_drying(seasons, humidity, expected, find):
    """It takes the time it takes."""
    when = seasons.PICKED + timedelta(11)
    batch = dried(seasons, humidity=humidity, **{"from": when, "to": when + timedelta(9)})

    assert expected == len(find(farm(seasons, batch), "drying-out-of-range"))


@pytest.mark.parametrize(("method", "expected"), [("fan", 1), ("shade", 0)])
def test_each_way_of_drying_has_its_own_days(seasons, method, expected, find):
    """Six days are long before a fan and usual in the shade."""
    when = seasons.PICKED + timedelta(11)
    batch = dried(seasons, method=method, **{"from": when, "to": when + timedelta(6)})

    assert expected == len(find(farm(seasons, batch), "drying-out-of-range"))


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ({"wet_weight": "80 g", "dry_weight": "31 g"}, "its 1 fruit can hold 30 g at most"),
        ({"wet_weight": "7 g", "dry_weight": "8 g"}, "8 g of dry seed out of 7 g of wet seed"),
        ({"wet_weight": "80 g", "dry_weight": "30 g"}, None),
    ],
)
def test_a_fruit_holds_so_much_and_no_more(seasons, weights, said, find):
    """1,200 seeds at 25 g a thousand are 30 g; the bound itself is possible."""
    found = find(
        farm(seasons, seasons.batch("X1", ["H1"], **weights), trees=[seasons.tree("T1")]),
        "batch-weight-impossible",
    )

    assert (1 if said else 0) == len(found)
    assert all(said in plain(gap.message) for gap in found)


def test_the_weight_of_the_fruit_bounds_its_seed_too(seasons, find):
    """Five hundredths of 100 g are 5 g."""
    season = farm(
        seasons, seasons.batch("X1", ["H1"]), harvests=[seasons.harvest("H1", ["B0"], weight="100 g")]
    )
    (gap,) = find(season, "batch-weight-impossible")

    assert "100 g of fruit can hold 5 g at most" in plain(gap.message)


@pytest.mark.parametrize(("weights", "expected"), [(("22 g", "8 g"), []), (("23 g", "8 g"), [("X1", "X2")])])
def test_runs_that_share_a_picking_hold_its_fruit_together(seasons, weights, expected, find):
    """However it was divided: of the one fruit no more than 30 g can have come, and both are named."""
    batches = [
        seasons.batch(f"X{number}", ["H1"], dry_weight=weight)
        for number, weight in enumerate(weights, start=1)
    ]
    lots = [seasons.lot("L1", [{"batch": "X2", "weight": "8 g"}], 8)]
    found = find(farm(seasons, batches[0], batches=batches, lots=lots), "batch-weight-impossible")

    assert expected == [gap.ids for gap in found]
    assert all("Batches X1 and X2 gave 31 g of dry seed" in plain(gap.message) for gap in found)
    assert all(("unproven", ("L1",)) == (gap.weight, gap.lots) for gap in found)


def chained(seasons, *weights, also=(), **picking):
    """X1 of H1, X2 of H1 and H2, X3 of H2: one group of two pickings of one fruit each; X4 of H4 alone."""
    parts = (["H1"], ["H1", "H2"], ["H2", *also], ["H4"])
    batches = []
    for number, (part, weight) in enumerate(zip(parts, weights, strict=True), start=1):
        weighed = {"dry_weight": weight} if weight else {}
        record = seasons.batch(f"X{number}", part, wet_weight="90 g")
        batches.append({**{key: value for key, value in record.items() if key != "dry_weight"}, **weighed})
    harvests = [seasons.harvest(name, [f"B{name[1]}"]) for name in ("H1", "H2", "H4")]
    harvests[1] = {key: value for key, value in {**harvests[1], **picking}.items() if value is not None}
    return farm(seasons, batches[0], fruits=5, batches=batches, harvests=harvests)


@pytest.mark.parametrize(
    ("weights", "picking", "expected"),
    [
        (("20 g", "20 g", "20 g", "30 g"), {}, []),
        (("20 g", "20 g", "21 g", "30 g"), {}, [("X1", "X2", "X3")]),
        (("1 g", "1 g", "1 g", "31 g"), {}, [("X4",)]),
        # Two fruit of 950 g and 100 g: their seed is a twentieth of it at most, 52.5 g.
        (("20 g", "20 g", "12 g", "30 g"), {"weight": "100 g"}, []),
        (("20 g", "20 g", "13 g", "30 g"), {"weight": "100 g"}, [("X1", "X2", "X3")]),
        # Where one weight isn't known, the number of fruit is the only bound; of a picking that isn't known
        # nobody can say how much fruit it was.
        (("20 g", "20 g", "20 g", "30 g"), {"weight": None}, []),
        (("20 g", "20 g", "21 g", "30 g"), {"weight": None}, [("X1", "X2", "X3")]),
        (("80 g", "80 g", "80 g", "30 g"), {"also": ["H9"]}, []),
        # What nobody weighed adds nothing that is known.
        (("60 g", None, None, "30 g"), {}, []),
        (("61 g", None, None, "30 g"), {}, [("X1", "X2", "X3")]),
    ],
)
def test_fruit_bounds_the_seed_of_all_runs_that_hang_together(seasons, weights, picking, expected, find):
    """By shared pickings, through any number of runs; a run beside them is judged by itself."""
    season = chained(seasons, *weights, **picking)

    assert expected == [gap.ids for gap in find(season, "batch-weight-impossible")]


def test_runs_are_grouped_by_the_pickings_they_share(seasons, case_of):
    """Each picking's fruit counts once, also where a run names it twice; a run of none stands in no group."""
    season = chained(seasons, "1 g", "2 g", "3 g", "4 g")
    batches = [
        *(season.record_at("batches", row) for row in range(4)),
        seasons.batch("X5", ["H4", "H4"], dry_weight="5 g"),
        {**seasons.batch("X6", []), "other_seed": "bought-in lettuce"},
    ]
    harvests = [season.record_at("harvests", row) for row in range(3)]
    found = group_runs(case_of(farm(seasons, batches[0], batches=batches, harvests=harvests, fruits=5)))

    assert [
        ((0, 1, 2), ("X1", "X2", "X3"), 2, 1_900_000, 6_000),
        ((3, 4), ("X4", "X5"), 1, 950_000, 9_000),
    ] == [tuple(group) for group in found]


@pytest.mark.parametrize(
    "figure",
    [
        {"seeds_per_fruit": None, "seed_of_fruit_pct": None},
        {"thousand_seed_weight_g": None, "seed_of_fruit_pct": None},
        {"seeds_per_fruit": {"high": None}, "seed_of_fruit_pct": {"high": None}},
    ],
)
def test_a_crop_without_a_most_bounds_no_run(seasons, find, crop, figure):
    """Of seeds a fruit, of their weight, of their share of the fruit; wet seed still bounds the dry."""
    season = farm(seasons, seasons.batch("X1", ["H1"], dry_weight="70 g", wet_weight="80 g"))
    over = farm(seasons, seasons.batch("X1", ["H1"], dry_weight="70 g", wet_weight="69 g"))

    assert 1 == len(find(season, "batch-weight-impossible"))
    assert () == find(season, "batch-weight-impossible", profile=crop(**figure))
    assert 1 == len(find(over, "batch-weight-impossible", profile=crop(**figure)))


@pytest.mark.parametrize(
    ("fruits", "weight", "expected"),
    [
        (1, "29.9 g", "29.9 g a fruit"),
        (1, "30 g", None),
        (1, "10 kg", None),
        (1, "10.1 kg", "1.01e+04 g a fruit"),
        (2, "59 g", "29.5 g a fruit"),
        (2, "60 g", None),
        (0, "950 g", None),
        (1, None, None),
    ],
)
def test_a_fruit_has_a_weight_that_a_fruit_can_have(seasons, fruits, weight, expected, find):
    """Thirty grams to ten kilograms by the profile, on the mean; of no fruit, or without a weight, there is
    none to ask of."""
    record = {**seasons.harvest("H1", ["B0", "B1"]), "fruits": fruits, "weight": weight}
    record = {key: value for key, value in record.items() if value is not None}
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)]
    season = farm(seasons, seasons.batch("X1", ["H1"]), fruits=2, harvests=[record], lots=lots)
    found = find(season, "harvest-weight-impossible")

    assert [("unproven", ("L1",))] * bool(expected) == [(gap.weight, gap.lots) for gap in found]
    assert all(expected in plain(gap.message) for gap in found)


def test_a_crop_whose_fruit_may_weigh_anything_has_no_odd_pickings(seasons, find, crop):
    """Its profile has no such figure."""
    season = farm(
        seasons, seasons.batch("X1", ["H1"]), harvests=[seasons.harvest("H1", ["B0"], weight="1 g")]
    )

    assert 1 == len(find(season, "harvest-weight-impossible"))
    assert () == find(season, "harvest-weight-impossible", profile=crop(fruit_weight_g=None))


def test_seed_that_is_missing_is_asked_for(seasons, find):
    """Less than fifty light seeds a fruit."""
    found = [
        len(find(farm(seasons, seasons.batch("X1", ["H1"], dry_weight=grams)), "batch-weight-low"))
        for grams in ("0.4 g", "0.5 g")
    ]

    assert [1, 0] == found


def test_a_run_of_other_seed_is_fine_until_it_is_packed(seasons, find):
    """Its seed may be run, but not into a lot."""
    other = {**seasons.batch("X1", []), "other_seed": "bought-in lettuce"}
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)

    assert () == find(farm(seasons, other), "batch-without-picking")
    (gap,) = find(farm(seasons, other, lots=[lot]), "batch-without-picking")
    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)


def test_each_hasty_picking_of_a_run_is_one_place_of_one_gap(seasons, find):
    """The run was opened too early for both."""
    harvests = [seasons.harvest(f"H{n}", [f"B{n}"], date=seasons.PICKED + timedelta(10)) for n in (0, 1)]
    season = farm(seasons, seasons.batch("X1", ["H0", "H1"]), fruits=2, harvests=harvests)
    (gap,) = find(season, "extraction-delayed")

    assert ("X1", 1, "advice") == (gap.id, len(gap.others), gap.weight)
    assert "1 day after" in gap.message


def ripened(seasons, **more):
    """A picking with its own ripening."""
    picking = seasons.harvest("H1", ["B0"])
    return {**picking, "ripening": {**picking["ripening"], **more}}


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"temperature": "22.5 C"}, None),
        ({"temperature": "22.4 C"}, "temperature"),
        ({"temperature": "27.5 C"}, None),
        ({"temperature": "27.6 C"}, "temperature"),
        ({"until": date(2026, 6, 12)}, "until"),
        ({"until": date(2026, 6, 13)}, None),
        ({"until": date(2026, 6, 24)}, None),
        ({"until": date(2026, 6, 25)}, "until"),
        ({"colour": "74 %"}, "colour"),
        ({"colour": "75 %"}, None),
    ],
)
def test_fruit_ripens_as_is_usual(seasons, more, field, find):
    """The bounds are still usual; one gap says at which figure it isn't."""
    season = farm(seasons, seasons.batch("X1", ["H1"]), harvests=[ripened(seasons, **more)])

    assert ([("ripening", field)] if field else []) == [
        tuple(".".join(map(str, gap.field)).split(".")) for gap in find(season, "ripening-out-of-range")
    ]


@pytest.mark.parametrize(
    ("stage", "until", "found"),
    [
        ("colour break", date(2026, 6, 9), 1),
        ("three-quarter ripe", date(2026, 6, 9), 1),
        ("ripe", date(2026, 6, 9), 0),
        ("over-ripe", date(2026, 6, 8), 0),
        ("over-ripe", date(2026, 6, 25), 1),
    ],
)
def test_ripe_fruit_may_rest_too_long_and_never_too_short(seasons, stage, until, found, find):
    """What was ripe on the tree needs no days on the shelf."""
    picking = {**ripened(seasons, until=until), "stage": stage}
    season = farm(seasons, seasons.batch("X1", ["H1"]), harvests=[picking])

    assert found == len(find(season, "ripening-out-of-range"))


@pytest.mark.parametrize(
    ("drying", "wait", "batch", "found"),
    [
        ({"temperature": "40 C"}, 0, {}, 0),
        ({"temperature": "40.1 C"}, 0, {}, 1),
        ({}, 1, {}, 0),
        ({}, 2, {}, 1),
        ({}, 0, {"moisture": "7.9 %"}, 0),
        ({}, 0, {"moisture": "7.8 %"}, 1),
        ({}, 0, {"moisture": "10 %"}, 0),
        ({}, 0, {"moisture": "10.1 %"}, 1),
        ({"method": "shade", "days": 1}, 0, {}, 1),
        ({"method": "shade", "days": 2}, 0, {}, 0),
        ({"method": "oven", "days": 2}, 0, {}, 0),
        ({"method": "oven", "days": 3}, 0, {}, 1),
        ({"method": "oven", "days": 0}, 0, {}, 1),
        ({"days": 1}, 0, {}, 1),
        ({"humidity": "high", "days": 2}, 0, {}, 1),
        ({"humidity": "high", "days": 3}, 0, {}, 0),
        ({"humidity": "high", "days": 12}, 0, {}, 0),
        ({"humidity": None, "days": 6}, 0, {}, 1),
    ],
)
def test_drying_has_its_bounds(seasons, drying, wait, batch, found, find):
    """Of warmth, of waiting, of days for each method, and of what the seed still holds."""
    start = seasons.PICKED + timedelta(11 + wait)
    words = {"from": start, "to": start + timedelta(drying.get("days", 3)), **drying}
    record = {**dried(seasons, **words), **batch}
    record["drying"] = {
        name: value for name, value in record["drying"].items() if value is not None and name != "days"
    }

    assert found == len(find(farm(seasons, record), "drying-out-of-range"))


@pytest.mark.parametrize(
    ("weights", "figures", "found"),
    [
        ({"dry_weight": "31 g"}, {}, 1),
        ({"dry_weight": "31 g"}, {"seeds_per_fruit": None}, 0),
        ({"dry_weight": "31 g"}, {"thousand_seed_weight_g": None}, 0),
        ({"dry_weight": "31 g"}, {"seeds_per_fruit": {"high": None}}, 0),
        ({"dry_weight": "31 g"}, {"thousand_seed_weight_g": {"high": None}}, 0),
        ({"dry_weight": "29 g", "fruit": "500 g"}, {}, 1),
        ({"dry_weight": "25 g", "fruit": "500 g"}, {}, 0),
        ({"dry_weight": "29 g", "fruit": "500 g"}, {"seed_of_fruit_pct": None}, 0),
        ({"dry_weight": "29 g", "fruit": "500 g"}, {"seed_of_fruit_pct": {"high": None}}, 0),
        ({"dry_weight": "8 g", "wet_weight": "8 g"}, {}, 0),
        ({"dry_weight": "8.001 g", "wet_weight": "8 g"}, {}, 1),
        ({"dry_weight": "8 g", "wet_weight": None}, {}, 0),
        ({"dry_weight": None, "wet_weight": "8 g"}, {}, 0),
    ],
)
def test_each_bound_of_a_runs_weight_stands_by_itself(seasons, find, crop, weights, figures, found):
    """Where the crop has no such figure, or a weight isn't written down, that bound is no bound."""
    record = seasons.batch("X1", ["H1"], **{"wet_weight": "80 g", **weights})
    record = {name: value for name, value in record.items() if value is not None and name != "fruit"}
    picking = seasons.harvest("H1", ["B0"], weight=weights.get("fruit", "950 g"))
    season = farm(seasons, record, harvests=[picking])

    assert found == len(find(season, "batch-weight-impossible", profile=crop(**figures)))


@pytest.mark.parametrize(
    "figure",
    [
        {"seeds_per_fruit": None},
        {"thousand_seed_weight_g": None},
        {"seeds_per_fruit": {"low": None}},
        {"thousand_seed_weight_g": {"low": None}},
    ],
)
def test_a_crop_without_a_least_expects_no_weight(seasons, find, crop, figure):
    """Of seeds a fruit, or of the seed's weight."""
    season = farm(seasons, seasons.batch("X1", ["H1"], dry_weight="0.4 g"))

    assert 1 == len(find(season, "batch-weight-low"))
    assert () == find(season, "batch-weight-low", profile=crop(**figure))


def test_a_run_of_several_pickings_holds_the_fruit_of_all(seasons, find):
    """Unless one of them isn't known; what was never weighed dry is expected to weigh nothing."""
    pickings = [seasons.harvest("H1", ["B0"]), seasons.harvest("H2", ["B1"])]
    both = seasons.batch("X1", ["H1", "H2"], dry_weight="31 g", wet_weight="80 g")
    lost = {**both, "harvests": ("H1", "H9")}
    bare = {name: value for name, value in both.items() if name != "dry_weight"}

    for record in (both, lost, bare):
        season = farm(seasons, record, fruits=2, harvests=pickings)
        assert () == find(season, "batch-weight-impossible")
        assert () == find(season, "batch-weight-low")
    low = farm(seasons, {**both, "dry_weight": "0.9 g"}, fruits=2, harvests=pickings)
    (gap,) = find(low, "batch-weight-low")
    assert "where its 2 fruit would hold 1 g at least" in plain(gap.message)
