from __future__ import annotations

from datetime import timedelta

import pytest


@pytest.mark.parametrize(
    ("harvests", "other", "packed", "weight"),
    [
        (["H1"], None, True, None),
        (["H1"], "bought-in lettuce", True, None),
        ([], None, True, "unproven"),
        ([], None, False, "advice"),
        ([], "bought-in lettuce", True, "unproven"),
        ([], "bought-in lettuce", False, None),
    ],
)
def test_seed_of_a_run_comes_of_a_picking(seasons, stocked, find, harvests, other, packed, weight) -> None:
    """Seed of other sorts may be run without one, but not into a lot."""
    batch = {**seasons.batch("X1", harvests), **({"other_seed": other} if other else {})}
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)] if packed else []
    found = find(stocked(batches=[batch], lots=lots, tests=[]), "batch-without-picking")

    assert ([weight] if weight else []) == [gap.weight for gap in found]
    assert all((f"It is of other seed: {other}." in gap.message) == bool(other) for gap in found)


@pytest.mark.parametrize(
    ("stage", "days", "found"),
    [("colour break", 0, 1), ("half ripe", 2, 1), ("ripe", 0, 0), ("over-ripe", 0, 0), ("over-ripe", 22, 1)],
)
def test_fruit_picked_ripe_is_opened_at_once(seasons, stocked, find, stage, days, found) -> None:
    """And no later than other fruit."""
    harvest = {**seasons.harvest("H1", ["B1"]), "stage": stage}
    batch = seasons.batch("X1", ["H1"]) | {"date": harvest["date"] + timedelta(days)}
    season = stocked(bagging=[seasons.bag("B1", "T1")], harvests=[harvest], batches=[batch])

    assert found == len(find(season, "extraction-delayed"))


@pytest.mark.parametrize(("days", "found"), [(2, 1), (3, 0), (21, 0), (22, 1)])
def test_fruit_is_opened_when_its_seed_is_finished(seasons, stocked, find, days, found) -> None:
    """Three days after the picking at the soonest and three weeks at the latest; told at the picking."""
    late = seasons.harvest("H2", ["B2"], date=seasons.PICKED + timedelta(6))
    batch = seasons.batch("X1", ["H2", "H1"]) | {"date": seasons.PICKED + timedelta(days)}
    late["date"] = batch["date"] - timedelta(5)
    season = stocked(
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1")],
        harvests=[seasons.harvest("H1", ["B1"]), late],
        batches=[batch],
    )
    gaps = find(season, "extraction-delayed")

    assert [("X1", ("harvests", 1), "advice")] * found == [(gap.id, gap.field, gap.weight) for gap in gaps]


@pytest.mark.parametrize(("blade", "found"), [("sharp", 1), ("dull", 0), (None, 0)])
def test_a_blade_that_cuts_is_told(seasons, stocked, find, blade, found) -> None:
    """By the profile's word; a blade that nobody wrote down isn't."""
    batch = {name: value for name, value in seasons.batch("X1", ["H1"], blade=blade).items() if value}

    assert found == len(find(stocked(batches=[batch]), "blade-sharp"))


@pytest.mark.parametrize(("rinses", "found"), [(2, 1), (3, 0), (10, 0), (11, 1), (None, 0)])
def test_seed_is_rinsed_as_often_as_is_usual(seasons, stocked, find, rinses, found) -> None:
    """Within the profile's bounds; a count that wasn't written down is none."""
    batch = seasons.batch("X1", ["H1"], rinses=rinses)
    batch = {name: value for name, value in batch.items() if value is not None}

    assert found == len(find(stocked(batches=[batch]), "rinse-count"))


@pytest.mark.parametrize(("days", "expected"), [(10, ["H1", "H2"]), (11, ["H2"]), (12, ["H2"]), (14, [])])
def test_seed_comes_out_of_fruit_that_had_ripened(seasons, stocked, find, days, expected) -> None:
    """H1 ripened until the eleventh day, H2 until the fourteenth; on the last day of it will do."""
    late = seasons.harvest("H2", ["B2"])
    late = {**late, "ripening": {**late["ripening"], "until": seasons.PICKED + timedelta(14)}}
    season = stocked(
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T1")],
        harvests=[seasons.harvest("H1", ["B1"]), late],
        batches=[seasons.batch("X1", ["H1", "H2"]) | {"date": seasons.PICKED + timedelta(days)}],
    )
    found = find(season, "extracted-before-ripe")

    assert [("X1", ("harvests", 0 if one == "H1" else 1)) for one in expected] == [
        (gap.id, gap.field) for gap in found
    ]
    assert all(("unproven", ("L1",)) == (gap.weight, gap.lots) for gap in found)
    assert all(f"of picking {one} on" in gap.message for one, gap in zip(expected, found, strict=True))


def test_fruit_of_which_nobody_says_how_long_it_ripened_may_be_opened(seasons, stocked, find) -> None:
    """Nothing contradicts the day."""
    harvest = {key: value for key, value in seasons.harvest("H1", ["B1"]).items() if key != "ripening"}

    assert () == find(stocked(harvests=[harvest]), "extracted-before-ripe")


@pytest.mark.parametrize(
    ("runs", "found"),
    [(["15 s"], 0), (["14 s"], 1), (["15 min", "90 s"], 0), (["1 s", "6 h", "2 min"], 1), ([], 0)],
)
def test_a_run_takes_minutes(seasons, runs, found, find):
    """One gap a batch, which names each odd run."""
    batch = {**seasons.batch("X1", ["H1"]), "runs": runs}
    gaps = find(seasons.season_of(**{**seasons.one_line(), "batches": [batch]}), "extraction-run-unusual")

    assert found == len(gaps)
    if len(runs) == 3:
        assert "ran for 1 s and 6 h in batch X1" in gaps[0].message


@pytest.mark.parametrize(("floats", "found"), [(3, 1), (4, 0), (6, 0), (7, 1), (None, 0)])
def test_floats_are_counted_apart_from_rinses(seasons, floats, found, find):
    """Four to six are usual; what nobody counted is not asked about."""
    batch = {key: value for key, value in {**seasons.batch("X1", ["H1"]), "floats": floats}.items() if value}
    gaps = find(seasons.season_of(**{**seasons.one_line(), "batches": [batch]}), "rinse-count")

    assert found == len(gaps)
