"""What a paper shows: bounded, whatever lies in the folder, and the same each time."""

from __future__ import annotations

import base64
import io
import struct
import zlib

import pypdfium2
import pytest
from PIL import Image

from certgen.report import exhibits as module
from certgen.report.exhibits import show_paper
from certgen.typeset.addresses import PICTURE_ADDRESSES
from certgen.typeset.typst_pages import UNDATED

COVERS = ("certgen.report.chapters.papers_beside",)


def write(folder, name: str, data: bytes | str):
    """A file of the folder."""
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def picture_of(kind: str, size: tuple[int, int], mode: str = "RGB", **more) -> bytes:
    """A picture as a file."""
    out = io.BytesIO()
    Image.new(mode, size, **more).save(out, kind)
    return out.getvalue()


def unpack(shown) -> Image.Image:
    """The picture that is shown."""
    assert shown.picture.startswith(PICTURE_ADDRESSES)
    return Image.open(io.BytesIO(base64.b64decode(shown.picture.partition(",")[2])))


def test_a_short_letter_is_shown_whole(tmp_path):
    """All its lines, without empty ones and with single blanks."""
    file = write(tmp_path, "a.txt", "\ufeffTo  whom\n\n it\tconcerns\r\nS26-001: negative\n")

    assert ("To whom", "it concerns", "S26-001: negative") == show_paper(file, ()).lines
    assert "" == show_paper(file, ()).note


def test_of_a_long_letter_the_lines_that_matter(tmp_path):
    """Its head, and the lines that hold the word by itself; the others are counted."""
    lines = ["Blue Fen Laboratory", "Report BF-1", *(f"S26-{number:03}: negative" for number in range(400))]
    shown = show_paper(write(tmp_path, "a.txt", "\n".join(lines)), {"S26-044", "s26-1"})

    assert ("Blue Fen Laboratory", "Report BF-1", "S26-044: negative") == shown.lines
    assert "399 other lines in the file" == shown.note


@pytest.mark.parametrize(
    "data",
    [
        b"x" * 3_000_000,
        b"line\n" * 1_000_000,
        ("\u202etxt.exe \u200b\u2066 \x1b[31m" * 50_000).encode(),
        "بذور البابايا 26\n".encode() * 40_000,
        "é".encode() * 200_000,
        b"\n" * 1_000_000,
    ],
    ids=["one line", "many lines", "obeying", "right to left", "cut letter", "empty lines"],
)
def test_no_text_is_too_much(tmp_path, data):
    """A few short lines at most, and nothing among them that obeys."""
    shown = show_paper(write(tmp_path, "a.txt", data), {"26"})

    assert len(shown.lines) <= module._SHORT
    assert all(len(line) <= module._LETTERS for line in shown.lines)
    assert all(line.isprintable() for line in shown.lines)
    assert len(shown.lines) < module._MOST_LINES or shown.note


@pytest.mark.parametrize("name", ["a.txt", "a.png", "a.jpg", "a.webp", "a.pdf", "a.bin", "a", "a.txt.exe"])
@pytest.mark.parametrize(
    "data", [b"", b"\0\1\2\xff" * 500, b"%PDF-1.7\n%%EOF", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"]
)
def test_what_is_nothing_is_named_with_the_reason(tmp_path, name, data):
    """A file that is not what its name says shows nothing."""
    shown = show_paper(write(tmp_path, name, data), ())

    assert "" == shown.picture
    assert shown.note or shown.lines


def test_a_file_that_is_not_there_says_so(tmp_path):
    """Nor does a folder in its place stop anything."""
    (tmp_path / "b.png").mkdir()

    assert "could not be read" == show_paper(tmp_path / "a.txt", ()).note
    assert "could not be read" == show_paper(tmp_path / "b.png", ()).note


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_photo_is_brought_down_to_its_place(tmp_path, kind):
    """Large ones are small, and all are opaque and in the colours of a screen."""
    file = write(tmp_path, f"a.{kind.lower()}", picture_of(kind, (3000, 1500)))
    seen = unpack(show_paper(file, ()))

    assert (520, 260) == seen.size
    assert "RGB" == seen.mode
    assert show_paper(file, ()) == show_paper(file, ())


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "1", "L", "I;16"])
def test_no_picture_stays_see_through(tmp_path, mode):
    """What shows through is white paper."""
    file = write(tmp_path, "a.png", picture_of("PNG", (8, 8), mode))
    seen = unpack(show_paper(file, ()))

    assert "RGB" == seen.mode
    if mode in {"RGBA", "LA"}:
        assert (255, 255, 255) == seen.getpixel((4, 4))


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is very large."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 10_000_000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(50_000, 50_000), (9_000, 9_000), (2**31 - 1, 1), (0, 0)])
def test_a_picture_that_would_fill_memory_is_not_unpacked(tmp_path, size):
    """It says so in place of the picture."""
    shown = show_paper(write(tmp_path, "a.png", bomb(*size)), ())

    assert "" == shown.picture
    assert "picture" in shown.note


def pdf_of(text: str) -> bytes:
    """A PDF of one page."""
    import typst

    return typst.compile(text.encode(), format="pdf", timestamp=UNDATED)


def test_a_pdf_shows_the_words_of_its_first_page(tmp_path):
    """As a text does."""
    file = write(
        tmp_path, "a.pdf", pdf_of("Blue Fen Laboratory \\ Sample S26-044 was negative for all events")
    )

    assert ("Blue Fen Laboratory", "Sample S26-044 was negative for all events") == show_paper(file, ()).lines


def test_a_scanned_pdf_shows_its_first_page(tmp_path):
    """A page without words is drawn."""
    shown = show_paper(write(tmp_path, "a.pdf", pdf_of("#circle(fill: red)")), ())

    assert "its first page" == shown.note
    assert max(unpack(shown).size) <= 640


def test_a_pdf_may_be_nobodys_business(tmp_path, monkeypatch):
    """One that is locked, or takes too long, is named with the reason."""
    file = write(tmp_path, "a.pdf", pdf_of("words and words and words and words and words"))
    monkeypatch.setattr(module, "_PDF_SECONDS", 0.0001)

    assert "not shown here" in show_paper(file, ()).note
    with pypdfium2.PdfDocument(file.read_bytes()) as document:
        assert 1 == len(document)
