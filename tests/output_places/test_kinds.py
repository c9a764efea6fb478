"""What lies at a place is told by its content; a large PDF's in a process of its own."""

from __future__ import annotations

import io
import random
import subprocess
import sys
from concurrent.futures.process import BrokenProcessPool
from typing import Any

import pikepdf
import pytest
from pikepdf import String

from certgen import process_pool
from certgen.output_places import kinds

COVERS = ("certgen.output_places",)


def write_pdf(seed: int, size: int, producer: str = "certgen 0.1.0") -> bytes:
    """A PDF of at least so many bytes."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.docinfo["/Producer"] = String(producer)
    pdf.Root.Filler = pdf.make_stream(random.Random(seed).randbytes(size))
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


@pytest.mark.parametrize("size", [10, kinds._LARGE])
def test_a_pdf_is_told_by_its_content_whatever_its_size(size: int) -> None:
    """Ours is a packet, another program's is nobody's output; neither is signed."""
    ours, foreign = write_pdf(1, size), write_pdf(2, size, "another program")

    assert [("packet", False), (None, False)] == [
        (kinds.recognise(pdf), kinds.is_signed(pdf)) for pdf in (ours, foreign)
    ]


def test_a_large_one_is_taken_apart_elsewhere_and_once() -> None:
    """It takes thirty times its bytes, so this process doesn't even load what takes it apart."""
    program = """
import sys
from certgen.output_places import kinds
pdf = sys.stdin.buffer.read()
assert kinds.recognise(pdf) == "packet" and not kinds.is_signed(pdf)
print(len(kinds._FOUND), "pikepdf" in sys.modules)
"""
    pdf = write_pdf(3, kinds._LARGE)
    done = subprocess.run([sys.executable, "-c", program], input=pdf, capture_output=True, check=True)

    assert "1 False" == done.stdout.decode().strip()


@pytest.mark.parametrize("fault", [OSError("no more processes"), BrokenProcessPool("ended")])
def test_where_no_process_can_be_had_it_is_taken_apart_here(
    monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    """The system may allow no more; the file is told all the same."""

    def fail(*_: Any) -> None:
        raise fault

    monkeypatch.setattr(process_pool, "work_apart", fail)

    assert "packet" == kinds.recognise(write_pdf(len(str(fault)), kinds._LARGE))


def test_what_was_found_is_kept_of_a_few() -> None:
    """A desk that runs for months doesn't fill up with files that it once looked at."""
    for seed in range(100, 140):
        kinds.recognise(write_pdf(seed, 10))

    assert len(kinds._FOUND) <= 16
