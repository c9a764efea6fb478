"""The writing of a PDF out of packed objects, with a compressed table of them (ISO 32000-1, 7.5.8)."""

from __future__ import annotations

import hashlib
import zlib
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.typeset.objects import STREAM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from certgen.typeset.objects import Packed

#: An entry of the table of objects: its kind, its place or stream, its number or index there.
_ENTRY: Final = np.dtype([("kind", "u1"), ("place", ">u4"), ("index", ">u2")])
#: What `Packed.inside` holds of an object.
_INSIDE: Final = np.dtype([("number", ">u4"), ("stream", ">u4"), ("index", ">u2")])


class FileWriter:
    """A file being written from packed objects, whose numbers lie below `count` and never meet."""

    def __init__(self, count: int) -> None:
        self._pieces: list[bytes] = [b"%PDF-1.7\n%\xbf\xf7\xa2\xfe\n"]
        self._at = 15
        self._table = np.zeros(count + 1, _ENTRY)
        self._table[0] = (0, 0, 0xFFFF)

    def add(self, packed: Packed) -> None:
        """Write the objects."""
        for number, body in packed.streams:
            self._table[number] = (1, self._at, 0)
            self._write(b"%d 0 obj\n" % number, body, b"\nendobj\n")
        inside = np.frombuffer(packed.inside, _INSIDE)
        entries = np.full(len(inside), 2, _ENTRY)
        entries["place"], entries["index"] = inside["stream"], inside["index"]
        self._table[inside["number"]] = entries

    def _write(self, *pieces: bytes) -> None:
        self._pieces += pieces
        self._at += sum(map(len, pieces))

    def finish(self, root: int, info: int) -> bytes:
        """The whole file. Its identifier follows from its content alone."""
        own = len(self._table) - 1
        self._table[own] = (1, self._at, 0)
        data = zlib.compress(_tell_differences(self._table), 6)
        digest = hashlib.sha256()
        for piece in self._pieces:
            digest.update(piece)
        name = digest.hexdigest()[:32].encode()
        about = (
            b"<< /Type /XRef /Size %d /W [ 1 4 2 ] /Root %d 0 R /Info %d 0 R /ID [ <%b> <%b> ]"
            b" /Filter /FlateDecode /DecodeParms << /Columns 7 /Predictor 12 >> /Length %d >>"
        ) % (own + 1, root, info, name, name, len(data))
        start = self._at
        self._write(b"%d 0 obj\n%b%b%b\nendstream\nendobj\n" % (own, about, STREAM, data))
        self._write(b"startxref\n%d\n%%%%EOF\n" % start)
        return b"".join(self._pieces)


def _tell_differences(table: NDArray[np.void]) -> bytes:
    """A table row by row as bytes, each less the one above it (ISO 32000-1, 7.4.4.4).

    Objects follow one another, so that rows are nearly alike and take a thirtieth of the room.
    """
    rows = table.view(np.uint8).reshape(len(table), -1)
    told = np.full((len(table), rows.shape[1] + 1), 2, np.uint8)
    told[0, 1:] = rows[0]
    np.subtract(rows[1:], rows[:-1], out=told[1:, 1:])
    return told.tobytes()
