from __future__ import annotations

import pytest

from certgen.rules.labels import claims_organic


@pytest.fixture
def labelled(seasons, stocked):
    """A season whose lot L1 bears a label with some words changed; None takes one off."""

    def build(own="organic", **words):
        lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
        label = {name: text for name, text in {**lot["label"], **words}.items() if text is not None}
        return stocked(lots=[{**lot, "status": own, "label": label}])

    return build


@pytest.mark.parametrize(
    ("text", "claims"),
    [
        ("organic", True),
        ("100% organic", True),
        ("Certified ORGANIC seed", True),
        ("non-organic", False),
        ("not organic", False),
        ("transitional organic", False),
        ("conventional", False),
        ("inorganic", False),
    ],
)
def test_words_that_claim_organic(text, claims) -> None:
    """The word counts wherever it stands, unless one before it turns it round."""
    assert claims == claims_organic(text)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ({}, []),
        ({"lot": "L2"}, ["label.lot"]),
        ({"variety": "Moth Lantern"}, ["label.variety"]),
        ({"variety": "AMBER  kestrel"}, []),
        ({"last_certified_operation": "Somebody Else"}, ["label.last_certified_operation"]),
        ({"germination": "88.4 %"}, ["label.germination"]),
        ({"germination": "85 %"}, []),
        ({"tested": "2026-08-08"}, ["label.tested"]),
    ],
)
def test_each_word_of_a_label_is_compared(labelled, find, words, found) -> None:
    """Letter case makes no other variety, and a figure below the test's harms nobody."""
    assert found == [".".join(map(str, gap.field)) for gap in find(labelled(**words), "label-differs")]


def test_calling_seed_organic_that_isnt_rejects(labelled, find) -> None:
    """The other differences can be mended on paper."""
    assert ["rejects"] == [gap.weight for gap in find(labelled("transitional"), "label-differs")]
    assert () == find(labelled("transitional", status="transitional"), "label-differs")


@pytest.mark.parametrize(
    ("standards", "words", "found"),
    [
        (("us-nop",), {"variety": None, "germination": None}, 0),
        (("us-nop",), {"lot": None}, 1),
        (("seed-law",), {"germination": None}, 1),
        (("us-nop", "seed-law"), {"lot": None, "germination": None}, 1),
        (("codex",), {"lot": None}, 0),
    ],
)
def test_a_label_bears_what_its_standards_ask(labelled, find, standards, words, found) -> None:
    """Several missing items of one label are one gap."""
    assert found == len(find(labelled(**words), "label-incomplete", *standards))


@pytest.mark.parametrize(("sold", "weight"), [(False, "advice"), (True, "unproven")])
def test_a_lot_without_any_label_has_time_until_it_leaves(seasons, stocked, find, sold, weight) -> None:
    """In the store the label may still be written."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    del lot["label"]
    season = stocked(lots=[lot], movements=[seasons.sale("M1", "L1", 1)] if sold else [])

    assert [weight] == [gap.weight for gap in find(season, "label-incomplete")]


@pytest.mark.parametrize(
    ("standard", "weight"), [("us-nop", "unproven"), ("eu", "unproven"), ("codex", "advice")]
)
def test_the_word_on_containers_is_asked_by_some_standards_only(
    seasons, stocked, find, standard, weight
) -> None:
    """Where none of the season's standards asks for it, it is advice."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "label": {"lot": "L1"}}

    assert [weight] == [gap.weight for gap in find(stocked(lots=[lot]), "status-word-missing", standard)]


def test_a_label_of_an_untested_lot_is_no_difference(stocked, find) -> None:
    """There is nothing to differ from: the missing test has a rule of its own."""
    assert () == find(stocked(tests=[]), "label-differs")
