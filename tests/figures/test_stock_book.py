"""The stock book out of a season's records."""

from __future__ import annotations

import pytest
from seasons import blank

from certgen.figures.ledger import keep_book, list_entries

COVERS = ("certgen.figures.ledger",)


def lines(season):
    """Lot, variety, kind, milligrams and record of each entry."""
    return [(one.lot, one.variety, one.kind, one.mass_mg, one.record) for one in list_entries(season)]


def test_packings_come_before_movements_and_keep_what_was_written(seasons) -> None:
    """Party and document go along; the day is the record's."""
    sale = seasons.sale("M1", "L1", 3)
    season = seasons.season_of(lots=[seasons.lot("L1", [], 8)], movements=[sale])
    packed, sold = list_entries(season)

    assert ("L1", "Amber Kestrel", "produced", 8000, "L1") == lines(season)[0]
    assert ("L1", "Amber Kestrel", "sold", 3000, "M1") == lines(season)[1]
    assert (sale["date"], sale["party"], sale["document"]) == (sold.date, sold.party, sold.document)
    assert (seasons.lot("L1", [], 8)["packed"], "", "") == (packed.date, packed.party, packed.document)
    assert [8000, 5000] == keep_book(season)["stock_mg"].tolist()


def test_a_lot_without_a_variety_stands_under_none(seasons) -> None:
    """The book asks for one variety a lot; none is one, too."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 8)], movements=[seasons.movement("M1", "L1", "sold", 3)]
    )

    assert ["", ""] == [variety for _, variety, *_ in lines(blank(season, "lots", "variety"))]


def test_what_is_taken_twice_from_one_lot_is_added_up(seasons) -> None:
    """2 g and 3 g of L1 in L2; a part of 0 g takes nothing, and a batch is no lot."""
    parts = [
        {"lot": "L1", "weight": "2 g"}, {"batch": "X1", "weight": "1 g"}, {"lot": "L1", "weight": "3 g"},
        {"lot": "L3", "weight": "0 g"},
    ]  # fmt: skip
    lots = [seasons.lot("L1", [], 8), seasons.lot("L3", [], 8), seasons.lot("L2", parts, 6)]
    found = [(lot, kind, mass) for lot, _, kind, mass, record in lines(seasons.season_of(lots=lots))
             if record == "L2"]  # fmt: skip

    assert [
        ("L1", "blended into", 5000),
        ("L2", "blended from", 5000),
        ("L3", "blended into", 0),
        ("L2", "blended from", 0),
        ("L2", "produced", 1000),
    ] == found


@pytest.mark.parametrize("field", ["lot", "packed", "weight_mg"])
def test_a_packing_that_lacks_something_makes_no_entry(seasons, field) -> None:
    """The other lot's does."""
    season = seasons.season_of(lots=[seasons.lot("L1", [], 8), seasons.lot("L2", [], 5)])

    assert ["L2"] == [lot for lot, *_ in lines(blank(season, "lots", field))]


@pytest.mark.parametrize("field", ["lot", "date", "kind", "weight_mg"])
def test_a_movement_that_lacks_something_makes_no_entry(seasons, field) -> None:
    """Each is needed; the other movement stands."""
    moves = [seasons.movement("M1", "L1", "sold", 3), seasons.movement("M2", "L1", "sown", 1)]
    season = seasons.season_of(movements=moves)

    assert ["M2"] == [record for *_, record in lines(blank(season, "movements", field))]


def test_of_two_lots_with_one_number_the_first_is_meant(seasons) -> None:
    """Its weight and its variety."""
    lots = [seasons.lot("L1", [], 8), seasons.lot("L1", [], 5, variety="Moth Lantern")]

    assert [("L1", "Amber Kestrel", "produced", 8000, "L1")] == lines(seasons.season_of(lots=lots))


def test_the_variety_of_earlier_stock_is_looked_up_in_its_season(seasons) -> None:
    """Two seasons back; where a number stands in several, the latest counts."""
    oldest = seasons.season_of(lots=[seasons.lot("K1", [], 8), seasons.lot("K2", [], 8)], label="2024")
    before = seasons.season_of(
        lots=[seasons.lot("K2", [], 8, variety="Moth Lantern")], label="2025", previous=oldest
    )
    moves = [seasons.movement(f"M-{lot}", lot, "opening stock", 4) for lot in ("K1", "K2", "K3")]
    season = seasons.season_of(movements=moves, previous=before)

    assert ["Amber Kestrel", "Moth Lantern", ""] == [variety for _, variety, *_ in lines(season)]
