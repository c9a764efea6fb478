"""Sewing quires into the packet: the objects that stand for them give way to their finished bytes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from pikepdf import Dictionary

from certgen.typeset.objects import (
    Writer,
    array_of,
    find_with,
    follow,
    numbers_in,
    pack,
    read_plain,
    renumber,
)
from certgen.typeset.page_batch import AFTER, BEFORE, DOCUMENT, PAGES, RUNNING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pikepdf

    from certgen.typeset.page_batch import Quire

#: In the catalogue: all pages in reading order. In the Document element: that it is this one.
LEAVES_KEY: Final = "/QuireLeaves"
DOCUMENT_KEY: Final = "/QuireDocument"
_HELD: Final = re.compile(
    rb"<< (?:/After (\d+) 0 R /Before (\d+) 0 R )?/QuireHeld (\d+)(?: /Running (\d+) 0 R)? >>"
)
_ELEMENT: Final = b" /Type /StructElem >>"
_HEADERS: Final = re.compile(rb"/Headers \[ (?:\([^\\()]*\) )*\] ")
_NAME: Final = re.compile(rb"/ID \([^\\()]*\) ")
_LEAVES: Final = re.compile(rb" /QuireLeaves \[[0-9R\s]*\]")


def hold_object(pdf: pikepdf.Pdf, number: int) -> Any:
    """An object that stands for a quire's object of this number until the packet is sewn."""
    return pdf.make_indirect(Dictionary(QuireHeld=number))


def sew(pdf: pikepdf.Pdf, quires: Sequence[Quire]) -> bytes:
    """The file's bytes: `pdf`, in which objects stand for those of the quires, with the quires in it."""
    objects, trailer = read_plain(pdf)
    root, info = _named(trailer, b"/Root"), _named(trailer, b"/Info")
    document = find_with(objects, DOCUMENT_KEY.encode())
    tree = next(number for number, body in objects.items() if body.endswith(b"/Type /Pages >>"))
    leaves = numbers_in(array_of(objects[root], LEAVES_KEY.encode()))
    held = {number: found for number, body in objects.items() if (found := _HELD.fullmatch(body))}
    fixed = {document: DOCUMENT, tree: PAGES} | {number: int(found[3]) for number, found in held.items()}
    numbers = follow(objects, quires[-1].next_object, fixed)
    objects[root] = _LEAVES.sub(b"", objects[root], count=1)
    objects[document] = objects[document].replace(b" /QuireDocument true", b"", 1)
    writer = Writer()
    heads = {int(found[3]): found for found in held.values()}
    for quire in quires:
        writer.add(quire.packed)
    rest = {
        numbers[old]: renumber(slim(body), numbers.__getitem__)
        for old, body in objects.items()
        if old not in held
    }
    objects.clear()
    for quire in quires:
        rest |= {number: _headed(body, heads[number], numbers) for number, body in quire.pages}
    listed = b" ".join(b"%d 0 R" % numbers[leaf] for leaf in leaves)
    rest[PAGES] = b"<< /Count %d /Kids [ %b ] /Type /Pages >>" % (len(leaves), listed)
    writer.add(pack(rest, max(*numbers.values(), quires[-1].next_object) + 1))
    return writer.finish(numbers[root], numbers[info])


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


def _headed(page: bytes, found: re.Match[bytes], numbers: Mapping[int, int]) -> bytes:
    """A quire's page with its running head."""
    if found[1] is None:
        # Nothing was laid over it: the room stays empty.
        return page.replace(BEFORE, b"").replace(AFTER, b"").replace(b"/Running " + RUNNING, b"")
    for mark, number in ((AFTER, found[1]), (BEFORE, found[2]), (RUNNING, found[4])):
        page = page.replace(mark, b"%d 0 R" % numbers[int(number)])
    return page


def _named(trailer: bytes, key: bytes) -> int:
    found = re.search(re.escape(key) + rb" (\d+) 0 R", trailer)
    if found is None:
        message = f"the packet's trailer has no {key.decode()}"
        raise ValueError(message)
    return int(found[1])
