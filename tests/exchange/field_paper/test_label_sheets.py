"""Sheets of labels follow from their measurements."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.exchange.field_paper.label_sheets import PAGES, SheetError, build_sheet, read_lengths


@pytest.mark.parametrize(
    ("size", "labels"), [("70x37", (3, 8)), ("99.1x67.7", (2, 4)), ("105x148.5", (2, 2)), ("210x297", (1, 1))]
)
def test_how_many_fit(size: str, labels: tuple[int, int]) -> None:
    """Sizes that divide an A4 page."""
    sheet = build_sheet("A4", size)

    assert labels == (sheet.columns, sheet.rows)


@given(
    st.sampled_from(sorted(PAGES)),
    st.floats(20, 90), st.floats(15, 90), st.floats(0, 5), st.floats(0, 5), st.floats(0, 12),
)  # fmt: skip
def test_every_label_lies_on_the_page(
    page: str, width: float, height: float, gap_x: float, gap_y: float, top: float
) -> None:
    """No label reaches over the page's edge, and none over another."""
    try:
        sheet = build_sheet(
            page, f"{width:.2f}x{height:.2f}", f"{top:.2f}x{top:.2f}", f"{gap_x:.2f}x{gap_y:.2f}"
        )
    except SheetError:
        return
    places = [sheet.place(i) for i in range(sheet.labels)]

    assert all(0 <= x and x + sheet.width <= sheet.page_width + 0.02 for x, _ in places)
    assert all(0 <= y and y + sheet.height <= sheet.page_height + 0.02 for _, y in places)
    assert len(set(places)) == sheet.labels


def test_inches_are_measured_too() -> None:
    """One inch is 25.4 mm exactly."""
    assert [69.85, 38.1] == [round(value, 3) for value in read_lengths("2.75x1.5in", 2, 2)]


def test_a_nudge_shifts_all() -> None:
    """Right and down, as the calibration page showed."""
    assert (1.5, -2.0) == build_sheet("A4", "70x37.125", "0x0", "0x0", "1.5x-2").place(0)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("A4", "300x37"), "no label"),
        (("A4", "5x5"), "too small"),
        (("A4", "large"), "no measurement"),
        (("A9", "70x37"), "no paper known"),
        (("A4", "70x37", "500x0"), "no label"),
        (("A4", "70x37", "", "0x0", "90x0"), "shift"),
    ],
)
def test_impossible_sheets_are_refused(options: tuple[str, ...], said: str) -> None:
    """Each refusal says which measurement."""
    with pytest.raises(SheetError, match=said):
        build_sheet(*options)
