"""Lots, and one lot with its standing, line and balance."""

from __future__ import annotations

import re

import pytest
from desk_client import hold, said, visit

COVERS = ("certgen.desk.record_links",)


@pytest.fixture(scope="module")
def example(example_season):
    """A browser at the example, which nobody changes here."""
    return visit(hold(example_season))


def test_every_lot_leads_to_its_page(example):
    """With what is on hand, those of an earlier season too."""
    page = example.get("/lots").text

    lots = re.findall(r'href="(/lots/[^"]+)"', page)
    assert "of an earlier season" in said(page)
    assert "40.7 g on hand" in said(page)
    assert {200} == {example.get(lot).status_code for lot in lots}
    assert 9 == len(lots)


def test_a_lot_shows_its_line_and_its_balance(example):
    """Every box leads to its record; a count that differs from the book says so in words."""
    page = example.get("/lots/RC-26-3").text

    assert "Unproven : 83.4 g traced, 15 g unproven, 2.5 g unaccounted" in said(page)
    assert "counted ! differs from the book 2.5 g 40.7 g" in said(page)
    drawn = re.findall(r'<a [^>]*href="(/record/[^"]+)"', re.findall(r"<svg.*?</svg>", page, re.DOTALL)[-1])
    assert "/record/harvests/H26-11" in drawn
    assert {200} == {example.get(address).status_code for address in sorted(drawn)[:6]}


def test_a_lot_that_is_none_is_refused_in_words(example):
    """With what may be meant."""
    answer = example.get("/lots/RC-26-33")

    assert 404 == answer.status_code
    assert "No lot is called 'RC-26-33'. Did you mean RC-26-3?" in said(answer.text)


@pytest.mark.parametrize(
    ("address", "steps"),
    [
        ("/record/trees/T-306", {"/enter/bag-on?tree=T-306", "/enter/sampled?tree=T-306"}),
        ("/record/bagging/B26-001", {"/enter/check?bags=B26-001", "/papers?table=bagging&records=B26-001"}),
        ("/record/plantings/P-23-01", {"/tables/trees/new?planting=P-23-01"}),
        ("/record/lots/RC-26-3", {"/lots/RC-26-3", "/tables/tests/new?lot=RC-26-3"}),
    ],
)
def test_a_record_leads_to_what_is_entered_next_about_it(example, address, steps):
    """And the form there holds its number."""
    page = example.get(address).text.replace("&amp;", "&")

    assert steps <= set(re.findall(r'href="([^"]+)"', page))
    for step in steps:
        name = step.rpartition("=")[2].rpartition("/")[2]
        assert re.search(rf'(value="{name}"|>{name}<)', example.get(step).text)


def test_a_record_s_photo_is_shown_as_a_picture(example):
    """Where it is a picture, beside the record that it shows."""
    assert '<img src="/paper/tags/b26-001.png"' in example.get("/record/bagging/B26-001").text
