from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest


def certified(season, **days):
    """The season with days beside its operation's certificate."""
    details = season.details
    operation = {**details.raw.get("operation", {}), **days}
    return replace(season, details=replace(details, raw={**details.raw, "operation": operation}))


@pytest.fixture
def sold(seasons):
    """A lot of which some was sold on a day."""

    def build(when, status="organic"):
        return seasons.season_of(
            blocks=[seasons.block()],
            plantings=[seasons.planting()],
            trees=[seasons.tree("T1")],
            bagging=[seasons.bag("B1", "T1")],
            harvests=[seasons.harvest("H1", ["B1"])],
            batches=[seasons.batch("X1", ["H1"])],
            lots=[{**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "status": status}],
            movements=[{**seasons.sale("M1", "L1", 1), "date": when}],
        )

    return build


@pytest.mark.parametrize(
    ("days", "status", "expected"),
    [
        ({}, "organic", 0),
        ({"valid_until": "2026-09-03"}, "organic", 0),
        ({"valid_until": "2026-09-02"}, "organic", 1),
        ({"valid_until": "2026-09-02"}, "transitional", 0),
        ({"valid_from": "2026-09-03"}, "organic", 0),
        ({"valid_from": "2026-09-04"}, "organic", 1),
        ({"valid_from": "2026-01-01", "valid_until": "2026-12-31"}, "organic", 0),
    ],
)
def test_seed_is_sold_as_organic_while_the_certificate_holds(sold, find, days, status, expected) -> None:
    """On its first and its last day too; a certificate without days goes on."""
    found = find(certified(sold(date(2026, 9, 3), status), **days), "certificate-outdated", "us-nop", "eu")

    assert ["advice"] * expected == [gap.weight for gap in found]


@pytest.mark.parametrize(
    ("inspected", "standards", "expected"),
    [
        (None, ("us-nop",), 0),
        ("2026-09-01", ("us-nop",), 0),
        ("2025-01-02", ("us-nop",), 0),
        ("2024-12-30", ("us-nop",), 1),
        ("2024-12-30", ("seed-law",), 0),
    ],
)
def test_no_calendar_year_goes_by_without_an_inspection(sold, find, inspected, standards, expected) -> None:
    """As of October 2026; what asks for no inspections asks for none here."""
    days = {"inspected": inspected} if inspected else {}
    found = find(certified(sold(date(2026, 9, 3)), **days), "inspection-overdue", *standards)

    assert expected == len(found)
