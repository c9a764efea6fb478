"""Long registers: no row is lost or split, each stands where its place says, and text stays text."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace

import pikepdf
import pytest
from pages import SETTINGS, joined_file

from certgen.typeset import registers as module
from certgen.typeset.design import SHEETS
from certgen.typeset.parts import Register, RegisterColumn, RegisterSet
from certgen.typeset.registers import set_registers
from certgen.typeset.structure import kids, walk

COVERS = ("certgen.typeset.typst_pages",)
POPPLER = shutil.which("pdftotext")


def register(count: int, note: str = "") -> Register:
    """A register of bags whose rows lead to their trees."""
    columns = (RegisterColumn("Bag", 1), RegisterColumn("Tree", 1), RegisterColumn("Note", 3))
    rows = tuple(
        (f"bagging/B{n:05}", (((f"B{n:05}", f"lots/L{n % 3}"),), ((f"T{n}", f"trees/T{n}"),), ((note, ""),)))
        for n in range(count)
    )
    return Register("bagging", "Bags", "", columns, rows)


def batches_of(*registers: Register, **more):
    """The registers as batches."""
    group = RegisterSet("Registers", "Words.", registers)
    return list(set_registers(group, SETTINGS, **more))


def body_rows(pdf: pikepdf.Pdf) -> list:
    """The rows of all tables, without the heads."""
    return [row for body in walk(pdf.Root.StructTreeRoot) if body.S == "/TBody" for row in kids(body)]


def words_of(pdf: pikepdf.Pdf, folder, *more: str) -> str:
    """What a reader can select and copy."""
    if POPPLER is None:
        pytest.skip("poppler's pdftotext is not installed")
    path = folder / "registers.pdf"
    pdf.save(path)
    ran = subprocess.run(
        [POPPLER, *more, path, "-"], check=True, capture_output=True, encoding="utf-8", timeout=60
    )
    return ran.stdout


@pytest.mark.parametrize("count", [0, 1, 99, 250, 700])
def test_every_row_is_drawn_once(count, monkeypatch):
    """However a register falls into batches, the file is sound and holds each row and its place once."""
    monkeypatch.setattr(module, "BATCH_ROWS", 100)
    with joined_file(batches_of(register(count))) as pdf:
        assert [] == pdf.check_pdf_syntax()
        assert count == len(body_rows(pdf))
        names = [
            str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests) if str(name).startswith("bagging/")
        ]
        assert sorted(f"bagging/B{n:05}" for n in range(count)) == sorted(names)


def test_short_registers_share_a_page():
    """Two short registers stand one below the other, each under its own heading."""
    batches = batches_of(register(3), register(2))

    assert 1 == sum(len(batch.pages) for batch in batches)
    assert ["Registers", "Bags", "Bags"] == [mark.title for batch in batches for mark in batch.headings]
    assert [0, 1, 1] == [mark.depth for batch in batches for mark in batch.headings]


def test_a_heading_never_stands_alone():
    """A register whose first row doesn't fit below its heading begins on the next page."""
    other = register(5)
    other = replace(other, rows=tuple((f"other/{n}", cells) for n, (_, cells) in enumerate(other.rows)))
    pages = set()
    for count in range(64, 84):
        (batch,) = batches_of(register(count), other)
        mark = batch.headings[2]

        assert mark.page == batch.places["other/0"][0]
        assert batch.places["other/0"][1] > SHEETS["A4"].bottom
        pages.add(mark.page)
    assert {0, 1} == pages


def test_places_lie_in_the_order_of_the_rows():
    """A later row stands further down or on a later page."""
    (batch,) = batches_of(register(300))
    listed = [batch.places[f"bagging/B{n:05}"] for n in range(300)]

    assert listed == sorted(listed, key=lambda place: (place[0], -place[1]))


def test_markup_in_a_record_is_text(tmp_path):
    """A note that looks like code of an engine or of the file is shown as it stands."""
    hostile = "#panic(run) (Tj) ET EMC <</MCID 0>> BDC \\ %stop"
    with joined_file(batches_of(register(3, hostile))) as pdf:
        assert [] == pdf.check_pdf_syntax()
        # A narrow column breaks the note between words alone.
        assert 3 == " ".join(words_of(pdf, tmp_path, "-raw").split()).count(hostile)


def test_a_row_taller_than_a_page_goes_on(tmp_path):
    """A note that is longer than a page is printed in full, over as many pages as it needs, in one cell."""
    note = " ".join(f"word{n}" for n in range(9_000))
    with joined_file(batches_of(register(2, note))) as pdf:
        rows = body_rows(pdf)
        cell = kids(rows[0])[2]
        pages = {mark.Pg.objgen for mark in cell.K if isinstance(mark, pikepdf.Dictionary)}
        said = words_of(pdf, tmp_path)

        assert 2 == len(rows)
        assert len(pages) > 2
        assert [] == pdf.check_pdf_syntax()
        assert all(f"word{n}" in said for n in (0, 1, 4_500, 8_998, 8_999))


def test_each_page_repeats_the_headings_for_the_eye(tmp_path):
    """The heading row stands on every page, and once in the structure, with its scope."""
    with joined_file(batches_of(register(300))) as pdf:
        heads = [element for element in walk(pdf.Root.StructTreeRoot) if element.S == "/TH"]
        pages = words_of(pdf, tmp_path, "-layout").split("\f")[:-1]

        assert len(pages) > 3
        assert all("Bag" in page and "Tree" in page and "Note" in page for page in pages)
        assert ["/Column"] * 3 == [str(head.A[0].Scope) for head in heads]


def test_faces_are_our_own():
    """Registers are drawn in the two families of the packet, all embedded."""
    with joined_file(batches_of(register(3))) as pdf:
        found = [
            item
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor"
        ]
        names = {str(item.FontName).partition("+")[2] for item in found}

        kinds = [("Sans", "Regular"), ("Sans", "Semibold"), ("Serif", "Regular"), ("Serif", "Semibold")]
        assert {f"Source{family}Pro-{weight}" for family, weight in kinds} == {
            name.removesuffix("-Identity-H") for name in names
        }
        assert all("/FontFile2" in item or "/FontFile3" in item for item in found)


@pytest.mark.parametrize(
    "name", ["بذور البابايا", "שדה עליון", "ไร่มะละกอ", "पपीता बाग", "e\u0301tang d\u0323"]
)
def test_other_scripts_are_set(name, tmp_path):
    """A name in another script stands in its row as text, and no letter of it is missing."""
    with joined_file(batches_of(register(2, name))) as pdf:
        said = words_of(pdf, tmp_path)

        assert [] == pdf.check_pdf_syntax()
        assert "\ufffd" not in said
        assert set(name.replace(" ", "")) & set(said)


def test_a_link_in_another_script_leads_on():
    """A link whose words are in another script is a link still, where the words stand."""
    columns = (RegisterColumn("Farm", 1), RegisterColumn("Note", 1))
    rows = (("members/M1", ((("بذور", "members/M1"),), (("x", ""),))),)
    (batch,) = batches_of(Register("members", "Members", "", columns, rows))
    with joined_file(batches_of(Register("members", "Members", "", columns, rows))) as pdf:
        (link,) = pdf.pages[0].Annots
        left, low, right, high = map(float, link.Rect)
        top = batch.places["members/M1"][1]

        assert "members/M1" == str(link.Dest)
        assert SHEETS["A4"].left - 0.01 <= left < right < SHEETS["A4"].left + SHEETS["A4"].measure
        assert top - 20 < low < high < top + 4


def test_a_long_text_in_another_script_goes_on():
    """A text in another script that is taller than a page goes on on the next."""
    with joined_file(batches_of(register(1, "بذور البابايا " * 1_500))) as pdf:
        assert len(pdf.pages) > 1
        assert [] == pdf.check_pdf_syntax()
        assert 1 == len(body_rows(pdf))


def test_figures_stand_right():
    """A column of figures ends where it should, whatever their length."""
    columns = (RegisterColumn("Lot", 1), RegisterColumn("Weight", 1, "number"))
    rows = tuple(
        (f"lots/{n}", (((f"L{n}", ""),), ((text, f"lots/{n}"),)))
        for n, text in enumerate(("1 g", "1000.5 g"))
    )
    with joined_file(batches_of(Register("lots", "Lots", "", columns, rows))) as pdf:
        ends = {round(float(link.Rect[2]), 1) for link in pdf.pages[0].Annots}

        assert 1 == len(ends)


def test_a_word_breaks_only_where_it_must(tmp_path):
    """A word with a hyphen stays whole where a line has room for it; one that is wider breaks anywhere."""
    digest = "0123456789abcdef" * 6
    columns = (RegisterColumn("Bag", 1), RegisterColumn("Care", 1), RegisterColumn("Digest", 1))
    care = " ".join(["re-used and-or letters/two-pages.txt"] * 40)
    rows = tuple(
        (f"b/{n}", (((f"B26-{n:03}", ""),), ((care, ""), (" tags/one-more", "")), ((digest * 4, ""),)))
        for n in range(3)
    )
    with joined_file(batches_of(Register("b", "Bags", "", columns, rows))) as pdf:
        said = words_of(pdf, tmp_path, "-layout")

    assert [] == [word for word in said.split() if word.endswith(("-", "/"))]
    assert 120 == said.count("re-used")


def test_nothing_is_copied_that_is_not_in_the_record(tmp_path):
    """A digest that fills several lines is the same when it is copied: no mark stands in it."""
    digest = "0123456789abcdef" * 40
    with joined_file(batches_of(register(1, digest))) as pdf:
        said = words_of(pdf, tmp_path, "-raw")

    assert digest in "".join(said.split())
