"""The files inside a PDF, taken out without trusting the PDF.

A packet may come from anybody. Nothing is taken that is larger than it says or that uses an encoding that
we did not write; nothing is written outside the folder given.
"""

from __future__ import annotations

import io
import zlib
from typing import TYPE_CHECKING, Any

from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from pathlib import Path

FILE_BYTES = 1024 * 1024 * 1024
ATTACHMENTS = 60_000
ATTACHMENT_BYTES = 256 * 1024 * 1024
TOTAL_BYTES = 1024 * 1024 * 1024


#: What a hostile file may trip the PDF library over, besides the library's own error.
UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, RuntimeError, OSError)


class PacketError(ValueError):
    """A file that is no packet, or whose attachments cannot be taken out safely."""


def read_packet(path: Path) -> bytes:
    """A packet's bytes. Raises `PacketError` for what is no ordinary file, or is larger than a packet."""
    try:
        return read_ordinary(path, FILE_BYTES)
    except OSError as fault:
        raise PacketError(f"{path}: cannot be read ({fault.strerror})") from fault


def read_attachments(pdf: bytes) -> dict[str, bytes]:
    """Every attachment by its name. Raises `PacketError`."""
    import pikepdf

    try:
        with pikepdf.open(io.BytesIO(pdf), attempt_recovery=False, suppress_warnings=True) as document:
            return _read_all(document)
    except PacketError:
        raise
    except (pikepdf.PdfError, *UNREADABLE) as fault:
        if b"%PDF-" not in pdf[:1024]:
            raise PacketError("this is not a PDF; name the report's PDF file") from fault
        raise PacketError("this PDF cannot be read; it was cut short or damaged on its way") from fault


def _read_all(document: Any) -> dict[str, bytes]:  # pikepdf's document
    attachments: dict[str, bytes] = {}
    room = TOTAL_BYTES
    if len(document.attachments) > ATTACHMENTS:
        raise PacketError("this PDF holds more files than a packet can")
    for key, spec in document.attachments.items():
        name = str(spec.filename or key)
        if name in attachments:
            raise PacketError(f"this PDF holds two files named {name[:80]!r}")
        stream = spec.obj["/EF"].get("/UF") or spec.obj["/EF"]["/F"]
        data = _unpack(stream, min(ATTACHMENT_BYTES, room), name)
        room -= len(data)
        attachments[name] = data
    return attachments


def _unpack(stream: Any, limit: int, name: str) -> bytes:  # pikepdf's stream
    raw = stream.read_raw_bytes()
    filters = stream.get("/Filter")
    listed = (
        []
        if filters is None
        else [str(filters)]
        if not hasattr(filters, "__len__") or str(filters).startswith("/")
        else [str(entry) for entry in filters]
    )
    if not listed:
        if len(raw) > limit:
            raise PacketError(f"the file {name[:80]!r} inside is larger than a packet can hold")
        return bytes(raw)
    if listed != ["/FlateDecode"] or "/DecodeParms" in stream:
        raise PacketError(f"the file {name[:80]!r} inside is packed in a way that packets are not")
    unpacker = zlib.decompressobj()
    try:
        data = unpacker.decompress(raw, limit + 1)
    except zlib.error as fault:
        raise PacketError(f"the file {name[:80]!r} inside is damaged") from fault
    if len(data) > limit:
        raise PacketError(f"the file {name[:80]!r} inside unpacks to more than a packet can hold")
    return data
