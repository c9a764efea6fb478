"""A PDF as bytes, object by object, for files that are too long to be held as objects in memory.

`read_plain` takes a file as pikepdf saves it without object streams: each object once, in the order of the
table at the end, strings with all brackets escaped. `pack` puts small ones together in compressed object
streams (ISO 32000-1, 7.5.7), ready for `file_writer`.
"""

from __future__ import annotations

import io
import re
import struct
import zlib
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Final

import pikepdf

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

#: Objects in one object stream: more are packed tighter, but a reader unpacks all of them to see one.
_TOGETHER: Final = 200
#: What stands before a stream's data.
STREAM: Final = b"\nstream\n"
#: An object in an object stream: its number, that of the stream, and its place there.
_INSIDE: Final = struct.Struct(">IIH")
#: A string, which is left alone, or a reference.
_REFERENCE: Final = re.compile(rb"\((?:[^\\()]|\\.)*\)|<[0-9a-fA-F]*>|\b(\d+) 0 R\b", re.DOTALL)
#: How a reference ends, and a string that speaks of what looks like one.
_ENDING: Final = b" 0 R"
_SPEAKS: Final = re.compile(rb"\((?:[^\\()]|\\.)*?\d 0 R", re.DOTALL)
_DIGITS: Final = b"0123456789"


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
        last = data.rfind(b"\nendobj", start, end)
        if last < 0 or not data.startswith(head, start) or data[last + 7 : end].strip(b"\n"):
            message = f"object {number} of a part does not stand where the part says"
            raise ValueError(message)
        objects[number] = data[start + len(head) : last]
    return objects


def lead_references(body: bytes, led: Mapping[bytes, bytes]) -> bytes:
    """An object with each reference in it led on, by what `led` holds under its digits; its stream stays.

    Between references there is nothing to look at: to cut the text at their ends takes a quarter of the time
    of finding each. Raises KeyError for one that `led` doesn't hold.
    """
    text, mark, data = body.partition(STREAM)
    if _SPEAKS.search(text):
        text = _REFERENCE.sub(lambda match: led[match[1]] + _ENDING if match[1] else match[0], text)
    else:
        *pieces, rest = text.split(_ENDING)
        heads = [piece.rstrip(_DIGITS) for piece in pieces]
        pieces = [head + led[piece[len(head) :]] for head, piece in zip(heads, pieces, strict=True)]
        text = _ENDING.join([*pieces, rest])
    return text + mark + data


@dataclass(frozen=True, slots=True)
class Packed:
    """Objects ready to be written: streams as they are, and the others in object streams.

    `inside` says for each packed object, in order, its number, the number of its object stream and its place
    there; as bytes, for there are half a million of them in a long document.
    """

    streams: tuple[tuple[int, bytes], ...]
    inside: bytes

    def places(self) -> Iterator[tuple[int, int, int]]:
        """What `inside` says, object by object."""
        return _INSIDE.iter_unpack(self.inside)


def pack(objects: Mapping[int, bytes], next_number: int) -> Packed:
    """Pack what can be packed; object streams are numbered from `next_number` on."""
    # No object stream can hold a stream.
    streams = [(number, body) for number, body in objects.items() if STREAM in body]
    apart = {number for number, _ in streams}
    small = [number for number in objects if number not in apart]
    inside = []
    for start in range(0, len(small), _TOGETHER):
        piece = small[start : start + _TOGETHER]
        bodies = [objects[number] for number in piece]
        starts = accumulate((len(body) + 1 for body in bodies), initial=0)
        head = b" ".join([b"%d %d" % place for place in zip(piece, starts, strict=False)]) + b"\n"
        inside += [_INSIDE.pack(number, next_number, index) for index, number in enumerate(piece)]
        data = zlib.compress(head + b"\n".join(bodies), 6)
        about = b"<< /Type /ObjStm /N %d /First %d /Filter /FlateDecode /Length %d >>"
        stream = about % (len(piece), len(head), len(data)) + STREAM + data + b"\nendstream"
        streams.append((next_number, stream))
        next_number += 1
    return Packed(tuple(streams), b"".join(inside))


def streams_needed(count: int) -> int:
    """How many object streams hold `count` objects at most."""
    return -(-count // _TOGETHER)


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
