"""The file that is written of packed objects: a reader finds each where the table says."""

from __future__ import annotations

import io

import pikepdf
from hypothesis import given
from hypothesis import strategies as st

from certgen.typeset.file_writer import FileWriter
from certgen.typeset.objects import pack


def write(texts: list[str]) -> bytes:
    """A file whose catalogue names an object for each text; every fiftieth is a stream."""
    objects = {
        1: b"<< /Type /Catalog /Pages 2 0 R /Told [ %b ] >>",
        2: b"<< /Type /Pages /Count 0 /Kids [] >>",
    }
    numbers = range(4, 4 + len(texts))
    objects[1] %= b" ".join(b"%d 0 R" % number for number in numbers)
    objects[3] = b"<< /Title (t) >>"
    for number, text in zip(numbers, texts, strict=True):
        data = text.encode()
        about = b"<< /Length %d >>\nstream\n%b\nendstream" % (len(data), data)
        objects[number] = b"<< /Said <%b> >>" % data.hex().encode() if number % 50 else about
    packed = pack(objects, 4 + len(texts))
    writer = FileWriter(packed.streams[-1][0] + 1)
    writer.add(packed)
    return writer.finish(1, 3)


@given(st.lists(st.text(max_size=5), max_size=9).map(lambda texts: texts * 50))
def test_each_object_is_found_where_the_table_says(texts):
    """Streams and what is packed, through several object streams."""
    with pikepdf.open(io.BytesIO(write(texts))) as pdf:
        told = [
            one.read_bytes() if isinstance(one, pikepdf.Stream) else bytes(one.Said) for one in pdf.Root.Told
        ]

        assert [text.encode() for text in texts] == told
        assert ["ERROR: file does not contain any pages"] == pdf.check_pdf_syntax()


def test_a_long_table_takes_little_room():
    """X."""
    many = write(["x"] * 20_000)

    assert len(many) - many.rindex(b"/Type /XRef") < 20_000
    assert many == write(["x"] * 20_000)
