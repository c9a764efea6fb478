"""What key pages say, word by word: a change of wording or order is seen before an inspector sees it.

`pytest --bless tests/report/test_pages.py` accepts what is printed now.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pikepdf
import pypdfium2
import pytest

from certgen import __version__
from certgen.examination import examine
from certgen.manifest import PacketOptions
from certgen.report.packet import build_packet, settings_of
from certgen.typeset.compose import compose
from certgen.typeset.design import SHEETS

COVERS = (
    "certgen.report.chapters.cover",
    "certgen.report.chapters.figures.contributions",
    "certgen.report.chapters.figures.odds",
    "certgen.report.chapters.figures.seed_tests",
    "certgen.report.chapters.figures.chapter",
    "certgen.report.chapters.gaps",
    "certgen.report.chapters.glossary",
    "certgen.report.chapters.land",
    "certgen.report.chapters.lot.dossiers",
    "certgen.report.chapters.lot.head",
    "certgen.report.chapters.lot.line",
    "certgen.report.chapters.lot.matrix",
    "certgen.report.chapters.lot.parents",
    "certgen.report.chapters.lot.scope",
    "certgen.report.chapters.lot.seed",
    "certgen.report.chapters.lot.twin",
    "certgen.report.chapters.orchard",
    "certgen.report.chapters.season",
    "certgen.report.chapters.stock",
    "certgen.report.chapters.verdict",
    "certgen.report.context",
)
GOLDEN = Path(__file__).parent / "golden"
PDFTOTEXT = shutil.which("pdftotext")
LOT, NEXT_LOT = "RC-26-2", "AK-26-4"
#: Chapters that are set by themselves, so that the page before them is the end of another.
SET_APART = {
    "Land and follow-up",
    "Appendix",
    "Index of identifiers",
    "Manifest",
}


@pytest.fixture(scope="module")
def packet(example_season, tmp_path_factory):
    """The example's packet, without registers and with two dossiers."""
    file = tmp_path_factory.mktemp("pages") / "packet.pdf"
    result = examine(example_season, date(2026, 11, 25))
    options = PacketOptions(registers="none", lots=(LOT, NEXT_LOT))
    file.write_bytes(compose(build_packet(result, options), settings_of(result)))
    return file


@pytest.fixture(scope="module")
def pages(packet):
    """The words of each page of the packet."""
    if PDFTOTEXT is None:
        pytest.skip("pdftotext is not installed")
    ran = subprocess.run(
        [PDFTOTEXT, "-layout", str(packet), "-"],
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
    )
    return [tidy(page) for page in ran.stdout.split("\f")]


def fill(page: pypdfium2.PdfPage) -> float:
    """The part of the height between the margins down to the lowest line of text."""
    sheet, text = SHEETS["A4"], page.get_textpage()
    feet = [text.get_rect(number)[1] for number in range(text.count_rects())]
    lowest = min((foot for foot in feet if foot > sheet.bottom), default=sheet.height - sheet.top)
    return (sheet.height - sheet.top - lowest) / sheet.depth


def tidy(page: str) -> str:
    """The words of a page, without what depends on the version, the records' hashes or a reader's spacing."""
    text = page.replace(f"certgen {__version__}", "certgen VERSION")
    text = re.sub(r"\b[0-9a-f]{4}( [0-9a-f]{4}){4}\b", "FINGERPRINT", text)
    lines = (re.sub(r"[ \u2007\u202f\u00a0]+", " ", line).strip() for line in text.splitlines())
    return "".join(f"{line}\n" for line in lines if line)


def between(pages: list[str], first: str, after: str) -> str:
    """The pages from the one with a line `first` to the one before a line `after`."""
    at = next(number for number, page in enumerate(pages[2:], start=2) if f"\n{first}\n" in page)
    end = next(
        (number for number, page in enumerate(pages[at:], start=at) if f"\n{after}\n" in page), len(pages)
    )
    return "".join(f"{page}--\n" for page in pages[at : max(end, at + 1)])


def cut_out(pages: list[str], first: str, after: str) -> str:
    """The lines from one `first` to the one before `after`, on whatever pages they stand."""
    text = "".join(f"{page}--\n" for page in pages)
    at = text.index(f"\n{first}\n") + 1
    return text[at : text.index(f"\n{after}\n", at) + 1]


PAGES = {
    "cover": lambda pages: pages[0],
    "balance": lambda pages: pages[1],
    "orchard": lambda pages: pages[2],
    "contents": lambda pages: pages[3],
    "gaps": lambda pages: cut_out(pages[3:], "The gaps", "The lots"),
    "lots": lambda pages: cut_out(pages[4:], "The lots", f"Lot {LOT} rejected"),
    "dossier": lambda pages: cut_out(pages[4:], f"Lot {LOT} rejected", f"Lot {NEXT_LOT} unproven"),
}


@pytest.mark.parametrize("name", PAGES)
def test_pages_say_what_they_said(name, pages, golden):
    """The words of the page are those that were accepted."""
    golden(GOLDEN / f"{name}.txt", PAGES[name](pages))


def test_verdict_balance_and_orchard_have_a_page_each(pages):
    """The first three pages, in this order, and the contents with the glossary on the fourth."""
    assert "\nFINDINGS\n" in pages[0]
    assert "\nMass balance\n" in pages[1]
    assert "\nThe orchard\n" in pages[2]
    assert "\nContents\n" in pages[3]
    assert "\nWords used here\n" in pages[3]
    assert "\nWhat to do first\n" in pages[4]


def test_no_page_ends_a_chapter_nearly_empty(pages):
    """A page with a few lines alone costs an inspector a turn of the hand."""
    sparse = [number for number, page in enumerate(pages, start=1) if 0 < page.count("\n") < 12]

    assert [] == sparse


#: Below so much of its height a page costs an inspector a turn of the hand for little.
LEAST = 0.6


def test_no_page_is_less_than_three_fifths_full(packet):
    """But the last of a stretch that is set apart from what follows: their ends fall where they fall."""
    pdf = pypdfium2.PdfDocument(packet)
    ends = {len(pdf)}  # the manifest is the last page
    with pikepdf.open(packet) as document, document.open_outline() as outline:
        starts = {page.obj.objgen: number for number, page in enumerate(document.pages, start=1)}
        for item in outline.root:
            # Land, the appendix, index and manifest begin pages of their own, set by themselves.
            if item.title in SET_APART:
                ends.add(starts[item.destination[0].objgen] - 1)
    sparse = [number for number, page in enumerate(pdf, start=1) if fill(page) < LEAST]

    assert [] == [number for number in sparse if number not in ends]
