from __future__ import annotations

from datetime import date, timedelta

import pytest

from certgen.lineage import build_lineage
from certgen.rules import RULES, Case, run_rules
from certgen.standards import load_profile, load_rulebook

ON = date(2026, 10, 31)


def gaps(season, slug, *standards, on=ON):
    """What one rule finds."""
    rulebooks = tuple(load_rulebook(key) for key in standards or season.details.standards)
    case = Case(season, build_lineage(season), load_profile(season.details.crop), rulebooks, on)
    found, crashed = run_rules(case, {slug: RULES[slug]})
    assert () == crashed
    return found


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


def plain(gap):
    """The message, with a space before each unit."""
    return gap.message.replace("\N{NO-BREAK SPACE}", " ")


def dried(seasons, **more):
    """A batch with its own drying."""
    batch = seasons.batch("X1", ["H1"])
    return {**batch, "drying": {**batch["drying"], **more}}


def test_every_odd_figure_of_a_run_is_told_at_once(seasons):
    """One run, one gap."""
    when = seasons.PICKED + timedelta(14)
    batch = dried(seasons, temperature="65 C", **{"from": when, "to": when + timedelta(9)})
    (gap,) = gaps(farm(seasons, {**batch, "moisture": "14 %"}), "drying-out-of-range")

    assert "advice" == gap.weight
    for said in (
        "at 65 °C, where practice is at most 40 °C, and such",
        "lay wet for 3 days",
        "9 days (fan)",
        "14 %",
    ):
        assert said in gap.message


@pytest.mark.parametrize(("humidity", "expected"), [("normal", 1), ("high", 0)])
def test_damp_air_excuses_slow_drying(seasons, humidity, expected):
    """It takes the time it takes."""
    when = seasons.PICKED + timedelta(11)
    batch = dried(seasons, humidity=humidity, **{"from": when, "to": when + timedelta(9)})

    assert expected == len(gaps(farm(seasons, batch), "drying-out-of-range"))


@pytest.mark.parametrize(("method", "expected"), [("fan", 1), ("shade", 0)])
def test_each_way_of_drying_has_its_own_days(seasons, method, expected):
    """Six days are long before a fan and usual in the shade."""
    when = seasons.PICKED + timedelta(11)
    batch = dried(seasons, method=method, **{"from": when, "to": when + timedelta(6)})

    assert expected == len(gaps(farm(seasons, batch), "drying-out-of-range"))


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ({"wet_weight": "80 g", "dry_weight": "31 g"}, "its 1 fruit can hold 30 g at most"),
        ({"wet_weight": "7 g", "dry_weight": "8 g"}, "8 g of dry seed out of 7 g of wet seed"),
        ({"wet_weight": "80 g", "dry_weight": "30 g"}, None),
    ],
)
def test_a_fruit_holds_so_much_and_no_more(seasons, weights, said):
    """1,200 seeds at 25 g a thousand are 30 g; the bound itself is possible."""
    found = gaps(
        farm(seasons, seasons.batch("X1", ["H1"], **weights), trees=[seasons.tree("T1")]),
        "batch-weight-impossible",
    )

    assert (1 if said else 0) == len(found)
    assert all(said in plain(gap) for gap in found)


def test_the_weight_of_the_fruit_bounds_its_seed_too(seasons):
    """Five hundredths of 100 g are 5 g."""
    season = farm(
        seasons, seasons.batch("X1", ["H1"]), harvests=[seasons.harvest("H1", ["B0"], weight="100 g")]
    )
    (gap,) = gaps(season, "batch-weight-impossible")

    assert "100 g of fruit can hold 5 g at most" in plain(gap)


def test_a_picking_shared_by_two_runs_bounds_neither(seasons):
    """Nobody wrote down how its fruit was divided."""
    batches = [seasons.batch("X1", ["H1"], dry_weight="31 g"), seasons.batch("X2", ["H1"])]
    season = farm(seasons, batches[0], batches=batches)

    assert () == gaps(season, "batch-weight-impossible")


def test_seed_that_is_missing_is_asked_for(seasons):
    """Less than fifty light seeds a fruit."""
    found = [
        len(gaps(farm(seasons, seasons.batch("X1", ["H1"], dry_weight=grams)), "batch-weight-low"))
        for grams in ("0.4 g", "0.5 g")
    ]

    assert [1, 0] == found


def test_a_run_of_other_seed_is_fine_until_it_is_packed(seasons):
    """Its seed may be run, but not into a lot."""
    other = {**seasons.batch("X1", []), "other_seed": "bought-in lettuce"}
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)

    assert () == gaps(farm(seasons, other), "batch-without-picking")
    (gap,) = gaps(farm(seasons, other, lots=[lot]), "batch-without-picking")
    assert ("unproven", ("L1",)) == (gap.weight, gap.lots)


def test_each_hasty_picking_of_a_run_is_one_place_of_one_gap(seasons):
    """The run was opened too early for both."""
    harvests = [seasons.harvest(f"H{n}", [f"B{n}"], date=seasons.PICKED + timedelta(10)) for n in (0, 1)]
    season = farm(seasons, seasons.batch("X1", ["H0", "H1"]), fruits=2, harvests=harvests)
    (gap,) = gaps(season, "extraction-delayed")

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
def test_fruit_ripens_as_is_usual(seasons, more, field):
    """The bounds are still usual; one gap says at which figure it isn't."""
    season = farm(seasons, seasons.batch("X1", ["H1"]), harvests=[ripened(seasons, **more)])

    assert ([("ripening", field)] if field else []) == [
        tuple(".".join(map(str, gap.field)).split(".")) for gap in gaps(season, "ripening-out-of-range")
    ]


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
        ({"method": "oven", "days": 3}, 0, {}, 0),
        ({"method": "oven", "days": 4}, 0, {}, 1),
        ({"humidity": None, "days": 6}, 0, {}, 1),
    ],
)
def test_drying_has_its_bounds(seasons, drying, wait, batch, found):
    """Of warmth, of waiting, of days for each method, and of what the seed still holds."""
    start = seasons.PICKED + timedelta(11 + wait)
    words = {"from": start, "to": start + timedelta(drying.get("days", 3)), **drying}
    record = {**dried(seasons, **words), **batch}
    record["drying"] = {
        name: value for name, value in record["drying"].items() if value is not None and name != "days"
    }

    assert found == len(gaps(farm(seasons, record), "drying-out-of-range"))


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


def test_a_run_of_several_pickings_holds_the_fruit_of_all(seasons):
    """Unless one of them isn't known; what was never weighed dry is expected to weigh nothing."""
    pickings = [seasons.harvest("H1", ["B0"]), seasons.harvest("H2", ["B1"])]
    both = seasons.batch("X1", ["H1", "H2"], dry_weight="31 g", wet_weight="80 g")
    lost = {**both, "harvests": ("H1", "H9")}
    bare = {name: value for name, value in both.items() if name != "dry_weight"}

    for record in (both, lost, bare):
        season = farm(seasons, record, fruits=2, harvests=pickings)
        assert () == gaps(season, "batch-weight-impossible")
        assert () == gaps(season, "batch-weight-low")
    low = farm(seasons, {**both, "dry_weight": "0.9 g"}, fruits=2, harvests=pickings)
    (gap,) = gaps(low, "batch-weight-low")
    assert "where its 2 fruit would hold 1 g at least" in plain(gap)
