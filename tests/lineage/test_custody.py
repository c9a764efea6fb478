"""A lot's book: what came in, what left, what a count missed, and what each of them touched."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.lineage import Node
from certgen.lineage.custody import LEAVING, Cell, fold, keep_books
from certgen.records.joining.farm import join_seasons

STEP = 100
BUYER = "Quillmere Growers"


def books(season, step=STEP):
    """The books of a season with all earlier ones."""
    return keep_books(join_seasons(season), step)


def one_lot(seasons, *moves, grams=40, lots=(), incidents=(), previous=None, step=STEP):
    """The book of lot L1 with such movements."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], grams), *lots], movements=list(moves), incidents=list(incidents),
        previous=previous,
    )  # fmt: skip
    return books(season, step)["L1"]


def returned(seasons, name, grams, day=75, party=BUYER, document="RET-1", **more):
    """Seed of L1 that came back, on a paper."""
    paper = {} if document is None else {"document": document}
    return seasons.movement(name, "L1", "returned", grams, day, party=party, **paper, **more)


def told(events):
    """What the events are, and at which record."""
    return [(event.kind, event.mass_mg, event.node.id) for event in events]


def test_a_lot_that_nothing_happened_to_lies_there(seasons):
    """All of it, as it was packed."""
    book = one_lot(seasons)

    assert (40_000, 40_000, 40_000) == (book.packed_mg, book.weight_mg, book.on_hand_mg)
    assert [Cell(0, 0, None, 40_000)] == book.cells
    assert ([], [], [], None, None) == (
        book.mixing, book.missing, book.departures, book.counted, book.overdrawn
    )  # fmt: skip


@pytest.mark.parametrize("kind", LEAVING[:-1])
def test_what_leaves_is_still_of_the_lot(seasons, kind):
    """The seed is elsewhere; what it is hasn't changed."""
    book = one_lot(seasons, seasons.movement("M1", "L1", kind, 15))

    assert (40_000, 25_000) == (book.weight_mg, book.on_hand_mg)
    assert [Cell(0, 0, None, 15_000), Cell(0, 0, None, 25_000)] == book.cells
    assert [(kind, 15_000, "M1", 0, (15_000,))] == [
        (gone.entry.kind, gone.entry.mass_mg, gone.entry.node.id, gone.stage, gone.parts)
        for gone in book.departures
    ]


def test_what_is_blended_leaves_on_the_day_the_other_lot_was_packed(seasons):
    """By the other lot's own record, whatever its number."""
    other = seasons.lot("L2", [{"lot": "L1", "weight": "12 g"}], 12, day=9)
    book = one_lot(seasons, lots=[other])
    (gone,) = book.departures

    assert ("blended into", 12_000, Node("lots", "L2"), "L2", seasons.PICKED + timedelta(49)) == (
        gone.entry.kind, gone.entry.mass_mg, gone.entry.node, gone.entry.party, gone.entry.day
    )  # fmt: skip
    assert 28_000 == book.on_hand_mg


def test_seed_received_mixes_with_what_is_there_and_not_with_what_had_left(seasons):
    """A part of its own from that day; the sale before it is of the first stage."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60),
        seasons.movement("M2", "L1", "received", 5, 61), seasons.movement("M3", "L1", "sold", 7, 62),
    )  # fmt: skip

    assert (45_000, 28_000) == (book.weight_mg, book.on_hand_mg)
    assert [("mixed", 5_000, "M2")] == told(book.mixing)
    assert [0, 1] == [gone.stage for gone in book.departures]
    assert [(10_000,), (6_000, 1_000)] == [gone.parts for gone in book.departures]
    assert {(0, 0): 10_000, (0, 1): 30_000, (1, 1): 5_000} == _by_part_and_stage(book)


def _by_part_and_stage(book):
    found = {}
    for cell in book.cells:
        found[cell.part, cell.stage] = found.get((cell.part, cell.stage), 0) + cell.mass_mg
    return found


def test_within_a_day_what_comes_in_stands_before_what_leaves_and_counts_come_last(seasons):
    """However they are written: the sale of that day is mixed, and the count is of what is left."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "counted", 35, 60),
        seasons.movement("M2", "L1", "sold", 10, 60), seasons.movement("M3", "L1", "received", 5, 60),
    )  # fmt: skip

    assert [1] == [gone.stage for gone in book.departures]
    assert (35_000, []) == (book.on_hand_mg, book.missing)
    assert seasons.PICKED + timedelta(60) == book.counted


@pytest.mark.parametrize("late", ["sold", "received", "returned"])
def test_a_count_is_the_last_word_only_until_something_moves(seasons, late):
    """Then nobody has looked since."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "counted", 40, 60),
        seasons.movement("M2", "L1", late, 1, 61, party=BUYER),
    )  # fmt: skip

    assert book.counted is None


@pytest.mark.parametrize(
    ("counted", "missing", "mixing"),
    [("39.9", [], []), ("40.1", [], []), ("39.899", [101], []), ("40.101", [], [101])],
)
def test_a_count_within_the_step_of_the_scale_is_no_difference(seasons, counted, missing, mixing):
    """A milligram beyond it is."""
    book = one_lot(seasons, seasons.movement("M1", "L1", "counted", counted))

    assert (missing, mixing) == (
        [event.mass_mg for event in book.missing], [event.mass_mg for event in book.mixing]
    )  # fmt: skip


def test_without_a_step_each_entry_may_be_off_by_a_milligram(seasons):
    """What was typed in ounces is kept in whole milligrams: three entries, three milligrams."""
    sold = seasons.movement("M1", "L1", "sold", 10, 60)

    assert [] == one_lot(seasons, sold, seasons.movement("M2", "L1", "counted", "29.997"), step=0).missing
    assert [("missing", 4, "M2")] == told(
        one_lot(seasons, sold, seasons.movement("M2", "L1", "counted", "29.996"), step=0).missing
    )


def test_a_count_below_the_book_finds_grams_gone(seasons):
    """They are nowhere; what is there is what was counted, and what left before is whole."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60), seasons.movement("M2", "L1", "counted", 24, 61)
    )

    assert [("missing", 6_000, "M2")] == told(book.missing)
    assert (40_000, 24_000) == (book.weight_mg, book.on_hand_mg)
    assert [Cell(0, 0, 0, 6_000), Cell(0, 0, None, 10_000), Cell(0, 0, None, 24_000)] == book.cells


def test_a_count_above_the_book_is_seed_that_came_from_somewhere(seasons):
    """It is part of the lot from that day, and mixes with what is there."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60), seasons.movement("M2", "L1", "counted", 33, 61)
    )

    assert [("mixed", 3_000, "M2")] == told(book.mixing)
    assert (43_000, 33_000) == (book.weight_mg, book.on_hand_mg)
    assert {(0, 0): 10_000, (0, 1): 30_000, (1, 1): 3_000} == _by_part_and_stage(book)


def test_a_second_count_goes_on_from_the_first(seasons):
    """What was found gone once isn't found gone again."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "counted", 30, 60),
        seasons.movement("M2", "L1", "counted", 30, 61), seasons.movement("M3", "L1", "counted", 28, 62),
    )  # fmt: skip

    assert [("missing", 10_000, "M1"), ("missing", 2_000, "M3")] == told(book.missing)
    assert 28_000 == book.on_hand_mg


def test_unopened_seed_that_its_buyer_sends_back_is_the_lots_again(seasons):
    """Of what that party had bought and not yet returned; it is there and no longer gone."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60, party=BUYER),
        returned(seasons, "M2", 4, opened=False),
    )  # fmt: skip

    assert ([], 40_000, 34_000) == (book.mixing, book.weight_mg, book.on_hand_mg)
    assert [(6_000,)] == [gone.parts for gone in book.departures]
    assert {(0, 0): 40_000} == _by_part_and_stage(book)


@pytest.mark.parametrize("more", [{"opened": True}, {}, {"opened": False, "document": None}])
def test_seed_that_came_back_opened_mixes(seasons, more):
    """Nobody knows what it was with; not to say is to say that it was opened, and without a paper it could be
    any seed."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60, party=BUYER), returned(seasons, "M2", 4, **more)
    )

    assert [("mixed", 0, "M2")] == told(book.mixing)
    assert (40_000, 34_000) == (book.weight_mg, book.on_hand_mg)
    assert {(0, 0): 6_000, (0, 1): 34_000} == _by_part_and_stage(book)


@pytest.mark.parametrize(
    ("sold", "party", "foreign"),
    [
        ({"party": BUYER}, BUYER, 2_000),
        ({"party": "  quillmere   GROWERS. "}, BUYER, 2_000),
        ({"party": BUYER}, "Tansy Acre", 12_000),
        ({"party": BUYER, "kind": "transferred"}, BUYER, 2_000),
        ({"party": BUYER, "kind": "sampled"}, BUYER, 12_000),
        ({"party": BUYER, "day": 90}, BUYER, 12_000),
    ],
)
def test_more_than_that_party_had_never_was_the_lots(seasons, sold, party, foreign):
    """Ten grams were sold, twelve come back: the rest is seed of somebody else's."""
    gone = {"kind": "sold", "day": 60, **sold}
    move = seasons.movement("M1", "L1", gone.pop("kind"), 10, gone.pop("day"), **gone)
    book = one_lot(seasons, move, returned(seasons, "M2", 12, party=party, opened=False))

    assert [("mixed", foreign, "M2")] == told(book.mixing)
    assert 40_000 + foreign == book.weight_mg


def test_what_came_back_once_cannot_come_back_again(seasons):
    """The latest sale is undone first; the third time nothing is left to come back."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60, party=BUYER),
        seasons.movement("M2", "L1", "sold", 5, 61, party=BUYER),
        returned(seasons, "M3", 7, 70, opened=False), returned(seasons, "M4", 8, 71, opened=False),
        returned(seasons, "M5", 1, 72, opened=False),
    )  # fmt: skip

    assert [("mixed", 1_000, "M5")] == told(book.mixing)
    assert [0, 0] == [sum(gone.parts) for gone in book.departures]
    assert 41_000 == book.weight_mg == book.on_hand_mg


def test_seed_that_comes_back_is_mixed_as_it_was_sold(seasons):
    """Half of what was sold had come in: half of what comes back is of that part."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "received", 40, 60),
        seasons.movement("M2", "L1", "sold", 80, 61, party=BUYER),
        returned(seasons, "M3", 10, 70, opened=False),
    )  # fmt: skip

    assert [(35_000, 35_000)] == [gone.parts for gone in book.departures]
    assert 10_000 == book.on_hand_mg
    assert {(0, 1): 40_000, (1, 1): 40_000} == _by_part_and_stage(book)


def test_an_incident_of_mixing_touches_what_is_there(seasons):
    """It brings in nothing that could be weighed; another kind, or about another lot, is none."""
    incidents = [
        {"incident": f"I{at}", "date": seasons.PICKED + timedelta(65), "kind": kind, "about": [about],
         "action": "looked into"}
        for at, (kind, about) in enumerate([("mixing", "L1"), ("mixing", "L9"), ("complaint", "L1")])
    ]  # fmt: skip
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", 10, 60), seasons.movement("M2", "L1", "sold", 10, 70),
        incidents=incidents,
    )  # fmt: skip

    assert [("mixed", 0, "I0")] == told(book.mixing)
    assert [0, 1] == [gone.stage for gone in book.departures]
    assert (40_000, 20_000) == (book.weight_mg, book.on_hand_mg)


@pytest.mark.parametrize(("sold", "over"), [("40.1", None), ("40.101", 101), ("55", 15_000)])
def test_the_first_entry_that_takes_more_than_there_was_is_told(seasons, sold, over):
    """By how much, beyond what the scale can show; no gram comes of it."""
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sold", sold, 60), seasons.movement("M2", "L1", "sold", 70, 61)
    )

    first = ("M1", over) if over else ("M2", 70_000)
    assert first == (book.overdrawn[0].node.id, book.overdrawn[1])
    assert (40_000, 0) == (book.weight_mg, book.on_hand_mg)
    assert [Cell(0, 0, None, 40_000)] == book.cells


def test_seed_that_left_before_it_was_packed_was_not_there(seasons):
    """A slip of a date, which has a gap of its own: it left the lot, and is not missing from it besides. What
    was sampled before is seed of something else, and the lot is whole."""
    sold = one_lot(seasons, seasons.movement("M1", "L1", "sold", 10, 5))
    sampled = one_lot(seasons, seasons.movement("M1", "L1", "sampled", 10, 5))

    assert (None, 30_000) == (sold.overdrawn, sold.on_hand_mg)
    assert ("M1", 10_000) == (sampled.overdrawn[0].node.id, sampled.overdrawn[1])
    assert 40_000 == sampled.on_hand_mg


def test_stock_on_a_day_and_the_stage_when_it_was_sown(seasons):
    """At the end of the day before; by the planting's own entry, or by the day where there is none."""
    planted = seasons.PICKED + timedelta(62)
    book = one_lot(
        seasons, seasons.movement("M1", "L1", "sown", 10, 60, planting="P2"),
        seasons.movement("M2", "L1", "received", 5, 61), seasons.movement("M3", "L1", "received", 5, 63),
    )  # fmt: skip

    assert [0, 40_000, 30_000, 35_000, 40_000] == [
        book.stock_before(seasons.PICKED + timedelta(days)) for days in (40, 60, 61, 62, 64)
    ]
    assert (0, 1, 2) == (
        book.stage_sown("P2", planted), book.stage_sown("P3", planted),
        book.stage_sown("P3", planted + timedelta(1)),
    )  # fmt: skip


def carried(seasons, *openings, grams=40):
    """L1 of the season before, of which this season says what it opened with."""
    earlier = seasons.season_of(label="2025", lots=[seasons.lot("L1", [], grams, packed="2025-08-01")])
    return books(
        seasons.season_of(
            movements=[
                seasons.movement(f"M{at}", "L1", "opening stock", one, date=day)
                for at, (one, day) in enumerate(openings)
            ],
            previous=earlier,
        )
    )["L1"]


def test_what_a_season_opens_with_is_a_count(seasons):
    """Of the lot of the season before: what it lacks is gone, what it has too much came from somewhere."""
    day = "2025-11-01"

    assert ([], []) == ((book := carried(seasons, (40, day))).missing, book.mixing)
    assert [("missing", 4_000, "M0")] == told(carried(seasons, (36, day)).missing)
    assert [("mixed", 4_000, "M0")] == told(carried(seasons, (44, day)).mixing)
    # Nobody says that it was weighed on that day.
    assert carried(seasons, (40, day)).counted is None


def test_what_a_season_opens_with_in_several_lines_is_one_statement(seasons):
    """Two jars of one lot; told at the later line."""
    assert [] == carried(seasons, (25, "2025-11-01"), (15, "2025-11-02")).missing
    assert [("missing", 3_000, "M1")] == told(
        carried(seasons, (25, "2025-11-01"), (12, "2025-11-02")).missing
    )


def test_a_season_opens_with_nothing_of_a_lot_that_it_packs(seasons):
    """An entry of the kind says nothing of it."""
    book = one_lot(seasons, seasons.movement("M1", "L1", "opening stock", 3, 60))

    assert (40_000, [], None) == (book.on_hand_mg, book.missing, book.counted)


def test_a_movement_of_a_lot_that_no_record_bears_keeps_no_book(seasons):
    """There is nothing that it could be taken from; of two of one number the first is meant."""
    season = seasons.season_of(
        lots=[seasons.lot("L1", [], 5), seasons.lot("L1", [], 9)],
        movements=[seasons.movement("M1", "L9", "sold", 1)],
    )

    assert {"L1": 5_000} == {lot: book.packed_mg for lot, book in books(season).items()}


def test_the_book_runs_through_the_years(seasons):
    """What was sold last year is gone this year, and what is sold this year is of what was left."""
    earlier = seasons.season_of(
        label="2025", lots=[seasons.lot("L1", [], 40, packed="2025-08-01")],
        movements=[seasons.movement("M1", "L1", "sold", 15, date="2025-09-01")],
    )  # fmt: skip
    season = seasons.season_of(movements=[seasons.movement("M1", "L1", "sold", 20)], previous=earlier)
    book = books(season)["L1"]

    assert ["M1 (2025)", "M1"] == [gone.entry.node.id for gone in book.departures]
    assert 5_000 == book.on_hand_mg


@pytest.mark.parametrize(
    ("written", "folded"),
    [
        ("Quillmere Growers", "quillmere growers"),
        ("  QUILLMERE \t growers .", "quillmere growers "),
        ("", ""),
    ],
)
def test_a_party_is_one_however_its_name_is_written(written, folded):
    """Letter case, needless spaces and full stops at the end make no other party."""
    assert folded == fold(written)


KINDS = ["sold", "transferred", "sampled", "received", "returned", "counted", "mixing"]
#: Kind, day, milligrams, party, whether it was opened.
ENTRIES = st.lists(
    st.tuples(
        st.sampled_from(KINDS), st.integers(45, 50), st.integers(0, 60), st.sampled_from(["Ann", "Ben"]),
        st.booleans(),
    ),
    max_size=10,
)  # fmt: skip


@settings(max_examples=100)
@given(
    lots=st.lists(ENTRIES, min_size=2, max_size=2), blend=st.lists(st.integers(0, 40), min_size=2, max_size=2)
)
def test_no_milligram_comes_or_goes(seasons, lots, blend):
    """Whatever is in the book: each part is where its cells are, and what was there is there or told."""
    found = books(_random_season(seasons, lots, blend), 0)

    for book in found.values():
        came = [book.packed_mg, *(event.mass_mg for event in book.mixing)]
        gone = sum(sum(one.parts) for one in book.departures)
        missing = sum(event.mass_mg for event in book.missing)
        assert came == [
            sum(cell.mass_mg for cell in book.cells if cell.part == part) for part in range(len(came))
        ]
        assert book.weight_mg == sum(came) == book.on_hand_mg + gone + missing
        assert missing == sum(cell.mass_mg for cell in book.cells if cell.missing is not None)
        assert all(cell.mass_mg > 0 and cell.part <= cell.stage <= len(book.mixing) for cell in book.cells)
        assert all(min(one.parts, default=0) >= 0 for one in book.departures)


def _join_after(patch, stages):
    """Lets every lot have so many stages at most."""
    patch.setattr("certgen.lineage.custody.MOST_CELLS", 0)
    patch.setattr("certgen.lineage.custody.MOST_STAGES", stages)


@settings(max_examples=100)
@given(entries=ENTRIES, most=st.integers(1, 3))
def test_a_lot_that_very_many_entries_changed_keeps_its_last_stages_together(seasons, entries, most):
    """No gram comes or goes: each part is where its cells are, the last one holds all that came in since."""
    season = _random_season(seasons, [entries])
    exact = books(season, 0)["L1"]
    with pytest.MonkeyPatch.context() as patch:
        _join_after(patch, most)
        book = books(season, 0)["L1"]
    came = [book.packed_mg, *(sum(event.mass_mg for event in events) for events in book.stages)]

    assert [event for events in book.stages for event in events] == book.mixing == exact.mixing
    assert [event for events in book.losses for event in events] == book.missing == exact.missing
    assert max(len(exact.mixing) - most, 0) == book.joined
    assert came == [
        sum(cell.mass_mg for cell in book.cells if cell.part == part) for part in range(len(came))
    ]
    assert (exact.on_hand_mg, exact.weight_mg, exact.stocks) == (book.on_hand_mg, book.weight_mg, book.stocks)
    assert [min(gone.stage, most) for gone in exact.departures] == [gone.stage for gone in book.departures]
    assert [sum(gone.parts) for gone in exact.departures] == [sum(gone.parts) for gone in book.departures]
    assert all(cell.part <= cell.stage <= most for cell in book.cells)
    assert all(cell.missing is None or cell.missing < most for cell in book.cells)


def test_few_entries_keep_every_stage(seasons):
    """Only where they are very many, counted at each that may change the lot, are the last ones one."""
    moves = [seasons.movement(f"M{at}", "L1", "received", 1, 60) for at in range(60)]
    book = one_lot(seasons, *moves)

    assert (None, 0, 60) == (book.most, book.joined, len(book.stages))
    assert dict.fromkeys(range(1, 61), 1000) | {0: 40_000} == {cell.part: cell.mass_mg for cell in book.cells}


def test_very_many_entries_keep_fifty_stages(seasons):
    """And a planting that was sown later was sown from the last of them."""
    moves = [seasons.movement(f"M{at}", "L1", "received", 1, 60) for at in range(320)]
    book = one_lot(seasons, *moves)

    assert (50, 270, 50, [271]) == (
        book.most, book.joined, len(book.stages), [len(one) for one in book.stages if len(one) > 1]
    )  # fmt: skip
    assert 50 == book.stage_sown("P9", seasons.PICKED + timedelta(90))


@settings(max_examples=100)
@given(entries=ENTRIES)
def test_the_book_agrees_with_shares_worked_out_in_fractions(seasons, entries):
    """Grams by part and fate, against a model without whole milligrams; off by two an entry at most."""
    book = books(_random_season(seasons, [entries]), 0)["L1"]
    model = _Model(40)
    for entry in sorted(entries, key=lambda one: (one[1], _ORDER.get(one[0], 2))):
        model.enter(*entry)
    off = 2 * len(entries) + 1

    def shares(cells):
        """By part what the cells hold."""
        return [sum(mass for part, mass in cells if part == at) for at in range(1 + len(book.mixing))]

    lost = shares([(cell.part, cell.mass_mg) for cell in book.cells if cell.missing is not None])
    left = shares([(part, mass) for one in book.departures for part, mass in enumerate(one.parts)])
    assert len(model.there) == 1 + len(book.mixing)
    assert all(abs(one - other) <= off for one, other in zip(lost, model.missing, strict=True))
    assert all(abs(one - other) <= off for one, other in zip(left, model.left(), strict=True))
    assert abs(book.on_hand_mg - sum(model.there)) <= off


#: Within a day; an incident is read after the movements.
_ORDER = {"received": 1, "returned": 1, "mixing": 1.5, "counted": 3}


class _Model:
    """A lot's book with exact shares: what is there, gone and missing by part."""

    def __init__(self, packed):
        self.there, self.missing = [Fraction(packed)], [Fraction(0)]
        self.gone, self.taken = [], {"Ann": [], "Ben": []}
        self.slack = 1

    def enter(self, kind, _day, mass, party, opened):
        """An entry of the book."""
        self.slack += 1
        if kind == "received":
            self.bring_in(mass)
        elif kind == "mixing":
            self.bring_in(0)
        elif kind == "returned":
            self.give_back(Fraction(mass), party, opened)
        elif kind == "counted":
            self.count(mass - sum(self.there))
        else:
            self.gone.append(self.take(min(mass, sum(self.there))))
            if kind != "sampled":
                self.taken[party].append(self.gone[-1])

    def take(self, mass):
        """Takes the same share of every part."""
        whole = sum(self.there)
        parts = [one * mass / whole if whole else Fraction(0) for one in self.there]
        self.there = [one - part for one, part in zip(self.there, parts, strict=True)]
        return parts

    def bring_in(self, mass):
        """A new part."""
        self.there.append(Fraction(mass))
        self.missing.append(Fraction(0))

    def give_back(self, left, party, opened):
        """Out of what the party took, the latest first; the rest is new."""
        for parts in reversed(self.taken[party]):
            whole = sum(parts)
            back = min(left, whole)
            for at, part in enumerate(parts):
                moved = part * back / whole if whole else Fraction(0)
                self.there[at] += moved
                parts[at] -= moved
            left -= back
        if left > self.slack:
            self.bring_in(left)
        elif opened:
            self.bring_in(0)

    def count(self, difference):
        """Too much is new, too little is missing."""
        if difference > self.slack:
            self.bring_in(difference)
        elif difference < -self.slack:
            for at, part in enumerate(self.take(-difference)):
                self.missing[at] += part

    def left(self):
        """What left, by part."""
        width = len(self.there)
        return [sum((one[at] for one in self.gone if at < len(one)), Fraction(0)) for at in range(width)]


def _random_season(seasons, lots, blend=()):
    """A season of lots L1, L2 ... with such entries, in milligrams, and L9 that draws on them."""
    records = [seasons.lot(f"L{at}", [], "0.040") for at, _ in enumerate(lots, start=1)]
    moves, incidents = [], []
    for at, entries in enumerate(lots, start=1):
        for number, (kind, day, mass, party, opened) in enumerate(entries):
            name, on = f"M{at}-{number}", seasons.PICKED + timedelta(day)
            if kind == "mixing":
                incidents.append(
                    {"incident": name, "date": on, "kind": kind, "about": [f"L{at}"], "action": "swept"}
                )
            else:
                more = {"opened": opened, "document": "RET-1"} if kind == "returned" else {}
                moves.append(
                    seasons.movement(name, f"L{at}", kind, f"{mass / 1000:.3f}", day, party=party, **more)
                )
    sources = [{"lot": f"L{at}", "weight": f"{mass / 1000:.3f} g"} for at, mass in enumerate(blend, start=1)]
    if sources:
        records.append(seasons.lot("L9", sources, f"{sum(blend) / 1000:.3f}", day=7))
    return seasons.season_of(lots=records, movements=moves, incidents=incidents)
