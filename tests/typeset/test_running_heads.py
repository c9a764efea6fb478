"""Running heads: each page says which it is, and opens with its chapter's name."""

from __future__ import annotations

import pikepdf
import pytest
from pages import SETTINGS, joined_file

from certgen.typeset.design import SHEETS
from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
from certgen.typeset.running_heads import draw_running_heads
from certgen.typeset.tables.layout import draw_registers


def pages_under_heads(name: str, count: int = 150) -> pikepdf.Pdf:
    """A register of a few pages under running heads."""
    columns = (RegisterColumn("Bag", 1),)
    rows = tuple((f"bagging/{n}", (((f"B{n}", ""),),)) for n in range(count))
    registers = RegisterSet("Registers", "", (Register("bagging", "Bags", "", columns, rows),))
    return joined_file(
        draw_registers(registers, SETTINGS),
        lambda joined: draw_running_heads(joined, name, "the foot", SETTINGS),
    )


def shows(form: pikepdf.Object) -> list[str]:
    """The texts that a form draws, through its font's own table of meanings."""
    font = form.Resources.Font.F0
    meaning = {}
    for line in font.ToUnicode.read_bytes().decode().splitlines():
        code, _, letter = line.partition("> <")
        if code.startswith("<") and len(code) == 5:
            meaning[code[1:]] = chr(int(letter.rstrip(">"), 16))
    texts = []
    for operands, operator in pikepdf.parse_content_stream(form):
        if str(operator) == "TJ":
            codes = "".join(bytes(one).hex() for one in operands[0] if isinstance(one, pikepdf.String))
            texts.append("".join(meaning[codes[at : at + 4]] for at in range(0, len(codes), 4)))
    return texts


def test_each_page_says_which_it_is():
    """Name and chapter above, foot and page of pages below; the cover has no head."""
    with pages_under_heads("Amber Farm") as pdf:
        forms = [page.Resources.XObject.Running for page in pdf.pages]
        count = len(forms)

        assert count > 1
        assert ["the foot", f"Page 1 of {count}"] == shows(forms[0])
        assert ["the foot", "Page 2 of 3", "Amber Farm", "Registers"] == shows(forms[1])
        assert [] == pdf.check_pdf_syntax()


def test_heads_are_artifacts():
    """A screen reader passes over them: they are drawn outside all marked content."""
    with pages_under_heads("Amber Farm") as pdf:
        for page in pdf.pages:
            last = page.Contents[-1].read_bytes()
            assert b"/Artifact <</Type /Pagination>> BDC" in last
            assert last.rstrip().endswith(b"EMC")


@pytest.mark.parametrize("name", ["مزرعة البذور", "ไร่มะละกอ", "田 " * 100])
def test_a_name_in_another_script_is_drawn_as_a_form(name):
    """A name that Typst must set stands above each page, and none of it leaves the page."""
    with pages_under_heads(name) as pdf:
        head = pdf.pages[1].Resources.XObject.Running
        (form,) = head.Resources.XObject.values()

        assert ["the foot", "Page 2 of 3", "Registers"] == shows(head)
        assert b" Do" in head.read_bytes()
        assert float(form.BBox[2]) < SHEETS["A4"].measure
        assert [] == pdf.check_pdf_syntax()


def test_a_long_name_is_shortened():
    """A name that would run into the chapter's is cut, and says so."""
    with pages_under_heads("Amber Farm and Seed Orchard of the Upper Valley " * 6) as pdf:
        (_, _, name, head) = shows(pdf.pages[1].Resources.XObject.Running)

        assert name.endswith("…")
        assert "Registers" == head
