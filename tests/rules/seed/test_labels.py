from __future__ import annotations

import pytest

from certgen.rules.seed.labels import claims_organic


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
        ({"tested": None, "germination": "89 %"}, ["label.germination"]),
        ({"lot": None, "variety": None, "last_certified_operation": None}, []),
        ({"lot": "L2", "last_certified_operation": "Somebody Else"},
         ["label.last_certified_operation", "label.lot"]),
    ],
)  # fmt: skip
def test_each_word_of_a_label_is_compared(labelled, find, words, found) -> None:
    """Letter case makes no other variety, and a figure below the test's harms nobody."""
    assert found == [".".join(map(str, gap.field)) for gap in find(labelled(**words), "label-differs")]


@pytest.mark.parametrize(
    ("certifier", "said", "found"),
    [
        ("Quillback Organic Review", "Quillback  Organic review", []),
        ("Quillback Organic Review", "Sundial Organic Certification", ["label.certified_by"]),
        ("", "Sundial Organic Certification", []),
    ],
)
def test_the_certifier_on_a_label_is_the_seasons(seasons, stocked, find, certifier, said, found) -> None:
    """Letter case and blanks are the printer's; a season that names no certifier has nothing to compare."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    lot["label"]["certified_by"] = said
    operation = {"name": lot["label"]["last_certified_operation"], "certificate": "EX-0001"}
    season = stocked(
        lots=[lot], details={"operation": {**operation, **({"certifier": certifier} if certifier else {})}}
    )
    assert found == [".".join(map(str, gap.field)) for gap in find(season, "label-differs")]


@pytest.mark.parametrize(
    ("containers", "net", "found"),
    [
        (2, "4 g", []),
        (2, "4.001 g", ["net_weight"]),
        (None, "8 g", []),
        (None, "8.1 g", ["net_weight"]),
        (3, "4 g", ["net_weight"]),
        (3, None, []),
    ],
)
def test_containers_hold_no_more_than_the_lot_weighs(seasons, stocked, find, containers, net, found) -> None:
    """A lot that tells no number of containers has one at least."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    words = {"containers": containers, "net_weight": net}
    season = stocked(lots=[lot | {name: told for name, told in words.items() if told is not None}])
    gaps = find(season, "label-differs")
    assert found == [".".join(map(str, gap.field)) for gap in gaps]


def test_what_containers_would_hold_is_told(seasons, stocked, find) -> None:
    """Each, all of them, and the lot."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    (gap,) = find(stocked(lots=[lot | {"containers": 2, "net_weight": "4.001 g"}]), "label-differs")
    assert (
        "The containers of lot L1 are labelled with 4.001 g each; 2 of them would hold 8.002 g, and the lot "
        "weighs 8 g."
    ) == gap.message.replace("\u00a0", " ")


def test_calling_seed_organic_that_isnt_rejects(labelled, find) -> None:
    """The other differences can be mended on paper."""
    assert ["rejects"] == [gap.weight for gap in find(labelled("transitional"), "label-differs")]
    assert () == find(labelled("transitional", status="transitional"), "label-differs")


@pytest.mark.parametrize(
    ("standards", "words", "found"),
    [
        (("us-nop",), {"variety": None, "germination": None}, 0),
        (("us-nop",), {"lot": None}, 1),
        (("seed-law",), {"germination": None}, 0),
        (("seed-law",), {"variety": None}, 1),
        (("eu",), {"last_certified_operation": None}, 1),
        (("us-nop", "seed-law"), {"lot": None, "germination": None}, 1),
        (("codex",), {"lot": None}, 0),
    ],
)
def test_a_label_bears_what_its_standards_ask(labelled, find, standards, words, found) -> None:
    """Several missing items of one label are one gap."""
    assert found == len(find(labelled(**words), "label-incomplete", *standards))


@pytest.mark.parametrize(
    ("grams", "containers", "expected"),
    [(450, 1, 0), (453, None, 0), (454, 1, 1), (900, 2, 0), (910, 2, 1), (910, None, 1)],
)
def test_containers_of_more_than_a_pound_bear_more(
    seasons, stocked, find, grams, containers, expected
) -> None:
    """One pound is 453.592 g; a lot of which nobody says how many containers it is in is taken for one."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], grams)
    lot["label"] = {item: value for item, value in lot["label"].items() if item != "germination"}
    lot.pop("containers", None)
    if containers:
        lot["containers"] = containers

    assert expected == len(find(stocked(lots=[lot]), "label-incomplete", "seed-law"))


@pytest.mark.parametrize(
    ("packed_as", "words", "expected"),
    [
        ("retail packets", {}, 1),
        ("retail packets", {"certified_by": "Fernhollow Organic Certification"}, 0),
        ("retail packets", {"certified_by": "A Certifier", "last_certified_operation": None}, 1),
        ("bulk containers", {}, 0),
        (None, {}, 0),
    ],
)
def test_packets_for_retail_name_the_certifier(seasons, stocked, find, packed_as, words, expected) -> None:
    """Containers to store and ship in need not; and it says nothing of where the seed came from."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    label = {**lot["label"], **words}
    lot |= {"label": {item: value for item, value in label.items() if value is not None}}
    if packed_as:
        lot["packed_as"] = packed_as
    found = find(stocked(lots=[lot]), "retail-label-incomplete", "us-nop")

    assert ["advice"] * expected == [gap.weight for gap in found]


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


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"lot": "L2"}, "gives the lot number as L2; the records say L1."),
        ({"variety": "Moth Lantern"}, "gives the variety as Moth Lantern; the records say Amber Kestrel."),
        ({"last_certified_operation": "Nobody"}, "as Nobody; the records say Larkfold Seed Orchard."),
    ],
)
def test_a_difference_is_told_with_what_the_records_say(labelled, find, words, said) -> None:
    """So that the reader sees which is wrong."""
    (gap,) = find(labelled(**words), "label-differs")

    assert gap.message.endswith(said)


@pytest.mark.parametrize(
    ("printed", "counts", "found"),
    [
        # 221 of 250 are 88.4 %.
        ("88.4 %", (44, 44, 44, 44, 45), 0),
        ("88 %", (44, 44, 44, 44, 45), 0),
        ("89 %", (44, 44, 44, 44, 45), 1),
        ("88.5 %", (44, 44, 44, 44, 45), 1),
        # 175 of 200 are 87.5 %, which may be rounded up; 174 are 87 %.
        ("88 %", (44, 44, 44, 43), 0),
        ("88 %", (44, 44, 43, 43), 1),
    ],
)
def test_a_printed_figure_may_be_rounded_half_up(seasons, stocked, find, printed, counts, found) -> None:
    """Or stand as it was found; not above."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    lot["label"]["germination"] = printed
    season = stocked(lots=[lot], tests=[seasons.germination("G1", "L1", replicates=counts)])

    assert found == len(find(season, "label-differs"))


def test_a_label_is_held_against_the_test_of_its_day(seasons, stocked, find) -> None:
    """Of two on that day the later entry; where no day is printed, against the last test."""
    first = seasons.germination("G1", "L1", replicates=(40, 40, 40, 40))
    second = seasons.germination("G2", "L1")
    last = seasons.germination("G3", "L1", date="2026-09-01", replicates=(42, 42, 42, 42))
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    undated = {**lot, "label": {name: text for name, text in lot["label"].items() if name != "tested"}}

    assert () == find(stocked(lots=[lot], tests=[last, first, second]), "label-differs")
    assert ["test G2 found 80 %."] == [
        gap.message.partition("; ")[2]
        for gap in find(
            stocked(lots=[lot], tests=[second | {"test": "G1"}, first | {"test": "G2"}]), "label-differs"
        )
    ]
    assert ["test G3 found 84 %."] == [
        gap.message.partition("; ")[2]
        for gap in find(stocked(lots=[undated], tests=[last, first, second]), "label-differs")
    ]


@pytest.mark.parametrize(
    ("own", "said", "told"),
    [
        ("organic", "organic", None),
        ("organic", None, "The label of lot L1 doesn't say that the seed is organic."),
        ("organic", "certified seed", "The label of lot L1 says 'certified seed', and the lot is organic."),
        ("transitional", None, None),
        ("conventional", "organic", None),
    ],
)
def test_the_word_is_looked_for_on_labels_of_organic_lots(labelled, find, own, said, told) -> None:
    """What another lot's label says is told elsewhere."""
    found = find(labelled(own, status=said), "status-word-missing")

    assert ([told] if told else []) == [gap.message for gap in found]


def test_a_lot_without_a_label_lacks_no_word_yet(seasons, stocked, find) -> None:
    """That it has no label is told by another rule."""
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8)
    del lot["label"]

    assert () == find(stocked(lots=[lot]), "status-word-missing")


@pytest.mark.parametrize(
    ("own", "words", "field", "said"),
    [
        ("organic", {"lot": None}, ("label.lot",), "lacks the lot number."),
        ("organic", {"lot": None, "variety": None}, ("label.lot",),
         "lacks the lot number and the variety."),
        ("transitional", {"lot": None}, None, ""),
    ],
)  # fmt: skip
def test_what_a_label_lacks_is_told_at_its_first_item(labelled, find, own, words, field, said) -> None:
    """For lots that are called organic."""
    found = find(labelled(own, **words), "label-incomplete", "us-nop", "seed-law")

    assert ([(field, "unproven")] if field else []) == [(gap.field, gap.weight) for gap in found]
    assert all(gap.message.endswith(said) for gap in found)


def test_a_label_of_an_untested_lot_is_no_difference(stocked, find) -> None:
    """There is nothing to differ from: the missing test has a rule of its own."""
    assert () == find(stocked(tests=[]), "label-differs")
