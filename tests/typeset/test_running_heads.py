"""Running heads: each page says which it is, and opens with its chapter's name."""

from __future__ import annotations

import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest
from pages import SETTINGS, joined_file

from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
from certgen.typeset.registers import set_registers
from certgen.typeset.running_heads import draw_running_heads

if TYPE_CHECKING:
    import pikepdf

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext")


def bound(name: str, count: int = 180, code: str = "") -> pikepdf.Pdf:
    """A register of a few pages under running heads."""
    columns = (RegisterColumn("Bag", 1),)
    rows = tuple((f"bagging/{n}", (((f"B{n}", ""),),)) for n in range(count))
    registers = RegisterSet("Registers", "", (Register("bagging", "Bags", "", columns, rows),))
    return joined_file(
        set_registers(registers, SETTINGS),
        lambda joined: draw_running_heads(joined, name, "the foot", SETTINGS, code=code),
    )


def shows(pdf: pikepdf.Pdf, folder, page: int) -> list[str]:
    """The lines above and below a page, as a reader sees them."""
    path = folder / "heads.pdf"
    pdf.save(path)
    command = ["pdftotext", "-layout", "-f", str(page), "-l", str(page), path, "-"]
    ran = subprocess.run(command, check=True, capture_output=True, encoding="utf-8", timeout=60)
    lines = [line for line in ran.stdout.replace("\f", "").splitlines() if line.strip()]
    return [" ".join(lines[at].split()) for at in (0, -1)]


@needs_poppler
def test_each_page_says_which_it_is(tmp_path):
    """Name and chapter above, foot and page of pages below; the cover has no head."""
    with bound("Amber Farm") as pdf:
        assert 3 == len(pdf.pages)
        assert ["Registers", "the foot Page 1 of 3"] == shows(pdf, tmp_path, 1)
        assert ["Amber Farm Registers", "the foot Page 2 of 3"] == shows(pdf, tmp_path, 2)
        assert [] == pdf.check_pdf_syntax()


def test_heads_are_artifacts():
    """A screen reader passes over them: they are drawn outside all marked content."""
    with bound("Amber Farm") as pdf:
        for page in pdf.pages:
            last = page.Contents[-1].read_bytes()
            assert b"/Artifact <</Type /Pagination>> BDC" in last
            assert last.rstrip().endswith(b"EMC")


@needs_poppler
@pytest.mark.parametrize("name", ["مزرعة البذور", "ไร่มะละกอ", "田 " * 100])
def test_a_name_in_another_script_is_set(name, tmp_path):
    """A name in any script stands above each page, on one line with the chapter's."""
    with bound(name) as pdf:
        above, below = shows(pdf, tmp_path, 2)

        assert "the foot Page 2 of 3" == below
        assert above.endswith("Registers")
        assert len(above) > len("Registers ")
        assert [] == pdf.check_pdf_syntax()


@needs_poppler
def test_a_long_name_is_shortened(tmp_path):
    """A name that would run into the chapter's is cut, and says so."""
    with bound("Amber Farm and Seed Orchard of the Upper Valley " * 6) as pdf:
        above, _ = shows(pdf, tmp_path, 2)

        assert above.endswith("… Registers")


def test_a_code_hangs_beside_the_foot_of_each_page() -> None:
    """The code that a page is matched to its file by is drawn on every page; without one nothing is."""
    sizes = []
    for code in ("", "8769B7CFF3DD45A1A247"):
        with bound("Amber Farm", code=code) as pdf:
            drawn = [page.Resources.XObject["/Running"] for page in pdf.pages]
            sizes.append([sum(len(part.read_bytes()) for part in drawn_in(form)) for form in drawn])

    assert [True] * 3 == [bare < coded for bare, coded in zip(*sizes, strict=True)]


def drawn_in(form):
    """A form and those that it draws."""
    inner = form.get("/Resources", {}).get("/XObject", {})
    return [form, *(part for name in inner for part in drawn_in(inner[name]))]
