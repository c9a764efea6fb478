"""The card is one page, and the same for the same facts."""

from __future__ import annotations

import io
import json
from typing import Any

import pikepdf
import pytest
from pages import text_of

from certgen.exchange.lot_card.page import NAME, set_card
from certgen.typeset.typst_pages import SettingError


def say(pdf: bytes) -> str:
    """The page's words, each a blank apart."""
    return " ".join(text_of(pdf).split())


def test_the_page_tells_the_facts(card: dict[str, Any]) -> None:
    """What the lot is, its grams, parents, tests, what they leave open, its label, and that it certifies
    nothing.
    """
    told = say(set_card(card))
    for words in (
        "L1 Amber Kestrel Carica papaya L.",
        "by Larkfold Seed Orchard, certificate C-0417, certifier Fernhollow Organic Certification.",
        "8 g traced",
        "1 of 1 parent tree was screened and found negative.",
        "What the tests can’t rule out",
        "Not covered other events, pollen past a sound cover, and mixing",
        "certifies nothing",
        "0123 4567 89ab cdef 0123",
    ):
        assert words in told


def test_a_part_is_told_of_the_whole(card: dict[str, Any]) -> None:
    """Where not all grams have one standing, each stands beside the lot's weight."""
    told = say(set_card({**card, "standing": "rejected", "traced_mg": 5000, "rejected_mg": 3000}))
    assert "5 g of 8 g traced" in told
    assert "3 g of 8 g rejected Something speaks against the claim." in told


def test_the_facts_lie_inside_and_give_the_page(card: dict[str, Any]) -> None:
    """The one attachment is the object that the page was set from; set again, it is the same file."""
    pdf = set_card(card)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        held = {name: one.get_file().read_bytes() for name, one in document.attachments.items()}
    assert [NAME] == list(held)
    assert card == json.loads(held[NAME])
    assert pdf == set_card(json.loads(held[NAME]))


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_full_card_is_still_one_page(card: dict[str, Any], page: str) -> None:
    """With more findings, methods and label lines than any season has, the letters shrink."""
    full = {
        **card,
        "page": page,
        "findings": [
            {
                "rule": f"r-{n}",
                "title": "Seed that isn't traced has left the farm.",
                "weight": "unproven",
                "count": 2,
            }
            for n in range(12)
        ],
        "methods": [{**card["methods"][0], "targets": [f"T{n}"]} for n in range(5)],
        "label": [*card["label"], ("Caution", "Do not use for food or feed or oil purposes.")],
    }
    with pikepdf.open(io.BytesIO(set_card(full))) as document:
        assert 1 == len(document.pages)


def test_what_no_page_holds_is_refused(card: dict[str, Any]) -> None:
    """Better than a page that lacks its end."""
    with pytest.raises(SettingError, match="more than one page holds: Seed lot L1"):
        set_card({**card, "variety": "very long " * 3000})


@pytest.mark.parametrize("name", ['#panic("x")', "$x$ *bold* _it_", "\\", "مريم", "日本", "\ue000", "<a>&"])
def test_a_name_is_set_as_text(card: dict[str, Any], name: str) -> None:
    """Nothing in a record acts as markup, in whatever letters it is written."""
    with pikepdf.open(io.BytesIO(set_card({**card, "lot": name, "variety": name}))) as document:
        assert 1 == len(document.pages)


def test_bought_seed_and_pollen_parents_are_told(card: dict[str, Any]) -> None:
    """Seed traced through a supplier's packet names no supplier."""
    trees = {"trees": 4, "cleared": 2, "doubted": 1, "positive": 1, "pollen_only": 1}
    more = {"seed_without_parent": "4.0 %", "through_packets": 1}
    told = say(set_card({**card, "parents": {**trees, **more}}))
    assert "2 of 4 parent trees were screened and found negative, 1 of them as the pollen’s." in told
    assert "Of 1 parent tree the result, or the tree, is in doubt." in told
    assert "1 parent tree tested positive for a transgene." in told
    assert "Of 4.0 % of the seed no parent is on record." in told
    assert "Seed that the operation bought is traced through 1 signed packet of its supplier." in told


def test_a_germination_test_that_chance_does_not_allow_promises_nothing(card: dict[str, Any]) -> None:
    """Its figure is told with what it is worth, and without a day until which it holds."""
    tested = {"percent": 88, "seeds": 400, "tested": "2026-09-01", "holds_until": "2027-03-01"}
    good, bad = (
        say(set_card({**card, "germination": {**tested, "agrees": agrees, "by": "practice"}}))
        for agrees in (True, False)
    )
    assert "such a test holds until 1 March 2027 by common practice." in good
    assert "The replicates lie further apart than chance allows" in bad
    assert "holds until" not in bad
