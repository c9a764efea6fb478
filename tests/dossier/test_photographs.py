"""Photographs: which of them nobody can show as they are, told from their first bytes and their heads."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from certgen.dossier.photographs import describe_photograph


def picture(form: str = "JPEG", size: tuple[int, int] = (8, 4), *, orientation: int = 1) -> bytes:
    """A small picture, turned as a camera would note it."""
    out, exif = io.BytesIO(), Image.Exif()
    exif[0x0112] = orientation
    Image.new("RGB", size).save(out, form, exif=exif)
    return out.getvalue()


HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(40)


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("leaf.jpg", picture(), []),
        ("plate.PNG", picture("PNG"), []),
        ("letter.txt", b"negative", []),
        ("letter.pdf", b"%PDF-1.7", []),
        ("leaf.jpg", picture(orientation=6), ["with the camera turned; report and browser show it upright"]),
        ("leaf.heic", HEIC, ["is a HEIC photo, which neither"]),
        ("leaf.jpg", HEIC, ["is a HEIC photo under the name of a JPG"]),
        ("scan.tiff", b"II*\0", ["of a kind (TIFF) that the report names"]),
        ("leaf.jpg", b"negative", ["none can be read in it"]),
        ("leaf.jpg", picture()[:30], ["none can be read in it"]),
        ("wide.png", picture("PNG", (9000, 5000)), ["too large to be shown in the report"]),
    ],
)  # fmt: skip
def test_what_is_said_of_a_photograph(name: str, data: bytes, says: list[str]) -> None:
    """Nothing of one that is shown as it is, and of no other paper."""
    told = list(describe_photograph(name, data))
    assert [True] * len(says) == [part in text for part, text in zip(says, told, strict=True)]


def test_a_picture_that_would_burst_is_measured_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """A head that promises more than memory holds is believed and not unpacked."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 4)
    assert ["is too large"] == [text[:12] for text in describe_photograph("leaf.png", picture("PNG"))]
