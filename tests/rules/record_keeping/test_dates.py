from __future__ import annotations

from datetime import timedelta

import pytest

ONE = timedelta(1)
#: Table, the earlier field and the later one, as dotted names.
WITHIN = [
    ("screening", "collected", "submitted"),
    ("screening", "collected", "reported"),
    ("screening", "submitted", "reported"),
    ("bagging", "covered", "uncovered"),
    ("harvests", "date", "ripening.until"),
    ("batches", "date", "drying.from"),
    ("batches", "drying.from", "drying.to"),
    ("tests", "sampled", "date"),
    ("incidents", "date", "closed"),
    ("incidents", "date", "certifier_notified"),
]


def records(seasons):
    """One record of each table, of one line from tree to sale; the days are set by the test."""
    return {
        **seasons.one_line(),
        "incidents": [
            {
                "incident": "I1", "date": seasons.PICKED, "kind": "drift", "about": ["East"],
                "action": "fruit at the fence left", "closed": seasons.PICKED + ONE,
            }
        ],
    }  # fmt: skip


def put(record, field, value):
    """The record with the dotted field set."""
    first, _, rest = field.partition(".")
    return {**record, first: put(record.get(first, {}), rest, value) if rest else value}


def told(gaps):
    """Where the gaps stand."""
    return [(gap.table, gap.id, gap.field) for gap in gaps]


@pytest.mark.parametrize(("table", "earlier", "later"), WITHIN)
@pytest.mark.parametrize("days", [0, 1])
def test_within_a_record_the_same_day_is_in_order_and_the_day_before_is_not(
    seasons, find, table, earlier, later, days
) -> None:
    """Both may happen on one day; one day back is told at the later field."""
    tables = records(seasons)
    when = seasons.PICKED
    record = put(put(tables[table][0], earlier, when), later, when - days * ONE)
    gaps = find(seasons.season_of(**{**tables, table: [record]}), "date-out-of-order")
    found = [gap for gap in told(gaps) if gap[0] == table and gap[2] == (later,)]

    assert days == len(found)


@pytest.mark.parametrize("days", [0, 1])
def test_a_tree_is_removed_after_its_planting(seasons, find, days) -> None:
    """The day that it was planted on is its planting's."""
    planting = seasons.planting()
    trees = [seasons.tree("T1", removed=planting["planted"] - days * ONE)]
    season = seasons.season_of(blocks=[seasons.block()], plantings=[planting], trees=trees)

    assert [("trees", "T1", ("removed",))] * days == told(find(season, "date-out-of-order"))


def test_a_look_at_a_bag_on_the_day_it_was_put_on(seasons, find) -> None:
    """The day itself is in order; the day before is told at that look."""
    tables = records(seasons)
    day = seasons.COVERED
    looks = [{"date": day, "condition": "intact"}, {"date": day - ONE, "condition": "intact"}]
    gaps = find(
        seasons.season_of(**{**tables, "bagging": [seasons.bag("B1", "T1", checks=looks)]}),
        "date-out-of-order",
    )

    assert [("bagging", "B1", ("checks", 1, "date"))] == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_fruit_without_a_bag_comes_off_a_tree_that_stands(seasons, find, days) -> None:
    """A picking names a tree that was planted that day, or the day after."""
    tables = records(seasons)
    planted = seasons.PICKED + days * ONE
    tables["plantings"].append(seasons.planting("P2", planted=planted))
    tables["trees"].append({**seasons.tree("T2"), "planting": "P2"})
    tables["harvests"] = [seasons.harvest("H1", ["B1"], trees=("T2",), fruits=2)]
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert [("harvests", "H1", ("trees", 0))] * days == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_nothing_is_picked_from_a_tree_that_is_gone(seasons, find, days) -> None:
    """On the day of its removal there may still be a picking."""
    tables = records(seasons)
    tables["trees"] = [seasons.tree("T1", removed=seasons.PICKED - days * ONE)]
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert [("harvests", "H1", ("date",))] * days == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
@pytest.mark.parametrize("field", ["covered", "uncovered"])
def test_fruit_is_picked_after_its_bag_was_put_on_and_came_off(seasons, find, field, days) -> None:
    """The same day is in order."""
    tables = records(seasons)
    bag = seasons.bag("B1", "T1", checks=())
    when = seasons.PICKED + days * ONE
    bag = {**bag, "uncovered": when, **({"covered": when} if field == "covered" else {})}
    gaps = find(seasons.season_of(**{**tables, "bagging": [bag]}), "date-out-of-order")

    assert bool(days) == (("harvests", "H1", ("bags", 0)) in told(gaps))


@pytest.mark.parametrize("days", [0, 1])
def test_a_lot_is_packed_after_its_batch_is_dry(seasons, find, days) -> None:
    """The same day is in order."""
    tables = records(seasons)
    (batch,) = tables["batches"]
    tables["lots"][0]["packed"] = batch["drying"]["to"] - days * ONE
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert [("lots", "L1", ("packed",))] * days == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_a_lot_packed_before_its_batch_was_processed_is_told_once(seasons, find, days) -> None:
    """And not for its drying as well; on the same day only the drying is late."""
    tables = records(seasons)
    (batch,) = tables["batches"]
    tables["lots"][0]["packed"] = batch["date"] - days * ONE
    (gap,) = find(seasons.season_of(**tables), "date-out-of-order")

    assert ("lots", "L1", ("packed",)) == (gap.table, gap.id, gap.field)
    assert f"before batch X1 was {'processed' if days else 'dry'} on" in gap.message


@pytest.mark.parametrize("days", [0, 1])
def test_a_blend_is_packed_after_the_lots_it_takes(seasons, find, days) -> None:
    """The same day is in order."""
    tables = records(seasons)
    packed = tables["lots"][0]["packed"]
    tables["lots"].append(
        {**seasons.lot("L2", [{"lot": "L1", "weight": "2 g"}], 2), "packed": packed - days * ONE}
    )
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert [("lots", "L2", ("packed",))] * days == told(gaps)


@pytest.mark.parametrize(
    ("kind", "found"),
    [("counted", 1), ("sampled", 1), ("sold", 0), ("transferred", 0), ("opening stock", 0)],
)
def test_what_leaves_a_lot_too_early_has_a_rule_of_its_own(seasons, find, kind, found) -> None:
    """And opening stock was packed in another season."""
    tables = records(seasons)
    when = tables["lots"][0]["packed"] - ONE
    tables["movements"] = [{**seasons.movement("M1", "L1", kind, 1), "date": when}]

    assert found == len(find(seasons.season_of(**tables), "date-out-of-order"))


@pytest.mark.parametrize("days", [0, 1])
def test_a_batch_is_processed_after_its_picking(seasons, find, days) -> None:
    """The same day is in order."""
    tables = records(seasons)
    tables["harvests"] = [seasons.harvest("H1", ["B1"], ripening={"temperature": "24 C", "colour": "90 %"})]
    tables["batches"][0]["date"] = seasons.PICKED - days * ONE
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert [("batches", "X1", ("date",))] * days == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_equipment_is_cleaned_before_the_batch_that_it_is_cleaned_for(seasons, find, days) -> None:
    """On the same day, or earlier."""
    tables = records(seasons)
    when = tables["batches"][0]["date"] + days * ONE
    cleaning = {"cleaning": "C1", "date": when, "equipment": ["mixer"], "method": "brush", "before": "X1"}
    gaps = find(seasons.season_of(**tables, cleaning=[cleaning]), "date-out-of-order")

    assert [("cleaning", "C1", ("date",))] * days == told(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_a_lot_is_sown_and_counted_after_it_was_packed(seasons, find, days) -> None:
    """The same day is in order, for a movement and for a planting raised from the lot."""
    tables = records(seasons)
    when = tables["lots"][0]["packed"] - days * ONE
    tables["movements"] = [{**seasons.movement("M1", "L1", "counted", 8), "date": when}]
    tables["plantings"].append(seasons.planting("P2", planted=when, origin={"lot": "L1"}))
    gaps = find(seasons.season_of(**tables), "date-out-of-order")

    assert {("movements", "M1", ("date",)), ("plantings", "P2", ("planted",))} == set(told(gaps)) or not days
    assert bool(days) == bool(gaps)


@pytest.mark.parametrize("days", [0, 1])
def test_the_day_of_the_examination_is_not_ahead(seasons, find, days) -> None:
    """Today is no future; tomorrow is, for a field of a record and for a look at a bag."""
    tables = records(seasons)
    today = seasons.PICKED + 200 * ONE
    when = today + days * ONE
    bag = seasons.bag("B1", "T1", checks=[{"date": when, "condition": "intact"}])
    tables |= {"bagging": [bag]}
    tables["incidents"][0]["closed"] = when
    gaps = find(seasons.season_of(**tables), "date-in-future", on=today)

    assert [("bagging", ("checks", 0, "date")), ("incidents", ("closed",))] * days == [
        (table, field) for table, _, field in told(gaps)
    ]
