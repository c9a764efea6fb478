"""The stock ledger: running stock, counts, packing and blending."""

from __future__ import annotations

import pytest
from hypothesis import given
from ledgers import ENTRIES, LOTS, START, day, ledger

from certgen.figures.ledger import (
    IN_KINDS,
    OUT_KINDS,
    SIGNS,
    Entry,
    compare_with_counts,
    find_negative_days,
    pack_lot,
    stock_on,
    tabulate_entries,
)


def test_in_comes_before_out_on_one_day():
    """Sold on the day it was packed is no negative stock, whichever was written first."""
    book = ledger(Entry(day(0), "A", "Red", "sold", 400), Entry(day(0), "A", "Red", "produced", 500))

    assert ["produced", "sold"] == list(book["kind"])
    assert [500, 100] == list(book["stock_mg"])
    assert 0 == len(find_negative_days(book))


def test_negative_stock_is_dated():
    """Sold a day before it was packed: one day below nothing."""
    book = ledger(Entry(day(0), "A", "Red", "sold", 400), Entry(day(1), "A", "Red", "produced", 500))

    assert [("A", -400)] == list(
        find_negative_days(book)[["lot", "stock_mg"]].itertuples(index=False, name=None)
    )
    assert day(0) == find_negative_days(book)["date"].iloc[0].date()


@pytest.mark.parametrize(("counted", "posting"), [(501, "count gain"), (499, "count loss"), (500, "counted")])
def test_a_milligram_more_or_less_is_a_difference(counted, posting):
    """Counts are compared with the book without any slack."""
    book = ledger(Entry(day(0), "A", "Red", "produced", 500), Entry(day(1), "A", "Red", "counted", counted))

    assert posting == book["posting"].iloc[-1]


def test_an_empty_shelf_is_not_negative():
    """Everything sold leaves nothing, which is no day below nothing."""
    book = ledger(Entry(day(0), "A", "Red", "produced", 400), Entry(day(1), "A", "Red", "sold", 400))

    assert 0 == len(find_negative_days(book))


def test_a_count_sets_the_stock():
    """The book says 500, 490 are counted, a later count finds the 5 more that it did not know of."""
    book = ledger(
        Entry(day(0), "A", "Red", "produced", 500),
        Entry(day(1), "A", "Red", "counted", 490, record="M1"),
        Entry(day(2), "A", "Red", "sold", 90),
        Entry(day(3), "A", "Red", "counted", 405, record="M2"),
        Entry(day(4), "A", "Red", "counted", 405, record="M3"),
    )
    counts = compare_with_counts(book)

    assert ["produced", "count loss", "sold", "count gain", "counted"] == list(book["posting"])
    assert [500, 490, 400, 405, 405] == list(book["stock_mg"])
    assert [(500, -10), (400, 5), (405, 0)] == list(
        zip(counts["book_mg"], counts["difference_mg"], strict=True)
    )
    assert ["M1", "M2", "M3"] == list(counts["record"])


@given(ENTRIES)
def test_changes_add_up_to_the_stock(entries):
    """In every lot the running stock is the sum of its changes, and after a count it is what was counted."""
    book = ledger(*entries)

    assert book["stock_mg"].equals(book.groupby("lot")["change_mg"].cumsum())
    counted = book["kind"] == "counted"
    assert book.loc[counted, "stock_mg"].equals(book.loc[counted, "mass_mg"])


@given(ENTRIES)
def test_running_stock_by_a_plain_loop(entries):
    """The bulk computation equals a clerk's, entry by entry."""
    order = {"opening stock": 0} | {kind: 1 for kind in IN_KINDS if kind != "opening stock"}
    order |= dict.fromkeys(OUT_KINDS, 2) | {"counted": 3}
    stock, expected = dict.fromkeys(LOTS, 0), []
    for entry in sorted(entries, key=lambda entry: (entry.date, order[entry.kind])):
        stock[entry.lot] = entry.mass_mg if entry.kind == "counted" else (
            stock[entry.lot] + SIGNS[entry.kind] * entry.mass_mg
        )  # fmt: skip
        expected.append(stock[entry.lot])

    assert expected == list(ledger(*entries)["stock_mg"])


def test_packing_a_blend():
    """412 g from 100 g of lot A and the rest new: out of A, into B, and the rest produced."""
    entries = pack_lot(day(5), "B", "Red", 412, {("A", "Red"): 100}, record="B")

    assert [("A", "blended into", 100), ("B", "blended from", 100), ("B", "produced", 312)] == [
        (entry.lot, entry.kind, entry.mass_mg) for entry in entries
    ]
    assert ["B", "A", ""] == [entry.party for entry in entries]


def test_packing_less_than_went_in():
    """What is lost when lots are blended is booked as lost in packing."""
    entries = pack_lot(day(5), "B", "Red", 95, {("A", "Red"): 100})

    assert ("lost in packing", 5) == (entries[-1].kind, entries[-1].mass_mg)
    assert (
        95
        == ledger(*entries)["change_mg"].where(lambda _: [e == "B" for e in ledger(*entries)["lot"]], 0).sum()
    )


def test_packing_unblended():
    """A lot from batches only is all produced; exactly a blend is not produced at all."""
    assert ["produced"] == [entry.kind for entry in pack_lot(day(0), "B", "Red", 5)]
    assert ["blended into", "blended from"] == [
        entry.kind for entry in pack_lot(day(0), "B", "Red", 5, {("A", "Red"): 5})
    ]


def test_stock_on_a_day():
    """At the end of the day; a lot that came later is not there yet."""
    book = ledger(
        Entry(day(0), "A", "Red", "produced", 500),
        Entry(day(1), "A", "Red", "sold", 50),
        Entry(day(2), "B", "Red", "produced", 5),
    )

    assert {"A": 450} == stock_on(book, day(1)).to_dict()


def test_an_empty_ledger():
    """Nothing recorded is no error."""
    book = ledger()

    assert (0, 0, 0, 0) == (
        len(book),
        len(find_negative_days(book)),
        len(compare_with_counts(book)),
        len(stock_on(book, START)),
    )


@pytest.mark.parametrize(
    ("entries", "message"),
    [([Entry(START, "A", "Red", "eaten", 5)], "'eaten' is not a kind"),
     ([Entry(START, "A", "Red", "sold", -5)], "negative weight"),
     ([Entry(START, "A", "Red", "sold", 5), Entry(START, "A", "Gold", "sold", 5)], "more than one variety")],
)  # fmt: skip
def test_bad_entries_are_refused(entries, message):
    """Unknown kinds, negative weights, a lot under two varieties."""
    with pytest.raises(ValueError, match=message):
        tabulate_entries(entries)


def test_negative_days_are_a_plain_table_in_order_of_days():
    """Two lots below nothing: rows are numbered from nought, and only a day's last entry counts."""
    book = ledger(
        Entry(day(2), "A", "Red", "sold", 7),
        Entry(day(1), "B", "Red", "sold", 5),
        Entry(day(1), "B", "Red", "sown", 4),
    )
    days = find_negative_days(book)

    assert ["date", "lot", "variety", "stock_mg"] == list(days.columns)
    assert [0, 1] == list(days.index)
    assert [("B", -9), ("A", -7)] == list(zip(days["lot"], days["stock_mg"], strict=True))


def test_the_order_within_a_day():
    """Opening stock, what came in, what went out, and the count of the evening, however they were written."""
    kinds = ["counted", "sold", "received", "sown", "opening stock", "produced"]
    book = ledger(*(Entry(day(0), "A", "Red", kind, 10) for kind in kinds))

    assert ["opening stock", "received", "produced", "sold", "sown", "counted"] == list(book["kind"])
    assert [10, 20, 30, 20, 10, 10] == list(book["stock_mg"])
    assert [10, 10, 10, -10, -10, 0] == list(book["change_mg"])


def test_every_kind_goes_its_way():
    """What comes in adds and what goes out takes away, each by itself; a count does neither."""
    for kind in SIGNS:
        book = ledger(Entry(day(0), "A", "Red", kind, 7))
        expected = 7 if kind in IN_KINDS else -7 if kind in OUT_KINDS else 7

        assert [expected] == list(book["stock_mg"])
        assert ["count gain" if kind == "counted" else kind] == list(book["posting"])
    assert {1, -1, 0} == set(SIGNS.values())


def test_the_tables_are_plain():
    """Rows are numbered from nought, and there is no column that nobody asked for."""
    book = ledger(
        Entry(day(1), "A", "Red", "counted", 6, record="M1"), Entry(day(0), "A", "Red", "produced", 5)
    )
    counts = compare_with_counts(book)

    assert [
        "date", "lot", "variety", "kind", "mass_mg", "document", "party", "record",
        "change_mg", "stock_mg", "posting",
    ] == list(book.columns)  # fmt: skip
    assert [0, 1] == list(book.index)
    assert ["date", "lot", "variety", "record", "counted_mg", "book_mg", "difference_mg"] == list(
        counts.columns
    )
    assert [0] == list(counts.index)
    assert [(6, 5, 1)] == list(
        counts[["counted_mg", "book_mg", "difference_mg"]].itertuples(index=False, name=None)
    )


def test_lots_do_not_share_their_counts():
    """A count of one lot leaves the other's book alone."""
    book = ledger(
        Entry(day(0), "A", "Red", "produced", 10),
        Entry(day(0), "B", "Red", "produced", 20),
        Entry(day(1), "A", "Red", "counted", 3),
        Entry(day(2), "B", "Red", "sold", 5),
        Entry(day(2), "A", "Red", "sold", 1),
    )

    assert {"A": 2, "B": 15} == stock_on(book, day(2)).to_dict()
    assert {"A": 3, "B": 20} == stock_on(book, day(1)).to_dict()


def test_a_day_with_less_than_nothing_in_between_is_none():
    """Only what is left in the evening counts; a milligram too few is too few."""
    book = ledger(
        Entry(day(0), "A", "Red", "sold", 1),
        Entry(day(1), "A", "Red", "sold", 5),
        Entry(day(1), "A", "Red", "counted", 0),
    )

    assert [(day(0), -1)] == [
        (row.date.date(), row.stock_mg) for row in find_negative_days(book).itertuples()
    ]


def test_a_lot_of_nothing_makes_no_entry():
    """It has nothing to book; nothing can weigh less, nor can less be taken."""
    assert () == pack_lot(day(0), "B", "Red", 0)
    with pytest.raises(ValueError, match="The weight of lot B"):
        pack_lot(day(0), "B", "Red", -1)
    with pytest.raises(ValueError, match="The weight taken from A"):
        pack_lot(day(0), "B", "Red", 5, {("A", "Red"): -1})


def test_entries_of_nothing_are_entries():
    """0 g sold of a lot is a line of the ledger, though it changes nothing."""
    book = ledger(Entry(day(0), "A", "Red", "sold", 0))

    assert [("sold", 0, 0)] == list(
        book[["kind", "change_mg", "stock_mg"]].itertuples(index=False, name=None)
    )
