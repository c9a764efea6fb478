"""What a paper shows, beside the finding that it belongs to: the lines that matter, a picture, a first page.

Evidence is whatever somebody put into a folder. So nothing here takes more than a bounded part of a file, a
picture is measured before it is unpacked, a PDF is read in a process of its own under limits, and what can't
be shown is named with the reason. The same file gives the same lines and the same picture.
"""

from __future__ import annotations

import base64
import io
import re
import unicodedata
import warnings
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

from certgen.dossier.photographs import PICTURES, SHOWN_BYTES, SHOWN_POINTS
from certgen.limits import run_limited

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from PIL import Image

_TEXTS: Final = frozenset({".csv", ".md", ".txt"})
#: Of a text so many bytes are read, and so many letters of a line, lines of a short text and lines in all
#: are shown.
_TEXT_BYTES: Final = 256 * 1024
_LETTERS: Final = 96
_SHORT: Final = 9
_MOST_LINES: Final = 8
#: The first lines of a longer text, which say whose letter it is.
_OPENING: Final = 2
#: What is said of a text that was read to its end, and of one that wasn't.
_GOES_ON: Final = {True: "", False: "the file goes on"}
_MORE: Final = {True: "", False: "more than "}
#: A picture is at most so wide and high, in points of its own.
_BOX: Final = (520, 400)
_PNG_BYTES: Final = 60_000
_PAGE_LETTERS: Final = 20_000
_PDF_SECONDS: Final = 60.0
_PDF_MEGABYTES: Final = 600


@dataclass(frozen=True, slots=True)
class Shown:
    """What of a paper is shown: lines, or a picture as a data address; `note` says what isn't, and why."""

    lines: tuple[str, ...] = ()
    picture: str = ""
    note: str = ""


def show_paper(path: Path, words: Collection[str]) -> Shown:
    """What a file shows; of a long text the lines that hold one of the `words`."""
    kind = PurePosixPath(path.name).suffix.lower()
    try:
        if kind in _TEXTS:
            with path.open("rb") as stream:
                return _show_text(stream.read(_TEXT_BYTES + 1), words)
        if kind not in PICTURES and kind != ".pdf":
            return Shown(note="a file of a kind that is not shown here")
        if path.stat().st_size > SHOWN_BYTES:
            return Shown(note="too large to be shown here")
        data = path.read_bytes()
    except OSError:
        return Shown(note="could not be read")
    return _show_pdf(data, words) if kind == ".pdf" else _show_picture(data)


def _show_text(data: bytes, words: Collection[str]) -> Shown:
    whole = len(data) <= _TEXT_BYTES
    try:
        text = data[:_TEXT_BYTES].decode("utf-8-sig", errors="strict" if whole else "ignore")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        return Shown(note="called a text, and holds none that can be read")
    return _choose_lines(text, words, whole=whole)


def _choose_lines(text: str, words: Collection[str], *, whole: bool) -> Shown:
    lines = [line for line in (_tidy(line) for line in text.splitlines()) if line]
    if not lines:
        return Shown(note="holds no words")
    if len(lines) <= _SHORT:
        return Shown(tuple(lines), note=_GOES_ON[whole])
    speaks = _speaking_of(words)
    telling = [number for number, line in enumerate(lines) if number >= _OPENING and speaks(line)]
    if not telling:
        telling = list(range(_OPENING, _MOST_LINES))
    chosen = [*range(_OPENING), *telling][:_MOST_LINES]
    left = len(lines) - len(chosen)
    note = f"{_MORE[whole]}{left:,} other lines in the file"
    return Shown(tuple(lines[number] for number in chosen), note=note)


def _tidy(line: str) -> str:
    """A line without what obeys or hides, its blanks single, cut where it is long."""
    shown = (" " if unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Co"} else sign for sign in line[:2_000])
    words = " ".join("".join(shown).split())
    return words if len(words) <= _LETTERS else f"{words[: _LETTERS - 1].rstrip()}…"


def _speaking_of(words: Collection[str]) -> Callable[[str], bool]:
    """Whether a line holds one of the words by itself."""
    listed = "|".join(re.escape(word) for word in words if word)
    found = re.compile(rf"(?<![\w-])(?:{listed})(?![\w-])", re.IGNORECASE)
    return lambda line: bool(listed) and found.search(line) is not None


def _show_picture(data: bytes) -> Shown:
    from PIL import Image as Pictures
    from PIL import ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Pictures.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
                if opened.width * opened.height > SHOWN_POINTS:
                    return Shown(note="a picture too large to be shown here")
                is_drawn = opened.format == "PNG"
                opened.draft("RGB", _BOX)
                turned = ImageOps.exif_transpose(opened)
                return Shown(picture=_write_picture(turned, is_drawn=is_drawn))
    except Exception:  # noqa: BLE001 (whatever a broken or hostile picture makes its reader raise)
        return Shown(note="called a picture, and can't be unpacked")


def _write_picture(picture: Image.Image, *, is_drawn: bool) -> str:
    """A picture as a data address: opaque, in the colours of a screen, no larger than its place."""
    from PIL import Image as Pictures

    picture.thumbnail(_BOX, Pictures.Resampling.LANCZOS)
    if picture.has_transparency_data:
        seen = picture.convert("RGBA")
        paper = Pictures.new("RGBA", seen.size, "white")
        paper.alpha_composite(seen)
        picture = paper
    plain = picture.convert("RGB")
    out = io.BytesIO()
    if is_drawn:
        plain.save(out, "PNG")
        if out.tell() <= _PNG_BYTES:
            return _address("png", out.getvalue())
        out = io.BytesIO()
    plain.save(out, "JPEG", quality=72)
    return _address("jpeg", out.getvalue())


def _address(kind: str, data: bytes) -> str:
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"


def _show_pdf(data: bytes, words: Collection[str]) -> Shown:
    try:
        outcome = run_limited(_read_first_page, data, seconds=_PDF_SECONDS, megabytes=_PDF_MEGABYTES)
    except Exception:  # noqa: BLE001 (whatever a broken or hostile file makes its reader raise)
        return Shown(note="called a PDF, and can't be opened")
    if outcome.passed:
        return Shown(note=f"not shown here: it {outcome.reason}")
    text, picture = outcome.value
    return (
        Shown(picture=picture, note="its first page") if picture else _choose_lines(text, words, whole=True)
    )


def _read_first_page(data: bytes) -> tuple[str, str]:
    """The words of a PDF's first page, or the page as a picture where it has none."""
    import pypdfium2

    with pypdfium2.PdfDocument(data) as document:
        page = document[0]
        letters = page.get_textpage()
        count = min(letters.count_chars(), _PAGE_LETTERS)
        text = letters.get_text_range(0, count) if count else ""
        if len(text.split()) >= _MOST_LINES:
            return text, ""
        width, height = page.get_size()
        scale = min(_BOX[0] / max(width, 1.0), 1.6 * _BOX[1] / max(height, 1.0), 4.0)
        # Drawn without anti-aliasing by the machine's own settings: the same points everywhere.
        return "", _write_picture(page.render(scale=scale).to_pil(), is_drawn=True)
