"""Codes as a label printer prints them, 203 dots to the inch, read by two readers that nobody here wrote."""

from __future__ import annotations

import io
import subprocess
from typing import TYPE_CHECKING

import pikepdf
import pytest
from pages import DOTS_A_MM, label_images
from validators import need_program

from certgen.exchange.field_paper.label_sheets import LEAST_CODE_MM, build_sheet, set_labels
from certgen.exchange.field_paper.labels import Label, bag_tags, lot_labels, sample_labels
from certgen.exchange.field_paper.paper_kinds import KINDS

if TYPE_CHECKING:
    from pathlib import Path

    from PIL.Image import Image

    from certgen.examination import Result

COVERS = ("templates/labels.typ",)
#: What a grower's own address and a certificate's number may make of a name.
LONG = "https://seed.lantern-gully.example/id/QR-2018-0147/2026/lots/AK-26-1"


def read_by_zbar(images: list[Image], folder: Path) -> list[str]:
    """What zbar reads off each image, empty where it reads nothing."""
    program, read = need_program("zbarimg"), []
    for number, image in enumerate(images):
        path = folder / f"{number}.png"
        image.save(path)
        ran = subprocess.run(
            [program, "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", str(path)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        read.append(ran.stdout.strip())
    return read


def read_by_zxing(images: list[Image]) -> list[str]:
    """What zxing reads off each image, empty where it reads nothing."""
    zxingcpp = pytest.importorskip("zxingcpp")
    return [" ".join(one.text for one in zxingcpp.read_barcodes(image)) for image in images]


@pytest.mark.parametrize("kind", ["tags", "samples", "lots"])
def test_two_readers_read_every_code(kind: str, result: Result, tmp_path: Path) -> None:
    """Each label of each kind on the size it has unless told otherwise."""
    made = {"tags": bag_tags, "samples": sample_labels, "lots": lot_labels}[kind](result)
    labels = list({label.code: label for label in made}.values())[:40]
    sheet = build_sheet("A4", KINDS[kind])
    images = label_images(set_labels(labels, sheet), sheet, len(labels))

    codes = [label.code for label in labels]
    assert codes == read_by_zxing(images)
    assert codes == read_by_zbar(images, tmp_path)


@pytest.mark.parametrize("size", ["70x37", "63.5x38.1"])
def test_a_full_label_bears_a_code_that_is_read(size: str, result: Result, tmp_path: Path) -> None:
    """Where the words of a lot need the room, its code has smaller squares and is read all the same."""
    labels = list({label.code: label for label in lot_labels(result)}.values())
    sheet = build_sheet("A4", size)
    images = label_images(set_labels(labels, sheet), sheet, len(labels))

    codes = [label.code for label in labels]
    assert codes == read_by_zxing(images)
    assert codes == read_by_zbar(images, tmp_path)


@pytest.mark.parametrize("size", ["66x35", "70x37", "99.1x67.7", "63.5x38.1"])
def test_an_address_is_read_too(size: str, tmp_path: Path) -> None:
    """A name below an address has more squares; a label for seed has room for them."""
    sheet = build_sheet("A4", size)
    label = Label("Lot AK-26-1", (("Variety", "Amber Kestrel"), ("Net weight", "")), code=LONG)
    images = label_images(set_labels([label], sheet), sheet, 1)

    assert [LONG] == read_by_zxing(images)
    assert [LONG] == read_by_zbar(images, tmp_path)


@pytest.mark.parametrize("kind", ["tags", "samples", "lots"])
def test_no_code_is_below_twelve_millimetres(kind: str, result: Result) -> None:
    """Each is drawn that large at least, without its white, as the reader that found it says."""
    zxingcpp = pytest.importorskip("zxingcpp")
    labels = {"tags": bag_tags, "samples": sample_labels, "lots": lot_labels}[kind](result)[:3]
    sheet = build_sheet("A4", KINDS[kind])

    for image in label_images(set_labels(labels, sheet), sheet, len(labels)):
        (code,) = zxingcpp.read_barcodes(image)
        side = (code.position.top_right.x - code.position.top_left.x + 1) / DOTS_A_MM
        assert side >= LEAST_CODE_MM - 2 / DOTS_A_MM


def test_labels_say_that_they_keep_to_pdf_ua(result: Result) -> None:
    """The file's metadata name PDF/UA-1, its pages are tagged, and each code has words in its place."""
    sheet = build_sheet("A4", KINDS["samples"])
    with pikepdf.open(io.BytesIO(set_labels(sample_labels(result)[:2], sheet))) as document:
        told = document.Root.Metadata.read_bytes().decode()
        assert "<pdfuaid:part>1</pdfuaid:part>" in told
        assert bool(document.Root.MarkInfo.Marked)
        assert str(document.Root.Lang) == "en"
