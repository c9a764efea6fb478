"""The desk's pages for axe, as a person meets them on a wide screen, a phone, and in the dark."""

from __future__ import annotations

import pytest
from desk_client import hold, served
from live_browser import browse
from validators import judge_page

COVERS = ("templates",)
PAGES = (
    "today", "enter", "enter/bag-on", "enter/packed", "enter/picked", "findings", "tables",
    "tables/bagging", "tables/lots/new", "orchard", "tree/U-101", "lots", "lots/AK-26-1", "papers",
    "print", "print/tags", "history", "season", "person", "nowhere",
)  # fmt: skip


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")])
def test_axe_finds_nothing_on_any_page(example_copy, tmp_path, width, scheme):
    """Of a whole season, best practices included: contrast, names, landmarks, order of headings."""
    with served(hold(example_copy)) as address, browse(tmp_path) as page:
        page.resize(width, 900)
        page.prefer(scheme)
        page.visit(address)
        found = {}
        for name in PAGES:
            page.visit(address.split("?")[0] + name)
            found[name] = judge_page(page)

    assert {name: [] for name in PAGES} == found


def test_axe_is_awake(held, tmp_path):
    """A page that says nothing of its language, and a picture without words, are found."""
    with served(held) as address, browse(tmp_path) as page:
        page.visit(address)
        page.ask("document.documentElement.removeAttribute('lang'); document.body.append(new Image(9, 9))")
        found = {one.split()[0] for one in judge_page(page)}

    assert {"html-has-lang", "image-alt"} <= found
