"""Today and Orchard."""

from __future__ import annotations

from datetime import date

import pytest
from desk_client import hold, said, visit

COVERS = ("certgen.desk.application",)


@pytest.mark.parametrize(
    "day", [date(2025, 6, 1), date(2026, 1, 20), date(2026, 6, 1), date(2026, 11, 25), date(2032, 1, 1)]
)
def test_every_page_of_the_example_can_be_shown_on_every_day(example_copy, day):
    """Long before the season, in it, and years later."""
    desk = visit(hold(example_copy, lambda: day))

    assert {200} == {
        desk.get(path).status_code for path in ("/today", "/orchard", "/lots", "/findings", "/tables")
    }


def test_what_is_due_leads_to_its_entry(desk):
    """Bags that hang are to be taken off: one by one, or one entry for all."""
    page = desk.get("/today").text

    assert "Bags to take off 2 One entry for all 2" in said(page)
    assert 'href="/enter/bag-off?bags=B-1"' in page
    assert 'href="/enter/bag-off?bags=B-1%3B+B-2"' in page


def test_a_tree_that_is_clean_and_not_cleared_leads_to_its_sample(example_copy):
    """Not to a bag: none of its fruit would be proven."""
    page = visit(hold(example_copy)).get("/today?all=screening+to+complete").text

    assert "Clean, and not cleared yet: bag none of these" in said(page)
    assert 'href="/enter/sampled?tree=' in page


def test_a_tree_of_the_map_leads_to_its_page(desk):
    """By pointer, by key, and by its number."""
    assert 'href="/record/trees/01"' in desk.get("/orchard").text
    assert "/record/trees/02" == desk.get("/tree?tree=02").url.path
    assert "No tree is called '2'. Did you mean 02?" in said(desk.get("/tree?tree=2").text)


def test_a_season_without_a_record_has_every_page(tmp_path, seasons):
    """The first day of the year."""
    seasons.write_season(tmp_path)
    desk = visit(hold(tmp_path))

    for path in (
        "/today",
        "/enter",
        "/findings",
        "/tables",
        "/orchard",
        "/lots",
        "/enter/bag-on",
        "/tables/trees",
    ):
        assert 200 == desk.get(path).status_code


def test_the_page_knows_when_the_records_changed(desk, folder):
    """By a number that is the same until they do."""
    first, second = (desk.get("/version").json() for _ in range(2))
    (folder / "more.yaml").write_text("bagging: []\n", encoding="utf-8")

    assert first == second != desk.get("/version").json()
