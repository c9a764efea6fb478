"""A PDF as bytes, object by object, for files that are too long to be held as objects in memory.

`read_plain` takes a file as pikepdf saves it without object streams: each object once, in the order of the
table at the end, strings with all brackets escaped. `FileWriter` puts such objects into a new file, small
ones together in compressed object streams (ISO 32000-1, 7.5.7 and 7.5.8).
"""

from __future__ import annotations

import hashlib
import io
import re
import struct
import zlib
from dataclasses import dataclass, field
from itertools import starmap
from typing import TYPE_CHECKING, Final

import pikepdf

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

#: Objects in one object stream: more are packed tighter, but a reader unpacks all of them to see one.
_TOGETHER: Final = 200
#: What stands before a stream's data.
STREAM: Final = b"\nstream\n"
#: An entry of the table of objects: its kind, its place or stream, its number or index there.
_ENTRY: Final = struct.Struct(">BIH")
#: A string, which is left alone, or a reference.
REFERENCE: Final = re.compile(rb"\((?:[^\\()]|\\.)*\)|<[0-9a-fA-F]*>|\b(\d+) 0 R\b", re.DOTALL)


def read_plain(pdf: pikepdf.Pdf) -> tuple[dict[int, bytes], bytes]:
    """The objects of `pdf` that its catalogue reaches, by the numbers that they get here, and the trailer."""
    out = io.BytesIO()
    pdf.save(out, object_stream_mode=pikepdf.ObjectStreamMode.disable, compress_streams=True, static_id=True)
    data = out.getvalue()
    return read_objects(data), data[data.rindex(b"trailer") :]


def read_objects(data: bytes) -> dict[int, bytes]:
    """The objects of a file whose table at the end names each once, in the order in which they stand."""
    table = int(data[data.rindex(b"startxref\n") + 10 :].split(b"\n", 1)[0])
    first_line = data.index(b"\n", data.index(b"\n", table) + 1) + 1
    count = int(data[data.index(b"\n", table) + 1 : first_line].split()[1])
    starts = [int(data[first_line + 20 * at : first_line + 20 * at + 10]) for at in range(1, count)]
    objects = {}
    for number, (start, end) in enumerate(zip(starts, [*starts[1:], table], strict=True), start=1):
        head = b"%d 0 obj\n" % number
        piece = data[start:end].rstrip(b"\n")
        if not piece.startswith(head) or not piece.endswith(b"\nendobj"):
            message = f"object {number} of a part does not stand where the part says"
            raise ValueError(message)
        objects[number] = piece[len(head) : -7]
    return objects


def renumber(body: bytes, numbers: Callable[[int], int]) -> bytes:
    """The object with each reference in it led to `numbers` of what it was."""

    def lead(match: re.Match[bytes]) -> bytes:
        number = match[1]
        return match[0] if number is None else b"%d 0 R" % numbers(int(number))

    head, mark, rest = body.partition(STREAM)
    return REFERENCE.sub(lead, head) + mark + rest


def is_stream(body: bytes) -> bool:
    """Whether the object is a stream, which no object stream can hold."""
    return STREAM in body


@dataclass(frozen=True, slots=True)
class Packed:
    """Objects ready to be written: streams as they are, and the others in object streams.

    `inside` says for each packed object, in order, its number, the number of its object stream and its place
    there.
    """

    streams: tuple[tuple[int, bytes], ...]
    inside: tuple[tuple[int, int, int], ...]


def pack(objects: Mapping[int, bytes], next_number: int) -> Packed:
    """Pack what can be packed; object streams are numbered from `next_number` on."""
    streams = [(number, body) for number, body in objects.items() if is_stream(body)]
    small = [(number, body) for number, body in objects.items() if not is_stream(body)]
    inside = []
    for start in range(0, len(small), _TOGETHER):
        piece = small[start : start + _TOGETHER]
        at, places = 0, []
        for index, (number, body) in enumerate(piece):
            places.append(b"%d %d" % (number, at))
            at += len(body) + 1
            inside.append((number, next_number, index))
        head = b" ".join(places) + b"\n"
        data = zlib.compress(head + b"\n".join(body for _, body in piece), 6)
        about = b"<< /Type /ObjStm /N %d /First %d /Filter /FlateDecode /Length %d >>"
        stream = about % (len(piece), len(head), len(data)) + STREAM + data + b"\nendstream"
        streams.append((next_number, stream))
        next_number += 1
    return Packed(tuple(streams), tuple(inside))


def streams_needed(count: int) -> int:
    """How many object streams hold `count` objects at most."""
    return -(-count // _TOGETHER)


@dataclass(slots=True)
class FileWriter:
    """A file being written from packed objects, whose numbers never meet."""

    _pieces: list[bytes] = field(default_factory=lambda: [b"%PDF-1.7\n%\xbf\xf7\xa2\xfe\n"])
    _at: int = 15
    _entries: dict[int, tuple[int, int, int]] = field(default_factory=dict)

    def add(self, packed: Packed) -> None:
        """Write the objects."""
        for number, body in packed.streams:
            self._entries[number] = (1, self._at, 0)
            self._write(b"%d 0 obj\n%b\nendobj\n" % (number, body))
        for number, stream, index in packed.inside:
            self._entries[number] = (2, stream, index)

    def _write(self, piece: bytes) -> None:
        self._pieces.append(piece)
        self._at += len(piece)

    def finish(self, root: int, info: int) -> bytes:
        """The whole file. Its identifier follows from its content alone."""
        own = max(self._entries) + 1
        self._entries[own] = (1, self._at, 0)
        free = (0, 0, 0)
        entries = (self._entries.get(number, free) for number in range(1, own + 1))
        table = _ENTRY.pack(0, 0, 0xFFFF) + b"".join(starmap(_ENTRY.pack, entries))
        data = zlib.compress(table, 6)
        digest = hashlib.sha256()
        for piece in self._pieces:
            digest.update(piece)
        name = digest.hexdigest()[:32].encode()
        about = (
            b"<< /Type /XRef /Size %d /W [ 1 4 2 ] /Root %d 0 R /Info %d 0 R /ID [ <%b> <%b> ]"
            b" /Filter /FlateDecode /Length %d >>"
        ) % (own + 1, root, info, name, name, len(data))
        start = self._at
        self._write(b"%d 0 obj\n%b%b%b\nendstream\nendobj\n" % (own, about, STREAM, data))
        self._write(b"startxref\n%d\n%%%%EOF\n" % start)
        return b"".join(self._pieces)


def numbers_in(listed: bytes) -> list[int]:
    """The numbers of the objects that an array of references names."""
    return [int(number) for number in re.findall(rb"(\d+) 0 R", listed)]


def find_with(objects: Mapping[int, bytes], key: bytes) -> int:
    """The number of the one object that has `key`."""
    numbers = [number for number, body in objects.items() if body.startswith(b"<<") and key in body]
    if len(numbers) != 1:
        message = f"{len(numbers)} objects have {key.decode()}, and one should"
        raise ValueError(message)
    return numbers[0]


def follow(objects: Iterable[int], start: int, fixed: Mapping[int, int]) -> dict[int, int]:
    """New numbers from `start` on for objects in order; those in `fixed` keep what stands there."""
    numbers = dict(fixed)
    for number in objects:
        if number not in numbers:
            numbers[number] = start
            start += 1
    return numbers


def array_of(body: bytes, key: bytes) -> bytes:
    """What stands in the array under `key` of a dictionary that holds only references there."""
    array = re.search(re.escape(key) + rb" \[([0-9R\s]*)\]", body)
    if array is None:
        message = f"{key.decode()} is no list of references"
        raise ValueError(message)
    return array[1]
