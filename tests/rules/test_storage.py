from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest


@pytest.fixture
def filled(seasons, stocked):
    """A season whose lot L1 lies in some container."""

    def build(**more):
        lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), **more}
        return stocked(lots=[lot])

    return build


@pytest.mark.parametrize(
    ("field", "text", "weights"),
    [
        ("previous_contents", "seed treated with a fungicide", ["rejects"]),
        ("previous_contents", "treated seed", ["rejects"]),
        ("previous_contents", "untreated seed of lot K1, no fungicide", []),
        ("packaging", "paper bags with preservative", ["rejects"]),
        ("packaging", "paper bags without preservative", []),
        ("previous_contents", None, ["unproven"]),
    ],
)
def test_what_containers_held_decides(filled, find, field, text, weights) -> None:
    """Forbidden contents speak against the lot, silence leaves it unproven; 'no fungicide' is fine."""
    more = {"previous_contents": "beans", field: text}
    season = filled(container_use="re-used", **{name: value for name, value in more.items() if value})

    assert weights == [gap.weight for gap in find(season, "packaging-reused")]


@pytest.mark.parametrize(("days", "found"), [(None, True), (1, True), (0, False), (-3, False)])
def test_containers_are_cleaned_before_they_are_filled(seasons, filled, find, days, found) -> None:
    """A cleaning after the filling is none."""
    packed = seasons.lot("L1", [], 8)["packed"]
    more = {} if days is None else {"container_cleaned": packed + timedelta(days)}

    assert found == bool(find(filled(container_use="re-used", **more), "container-not-cleaned"))


def test_new_containers_need_no_cleaning(filled, find) -> None:
    """Nothing is asked of new ones."""
    assert () == find(filled(), "container-not-cleaned")
    assert () == find(filled(), "packaging-reused")


def test_what_harms_is_the_profiles_word(filled, find) -> None:
    """The freezer harms this kind of seed; the refrigerator doesn't."""
    assert ["advice"] == [gap.weight for gap in find(filled(storage="freezer"), "stored-frozen")]
    assert () == find(filled(storage="refrigerated"), "stored-frozen")


def test_a_blend_is_as_old_as_its_oldest_part(seasons, stocked, find) -> None:
    """L1 was packed in July and holds 2 g of K1, packed eleven months earlier: too old in September."""
    before = seasons.season_of(label="2025", lots=[{**seasons.lot("K1", [], 8), "packed": date(2025, 8, 20)}])
    parts = [{"batch": "X1", "weight": "6 g"}, {"lot": "K1", "weight": "2 g"}]
    moves = [
        {**seasons.sale(name, "L1", 1), "date": when}
        for name, when in (("M1", date(2026, 8, 20)), ("M2", date(2026, 8, 21)))
    ]
    blended = replace(stocked(lots=[seasons.lot("L1", parts, 8)], movements=moves), previous=before)

    assert ["M2"] == [gap.id for gap in find(blended, "storage-too-long")]
    assert () == find(stocked(movements=moves), "storage-too-long")


def test_late_sales_of_one_lot_are_one_gap(seasons, stocked, find) -> None:
    """One cause, one gap, at the first of them."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "storage": "open room"}
    moves = [{**seasons.sale(f"M{month}", "L1", 1), "date": date(2026, month, 25)} for month in (8, 9, 10)]
    (gap,) = find(stocked(lots=[lot], movements=moves), "storage-too-long")

    assert ("M9", 1) == (gap.id, len(gap.others))
    assert ("practice:storage_months_open_room",) == gap.clauses
