from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from printed import plain

from certgen.examination import examine_season
from certgen.lineage import Node

ON = date(2026, 10, 31)
FIRST = 45
IN, OUT = ("received", "returned"), ("sold", "sown", "sampled", "discarded")


def test_a_day_below_nothing_counts_although_the_sum_comes_right_again(seasons, stocked, find) -> None:
    """6 g out of 8 g, 3 g more the next day, and 5 g back a week later: overdrawn on the second day."""
    moves = [
        seasons.movement("M1", "L1", "sold", 6, 50),
        seasons.movement("M2", "L1", "sold", 3, 51),
        seasons.movement("M3", "L1", "returned", 5, 58),
    ]
    (gap,) = find(stocked(movements=moves), "lot-overdrawn")

    assert ("movements", "M2", ("L1",)) == (gap.table, gap.id, gap.lots)
    assert {Node("lots", "L1"), Node("movements", "M2")} == set(gap.starts)
    assert "1\N{NO-BREAK SPACE}g less than nothing" in gap.message
    assert () == find(
        stocked(movements=[moves[0], moves[2], {**moves[1], "date": moves[2]["date"]}]), "lot-overdrawn"
    )


def test_within_a_day_what_came_in_counts_before_what_went_out(seasons, stocked, find) -> None:
    """Only the stock at the day's end is asked for."""
    moves = [seasons.movement("M1", "L1", "sold", 9, 50), seasons.movement("M2", "L1", "received", 1, 50)]

    assert () == find(stocked(movements=moves), "lot-overdrawn")


def test_a_blend_draws_on_the_lot_that_it_takes_from(seasons, stocked, find) -> None:
    """8 g in L1, 5 g sold and 4 g blended into L2 later: the blend is where it goes below nothing."""
    lots = [
        seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8),
        seasons.lot("L2", [{"lot": "L1", "weight": "4 g"}], 4, day=20),
    ]
    (gap,) = find(
        stocked(lots=lots, movements=[seasons.movement("M1", "L1", "sold", 5, 50)]), "lot-overdrawn"
    )

    assert ("lots", "L2", ("sources",)) == (gap.table, gap.id, gap.field)
    assert (Node("lots", "L1"), Node("lots", "L2")) == gap.starts
    assert ("L1", "L2") == gap.lots


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 12), st.sampled_from(IN + OUT), st.integers(1, 5)), max_size=8))
def test_overdrawn_is_what_a_walk_through_the_days_says(seasons, stocked, find, moves) -> None:
    """Against a plain walk: each day what came in, less what went out."""
    records = [
        seasons.movement(f"M{number}", "L1", kind, grams, FIRST + day)
        for number, (day, kind, grams) in enumerate(moves)
    ]
    change = defaultdict(int)
    for day, kind, grams in moves:
        change[day] += grams if kind in IN else -grams
    stock, negative = 8, []
    for day in sorted(change):
        stock += change[day]
        negative += [day] if stock < 0 else []
    found = find(stocked(movements=records), "lot-overdrawn")

    assert bool(negative) == bool(found)
    assert all(f" {-_stock(change, negative[0])}\N{NO-BREAK SPACE}g less" in gap.message for gap in found)


def _stock(change, day):
    return 8 + sum(grams for at, grams in change.items() if at <= day)


def test_ounces_kept_in_whole_milligrams_overdraw_nothing(seasons, stocked, find) -> None:
    """3.75 oz are packed as 2 oz and 1.75 oz: rounded one by one they are a milligram more."""
    batches = [{**seasons.batch("X1", ["H1"]), "dry_weight": "3.75 oz"}]
    lots = [
        {**seasons.lot(name, [{"batch": "X1", "weight": ounces}], 1), "weight": ounces}
        for name, ounces in (("L1", "2 oz"), ("L2", "1.75 oz"))
    ]

    assert () == find(stocked(batches=batches, lots=lots), "batch-overdrawn")


def test_a_batch_is_overdrawn_by_all_its_lots_together(seasons, stocked, find) -> None:
    """Two lots of 5 g each out of 8 g: both are in doubt."""
    lots = [seasons.lot(name, [{"batch": "X1", "weight": "5 g"}], 5) for name in ("L1", "L2")]
    (gap,) = find(stocked(lots=lots), "batch-overdrawn")

    assert (("L1", "L2"), "unproven") == (gap.lots, gap.weight)


@pytest.mark.parametrize(
    ("trigger", "said"),
    [
        (None, ""),
        ("10 %", "Your own trigger is 10 %; this is 12 %."),
        ("15 %", "Your own trigger is 15 %; this is 12 %."),
        ("many", ""),
    ],
)
def test_the_growers_own_trigger_is_said_and_changes_nothing(seasons, stocked, find, trigger, said) -> None:
    """1 g of 8 g is missing; a figure of the grower's own never makes a gram better."""
    season = stocked(movements=[seasons.movement("M1", "L1", "counted", 7)])
    triggers = {"mass_balance": trigger} if trigger else {}
    season = replace(season, details=replace(season.details, review_triggers=triggers))
    (gap,) = find(season, "ledger-does-not-close")

    assert ("unproven", "missing") == (gap.weight, gap.touches)
    assert "1\N{NO-BREAK SPACE}g is missing" in gap.message
    assert said in gap.message
    assert bool(said) == ("trigger" in gap.message)


def test_after_a_count_the_ledger_goes_on_from_what_was_counted(seasons, stocked, find) -> None:
    """One loss is told once, at the count that found it."""
    moves = [seasons.movement("M1", "L1", "counted", 7, 50), seasons.movement("M2", "L1", "counted", 7, 60)]

    assert ["M1"] == [gap.id for gap in find(stocked(movements=moves), "ledger-does-not-close")]


@pytest.fixture
def carried(seasons, stocked):
    """This season with some opening stock, after one that closed with 5 g of lot K1."""

    def build(*moves):
        year = timedelta(365)
        lot = seasons.lot("K1", [{"batch": "X1", "weight": "8 g"}], 8)
        sale = seasons.movement("M1", "K1", "sold", 3)
        before = seasons.season_of(
            label="2025",
            lots=[{**lot, "packed": lot["packed"] - year}],
            movements=[{**sale, "date": sale["date"] - year}],
        )
        return replace(stocked(movements=list(moves)), previous=before)

    return build


def test_stock_that_is_not_brought_forward_is_missed(carried, find) -> None:
    """Nothing names lot K1 in this season, though 5 g of it were left."""
    (gap,) = find(carried(), "carry-over-differs")

    assert ("season", ("previous",)) == (gap.table, gap.field)
    assert "closed with 5\N{NO-BREAK SPACE}g of lot K1" in gap.message


@pytest.mark.parametrize(("grams", "found"), [(5, []), (4, ["M0"]), (6, ["M0"])])
def test_opening_stock_is_what_the_season_before_closed_with(seasons, carried, find, grams, found) -> None:
    """More and less are both told, at the entry."""
    opening = seasons.movement("M0", "K1", "opening stock", grams, -200)

    assert found == [gap.id for gap in find(carried(opening), "carry-over-differs")]


def test_opening_stock_of_a_lot_packed_this_season_stands_twice(seasons, stocked, find) -> None:
    """Packing is a lot's first entry already."""
    (gap,) = find(
        stocked(movements=[seasons.movement("M0", "L1", "opening stock", 8, 41)]), "carry-over-differs"
    )

    assert "twice" in gap.message


def scaled(season, step):
    """The season, weighed on a scale that shows so much; None: what is usual, a tenth of a gram."""
    if step is None:
        return season
    return replace(season, details=replace(season.details, raw={**season.details.raw, "scale_step": step}))


@pytest.mark.parametrize(
    ("weight", "step", "found"),
    [
        ("8.1 g", None, 0),
        ("8.101 g", None, 1),
        ("9 g", "1 g", 0),
        ("9.001 g", "1 g", 1),
        ("9.001 g", "2 g", 1),
        # One part, one milligram: it may just be reached.
        ("8.001 g", "0.001 g", 0),
        ("8.002 g", "0.001 g", 1),
    ],
)
def test_a_batch_may_be_short_by_what_the_scale_shows(seasons, stocked, find, weight, step, found) -> None:
    """At most a gram, at least a milligram a part."""
    lots = [{**seasons.lot("L1", [{"batch": "X1", "weight": weight}], 8), "weight": weight}]

    assert found == len(find(scaled(stocked(lots=lots), step), "batch-overdrawn"))


def test_a_batch_that_was_never_weighed_dry_is_no_overdraft(seasons, stocked, find) -> None:
    """Another rule asks for the weight; without it nothing can be said here."""
    batch = {key: value for key, value in seasons.batch("X1", ["H1"]).items() if key != "dry_weight"}

    assert () == find(stocked(batches=[batch]), "batch-overdrawn")


def test_the_lots_that_overdrew_a_batch_are_named(seasons, stocked, find) -> None:
    """And no lot of another batch; what it can't have given is to be supplied."""
    lots = [
        seasons.lot(name, [{"batch": batch, "weight": "5 g"}], 5)
        for name, batch in (("L1", "X1"), ("L2", "X2"), ("L3", "X1"))
    ]
    batches = [seasons.batch("X1", ["H1"]), seasons.batch("X2", ["H1"])]
    (gap,) = find(stocked(lots=lots, batches=batches), "batch-overdrawn")

    assert "Batch X1 gave 8 g of dry seed, and 10 g of it went into lots L1 and L3." == plain(gap.message)
    assert "the source of 2 g that batch X1 can't have given" == plain(gap.supply)


@pytest.mark.parametrize(
    ("grams", "step", "found"),
    [
        ("8.1 g", None, 0),
        ("8.101 g", None, 1),
        # Two entries, two milligrams: packed and sold.
        ("8.002 g", "0.001 g", 0),
        ("8.003 g", "0.001 g", 1),
    ],
)
def test_a_lot_may_be_short_by_what_the_scale_shows(seasons, stocked, find, grams, step, found) -> None:
    """At least a milligram an entry."""
    move = {**seasons.movement("M1", "L1", "sold", 1), "weight": grams}

    assert found == len(find(scaled(stocked(movements=[move]), step), "lot-overdrawn"))


def test_the_first_day_below_nothing_is_told_at_what_took_too_much(seasons, stocked, find) -> None:
    """Not at another lot's entry, nor at one of another day, nor at what came in; with all the day took."""
    lots = [
        seasons.lot("L1", [{"batch": "X1", "weight": "4 g"}], 4),
        seasons.lot("L2", [{"batch": "X1", "weight": "4 g"}], 4),
    ]
    moves = [
        seasons.movement("M1", "L1", "sold", 3, 50),
        seasons.movement("M2", "L1", "sold", 1, 51),
        seasons.movement("M3", "L1", "sown", 2, 51),
        seasons.movement("M7", "L1", "sampled", 1, 51),
        seasons.movement("M4", "L1", "returned", 1, 51),
        seasons.movement("M5", "L2", "sold", 1, 51),
        seasons.movement("M6", "L1", "sold", 1, 52),
    ]
    (gap,) = find(stocked(lots=lots, movements=moves), "lot-overdrawn")

    assert ("movements", "M3", ("weight",)) == (gap.table, gap.id, gap.field)
    assert "At the end of 29 July 2026 the ledger of lot L1 stood at 2 g less than nothing." == plain(
        gap.message
    )


@pytest.mark.parametrize(
    ("counted", "step", "touches"),
    [
        ("7.9 g", None, None),
        ("7.899 g", None, "missing"),
        ("8.1 g", None, None),
        ("8.101 g", None, "mixed"),
        ("7.5 g", "0.5 g", None),
        ("7.499 g", "0.5 g", "missing"),
        # Two entries, two milligrams: packed and counted.
        ("7.998 g", "0.001 g", None),
        ("7.997 g", "0.001 g", "missing"),
        ("8.002 g", "0.001 g", None),
        ("8.003 g", "0.001 g", "mixed"),
    ],
)
def test_a_count_may_differ_by_what_the_scale_shows(seasons, stocked, find, counted, step, touches) -> None:
    """Up or down. Missing grams are nowhere; what is too much came from somewhere and is mixed in."""
    move = {**seasons.movement("M1", "L1", "counted", 8), "weight": counted}
    gaps = find(scaled(stocked(movements=[move]), step), "ledger-does-not-close")

    assert ([(touches, "unproven", ("L1",))] if touches else []) == [
        (gap.touches, gap.weight, gap.lots) for gap in gaps
    ]
    assert all(("missing" if touches == "missing" else "too much") in gap.message for gap in gaps)


def grams(season, lot="L1"):
    """The lot's traced, unproven, rejected and unaccounted grams, and its standing."""
    found = examine_season(season, ON).lots[lot]
    masses = (found.traced_mg, found.unproven_mg, found.rejected_mg, found.unaccounted_mg)
    assert found.weight_mg == sum(masses)
    return (*(mass / 1000 for mass in masses), found.standing)


def test_what_a_count_finds_keeps_its_origin_and_what_it_misses_is_nowhere(seasons, stocked) -> None:
    """The lot as a whole is unproven; a later sale is of what was counted."""
    moves = [seasons.movement("M1", "L1", "counted", 6, 65), seasons.sale("M2", "L1", 2)]

    assert (6, 0, 0, 2, "unproven") == grams(stocked(movements=moves))


@pytest.mark.parametrize(("sold", "expected"), [(64, (3, 7, 0, 0)), (65, (3, 7, 0, 0)), (66, (0, 10, 0, 0))])
def test_a_count_above_the_book_makes_what_is_there_unproven(seasons, stocked, sold, expected) -> None:
    """3 g are sold before, that day, or after; within a day what went out goes before the count."""
    sale = {**seasons.sale("M2", "L1", 3), "date": seasons.PICKED + timedelta(sold)}
    counted = seasons.movement("M1", "L1", "counted", 7 if sold < 66 else 10, 65)

    assert (*expected, "unproven") == grams(stocked(movements=[counted, sale]))


@pytest.mark.parametrize(
    ("opened", "step", "touches"),
    [
        ("5.1 g", None, None),
        ("5.101 g", None, "mixed"),
        ("4.9 g", None, None),
        ("4.899 g", None, "missing"),
        # Three entries, three milligrams: packed and sold last year, and opened with.
        ("5.003 g", "0.001 g", None),
        ("5.004 g", "0.001 g", "mixed"),
        ("4.997 g", "0.001 g", None),
        ("4.996 g", "0.001 g", "missing"),
    ],
)
def test_opening_stock_may_differ_by_what_the_scale_shows(
    seasons, carried, find, opened, step, touches
) -> None:
    """What is missing between two seasons is nowhere, what is too much came in between."""
    opening = {**seasons.movement("M0", "K1", "opening stock", 5, -200), "weight": opened}
    found = find(scaled(carried(opening), step), "carry-over-differs")

    assert ([(touches, "unproven", ("K1",))] if touches else []) == [
        (gap.touches, gap.weight, gap.lots) for gap in found
    ]


def test_what_a_season_opens_with_may_stand_in_several_lines(seasons, carried, find) -> None:
    """Their sum is compared with what there was; a lot that no season knows is told as an unknown number."""
    moves = [
        seasons.movement("M0", "K1", "opening stock", 2, -200),
        seasons.movement("M9", "K9", "opening stock", 5, -200),
        seasons.movement("M1", "K1", "opening stock", 3, -200),
    ]

    assert () == find(carried(*moves), "carry-over-differs")
    assert ["M9"] == [
        gap.id for gap in find(carried(*moves), "reference-unknown") if gap.table == "movements"
    ]
    (gap,) = find(carried(moves[0], {**moves[2], "weight": "4 g"}), "carry-over-differs")
    assert "Lot K1 opens with 6 g, and the season before closed with 5 g of it." == plain(gap.message)


def test_seed_that_was_sold_though_the_season_does_not_open_with_it(seasons, carried, find) -> None:
    """It says that it moved some, and the lot as a whole is open."""
    (gap,) = find(carried(seasons.movement("M0", "K1", "sold", 2)), "carry-over-differs")

    assert ("whole", "unproven", ("K1",)) == (gap.touches, gap.weight, gap.lots)
    assert plain(gap.message).endswith("this season doesn't open with it, though it moved some.")


@pytest.mark.parametrize(
    ("sold", "opened", "found"),
    [(8, 1, 1), (9, 1, 1), (9, None, 0), (8, None, 0), (7.9, None, 0), (7.8, None, 1)],
)
def test_a_lot_that_closed_with_nothing_opens_with_nothing(
    seasons, stocked, find, sold, opened, found
) -> None:
    """Or with what the scale can't show. One that closed with less than nothing is told in its own season."""
    lot = seasons.lot("K1", [{"batch": "X1", "weight": "8 g"}], 8)
    sale = {**seasons.movement("M8", "K1", "sold", sold), "date": date(2025, 10, 1)}
    before = seasons.season_of(label="2025", lots=[{**lot, "packed": date(2025, 8, 1)}], movements=[sale])
    moves = [] if opened is None else [seasons.movement("M0", "K1", "opening stock", opened, -200)]

    assert found == len(find(replace(stocked(movements=moves), previous=before), "carry-over-differs"))


def test_opening_stock_of_a_number_given_anew_may_be_of_either_lot(seasons, carried, find) -> None:
    """It names this season's lot, which then stands in the ledger twice; last year's isn't opened with."""
    season = carried(seasons.movement("M0", "K1", "opening stock", 5, -200))
    lots = [season.record_at("lots", 0), seasons.lot("K1", [{"batch": "X1", "weight": "1 g"}], 1)]
    both = replace(
        seasons.season_of(
            **{**seasons.one_line(), "lots": lots, "movements": [season.record_at("movements", 0)]}
        ),
        previous=season.previous,
    )
    found = find(both, "carry-over-differs")

    assert [("M0", ("K1",)), ("2026", ("K1 (2025)",))] == [(gap.id, gap.lots) for gap in found]


def test_a_lot_that_opens_twice_is_told_once(seasons, carried, find) -> None:
    """Lot L1 was packed this season; K1 is told beside it, at the entry that is wrong."""
    moves = [
        seasons.movement("M2", "L1", "opening stock", 8, 41),
        seasons.movement("M3", "K1", "opening stock", 4, -200),
    ]

    assert ["M2", "M3"] == [gap.id for gap in find(carried(*moves), "carry-over-differs")]


@pytest.mark.parametrize(
    ("packed", "kept", "step", "expected"),
    [
        (("8 g",), None, None, None),
        (("7.9 g",), None, None, None),
        (("7.899 g",), None, None, "7.899 g of it was packed. 0.101 g is nowhere."),
        (("4 g", "3.9 g"), None, None, None),
        (("4 g", "3.899 g"), None, None, "7.899 g of it was packed. 0.101 g is nowhere."),
        (("7 g",), None, None, "7 g of it was packed. 1 g is nowhere."),
        (("7 g",), None, "1 g", None),
        (("7.998 g",), None, "0.001 g", "7.998 g of it was packed. 0.002 g is nowhere."),
        (("7.999 g",), None, "0.001 g", None),
        (("7 g",), {"weight": "1 g", "why": "kept for our own trials"}, None, None),
        (("7 g",), {"weight": "0.9 g", "why": "kept for our own trials"}, None, None),
        (("7 g",), {"weight": "0.5 g", "why": "spilt"}, None,
         "7 g of it was packed, and 0.5 g was never packed. 0.5 g is nowhere."),
        # What was kept back has an end only if somebody says which.
        (("7 g",), {"weight": "1 g", "why": "?"}, None, "7 g of it was packed. 1 g is nowhere."),
        ((), None, None, None),
    ],
)  # fmt: skip
def test_what_was_dried_was_packed_or_given_an_end(
    seasons, stocked, find, packed, kept, step, expected
) -> None:
    """Within what the scale shows. No gram can be named, so the run's lots as a whole are open; a run of
    which nothing was packed yet is asked once its first lot is there."""
    batch = seasons.batch("X1", ["H1"]) | ({"never_packed": kept} if kept else {})
    lots = [
        {**seasons.lot(f"L{at}", [{"batch": "X1", "weight": weight}], 1), "weight": weight}
        for at, weight in enumerate(packed, start=1)
    ]
    found = find(scaled(stocked(batches=[batch], lots=lots, tests=[]), step), "batch-remainder-unaccounted")

    assert ([f"Batch X1 gave 8 g of dry seed; {expected}"] if expected else []) == [
        plain(gap.message) for gap in found
    ]
    assert all(("whole", "unproven") == (gap.touches, gap.weight) for gap in found)
    assert all(len(packed) == len(gap.lots) for gap in found)


def test_a_remainder_moves_no_gram_and_leaves_the_lots_open(seasons, stocked) -> None:
    """What was packed goes back to its trees all the same."""
    lots = [seasons.lot("L1", [{"batch": "X1", "weight": "7 g"}], 7)]

    assert (7, 0, 0, 0, "unproven") == grams(stocked(lots=lots))


def test_a_run_that_was_never_weighed_dry_has_no_remainder(seasons, stocked, find) -> None:
    """Its weight is asked for first."""
    batch = {key: value for key, value in seasons.batch("X1", ["H1"]).items() if key != "dry_weight"}

    assert () == find(stocked(batches=[batch]), "batch-remainder-unaccounted")


@pytest.mark.parametrize(
    ("status", "weight", "expected"),
    [
        (None, "unproven", (0, 13, 0, 0, "unproven")),
        ("organic", "unproven", (0, 13, 0, 0, "unproven")),
        ("transitional", "rejects", (0, 0, 13, 0, "rejected")),
        ("conventional", "rejects", (0, 0, 13, 0, "rejected")),
    ],
)
def test_seed_from_elsewhere_has_no_parents_here(seasons, stocked, find, status, weight, expected) -> None:
    """Whatever status it claims; seed of a lower one speaks against all that it lies among."""
    came = seasons.movement("M1", "L1", "received", 5, 60, party="Hollin Nursery", document="D-1")
    season = stocked(movements=[came | ({"status": status} if status else {})])
    (gap,) = find(season, "received-into-own-lot")

    assert (weight, "mixed", ("L1",), ("lot",)) == (gap.weight, gap.touches, gap.lots, gap.field)
    assert "5 g from Hollin Nursery was taken into lot L1 on 7 August 2026" in plain(gap.message)
    assert bool(weight == "rejects") == (f"as {status}" in plain(gap.message))
    assert expected == grams(season)


@pytest.mark.parametrize(("day", "expected"), [(59, (3, 10, 0, 0)), (60, (0, 13, 0, 0)), (61, (0, 13, 0, 0))])
def test_seed_from_elsewhere_touches_what_was_there_then_and_left_since(
    seasons, stocked, day, expected
) -> None:
    """3 g are sold on a day; what came in that day came first. The sale before isn't touched."""
    came = seasons.movement("M1", "L1", "received", 5, 60, party="Hollin Nursery", document="D-1")
    sale = {**seasons.sale("M2", "L1", 3), "date": seasons.PICKED + timedelta(day)}

    assert (*expected, "unproven") == grams(stocked(movements=[came, sale]))


def test_what_came_into_a_lot_that_claims_less_is_no_lower(seasons, stocked, find) -> None:
    """A transitional lot may take what is conventional on paper for no worse than unproven."""
    came = seasons.movement("M1", "L1", "received", 5, 60, status="conventional")
    lot = seasons.lot("L1", [{"batch": "X1", "weight": "8 g"}], 8, status="transitional")
    (gap,) = find(stocked(lots=[lot], movements=[came]), "received-into-own-lot")

    assert "unproven" == gap.weight


BUYER = "Quillmere Growers"


def back(seasons, weight, opened=False, party=BUYER, **more):
    """3 g are sold, and some come back."""
    told = {} if opened is None else {"opened": opened}
    move = seasons.movement("M2", "L1", "returned", weight, 75, party=party, document="R-1", **told, **more)
    return [seasons.sale("M1", "L1", 3), {key: value for key, value in move.items() if value is not None}]


@pytest.mark.parametrize(
    ("weight", "opened", "party", "said", "expected"),
    [
        (3, False, BUYER, None, (8, 0, 0, 0, "traced")),
        (2, False, BUYER, None, (8, 0, 0, 0, "traced")),
        (3, False, "QUILLMERE  growers.", None, (8, 0, 0, 0, "traced")),
        (3.1, False, BUYER, None, (8, 0, 0, 0, "traced")),
        (3.2, False, BUYER, "0.2 g more came back than was sold there and not yet returned.",
         (0, 8.2, 0, 0, "unproven")),
        (3, False, "Hollin Nursery", "3 g more came back than was sold there and not yet returned.",
         (3, 8, 0, 0, "unproven")),
        (3, True, BUYER, "the packets had been opened.", (0, 8, 0, 0, "unproven")),
        (2, True, BUYER, "the packets had been opened.", (1, 7, 0, 0, "unproven")),
        (3, None, BUYER, "nothing says whether the packets had been opened.", (0, 8, 0, 0, "unproven")),
        (4, True, BUYER,
         "1 g more came back than was sold there and not yet returned and the packets had been opened.",
         (0, 9, 0, 0, "unproven")),
    ],
)  # fmt: skip
def test_what_comes_back_must_be_what_went_out(
    seasons, stocked, find, weight, opened, party, said, expected
) -> None:
    """Of that buyer, no more than he had, and sealed. What isn't lies among the rest; what the buyer kept
    left before and isn't touched."""
    season = stocked(movements=back(seasons, weight, opened, party))
    found = find(season, "returned-seed-mixed")

    assert [True] * bool(said) == [plain(gap.message).endswith(said) for gap in found]
    assert all(("mixed", "unproven", ("L1",)) == (gap.touches, gap.weight, gap.lots) for gap in found)
    assert expected == grams(season)


def test_a_buyer_gives_back_no_more_than_he_has_left(seasons, stocked, find) -> None:
    """Of 3 g he gives 2 g back twice: the second time half of it never was the lot's."""
    moves = back(seasons, 2)
    again = {**moves[1], "movement": "M3", "date": seasons.PICKED + timedelta(76)}
    (gap,) = find(stocked(movements=[*moves, again]), "returned-seed-mixed")

    assert ("M3", ("weight",)) == (gap.id, gap.field)
    assert "1 g more came back" in plain(gap.message)
