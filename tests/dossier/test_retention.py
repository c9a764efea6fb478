"""Until when records and samples are kept."""

from __future__ import annotations

from datetime import date

from certgen.dossier.due import list_retention
from certgen.examination import examine_season

COVERS = ("certgen.dossier.due",)

ON = date(2026, 10, 31)


def kept(seasons, standards, *movements, on=ON):
    """The clocks of a season with one lot of 40 g, as (what, whose, until)."""
    season = seasons.season_of(
        standards=standards,
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "40 g"}], 40)],
        movements=list(movements),
    )
    return [(one.what, one.identifier, one.until) for one in list_retention(examine_season(season, on))]


def test_records_are_kept_five_years_after_the_season(seasons):
    """As the organic regulation asks, from the season's last day."""
    assert [("records of the season", "2026", date(2031, 10, 31))] == kept(seasons, ("us-nop",))


def test_a_lot_in_stock_has_no_last_day_yet(seasons):
    """Its clocks start when its last seed goes."""
    assert [("records of the lot", "L1", None), ("file sample", "L1", None)] == kept(seasons, ("seed-law",))


def test_clocks_start_when_the_last_seed_goes(seasons):
    """Sold on 17 August 2026: records three years, the sample one, by the benchmark seed law."""
    sold = seasons.sale("M1", "L1", 40)
    day = sold["date"]

    assert [
        ("records of the lot", "L1", day.replace(year=day.year + 3)),
        ("file sample", "L1", day.replace(year=day.year + 1)),
    ] == kept(seasons, ("seed-law",), sold)


def test_counting_an_empty_box_starts_no_clock_anew(seasons):
    """A count of nothing after the last sale changes nothing."""
    sold = seasons.sale("M1", "L1", 40)
    counted = seasons.movement("M2", "L1", "counted", 0, 95)

    assert kept(seasons, ("seed-law",), sold) == kept(seasons, ("seed-law",), sold, counted)
