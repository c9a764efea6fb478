"""The binder for axe: with its scripts, a record open, in the light and in the dark, and as it is printed."""

from __future__ import annotations

from datetime import date

import pytest
from live_browser import browse
from validators import judge_page

from certgen.cli import run as certgen

COVERS = ("certgen.report.binder.page", "templates")
ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def binder(example_season, tmp_path_factory) -> str:
    """The address of the example's binder."""
    file = tmp_path_factory.mktemp("binder") / "binder.html"
    certgen(["report", str(example_season), "--html", str(file), "--on", ON.isoformat()])
    return file.as_uri()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")])
def test_axe_finds_nothing(binder, tmp_path, width, scheme):
    """On a wide screen and a narrow one, as it is opened and where a lot's record is shown."""
    with browse(tmp_path) as page:
        page.resize(width, 900)
        page.prefer(scheme)
        page.visit(binder)
        opened = judge_page(page)
        page.ask("location.hash = '#lots/AK-26-1'")
        page.wait("document.getElementById('record').checkVisibility()")
        shown = judge_page(page)

    assert ([], []) == (opened, shown)


def test_axe_finds_nothing_in_a_buyer_s_page(example_season, tmp_path):
    """The one page that a buyer is given instead of a binder."""
    file = tmp_path / "lot.html"
    wanted = ["--for", "buyer", "--to", "Cobalt Fen Growers", "--lot", "AK-26-1", "--html", str(file)]
    certgen(["report", str(example_season), *wanted, "--on", ON.isoformat()])
    with browse(tmp_path) as page:
        page.visit(file.as_uri())

        assert "AK-26-1" in page.ask("document.body.innerText")
        assert [] == judge_page(page)
