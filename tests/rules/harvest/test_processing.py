from __future__ import annotations

import pytest


@pytest.fixture
def pickings(seasons, stocked):
    """Two batches X1 and X2, each of two pickings H1 to H4 with a bag each; some fields changed."""

    def build(status=("organic",) * 4, called=("organic", "organic"), trees=("T1",) * 4):
        return stocked(
            plantings=[seasons.planting(), seasons.planting("P2", variety="Moth Lantern")],
            trees=[seasons.tree("T1"), seasons.tree("T2", planting="P2")],
            bagging=[seasons.bag(f"B{at}", of) for at, of in enumerate(trees, start=1)],
            harvests=[
                seasons.harvest(f"H{at}", [f"B{at}"], status=one) for at, one in enumerate(status, start=1)
            ],
            batches=[
                seasons.batch("X1", ["H1", "H2"], status=called[0]),
                seasons.batch("X2", ["H3", "H4"], status=called[1]),
            ],
        )

    return build


def test_loose_fruit_rejects_and_fruit_of_no_entry_proves_nothing(seasons, stocked, find) -> None:
    """Each picking by itself, told at its list of trees or as a whole."""
    harvests = [
        {**seasons.harvest("H1", []), "fruits": 1},
        {**seasons.harvest("H2", []), "trees": ("T1", "T1", "T2"), "fruits": 3},
        seasons.harvest("H3", ["B1"]),
        {**seasons.harvest("H4", []), "fruits": 0},
        {**seasons.harvest("H5", []), "fruits": 1},
        {**seasons.harvest("H6", []), "trees": ("T2",), "fruits": 1},
    ]
    trees = [seasons.tree("T1"), seasons.tree("T2")]
    batches = [seasons.batch("X1", ["H1", "H2", "H3", "H4", "H5"])]
    season = stocked(trees=trees, harvests=harvests, batches=batches)
    # The reader asks for a count; a season that lost one still comes to its end.
    counts = season.table("harvests")["fruits"]
    counts = counts.mask(season.table("harvests")["harvest"] == "H5")
    season = season.with_tables({"harvests": season.table("harvests").assign(fruits=counts)})
    found = find(season, "fruit-unbagged")

    assert [("H1", (), "unproven"), ("H2", ("trees",), "rejects"), ("H6", ("trees",), "advice")] == [
        (gap.id, gap.field, gap.weight) for gap in found
    ]
    assert "trees T1 and T2 that no bag stands for" in found[1].message
    assert "the bags of picking H1" == found[0].supply


def test_fruit_of_no_entry_that_went_nowhere_is_a_loose_end(seasons, stocked, find) -> None:
    """No lot rests on it."""
    harvests = [seasons.harvest("H1", ["B1"]), {**seasons.harvest("H2", []), "fruits": 1}]

    assert ["advice"] == [gap.weight for gap in find(stocked(harvests=harvests), "fruit-unbagged")]


@pytest.mark.parametrize(
    ("status", "called", "expected"),
    [
        (("organic",) * 4, ("organic", "organic"), {}),
        (("organic", "conventional", "organic", "organic"), ("organic", "organic"),
         {"X1": "picking H2 in it is conventional"}),
        (("conventional", "transitional", "organic", "transitional"), ("organic", "organic"),
         {"X1": "pickings H1 and H2 in it are conventional and transitional",
          "X2": "picking H4 in it is transitional"}),
        (("organic", "conventional", "conventional", "organic"), ("conventional", "organic"),
         {"X2": "picking H3 in it is conventional"}),
    ],
)  # fmt: skip
def test_a_run_has_the_status_of_its_lowest_fruit(pickings, find, status, called, expected) -> None:
    """A run that is called less than organic may hold any fruit."""
    found = find(pickings(status=status, called=called), "batch-mixed-status")

    assert expected == {gap.id: gap.message.partition("but ")[2].rstrip(".") for gap in found}
    assert {"rejects"} >= {gap.weight for gap in found if gap.lots}


def test_a_picking_that_nobody_knows_mixes_nothing(seasons, stocked, find) -> None:
    """Its missing record is told by another rule."""
    assert () == find(stocked(batches=[seasons.batch("X1", ["H1", "H9"])]), "batch-mixed-status")


@pytest.mark.parametrize(
    ("trees", "expected"),
    [
        (("T1", "T1", "T2", "T2"), []),
        (("T1", "T2", "T1", "T1"), ["X1"]),
        (("T1", "T2", "T2", "T1"), ["X1", "X2"]),
    ],
)
def test_a_run_is_of_one_variety(pickings, find, trees, expected) -> None:
    """Two runs of one variety each are fine side by side."""
    found = find(pickings(trees=trees), "batch-mixed-variety")

    assert expected == [gap.id for gap in found]
    assert all("Amber Kestrel" in gap.message and "Moth Lantern" in gap.message for gap in found)
    assert all(gap.weight != "rejects" and "commingling" not in str(gap.clauses) for gap in found)


@pytest.mark.parametrize(
    ("harvests", "other", "lots", "expected"),
    [
        (["H1"], None, True, []),
        (["H1"], "a cup of a neighbour's lettuce", True, ["rejects"]),
        (["H1"], "a cup of a neighbour's lettuce", False, ["advice"]),
        # Nobody can name it: it was other seed all the same. That there was none says nothing.
        (["H1"], "?", True, ["rejects"]),
        (["H1"], "none", True, []),
        (["H1"], "-", True, []),
        # Without a picking, too, once its seed is in a lot.
        ([], "bought-in lettuce", True, ["rejects"]),
        ([], "bought-in lettuce", False, []),
    ],
)
def test_no_other_seed_goes_through_with_a_pickings(
    seasons, stocked, find, harvests, other, lots, expected
) -> None:
    """A run of other seed alone may be, as long as none of it is in a lot."""
    batch = seasons.batch("X1", harvests) | ({"other_seed": other} if other else {})
    season = stocked(batches=[batch], **({} if lots else {"lots": [], "tests": []}))
    found = find(season, "batch-with-other-seed")

    assert expected == [gap.weight for gap in found]
    assert all(f"Batch X1 holds seed that no picking stands for: {other}." == gap.message for gap in found)
