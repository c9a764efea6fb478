"""What a submission sheet leaves out or says twice."""

from __future__ import annotations

from datetime import date

import pytest

RULES = (
    "sample-without-submission", "sample-on-two-sheets", "custody-dates-contradict", "seal-used-twice",
    "seal-differs", "split-sample-unreceipted",
)  # fmt: skip
DAY = date(2025, 12, 1)


def farm(seasons, *sheets):
    """Two trees with a sample each in two letters, a bag on each, a lot of both."""
    return seasons.season_of(
        blocks=[seasons.block()],
        plantings=[seasons.planting()],
        trees=[seasons.tree("T1"), seasons.tree("T2")],
        screening=[
            seasons.sample("S1", "T1", collected=DAY, report="L-1"),
            seasons.sample("S2", "T2", collected=DAY, report="L-2"),
        ],
        bagging=[seasons.bag("B1", "T1"), seasons.bag("B2", "T2")],
        harvests=[seasons.harvest("H1", ["B1", "B2"])],
        batches=[seasons.batch("X1", ["H1"], 2)],
        lots=[seasons.lot("L1", [{"batch": "X1", "weight": "16 g"}], 16)],
        submissions=[
            {"submission": f"SH-{at}", "kind": "to the laboratory", **one} for at, one in enumerate(sheets, 1)
        ],
    )


@pytest.fixture
def told(seasons, find):
    """The findings of these rules on some sheets: rule, record, and field."""

    def tell(*sheets):
        season = farm(seasons, *sheets)
        return [(slug, gap.id, gap.field) for slug in RULES for gap in find(season, slug)]

    return tell


BOTH = {"samples": ["S1 to S2"]}


def test_a_season_without_sheets_is_not_asked_for_them(told):
    """Nor one whose only sheet is an inspector's."""
    assert [] == told()
    assert [] == told({"kind": "split sample", "receipt": "R 1", "evidence": "letters/x.txt",
                       "parts": [{"part": "A", "seal": "1"}, {"part": "B", "seal": "2"}]})  # fmt: skip


def test_one_note_a_letter_whose_samples_went_on_no_sheet(told):
    """Where sheets are kept for others."""
    assert [] == told(BOTH)
    assert [("sample-without-submission", "S2", ("sample",))] == told({"samples": ["S1"]})
    assert 2 == len(told({"samples": []}))


def test_a_sample_stands_on_one_sheet(told):
    """The second sheet is named."""
    assert [("sample-on-two-sheets", "SH-2", ("samples",))] == told(BOTH, {"samples": ["S2"]})


@pytest.mark.parametrize(
    ("says", "field"),
    [
        ({"date": "2025-12-01", "received": "2025-12-01"}, None),
        ({"date": "2025-11-30"}, ("date",)),
        ({"date": "2025-12-02", "received": "2025-12-01"}, ("received",)),
        ({"hand_overs": [{"to": "A", "date": "2025-12-03"}, {"to": "B", "date": "2025-12-02"}]},
         ("hand_overs", 1, "date")),
        ({"hand_overs": [{"to": "A", "date": "2025-11-03"}]}, ("hand_overs", 0, "date")),
        ({"hand_overs": [{"to": "A"}, {"to": "B", "date": "2025-12-05"}], "received": "2025-12-04"},
         ("received",)),
    ],
)  # fmt: skip
def test_days_of_a_sheet_follow_each_other(told, says, field):
    """Cut, written, handed on, received; a day that nobody wrote is passed over."""
    expected = [] if field is None else [("custody-dates-contradict", "SH-1", field)]
    assert expected == told({**BOTH, **says})


def test_a_seal_is_used_once(told):
    """On one sheet or two, on bags or on parts, however it is spaced."""
    assert [("seal-used-twice", "SH-1", ("bags", 1, "seal"))] == told(
        {**BOTH, "bags": [{"seal": "QR 1", "samples": ["S1"]}, {"seal": "qr1", "samples": ["S2"]}]}
    )
    found = told({**BOTH, "bags": [{"seal": "1"}]}, {"samples": [], "bags": [{"seal": "1"}]})
    assert [("seal-used-twice", "SH-2", ("bags", 0, "seal"))] == found


def test_another_seal_leaves_its_samples_unproven(seasons, told, find):
    """The sheet is told of, and the samples count as come with a broken seal."""
    sheet = {**BOTH, "bags": [{"seal": "1", "samples": ["S1"], "seal_on_receipt": "7"}]}

    assert [("seal-differs", "SH-1", ("bags", 0, "seal_on_receipt"))] == told(sheet)
    (gap,) = find(farm(seasons, sheet), "sample-seal-broken")
    assert ("unproven", "S1", ("L1",)) == (gap.weight, gap.id, gap.lots)


@pytest.mark.parametrize("lacking", ["receipt", "evidence", "parts", "seal"])
def test_a_split_sample_has_its_receipt_parts_and_seals(told, lacking):
    """Any of them may be what decides a dispute."""
    parts = [{"part": "A", "seal": "1"}, {"part": "B", **({} if lacking == "seal" else {"seal": "2"})}]
    sheet = {"kind": "split sample", "receipt": "R 1", "evidence": "letters/x.txt", "parts": parts}
    sheet = {key: value for key, value in sheet.items() if key != lacking}

    assert [("split-sample-unreceipted", "SH-1", ("kind",))] == told(sheet)
