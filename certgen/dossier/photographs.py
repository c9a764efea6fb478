"""Photographs among the papers: which of them a report or a browser can show, and what to do about others.

A picture is measured by its head alone and never unpacked here.
"""

from __future__ import annotations

import io
import warnings
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

#: A file of more bytes, or a picture of more points, is not unpacked to be shown.
SHOWN_BYTES: Final = 32 * 1024 * 1024
SHOWN_POINTS: Final = 40_000_000
#: The endings of pictures that are shown.
PICTURES: Final = frozenset({".jpeg", ".jpg", ".png", ".webp"})

#: How phones mark what they store: a box of the file's type with one of these brands (ISO/IEC 23008-12).
_HEIF_BRANDS: Final = frozenset(
    {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis"}
)
_OTHER_PICTURES: Final = frozenset(
    {".heic", ".heif", ".avif", ".tif", ".tiff", ".bmp", ".dng", ".gif", ".jxl"}
)
#: The field of a camera's notes (Exif) that says how the picture is to be turned, and its upright value.
_ORIENTATION: Final = 0x0112
_AS_TAKEN: Final = 1


def describe_photograph(name: str, data: bytes) -> Iterator[str]:
    """What there is to say of a file that is a photograph, as ends of a sentence that begins with its name.

    Nothing for a photograph that is shown as it is, and for what is none.
    """
    ending = PurePosixPath(name).suffix.lower()
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        called = f" under the name of a {ending[1:].upper()}" if ending in PICTURES else ""
        yield (
            f"is a HEIC photo{called}, which neither report nor browser can show; it is kept and attached as "
            "it is. Save it as JPEG and add that too, or let the camera take JPEG"
        )
    elif ending in _OTHER_PICTURES:
        yield (
            f"is a picture of a kind ({ending[1:].upper()}) that the report names and attaches, and doesn't "
            "show; saved as JPEG or PNG it is shown"
        )
    elif ending in PICTURES:
        yield from _measure(data)


def _measure(data: bytes) -> Iterator[str]:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
                points = opened.width * opened.height
                turned = opened.getexif().get(_ORIENTATION, _AS_TAKEN) != _AS_TAKEN
    except Image.DecompressionBombError:
        points, turned = SHOWN_POINTS + 1, False
    except Exception:  # noqa: BLE001 (whatever a broken or hostile picture makes its reader raise)
        yield "is called a picture, and none can be read in it; open it, and save or scan it again"
        return
    if points > SHOWN_POINTS or len(data) > SHOWN_BYTES:
        yield (
            f"is too large to be shown in the report (more than {SHOWN_POINTS // 1_000_000} million points "
            f"or {SHOWN_BYTES // 2**20} MB); it is kept and attached, and a smaller copy would be shown"
        )
    if turned:
        yield (
            "was taken with the camera turned; report and browser show it upright, the file stays as it is"
        )
