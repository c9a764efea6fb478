from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from printed import plain


@pytest.fixture
def filled(seasons, stocked):
    """A season whose lot L1 lies in some container."""

    def build(**more):
        lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), **more}
        return stocked(lots=[lot])

    return build


@pytest.mark.parametrize(
    ("field", "text", "weights"),
    [
        ("previous_contents", "seed treated with a fungicide", ["unproven"]),
        ("previous_contents", "treated seed", ["unproven"]),
        ("previous_contents", "untreated seed of lot K1, no fungicide", []),
        ("packaging", "paper bags with preservative", ["rejects"]),
        ("packaging", "paper bags without preservative", []),
        ("packaging", "old fungicide bucket", ["unproven"]),
        ("packaging_contains", "fumigant", ["rejects"]),
        ("packaging_contains", "unknown", ["unproven"]),
        ("packaging_contains", "nothing", []),
        ("previous_contents", None, ["unproven"]),
    ],
)
def test_what_containers_held_decides(filled, find, field, text, weights) -> None:
    """What packaging contains speaks against the lot, what it held leaves it unproven; 'no fungicide' is
    fine.
    """
    more = {"previous_contents": "beans", field: text}
    season = filled(container_use="re-used", **{name: value for name, value in more.items() if value})

    assert weights == [gap.weight for gap in find(season, "packaging-reused")]


@pytest.mark.parametrize(("days", "found"), [(None, True), (1, True), (0, False), (-3, False)])
def test_containers_are_cleaned_before_they_are_filled(seasons, filled, find, days, found) -> None:
    """A cleaning after the filling is none."""
    packed = seasons.lot("L1", [], 8)["packed"]
    more = {} if days is None else {"container_cleaned": packed + timedelta(days)}

    assert found == bool(find(filled(container_use="re-used", **more), "container-not-cleaned"))


def test_new_containers_need_no_cleaning(filled, find) -> None:
    """Nothing is asked of new ones."""
    assert () == find(filled(), "container-not-cleaned")
    assert () == find(filled(), "packaging-reused")


def test_what_harms_is_the_profiles_word(filled, find) -> None:
    """The freezer harms this kind of seed; the refrigerator doesn't."""
    assert ["advice"] == [gap.weight for gap in find(filled(storage="freezer"), "stored-frozen")]
    assert () == find(filled(storage="refrigerator"), "stored-frozen")


def test_a_blend_is_as_old_as_its_oldest_part(seasons, stocked, find) -> None:
    """L1 was packed in July and holds 2 g of K1, packed eleven months earlier: too old in September."""
    before = seasons.season_of(label="2025", lots=[{**seasons.lot("K1", [], 8), "packed": date(2025, 8, 20)}])
    parts = [{"batch": "X1", "weight": "6 g"}, {"lot": "K1", "weight": "2 g"}]
    moves = [
        {**seasons.sale(name, "L1", 1), "date": when}
        for name, when in (("M1", date(2026, 8, 20)), ("M2", date(2026, 8, 21)))
    ]
    blended = replace(stocked(lots=[seasons.lot("L1", parts, 8)], movements=moves), previous=before)

    assert ["M2"] == [gap.id for gap in find(blended, "storage-too-long")]
    assert () == find(stocked(movements=moves), "storage-too-long")


def test_late_sales_of_one_lot_are_one_gap(seasons, stocked, find) -> None:
    """One cause, one gap, at the first of them."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "storage": "open room"}
    moves = [{**seasons.sale(f"M{month}", "L1", 1), "date": date(2026, month, 25)} for month in (8, 9, 10)]
    (gap,) = find(stocked(lots=[lot], movements=moves), "storage-too-long")

    assert ("M9", 1) == (gap.id, len(gap.others))
    assert ("practice:storage_months_open_room",) == gap.clauses


@pytest.mark.parametrize(
    ("more", "field", "weight"),
    [
        ({"container_use": "new"}, None, None),
        ({"container_use": "re-used"}, "previous_contents", "unproven"),
        ({"container_use": "re-used", "previous_contents": "beans"}, None, None),
        ({"packaging": "bags with fungicide", "container_use": "re-used"}, "packaging", "rejects"),
        ({"previous_contents": "fungicide"}, "previous_contents", "unproven"),
        ({"previous_contents": "fungicide", "status": "conventional"}, None, None),
        ({"container_use": "re-used", "status": "conventional"}, None, None),
        ({"previous_contents": "fungicide", "status": "transitional"}, "previous_contents", "unproven"),
    ],
)
def test_a_lot_is_told_once_for_its_containers(filled, find, more, field, weight) -> None:
    """What is forbidden outweighs what isn't said; of seed that claims nothing nothing is asked."""
    found = find(filled(**more), "packaging-reused")

    assert ([((field,), weight)] if field else []) == [(gap.field, gap.weight) for gap in found]


def test_forbidden_contents_are_told_as_they_were_written(filled, find) -> None:
    """Whether the containers held them or hold them."""
    (held,) = find(filled(previous_contents="a fungicide"), "packaging-reused")
    (hold,) = find(filled(packaging="preservative bags"), "packaging-reused")

    assert (
        "The containers of lot L1 held before: a fungicide; no cleaning for this filling is written down."
        == (held.message)
    )
    assert "The packaging of lot L1 is described as: preservative bags." == hold.message


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ({"container_use": "re-used"}, 1),
        ({"container_use": "re-used", "status": "conventional"}, 0),
        ({"container_use": "re-used", "status": "transitional"}, 1),
        ({"container_use": "new"}, 0),
    ],
)
def test_used_containers_are_cleaned(filled, find, more, found) -> None:
    """For seed that claims something."""
    assert found == len(find(filled(**more), "container-not-cleaned"))


def test_a_cleaning_after_the_filling_is_told_as_such(seasons, filled, find) -> None:
    """Else there was none."""
    packed = seasons.lot("L1", [], 8)["packed"]
    (late,) = find(filled(container_use="re-used", container_cleaned=packed + timedelta(1)),
                   "container-not-cleaned")  # fmt: skip
    (none,) = find(filled(container_use="re-used"), "container-not-cleaned")

    assert late.message.endswith("were cleaned on 19 July 2026, after it.")
    assert none.message.endswith("show no cleaning.")


@pytest.mark.parametrize(
    ("typed", "found"),
    [("9.9 C", 1), ("10 C", 0), ("50 F", 0), ("20 C", 0), ("20.004 C", 0), ("20.006 C", 1), (None, 0)],
)
def test_the_store_is_as_warm_as_is_usual(filled, find, crop, typed, found) -> None:
    """To the hundredth of a degree, so that 50 °F are the bound; a crop may lack the figure."""
    season = filled(storage="open room", **({"storage_temperature": typed} if typed else {}))

    assert found == len(find(season, "storage-temperature-out-of-range"))
    assert () == find(season, "storage-temperature-out-of-range", profile=crop(storage_c=None))


@pytest.mark.parametrize(
    ("storage", "typed", "said"),
    [
        # What the example once said: 15 °C is a cool room and no refrigerator.
        ("refrigerator", "15 C", "kept at 15 C in storage called 'refrigerator', which stands for 2 to 8 °C"),
        ("refrigerator", "4 C", "kept at 4 C, where practice is 10 to 20 °C"),
        ("refrigerator", None, "'refrigerator', which stands for 2 to 8 °C, where practice is 10 to 20 °C"),
        ("cool room", "15 C", None),
        ("cool room", "17 C", "in storage called 'cool room', which stands for 10 to 15 °C"),
        ("cool room", "8 C", "kept at 8 C, where practice is 10 to 20 °C"),
        ("cool room", None, None),
        ("airtight dry room", "17 C", None),
    ],
)
def test_a_storage_is_as_warm_as_its_name_says(filled, find, storage, typed, said) -> None:
    """One gap a lot: its temperature where there is one, or what its storage's name stands for."""
    season = filled(
        **({"storage": storage} if storage else {}), **({"storage_temperature": typed} if typed else {})
    )
    found = find(season, "storage-temperature-out-of-range")

    assert ([said] if said else []) == [said for gap in found if said in plain(gap.message)]


@pytest.mark.parametrize(
    ("storage", "kept", "found"),
    [
        # Packed on 18 July 2025: two months open, six airtight or in a refrigerator, twelve in a cool room.
        ("open room", date(2025, 9, 18), 0),
        ("open room", date(2025, 9, 19), 1),
        ("open room", date(2025, 10, 18), 1),
        ("airtight dry room", date(2026, 1, 18), 0),
        ("airtight dry room", date(2026, 1, 19), 1),
        ("cool room", date(2026, 7, 18), 0),
        ("cool room", date(2026, 7, 19), 1),
        ("cool room", date(2026, 9, 1), 1),
        ("refrigerator", date(2026, 1, 18), 0),
        ("refrigerator", date(2026, 1, 19), 1),
        # The freezer has a rule of its own, and nothing is sold before it is packed.
        ("freezer", date(2026, 9, 1), 0),
        ("open room", date(2025, 7, 17), 0),
        (None, date(2026, 9, 1), 0),
    ],
)
@pytest.mark.parametrize("kind", ["sold", "sown"])
def test_seed_keeps_to_the_day_that_its_storage_gives(
    filled, seasons, find, storage, kept, found, kind
) -> None:
    """The same day of the month is still within; seed for the own field ages as well."""
    lot = {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "packed": date(2025, 7, 18)}
    lot = {name: value for name, value in {**lot, "storage": storage}.items() if value}
    move = {**seasons.movement("M1", "L1", kind, 1), "date": kept}
    season = filled(**lot)
    tables = {name: [season.record_at(name, row) for row in range(len(season.table(name)))]
              for name in season.tables}  # fmt: skip
    gaps = find(seasons.season_of(**{**tables, "lots": [lot], "movements": [move]}), "storage-too-long")

    assert ["advice"] * found == [gap.weight for gap in gaps]


def test_a_crop_without_the_figure_keeps_for_ever(seasons, stocked, find, crop) -> None:
    """Nothing is known of how long."""
    move = {**seasons.movement("M1", "L1", "sold", 1), "date": date(2028, 1, 1)}
    season = stocked(movements=[move])

    assert 1 == len(find(season, "storage-too-long"))
    for figure in (None, {"high": None}):
        assert () == find(season, "storage-too-long", profile=crop(storage_months_cool_room=figure))


def test_a_blend_of_a_blend_is_as_old_as_the_oldest(seasons, stocked, find) -> None:
    """L3 holds L2, which holds L1 of the year before; a batch adds no age."""
    lots = [
        {**seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8), "packed": date(2025, 7, 18)},
        seasons.lot("L2", [{"lot": "L1", "weight": "2 g"}], 2),
        seasons.lot("L3", [{"lot": "L2", "weight": "1 g"}, {"batch": "X1", "weight": "1 g"}], 2, day=1),
    ]
    moves = [
        {**seasons.movement(f"M{number}", f"L{number}", "sold", 1), "date": date(2026, 7, 20)}
        for number in (1, 2, 3)
    ]

    assert ["M1", "M2", "M3"] == [
        gap.id for gap in find(stocked(lots=lots, movements=moves), "storage-too-long")
    ]


ASKED = {
    "packaging": "Nothing says of lots L1 and L2 what seed is packed in.",
    "container_use": "Nothing says of lots L1 and L2 whether its containers were new.",
}


@pytest.mark.parametrize("lost", [("packaging",), ("container_use",), ("packaging", "container_use")])
def test_what_seed_lies_in_must_be_said(seasons, stocked, find, lost) -> None:
    """Of all lots that are silent in one gap, each thing by itself; of seed that claims nothing nothing is
    asked. The routine may say it for all."""
    made = [
        seasons.lot("L1", [{"batch": "X1", "weight": "4 g"}], 4),
        seasons.lot("L2", [{"batch": "X1", "weight": "2 g"}], 2),
        seasons.lot("L3", [{"batch": "X1", "weight": "2 g"}], 2, status="conventional"),
    ]
    lots = [{key: value for key, value in one.items() if key not in lost} for one in made]
    found = find(stocked(lots=lots), "packaging-reused")
    routine = {"stated_by": "R. Alder", "packaging": "foil pouch", "container_use": "new"}

    assert {field: ASKED[field] for field in lost} == {gap.field[0]: gap.message for gap in found}
    assert all(("unproven", ("L1", "L2")) == (gap.weight, gap.ids) for gap in found)
    assert () == find(stocked(lots=lots, details={"routine": routine}), "packaging-reused")
    assert found == find(
        stocked(lots=lots, details={"routine": {**routine, "stated_by": "?"}}), "packaging-reused"
    )
