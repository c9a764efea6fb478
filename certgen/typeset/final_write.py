"""The final write: in a joined file, the objects that stand for those of page batches give way to them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from pikepdf import Dictionary

from certgen.typeset.file_writer import FileWriter
from certgen.typeset.objects import (
    array_of,
    find_with,
    follow,
    lead_references,
    numbers_in,
    pack,
    read_plain,
)
from certgen.typeset.page_batch import AFTER, BEFORE, DOCUMENT, OPENER, PAGES, RUNNING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    import pikepdf

    from certgen.typeset.page_batch import PageBatch

#: In the catalogue: all pages in reading order, and what has the numbers from OPENER on. In the Document
#: element: that it is this one.
ORDER_KEY: Final = "/PagesInOrder"
FIXED_KEY: Final = "/NumberedAhead"
DOCUMENT_KEY: Final = "/PageBatchDocument"
#: A stand-in: the number of the batch's object, and what is to be drawn over it if it is a page.
_STAND_IN: Final = re.compile(
    rb"<< (?:/After (?P<after>\d+) 0 R /Before (?P<before>\d+) 0 R )?/PageBatchObject (?P<object>\d+)"
    rb"(?: /Running (?P<running>\d+) 0 R)? >>"
)
#: What stands for all elements of a batch that are right under the Document.
_TOPS: Final = re.compile(rb"<< /PageBatchTops (\d+) >>")
_ELEMENT: Final = b" /Type /StructElem >>"
_HEADERS: Final = re.compile(rb"/Headers \[ (?:\([^\\()]*\) )*\] ")
_NAME: Final = re.compile(rb"/ID \([^\\()]*\) ")
_OWN_KEYS: Final = re.compile(rb" /(?:PagesInOrder|NumberedAhead) \[[0-9R\s]*\]")


def stand_in(pdf: pikepdf.Pdf, number: int) -> Any:
    """An object that stands for the batch object of this number until the final write."""
    return pdf.make_indirect(Dictionary(PageBatchObject=number))


def stand_in_for_tops(pdf: pikepdf.Pdf, place: int) -> Any:
    """An object that stands in the Document for the elements of the batch of this place among all, which may
    be thousands."""
    return pdf.make_indirect(Dictionary(PageBatchTops=place))


def write_joined(pdf: pikepdf.Pdf, batches: Sequence[PageBatch], next_object: int) -> bytes:
    """The file's bytes: `pdf` with the batches in it, each object in the place of its stand-in. The batches,
    if there are any, have the numbers before `next_object`.
    """
    objects, trailer = read_plain(pdf)
    root, info = _find_reference(trailer, b"/Root"), _find_reference(trailer, b"/Info")
    order = numbers_in(array_of(objects[root], ORDER_KEY.encode()))
    stand_ins = {number: match for number, body in objects.items() if (match := _STAND_IN.fullmatch(body))}
    tops = {
        number: batches[int(match[1])].tops
        for number, body in objects.items()
        if (match := _TOPS.fullmatch(body))
    }
    numbers = _number_rest(objects, stand_ins, tops, next_object, root)
    rest = _renumber_rest(objects, stand_ins, tops, numbers, root)
    objects.clear()
    stand_in_of = {int(match["object"]): match for match in stand_ins.values()}
    for batch in batches:
        rest |= {number: _fill_page(body, stand_in_of[number], numbers) for number, body in batch.pages}
    kids = b" ".join(b"%d 0 R" % numbers[page] for page in order)
    rest[PAGES] = b"<< /Count %d /Kids [ %b ] /Type /Pages >>" % (len(order), kids)
    last = pack(rest, max(*numbers.values(), next_object) + 1)
    writer = FileWriter(last.streams[-1][0] + 1)
    for packed in (*(batch.packed for batch in batches), last):
        writer.add(packed)
    return writer.finish(numbers[root], numbers[info])


def _number_rest(
    objects: Mapping[int, bytes],
    stand_ins: Mapping[int, re.Match[bytes]],
    tops: Iterable[int],
    start: int,
    root: int,
) -> dict[int, int]:
    """New numbers of all objects of the joined file: those of batches are fixed, others follow `start`; what
    stands for several has none."""
    document = find_with(objects, DOCUMENT_KEY.encode())
    pages = next(number for number, body in objects.items() if body.endswith(b"/Type /Pages >>"))
    fixed = {number: int(match["object"]) for number, match in stand_ins.items()} | dict.fromkeys(tops, 0)
    if FIXED_KEY.encode() in objects[root]:
        ahead = numbers_in(array_of(objects[root], FIXED_KEY.encode()))
        fixed |= {number: OPENER + at for at, number in enumerate(ahead)}
    return follow(objects, start, {document: DOCUMENT, pages: PAGES} | fixed)


def _renumber_rest(
    objects: Mapping[int, bytes],
    stand_ins: Collection[int],
    tops: Mapping[int, Sequence[int]],
    numbers: Mapping[int, int],
    root: int,
) -> dict[int, bytes]:
    """All objects but the stand-ins under their new numbers, without keys that were for this step alone."""
    led = {b"%d" % old: b"%d" % new for old, new in numbers.items()}
    led |= {b"%d" % old: b" 0 R ".join([b"%d" % top for top in several]) for old, several in tops.items()}
    rest = {}
    for old, body in objects.items():
        if old in stand_ins or old in tops:
            continue
        kept = body
        if old == root:
            kept = _OWN_KEYS.sub(b"", body)
        elif numbers[old] == DOCUMENT:
            kept = body.replace(b" /PageBatchDocument true", b"", 1)
        rest[numbers[old]] = lead_references(slim(kept), led)
    return rest


def slim(body: bytes) -> bytes:
    """An element without what says nothing in the joined file; any other object as it is.

    Each part named its heading cells on its own, so names may meet twice; the scope says the same. The types
    of elements are optional.
    """
    if not body.endswith(_ELEMENT):
        return body
    body = body.removesuffix(_ELEMENT) + b" >>"
    if body.endswith(b" /S /TD >>"):
        return _HEADERS.sub(b"", body).replace(b"/A << /O /Table >> ", b"", 1)
    if body.endswith(b" /S /TH >>"):
        return _NAME.sub(b"", _HEADERS.sub(b"", body))
    return body


def _fill_page(page: bytes, over: re.Match[bytes], numbers: Mapping[int, int]) -> bytes:
    """A batch's page with what its stand-in says is to be drawn over it."""
    if over["after"] is None:
        return page.replace(BEFORE, b"").replace(AFTER, b"").replace(b"/Running " + RUNNING, b"")
    for mark, number in ((AFTER, over["after"]), (BEFORE, over["before"]), (RUNNING, over["running"])):
        page = page.replace(mark, b"%d 0 R" % numbers[int(number)])
    return page


def _find_reference(trailer: bytes, key: bytes) -> int:
    """The number of the object that the trailer names under a key."""
    match = re.search(re.escape(key) + rb" (\d+) 0 R", trailer)
    if match is None:
        message = f"the file's trailer has no {key.decode()}"
        raise ValueError(message)
    return int(match[1])
