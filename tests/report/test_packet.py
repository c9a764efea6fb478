"""The packet as a file: its structure, its links, its attachments, and the same bytes every time."""

from __future__ import annotations

import hashlib
import itertools
import json
import re
import shutil
import subprocess
from dataclasses import replace

import pikepdf
import pytest

from certgen.manifest import PacketOptions
from certgen.process_pool import Pool
from certgen.records.quantities import format_mass
from certgen.report.packet import build_packet, settings_of
from certgen.typeset import registers as module
from certgen.typeset.compose import compose, known_anchors
from certgen.typeset.registers import set_registers
from certgen.typeset.structure import kids, walk

COVERS = (
    "certgen.typeset.structure",
    "certgen.report.chapters.appendix",
    "certgen.report.chapters.method",
    "certgen.report.chapters.registers",
    "certgen.report.chapters.notices",
    "certgen.report.chapters.trace",
)
POPPLER = shutil.which("pdftotext")


def elements(pdf, *kinds):
    """The structure elements of some kinds, in reading order."""
    return [element for element in walk(pdf.Root.StructTreeRoot) if str(element.S).lstrip("/") in kinds]


@pytest.fixture(scope="session")
def text(pdf_bytes, tmp_path_factory) -> str:
    """What a reader can select and copy, page by page."""
    if POPPLER is None:
        pytest.skip("poppler's pdftotext is not installed")
    path = tmp_path_factory.mktemp("text") / "packet.pdf"
    path.write_bytes(pdf_bytes)
    return subprocess.run([POPPLER, "-layout", path, "-"], check=True, capture_output=True, text=True).stdout


def test_the_file_is_sound(pdf):
    """An independent reader finds no fault in the file's syntax."""
    assert [] == pdf.check_pdf_syntax()


def test_headings_never_skip_a_level(pdf):
    """The outline that a screen reader walks has no holes, and opens with a heading of the first level."""
    levels = [int(str(element.S)[2:]) for element in elements(pdf, "H1", "H2", "H3", "H4", "H5", "H6")]

    assert 1 == levels[0]
    assert all(later <= earlier + 1 for earlier, later in itertools.pairwise(levels))


def test_every_figure_has_words(pdf):
    """No drawing is silent."""
    figures = elements(pdf, "Figure")

    assert figures
    assert all(len(str(figure.get("/Alt", ""))) > 20 for figure in figures)


def test_heading_cells_say_what_they_head(pdf):
    """Each heading cell has a scope, in tables of both setters."""
    cells = elements(pdf, "TH")
    scopes = set()
    for cell in cells:
        attributes = list(cell.A) if isinstance(cell.A, pikepdf.Array) else [cell.A]
        found = [str(one.Scope) for one in attributes if "/Scope" in one]
        assert 1 == len(found)
        scopes.add(found[0])

    assert {"/Column", "/Row"} == scopes


def test_lists_hold_items_only(pdf):
    """A list holds list items, and an item stands in a list."""
    for element in elements(pdf, "L"):
        assert {"/LI", "/Caption", "/L"} >= {str(kid.S) for kid in kids(element)}
    assert all("/L" == str(item.P.S) for item in elements(pdf, "LI"))


def test_every_marked_thing_is_in_the_tree(pdf):
    """The parent tree leads from each page's marks and each link back to an element of the one tree."""
    tree = {element.objgen for element in walk(pdf.Root.StructTreeRoot)}
    parents = dict(pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree).items())
    for page in pdf.pages:
        for element in parents[int(page.StructParents)]:
            assert element.objgen in tree
        for annotation in page.get("/Annots", ()):
            assert parents[int(annotation.StructParent)].objgen in tree


def test_every_link_leads_somewhere_inside(pdf):
    """No link leaves the file, and each names a place that is there or opens a file that is attached."""
    places = {str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)}
    attached = set(pdf.attachments)
    placed = [annotation for page in pdf.pages for annotation in page.get("/Annots", ())]
    links = [one for one in placed if one.Subtype == "/Link"]
    files = [one for one in placed if one.Subtype == "/FileAttachment"]

    assert len(links) > 100
    assert len(files) + len(links) == len(placed)
    assert all("/A" not in link and str(link.Dest) in places for link in links)
    assert all(str(link.Contents).startswith("Go to ") for link in links)
    assert attached - {"manifest.json"} <= {str(one.FS.UF) for one in files} <= attached
    assert all(f"Open the attached file {one.FS.UF}" == str(one.Contents) for one in files)
    assert all(4 == int(one.F) for one in placed)


def test_links_lead_both_ways(pdf):
    """From a dossier to a bag's row, and from a bag's row on to the picking and its tree."""
    placed = [one for page in pdf.pages for one in page.get("/Annots", ())]
    leads = [str(one.Dest) for one in placed if "/Dest" in one]

    assert {"bagging/B001", "harvests/H1", "trees/T1", "lots/L1", "row/lots/L1"} <= set(leads)
    assert any(lead.startswith("gap/") for lead in leads)


def test_places_stand_where_their_text_stands(pdf):
    """The place of a bag's row is a page of the registers, after the dossier of its lot."""
    places = {str(name): target for name, target in pikepdf.NameTree(pdf.Root.Names.Dests).items()}
    pages = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
    dossier, row = (pages[places[name][0].objgen] for name in ("lots/L1", "bagging/B001"))

    assert dossier < row


def test_bookmarks_follow_the_contents(pdf):
    """Bookmarks name the parts in reading order, the lot among them."""
    with pdf.open_outline() as outline:
        titles = [item.title for item in outline.root]
        lots = next(item for item in outline.root if item.title == "The lots")

        assert [
            "Cover",
            "Mass balance",
            "The orchard",
            "Contents",
            "Words used here",
            "What to do first",
            "The gaps",
            "Draft notices",
            "The lots",
            "From fruit to packed seed",
            "What the figures say",
            "A worked trace-back",
            "Land and follow-up",
            "Registers",
            "Appendix",
            "Clause by clause",
            "Index of identifiers",
            "Manifest",
        ] == titles
        assert ["Parents and their results", "What a negative result covers", "Lot L1"] == [
            item.title for item in lots.children
        ]


def test_attachments_are_the_records(pdf, season_folder):
    """The record file inside is the one on the disk, byte for byte, with type and relationship."""
    inside = dict(pdf.attachments.items())

    assert {"manifest.json", "records/records.yaml", "evidence/letter.txt"} == set(inside)
    assert (season_folder / "records.yaml").read_bytes() == inside[
        "records/records.yaml"
    ].get_file().read_bytes()
    assert "/Source" == str(inside["records/records.yaml"].obj.AFRelationship)
    assert "/application/yaml" == str(inside["records/records.yaml"].obj.EF.F.Subtype)
    assert {spec.obj.objgen for spec in inside.values()} == {one.objgen for one in pdf.Root.AF}
    manifest = json.loads(inside["manifest.json"].get_file().read_bytes())
    digests = {entry["name"]: entry["sha256"] for entry in manifest["files"]}
    assert hashlib.sha256(b"a letter").hexdigest() == digests["evidence/letter.txt"]


def test_the_file_says_what_it_is(pdf, result):
    """Title, language, colours and the two standards are declared."""
    xmp = pdf.Root.Metadata.read_bytes().decode()

    assert "<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>" in xmp
    assert "<pdfuaid:part>1</pdfuaid:part>" in xmp
    assert "en" == str(pdf.Root.Lang)
    assert pdf.Root.MarkInfo.Marked
    assert pdf.Root.ViewerPreferences.DisplayDocTitle
    assert "/GTS_PDFA1" == str(pdf.Root.OutputIntents[0].S)
    assert result.season.details.operation.name in str(pdf.docinfo["/Title"])


def test_every_font_is_embedded(pdf):
    """The page looks the same where no font is installed."""
    seen = 0
    for item in pdf.objects:
        if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor":
            seen += 1
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(item.keys())

    assert seen


def test_pages_are_numbered(text, pdf):
    """Each page says which one it is and of how many."""
    pages = text.split("\f")[: len(pdf.pages)]

    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pdf.pages)}" in page


def test_no_page_is_nearly_empty(text):
    """Every page carries more than its running heads and a scrap."""
    for page in text.split("\f")[:-1]:
        assert len([line for line in page.splitlines() if line.strip()]) > 5


def test_numbers_are_those_of_the_result(text, result):
    """Every standing by gram and every gap stands on the pages as the result has it."""
    for lot in result.lots.values():
        for weight in (lot.weight_mg, lot.traced_mg, lot.unproven_mg, lot.rejected_mg):
            assert format_mass(weight).replace("\u00a0", " ") in text.replace("\u00a0", " ")
    for number in range(1, len(result.gaps) + 1):
        assert f"Gap {number} " in text


def test_the_index_names_pages_that_hold_the_tag(text):
    """The pages that the index gives for a lot hold the lot's number."""
    pages = text.split("\f")
    index = next(page for page in pages if "Index of identifiers" in page and "Where each tag" in page)
    found = re.search(r"INV-7[ .]+(\d+)", index)
    page = int(found[1])

    assert "INV-7" in pages[page - 1]


def test_hostile_text_stays_text(text, pdf):
    """Markup, template and setter code in the records come out as the letters they are."""
    assert "<script>alert(1)</script>" in text
    assert "{{ 7*7 }}" in text
    assert "49" not in text.split("Index of identifiers")[0].split("Registers")[0][:400]
    names = {str(key) for item in pdf.objects if isinstance(item, pikepdf.Dictionary) for key in item}
    assert not {"/JavaScript", "/JS", "/Launch"} & names


def test_the_same_records_give_the_same_bytes(packet, result, pdf_bytes):
    """Twice the same, whether one process sets the pages or two."""
    settings = settings_of(result)
    with Pool(2) as pool:
        assert pdf_bytes == compose(packet, settings, pool=pool)


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_both_papers(result, page):
    """The packet is set on either paper, without registers and for one lot as well."""
    packet = build_packet(result, PacketOptions(page, "none", ("L1",)), attachments=())
    import io

    with pikepdf.open(io.BytesIO(compose(packet, settings_of(result, page)))) as pdf:
        width = float(pdf.pages[0].MediaBox[2])
        leads = [str(link.Dest) for one in pdf.pages for link in one.get("/Annots", ())]

        assert {"A4": 595, "Letter": 612}[page] == int(width)
        assert "bagging/B001" not in leads
        assert 0 == len(pdf.attachments)


def test_an_unknown_paper_is_refused(result):
    """A slip of the pen names the papers there are."""
    with pytest.raises(ValueError, match="A4, Letter"):
        settings_of(result, "A5")


def test_the_day_is_the_only_clock(result):
    """The file's date is noon of the day that was asked for."""
    assert 1795608000 == settings_of(result).epoch


def set_drawn(result, registers, known=None):
    """The registers' finished pages."""
    return list(set_registers(registers, settings_of(result), known=known))


def test_registers_hang_below_one_bookmark(result, monkeypatch):
    """A register that opens a batch is as deep in the bookmarks as those before it."""
    monkeypatch.setattr(module, "BATCH_ROWS", 40)
    batches = set_drawn(result, build_packet(result).registers)
    depths = [mark.depth for batch in batches for mark in batch.headings]

    assert [0] == [depth for depth in depths if depth == 0]
    assert {0, 1} == set(depths)


def test_a_link_without_a_place_is_plain_text(packet, result):
    """A register's link to what the packet does not hold is set as text; what it holds is known before."""
    alone = replace(packet, front=(), back=())
    assert "lots/L1" in known_anchors(packet)
    assert "gap/1" not in known_anchors(alone)
    known = known_anchors(alone)
    places = {anchor for batch in set_drawn(result, alone.registers, known) for anchor in batch.places}
    leads = {
        href
        for one in alone.registers.registers
        for group in one.groups
        for entry in group.entries
        for href in (run.href for run in entry.runs)
        if href in known
    }

    assert leads <= places
