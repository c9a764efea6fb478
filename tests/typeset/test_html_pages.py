"""Templates of what is printed decide nothing; all escape everything and fetch nothing."""

from __future__ import annotations

import logging

import pypdfium2
import pytest
from jinja2 import nodes
from pages import SETTINGS

from certgen.resources import templates_dir
from certgen.typeset.design import SHEETS
from certgen.typeset.first_page import Band, Cover
from certgen.typeset.html_pages import environment, set_cover, style_sheet
from certgen.typeset.parts import Picture, Prose

TEMPLATES = sorted(
    path.relative_to(templates_dir()).as_posix()
    for path in templates_dir().rglob("*")
    if path.suffix in {".html", ".css"}
)


@pytest.mark.parametrize("name", [name for name in TEMPLATES if not name.startswith("desk/")])
def test_templates_get_finished_values(name):
    """No arithmetic, no comparison, no assignment, no filter: what is shown was decided before."""
    source = (templates_dir() / name).read_text(encoding="utf-8")
    tree = environment().parse(source)
    refused = (
        nodes.BinExpr,
        nodes.UnaryExpr,
        nodes.Compare,
        nodes.Assign,
        nodes.Filter,
        nodes.Call,
        nodes.Test,
    )

    assert [] == [type(node).__name__ for kind in refused for node in tree.find_all(kind)]


@pytest.mark.parametrize("name", [name for name in TEMPLATES if name.startswith("desk/")])
def test_pages_of_the_desk_reckon_nothing(name):
    """A form chooses how it shows a value; figures and what is counted beyond a length come finished."""
    tree = environment().parse((templates_dir() / name).read_text(encoding="utf-8"))
    refused = (nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow, nodes.Neg)
    filters = {"length", "string", "int", "list", "select", "selectattr", "urlencode", "join", "capitalize"}

    reckoned = [type(node).__name__ for node in tree.find_all((*refused, nodes.Assign, nodes.CallBlock))]
    assert [] == reckoned
    assert set() == {node.name for node in tree.find_all(nodes.Filter)} - filters - {"lower", "trim"}


def test_templates_are_there():
    """The test above looks at something."""
    assert {
        "packet.css",
        "cover.html",
        "binder.html",
        "parts/grid.html",
    } <= set(TEMPLATES)


def cover(
    text: str, svg: str = "<svg xmlns='http://www.w3.org/2000/svg' width='9pt' height='9pt'/>"
) -> Cover:
    """A first page with one paragraph and one picture."""
    band = Band(text, (Prose((text,)), Picture("p", svg, "a picture in words")))
    return Cover("Report", text, "2026", (), (), "is", "is not", (), claim=text, bands=(band,))


def test_text_is_escaped():
    """A text that looks like markup is shown as it was written."""
    page = pypdfium2.PdfDocument(set_cover(cover("<b>bold</b>"), SETTINGS))[0]

    assert 4 == page.get_textpage().get_text_bounded().lower().count("<b>bold</b>")


@pytest.mark.parametrize("address", ["http://127.0.0.1:9/x.png", "file:///etc/hostname", "drawing:unknown"])
def test_nothing_is_fetched(address, caplog):
    """A drawing that asks for something from outside gets nothing, and the page is set all the same."""
    svg = (
        "<svg xmlns='http://www.w3.org/2000/svg' width='90pt' height='90pt'>"
        f"<image href='{address}' width='9' height='9'/></svg>"
    )
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        data = set_cover(cover("x", svg), SETTINGS)

    assert data.startswith(b"%PDF-")
    assert b"root:" not in data


def test_a_page_is_set_without_complaint(caplog):
    """The setter finds nothing to warn of in our own style sheet."""
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        set_cover(cover("x"), SETTINGS)

    assert [] == [record.message for record in caplog.records]


def test_style_sheets_differ_by_paper_only():
    """Both papers have one design: only lengths that follow from the sheet differ."""
    assert style_sheet(SHEETS["A4"]) != style_sheet(SHEETS["Letter"])
    assert style_sheet(SHEETS["A4"]).count("{") == style_sheet(SHEETS["Letter"]).count("{")
