"""Where the revisions of a PDF lie in its bytes, and whether one is what its index says and nothing more.

A reader of PDFs follows an index to the objects and never looks between them. So two readers may see two
documents in one file, if its indexes contradict each other or lead to objects that lie elsewhere, and
anything may lie where no index leads.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.misc import PdfReadError
from pyhanko.pdf_utils.xref import XRefType, parse_xref_stream, parse_xref_table

if TYPE_CHECKING:
    from pyhanko.pdf_utils.reader import PdfFileReader

#: From where to where, in bytes from the start of a file.
Span = tuple[int, int]

_END = re.compile(rb"startxref[ \r\n]+([0-9]{1,12})[ \r\n]+%%EOF(?:\r\n|\n|\r)?")
_SPACE = b" \t\r\n\x00\x0c"
_OBJECT = re.compile(rb"([0-9]{1,10}) 0 obj\b")
_APPENDED = "an update that was appended to this file"


class RevisionError(ValueError):
    """A revision that different readers may understand differently, or that hides something, in words."""


def find_ends(pdf: bytes, reader: PdfFileReader) -> list[int]:
    """Where each revision of the file ends, in bytes from its start. Raises `RevisionError`."""
    if reader.xrefs.hybrid_xrefs_present:
        raise RevisionError("this file has two indexes that may show two readers two documents")
    ends: list[int] = []
    for revision in range(reader.xrefs.total_revisions):
        section = reader.xrefs.get_xref_container_info(revision)
        found = _END.search(pdf, section.end_location)
        # A reader that follows the index must arrive where one that goes by the ends of the revisions does.
        start = section.declared_startxref
        straight = (
            section.start_location == start if section.stream_ref else pdf[start : start + 4] == b"xref"
        )
        if found is None or int(found[1]) != start or not straight:
            raise RevisionError("the index of this file does not lie where the file says")
        ends.append(found.end())
    if ends != sorted(set(ends)):
        raise RevisionError("the revisions of this file do not stand one behind the other")
    return ends


def check_bytes(pdf: bytes, reader: PdfFileReader, revision: int, span: Span) -> None:
    """Hold the bytes of an appended revision to the objects in its index, the index itself, and its end.

    Raises `RevisionError` for what is listed twice, taken away, placed elsewhere, or stands between.
    """
    places = _find_objects(reader, revision)
    spans = [_measure_object(pdf, reader, revision, place) for place in places.items()]
    section = reader.xrefs.get_xref_container_info(revision)
    if section.stream_ref is None:
        reader.stream.seek(section.end_location)
        generic.DictionaryObject.read_from_stream(reader.stream, generic.TrailerReference(reader))
        spans.append((section.declared_startxref, reader.stream.tell()))
        if b"%" in pdf[slice(*spans[-1])]:
            raise RevisionError(f"{_APPENDED} holds bytes that belong to no object")
    at = span[0]
    for start, end in sorted(spans):
        if not at <= start < end <= span[1]:
            raise RevisionError(f"{_APPENDED} puts hidden objects in the place of others")
        if pdf[at:start].strip(_SPACE):
            raise RevisionError(f"{_APPENDED} holds bytes that belong to no object")
        at = end
    if _END.fullmatch(pdf[at : span[1]].strip(_SPACE)) is None:
        raise RevisionError(f"{_APPENDED} holds bytes that belong to no object")


def _find_objects(reader: PdfFileReader, revision: int) -> dict[int, int]:
    """The objects that a revision's index lists, by number, and where they are said to be."""
    places: dict[int, int] = {}
    for entry in _read_index(reader, revision):
        if entry.idnum in places:
            raise RevisionError(
                "the index of this file lists an object twice: two readers may see two documents"
            )
        if entry.idnum == 0:
            continue
        if entry.xref_type is not XRefType.STANDARD or entry.generation:
            raise RevisionError(f"{_APPENDED} takes objects away, renames them or hides them in others")
        places[entry.idnum] = entry.location
    return places


def _read_index(reader: PdfFileReader, revision: int) -> list[Any]:  # the library's entries
    section = reader.xrefs.get_xref_container_info(revision)
    if section.stream_ref is None:
        # Behind the word "xref".
        reader.stream.seek(section.declared_startxref + 4)
        return list(parse_xref_table(reader.stream, strict=True))
    index = reader.get_historical_resolver(revision)(section.stream_ref)
    if not isinstance(index, generic.StreamObject):
        raise PdfReadError("the index is no stream")
    entries = list(parse_xref_stream(index, strict=True))
    sizes = list(index["/Index"] if "/Index" in index else [0, index["/Size"]])[1::2]
    # The library passes over kinds of entries that it doesn't know; other readers take the object away.
    if len(entries) != sum(int(size) for size in sizes):
        raise RevisionError(f"{_APPENDED} takes objects away, renames them or hides them in others")
    return entries


def _measure_object(pdf: bytes, reader: PdfFileReader, revision: int, place: tuple[int, int]) -> Span:
    number, offset = place
    header = _OBJECT.match(pdf, offset)
    if header is None or int(header[1]) != number:
        raise RevisionError(f"{_APPENDED} puts hidden objects in the place of others")
    found = reader.get_object(generic.Reference(number, 0, reader), revision=revision)
    end = int(reader.stream.tell())
    # A comment may say anything, and no reader shows it. What a signature needs holds no such sign.
    if not isinstance(found, generic.StreamObject) and b"%" in pdf[offset:end]:
        raise RevisionError(f"{_APPENDED} holds bytes that belong to no object")
    return offset, end
