from __future__ import annotations

from datetime import date, timedelta

import pytest
from seasons import without


def test_a_blend_is_cleared_when_the_last_parent_of_any_part_is(seasons, stocked, find) -> None:
    """The late parent stands behind L1 only, and L3 holds 2 g of L1: both were sold too early, L2 was not."""
    late = date(2026, 9, 15)
    lots = [
        seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8),
        seasons.lot("L2", [{"batch": "X2", "weight": "8 g"}], 8),
        seasons.lot("L3", [{"lot": "L1", "weight": "2 g"}, {"lot": "L2", "weight": "2 g"}], 4, day=5),
    ]
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1", reported=late), seasons.sample("S2", "T2")],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1"]), seasons.harvest("H2", ["B2"])],
        batches=[seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H2"], day=1)],
        lots=lots,
        movements=[seasons.sale(f"M{number}", f"L{number}", 1) for number in (1, 2, 3)],
    )
    found = find(season, "sold-before-cleared")

    assert ["M1", "M3"] == [gap.id for gap in found]
    assert "15 September 2026" in found[0].message


def test_a_giver_of_pollen_counts_as_a_parent(seasons, stocked, find) -> None:
    """The seed parent's result was in, the pollen parent's wasn't."""
    season = stocked(
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[seasons.sample("S1", "T1"), seasons.sample("S2", "T2", reported=date(2026, 9, 15))],
        bagging=[seasons.bag("B1", "T1", pollen_parent="T2")],
        movements=[seasons.sale("M1", "L1", 1)],
    )

    assert ["M1"] == [gap.id for gap in find(season, "sold-before-cleared")]


def test_only_what_leaves_the_farm_needs_papers(seasons, stocked, find) -> None:
    """Sown, counted and discarded seed has none; a hand-over without money has."""
    kinds = ("sown", "discarded", "counted", "transferred")
    moves = [seasons.movement(f"M-{kind}", "L1", kind, 1) for kind in kinds]

    assert ["M-transferred"] == [gap.id for gap in find(stocked(movements=moves), "sale-without-document")]


@pytest.mark.parametrize(
    ("missing", "told"),
    [
        (("party",), "who took it."),
        (("document",), "which document went with it."),
        (("party", "document"), "who took it and which document went with it."),
    ],
)
def test_the_message_says_what_is_missing(seasons, stocked, find, missing, told) -> None:
    """One gap a sale, however much it lacks."""
    (gap,) = find(
        stocked(movements=[without(seasons.sale("M1", "L1", 1), *missing)]), "sale-without-document"
    )

    assert gap.message.endswith(told)


@pytest.mark.parametrize(
    ("standard", "weight"), [("us-nop", "unproven"), ("eu", "unproven"), ("canada", "advice")]
)
def test_the_word_on_the_paper_is_asked_by_some_standards_only(
    seasons, stocked, find, standard, weight
) -> None:
    """Where no standard of the season asks for it, it is advice."""
    season = stocked(movements=[without(seasons.sale("M1", "L1", 1), "status")])

    assert [weight] == [gap.weight for gap in find(season, "dispatch-status-missing", standard)]


@pytest.mark.parametrize(("standard", "found"), [("us-nop", ["M1"]), ("eu", []), ("codex", [])])
def test_the_last_certified_operation_is_asked_by_one_standard(
    seasons, stocked, find, standard, found
) -> None:
    """A standard that doesn't ask for it finds nothing missing."""
    season = stocked(movements=[without(seasons.sale("M1", "L1", 1), "last_certified_operation")])

    assert found == [gap.id for gap in find(season, "last-certified-operation-missing", standard)]


@pytest.mark.parametrize(
    ("own", "paper", "weights"),
    [
        ("conventional", "organic", ["rejects"]),
        ("transitional", "organic", ["rejects"]),
        ("conventional", "transitional", ["rejects"]),
        ("organic", "conventional", []),
        ("organic", "organic", []),
    ],
)
def test_a_better_status_on_paper_than_in_the_lot_rejects(
    seasons, stocked, find, own, paper, weights
) -> None:
    """Organic seed may be sold without the word; never the other way round."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "status": own}
    season = stocked(lots=[lot], movements=[{**seasons.sale("M1", "L1", 1), "status": paper}])

    assert weights == [gap.weight for gap in find(season, "sold-above-status")]


def test_a_sale_on_the_day_of_packing_is_in_time(seasons, stocked, find) -> None:
    """Packed in the morning, sold in the afternoon."""
    packed = seasons.lot("L1", [], 8)["packed"]
    days = {"M1": packed, "M2": packed - timedelta(1)}
    moves = [{**seasons.sale(name, "L1", 1), "date": when} for name, when in days.items()]

    assert ["M2"] == [gap.id for gap in find(stocked(movements=moves), "sold-before-packed")]


@pytest.mark.parametrize(("days", "found"), [(-1, 1), (0, 0), (1, 0)])
def test_a_result_of_the_day_of_sale_is_in_time(seasons, stocked, find, days, found) -> None:
    """The letter came in the morning."""
    sold = seasons.sale("M1", "L1", 1)
    reported = seasons.sample("S1", "T1", reported=sold["date"] - timedelta(days))
    gaps = find(stocked(screening=[reported], movements=[sold]), "sold-before-cleared")

    assert [("M1", "unproven", ("L1",))] * found == [(gap.id, gap.weight, gap.lots) for gap in gaps]


def test_a_result_of_which_nobody_says_when_it_came_clears_no_sale(seasons, stocked, find) -> None:
    """However long ago the leaf was cut; a letter that bears a day says it for all its samples."""
    bare = without(seasons.sample("S1", "T1"), "reported")
    sold = seasons.sale("M1", "L1", 1)
    letter = {"letter": "BF-2201", "samples": ["S1"], "result": "negative"}
    (gap,) = find(stocked(screening=[bare], movements=[sold]), "sold-before-cleared")

    assert gap.message.endswith("and nothing says when the last result of its parents came in.")
    assert "the day for the last result behind lot L1" == gap.supply
    for when, expected in ((sold["date"], 0), (sold["date"] + timedelta(1), 1), (None, 1)):
        told = letter if when is None else {**letter, "reported": when}
        season = stocked(screening=[bare], movements=[sold], letters=[told])
        assert expected == len(find(season, "sold-before-cleared"))


@pytest.mark.parametrize("which", ["T1", "T2"])
@pytest.mark.parametrize(("days", "found"), [(0, 0), (1, 1)])
def test_the_last_result_of_any_parent_must_be_in(seasons, stocked, find, which, days, found) -> None:
    """The mother's and the father's, through a lot that was blended."""
    sold = seasons.sale("M1", "L2", 1)
    made = [seasons.sample("S1", "T1"), seasons.sample("S2", "T2")]
    made = [
        {**one, "reported": sold["date"] + timedelta(days)} if one["tree"] == which else one for one in made
    ]
    season = stocked(
        trees=[seasons.tree("T1", sex="female"), seasons.tree("T2")],
        screening=made,
        bagging=[seasons.bag("B1", "T1", flower="female", pollen_parent="T2")],
        lots=[
            seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8),
            seasons.lot("L2", [{"lot": "L1", "weight": "4 g"}], 4),
        ],
        movements=[sold],
    )

    assert found == len(find(season, "sold-before-cleared"))


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        ({}, []),
        ({"party": "quillmere  GROWERS."}, []),
        ({"party": "Hollin Nursery"}, [("M1", "M2")]),
        ({"party": "Hollin Nursery", "document": "inv-m1"}, [("M1", "M2")]),
        ({"party": "Hollin Nursery", "document": "INV-M2"}, []),
        ({"party": "Hollin Nursery", "kind": "transferred"}, [("M1", "M2")]),
        ({"party": "Hollin Nursery", "kind": "returned"}, []),
        ({"party": None}, []),
        ({"party": "Hollin Nursery", "document": None}, []),
    ],
)
def test_one_document_has_one_buyer(seasons, stocked, find, other, expected) -> None:
    """However its number and the buyer's name are written; both sales are without a paper of their own."""
    second = {**seasons.sale("M2", "L1", 1), "document": "INV-M1", **other}
    second = {name: value for name, value in second.items() if value is not None}
    season = stocked(movements=[seasons.sale("M1", "L1", 1), second])
    found = find(season, "document-repeated")

    assert expected == [gap.ids for gap in found]
    assert all("unproven" == gap.weight and ("L1",) == gap.lots for gap in found)
    assert all("stands at sales to Quillmere Growers and Hollin Nursery." in gap.message for gap in found)


def test_a_number_of_last_year_may_come_again(seasons, carried, find) -> None:
    """Invoices are counted from one each season."""
    old = {**seasons.sale("M9", "K1", 1), "document": "INV-M1", "party": "Hollin Nursery",
           "date": date(2025, 10, 1)}  # fmt: skip
    season = carried(before={"movements": [old]}, movements=[seasons.sale("M1", "L1", 1)])

    assert () == find(season, "document-repeated")


@pytest.mark.parametrize(
    ("lost", "evidence", "expected"),
    [
        ((), None, []),
        (("document",), "letters/BF-2201.txt", []),
        (("document",), None, ["document"]),
        (("party",), "letters/BF-2201.txt", ["party"]),
    ],
)
def test_a_receipt_stands_for_a_documents_number(seasons, stocked, find, lost, evidence, expected) -> None:
    """A photo of it shows as much; it says nothing of who took the seed where the entry doesn't."""
    sale = without(seasons.sale("M1", "L1", 1), *lost)
    season = stocked(movements=[sale if evidence is None else {**sale, "evidence": evidence}])

    assert [(one,) for one in expected] == [gap.field for gap in find(season, "sale-without-document")]


@pytest.mark.parametrize("word", ["?", "-", "n/a", "None", "unknown", "TBD", ".", "x"])
@pytest.mark.parametrize("field", ["party", "document"])
def test_what_only_looks_like_an_entry_is_none(seasons, stocked, find, field, word) -> None:
    """A dash in the place of a buyer names nobody."""
    season = stocked(movements=[{**seasons.sale("M1", "L1", 1), field: word}])

    assert [(field,)] == [gap.field for gap in find(season, "sale-without-document")]


@pytest.mark.parametrize("kind", ["received", "returned"])
@pytest.mark.parametrize(
    ("lost", "field", "said"),
    [
        ((), None, ""),
        (("document",), "document", "on what document."),
        (("party",), "party", "from whom."),
        (("party", "document"), "party", "from whom and on what document."),
    ],
)
def test_what_comes_in_comes_from_somebody_on_a_paper(
    seasons, stocked, find, kind, lost, field, said
) -> None:
    """A receipt's photo will do for the number."""
    move = without({**seasons.sale("M1", "L1", 1), "kind": kind}, "status", "last_certified_operation", *lost)
    found = find(stocked(movements=[move]), "receipt-without-document")
    filed = find(stocked(movements=[{**move, "evidence": "letters/BF-2201.txt"}]), "receipt-without-document")

    assert [((field,), "unproven", ("L1",))] * bool(field) == [
        (gap.field, gap.weight, gap.lots) for gap in found
    ]
    assert all(gap.message.endswith(f"and nothing says {said}") for gap in found)
    assert bool("party" in lost) == bool(filed)


@pytest.mark.parametrize(
    ("more", "expected"),
    [({}, 1), ({"planting": "P1"}, 0), ({"note": "the corner by the shed"}, 0), ({"kind": "sampled"}, 0)],
)
def test_own_seed_was_sown_somewhere(seasons, stocked, find, more, expected) -> None:
    """In a planting, or where a note says."""
    move = {**seasons.movement("M1", "L1", "sown", 1), **more}

    assert ["advice"] * expected == [
        gap.weight for gap in find(stocked(movements=[move]), "sowing-without-planting")
    ]


@pytest.mark.parametrize(
    ("kind", "more", "expected"),
    [
        ("discarded", {}, 1),
        ("downgraded", {}, 1),
        ("discarded", {"note": "mouldy"}, 0),
        ("downgraded", {"document": "D-4"}, 0),
        ("sampled", {}, 0),
    ],
)
def test_seed_that_is_given_up_is_given_up_for_a_reason(seasons, stocked, find, kind, more, expected) -> None:
    """In a note or on a paper."""
    found = find(
        stocked(movements=[{**seasons.movement("M1", "L1", kind, 1), **more}]), "discard-unexplained"
    )

    assert [("advice", ("note",))] * expected == [(gap.weight, gap.field) for gap in found]
    assert all(f"of lot L1 was {kind}, and nothing says why." in gap.message for gap in found)
