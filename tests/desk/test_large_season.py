"""The desk with a season of 2,000 bags on 400 trees, in a real browser."""

from __future__ import annotations

from datetime import date

import pytest
from bench import seasons
from desk_client import hold, served
from live_browser import browse

from certgen.desk.answering import PARTS

COVERS = ("certgen/desk/table_pages.py", "certgen/desk/overview_pages.py", "certgen/desk/entry_pages.py")
#: More than this no page weighs, in bytes: a second on a farm's slow network.
HEAVIEST = 300_000
_WEIGHT = "performance.getEntriesByType('navigation')[0].decodedBodySize"
_SAYS = "document.getElementById('grid-says').textContent"
_STAGES = "[...document.querySelectorAll('td[data-column=stage]')]"
_PASTE = """((column, text, rows) => {
  const data = new DataTransfer();
  data.setData("text/plain", Array(rows).fill(text).join("\\r\\n"));
  const cell = document.querySelector(`tbody td[data-column='${column}']`);
  cell.focus();
  cell.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
})"""


@pytest.fixture
def held(tmp_path, monkeypatch):
    """The season in April, when most of its bags hang."""
    monkeypatch.setattr(seasons, "BAGS_A_TREE", 5)
    seasons.write_season(tmp_path / "season", 2_000)
    return hold(tmp_path / "season", lambda: date(2026, 4, 1))


def test_every_part_of_a_season_of_2_000_bags_opens_and_works(held, tmp_path):
    """Each page opens and is light; the grid is gone through, searched, ordered and pasted into; a tree is
    found among 400 on the drawing and by its number, and a bag put on it.
    """
    weights = {}
    with served(held) as opened, browse(tmp_path) as page:

        def go(path, telling):
            page.visit(opened.split("/?")[0] + path)
            page.wait("document.querySelector('h1') !== null")
            weights[path] = page.ask(_WEIGHT)
            return page.ask(telling)

        page.visit(opened)
        headings = [go(f"/{part}", "document.querySelector('h1').textContent") for part, _ in PARTS]
        grid = [
            go("/tables/bagging", _SAYS),
            go("/tables/bagging?from=1800", _SAYS),
            go("/tables/bagging?words=B-00004", _SAYS),
            go("/tables/bagging?sort=-bag", "document.querySelector('tbody tr').dataset.name"),
        ]
        page.ask(f"{_PASTE}('stage', 'open', 40)")
        page.wait(f"{_STAGES}.filter((one) => one.textContent === 'open').length === 40")
        trees = go("/orchard", "document.querySelectorAll('.map a').length")
        page.ask("document.querySelector('.map a').focus()")
        page.press("ArrowRight")
        page.press("Enter")
        page.wait("location.pathname === '/record/trees/00002'")
        offered = go("/enter/bag-on", "document.querySelectorAll('#known-trees option').length")
        page.wait("document.activeElement && document.activeElement.name === 'tree'")
        page.type("00399")
        page.press("Enter", ctrl=True)
        page.wait("document.getElementById('saved') !== null")
        complaints = page.complaints

    bags = held.look().season.tables["bagging"]
    assert (len(PARTS), []) == (len([one for one in headings if one]), complaints)
    assert [
        "2\u202f000 bags, 1 to 200 shown.", "2\u202f000 bags, 1\u202f801 to 2\u202f000 shown.",
        "10 bags.", "B-002000",
    ] == grid  # fmt: skip
    assert (400, 400) == (trees, offered)
    assert {} == {path: weight for path, weight in weights.items() if weight > HEAVIEST}
    pasted = bags[(bags["stage"] == "open") & (bags["bag"] != "B-002001")]
    assert (2_001, 40) == (len(bags), len(pasted))
    assert "00399" == held.look().season.record("bagging", "B-002001")["tree"]
