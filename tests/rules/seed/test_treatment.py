"""What seed was treated with speaks against it where no standard allows the substance."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("substance", "weights"),
    [
        ("thiram", ["rejects"]),
        ("Thiram-based dust", ["rejects"]),
        ("captan and hot water", ["rejects"]),
        ("hot water", []),
        ("thiram-free coating", []),
        (None, []),
    ],
)
@pytest.mark.parametrize("table", ["batches", "lots"])
def test_a_forbidden_name_rejects(seasons, stocked, find, table, substance, weights) -> None:
    """On the batch or on the lot, whatever else the record says of it."""
    treatment = {"treated": True, **({"with": substance} if substance else {})}
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    batch = seasons.one_line()["batches"][0]
    record = lot if table == "lots" else batch

    found = find(
        stocked(batches=[batch | ({"treatment": treatment} if record is batch else {})],
                lots=[lot | ({"treatment": treatment} if record is lot else {})]),
        "seed-treatment-prohibited",
    )  # fmt: skip

    assert weights == [gap.weight for gap in found]


def test_a_no_beside_a_forbidden_name_hides_nothing(seasons, stocked, find) -> None:
    """Who writes both has one of them wrong, and the certifier hears of it."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    said = {"treated": False, "with": "thiram"}

    assert find(stocked(lots=[{**lot, "treatment": said}]), "seed-treatment-prohibited")


def test_of_conventional_seed_nothing_is_asked(seasons, stocked, find) -> None:
    """It makes no claim that a treatment could break."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, status="conventional")
    said = {"treated": True, "with": "thiram"}

    assert () == find(stocked(lots=[{**lot, "treatment": said}]), "seed-treatment-prohibited")
