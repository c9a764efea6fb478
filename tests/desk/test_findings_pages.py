"""Findings: each with the field that mends it."""

from __future__ import annotations

import re

import pytest
from desk_client import form_of, hold, said, visit


def test_a_finding_is_mended_by_its_own_field_and_checked_again(desk, held):
    """The flower that nobody wrote down: chosen beside the finding, the finding is settled."""
    page = desk.get("/findings?words=B-2").text
    (article,) = [
        text for text in re.findall(r"<article.*?</article>", page, re.DOTALL) if 'name="flower"' in text
    ]
    form = form_of(article, "/record/bagging/B-2")

    answer = desk.post("/record/bagging/B-2", data={**form, "flower": "female"})

    assert "/findings" == answer.url.path
    assert "Saved: bag B-2" in said(answer.text)
    assert "Settled: 1 finding" in said(answer.text)
    assert "female" == held.look().season.record("bagging", "B-2")["flower"]


def test_findings_are_chosen_by_weight_lot_and_words(desk, held):
    """Each choice narrows; an unknown one finds nothing and breaks nothing."""
    total = len(held.look().result.gaps)

    def listed(query):
        return len(re.findall(r'<article class="gap"', desk.get(f"/findings?{query}").text))

    assert min(total, 60) == listed("")
    assert 0 < listed("weight=unproven") <= total
    assert 0 < listed("lot=AK-26-1") <= total
    assert (0, 0, 0) == (listed("weight=heavy"), listed("lot=none"), listed("words=zebra"))
    assert listed("from=-1") == listed("from=x") == listed("")


def test_what_could_not_be_read_stands_first(desk, folder):
    """With file, line and column, for it is mended there."""
    with (folder / "bags.yaml").open("a", encoding="utf-8") as file:
        file.write("  - {bag: B-7, tree: 01, covered: yesterday}\n")

    page = said(desk.get("/findings").text)

    assert "couldn’t be read" in page
    assert "bags.yaml:11" in page


def test_a_season_that_can_not_be_read_now_says_so_on_every_page(desk, folder):
    """And shows what was there before."""
    (folder / "season.yaml").write_text("season: [\n", encoding="utf-8")

    for path in ("/today", "/findings", "/tables/bagging", "/enter/bag-on"):
        answer = desk.get(path)
        assert 200 == answer.status_code
        assert "can’t be read as they are now" in said(answer.text)


def test_nobody_is_led_into_changing_what_happened(example_season):
    """A sale of rejected seed, a count that differs, a test that was out of date: a new entry or none is
    offered, never the sold lot, the count or the day of the sale. What speaks against seed comes first.
    """
    page = visit(hold(example_season)).get("/findings").text
    articles = dict(re.findall(r'<article class="gap" id="finding-([0-9]+)"(.*?)</article>', page, re.DOTALL))

    offered = {number for number, text in articles.items() if 'class="mend"' in text}
    assert {"6", "7", "8", "16"} == offered
    assert 'href="/tables/tests/new?lot=AK-25-2"' in articles["14"]
    assert 'href="/enter/sampled?tree=T-306"' in articles["18"]
    assert 'href="/papers?table=movements&amp;records=M26-042"' in articles["16"]
    assert ["4", "11", "13"] == list(articles)[:3]
    assert "“Allowed by”" in articles["7"]


@pytest.mark.parametrize("start", ["9" * 5_000, "-1", "x", "1.5", "٣"])
def test_a_page_that_there_is_not_is_answered(desk, start):
    """Whatever stands in the address, with more digits than any number has too: a page, and no fault."""
    assert 200 == desk.get("/findings", params={"from": start}).status_code
