"""A quire: pages of a long register as finished bytes, so that the packet is bound without opening its rows.

Each row of a register is some twenty objects (cells, links, their structure). To carry these through the
joining one by one cost 60 kB of memory and a millisecond a row. So the process that set the pages also
numbers their objects for the whole file, turns the addresses of links into named places, and packs all but
the pages themselves. What the packet still has to touch is a page, not a row.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote

import pikepdf
from pikepdf import Array, Dictionary, Name

from certgen.report.plain import (
    Packed,
    array_of,
    find_with,
    follow,
    numbers_in,
    pack,
    read_plain,
    renumber,
    streams_needed,
)
from certgen.report.structure import kids, last_table

if TYPE_CHECKING:
    from collections.abc import Callable

#: Numbers that every quire refers to: the packet's one Document element, and its list of pages.
DOCUMENT: Final = 1
PAGES: Final = 2
FIRST_OBJECT: Final = 3
#: Numbers of the parent tree that quires use; all other parts stay far below.
FIRST_KEY: Final = 1_000_000
#: What stands in a page for things that only the finished packet has.
BEFORE, AFTER, RUNNING = b"/QuireBefore", b"/QuireAfter", b"/QuireRunning"

_LINK: Final = re.compile(
    rb"\A<< /A << /S /URI (?:/Type /Action )?/URI (\((?:[^\\()]|\\.)*\)|<[0-9a-f]*>) >>", re.DOTALL
)
_CONTENTS: Final = re.compile(rb" /Contents (?:\((?:[^\\()]|\\.)*\)|<[0-9a-f]*>)", re.DOTALL)
_TOP: Final = re.compile(rb"/Rect \[ \S+ \S+ \S+ (\S+) \]")
_KEY: Final = re.compile(
    rb"/StructParents? (\d+)(?= (?:/Subtype /Link /Type /Annot|/Tabs /S /Type /Page) >>\Z)"
)
_HEADERS: Final = re.compile(rb"/Headers \[ (?:\([^\\()]*\) )*\] ")
_NO_ATTRIBUTES: Final = re.compile(rb"/A \[ << /O /Table >> \] ")
_NAME: Final = re.compile(rb"/ID \([^\\()]*\) ")
_ELEMENT: Final = b" /Type /StructElem >>"
_SCHEME: Final = "packet:"


@dataclass(frozen=True, slots=True)
class QuireMark:
    """A heading: its title, its level below the quire's first (0, 1 …), its page and height."""

    title: str
    depth: int
    page: int
    top: float


@dataclass(frozen=True, slots=True)
class Quire:
    """Pages in their final bytes.

    `pages` are the pages' numbers and bodies, `tops` the numbers of the elements that hang under the
    Document, `parents` is the number of the quire's leaf of the parent tree with its first and last key.
    `places` are the rows' anchors with page (from 0) and height.
    """

    packed: Packed
    pages: tuple[tuple[int, bytes], ...]
    tops: tuple[int, ...]
    parents: tuple[int, int, int]
    marks: tuple[QuireMark, ...]
    places: dict[str, tuple[int, float]]
    next_object: int
    next_key: int


def make_quire(
    file: bytes, left: int, *, headed: bool, first_object: int, first_key: int, spoken: Callable[[str], str]
) -> Quire:
    """Turn a tagged PDF of registers into a quire, without its last page when `left` rows stand on it.

    `headed`: it opens with the heading of all registers. Its objects are numbered from `first_object`, its
    entries of the parent tree from `first_key`.
    """
    with pikepdf.open(io.BytesIO(file)) as part:
        keys = _loosen(part, left)
        marks = _marks(part, 0 if headed else 1)
        _open_pages(part)
        objects, _ = read_plain(part)
    return _number(objects, keys, marks, first_object, first_key, spoken)


def _loosen(part: pikepdf.Pdf, left: int) -> list[int]:
    """Leave in `part` only pages, elements and the list of parents. Gives the keys of that list, in order."""
    root = part.Root.StructTreeRoot
    document = kids(root)[0]
    parents = dict(pikepdf.NumberTree(root.ParentTree).items())
    if left:
        body = kids(last_table(root))[-1]
        body.K = Array(list(body.K)[:-left])
        last = part.pages[-1]
        del parents[int(last.StructParents)]
        for annotation in last.get("/Annots", ()):
            del parents[int(annotation.StructParent)]
        del part.pages[-1]
    part.Root.QuireTops = document.K
    part.Root.QuireParents = Array(list(parents.values()))
    for key in list(document.keys()):
        del document[key]
    document.QuireDocument = True
    return list(parents)


def _marks(part: pikepdf.Pdf, least: int) -> list[QuireMark]:
    pages = {page.obj.objgen: number for number, page in enumerate(part.pages)}
    found: list[QuireMark] = []

    def read(items: Any, depth: int) -> None:
        for item in items:
            target = item.destination
            if isinstance(target, Array) and target[0].objgen in pages:
                found.append(QuireMark(str(item.title), depth, pages[target[0].objgen], float(target[3])))
            read(item.children, depth + 1)

    with part.open_outline() as outline:
        read(outline.root, least)
    return found


def _open_pages(part: pikepdf.Pdf) -> None:
    """Leave room in each page for its running head, and drop all else that the packet has of its own."""
    listed = [page.obj for page in part.pages]
    for page in listed:
        own = dict(page.get("/Resources", Dictionary()).items())
        drawn = dict(own.get("/XObject", Dictionary()).items())
        own["/XObject"] = Dictionary({**drawn, "/Running": Name(RUNNING.decode())})
        page.Resources = Dictionary(own)
        content = list(page.Contents) if isinstance(page.Contents, Array) else [page.Contents]
        page.Contents = Array([Name(BEFORE.decode()), *content, Name(AFTER.decode())])
        page.Tabs = Name.S
    part.Root.QuirePages = Array(listed)
    for key in list(part.Root.keys()):
        if key not in {"/Type", "/Pages", "/QuirePages", "/QuireTops", "/QuireParents"}:
            del part.Root[key]
    if "/Info" in part.trailer:
        del part.trailer["/Info"]


def _number(
    objects: dict[int, bytes],
    keys: list[int],
    marks: list[QuireMark],
    first_object: int,
    first_key: int,
    spoken: Callable[[str], str],
) -> Quire:
    catalogue = find_with(objects, b"/QuirePages")
    pages = numbers_in(array_of(objects[catalogue], b"/QuirePages"))
    tops = numbers_in(array_of(objects[catalogue], b"/QuireTops"))
    parents = array_of(objects[catalogue], b"/QuireParents").split(b" R")[:-1]
    lists = [number for number, body in objects.items() if body.endswith(b"/Type /Pages >>")]
    documents = [number for number, body in objects.items() if body == b"<< /QuireDocument true >>"]
    fixed = dict.fromkeys(lists, PAGES) | dict.fromkeys(documents, DOCUMENT)
    for number in (catalogue, *fixed):
        del objects[number]
    numbers = follow(objects, first_object, fixed)
    leaf = first_object + len(objects)
    new_keys = {old: first_key + at for at, old in enumerate(keys)}

    def rekey(found: re.Match[bytes]) -> bytes:
        return found[0][: found.start(1) - found.start()] + b"%d" % new_keys[int(found[1])]

    own: dict[int, str] = {}
    heights: dict[int, float] = {}
    done: dict[int, bytes] = {}
    for old, was in objects.items():
        body = was
        if body.endswith(_ELEMENT):
            body = _slim(body)
        elif body.endswith(b"/Type /Annot >>"):
            body, own[old], heights[old] = _link(_KEY.sub(rekey, body), spoken)
        elif body.endswith(b"/Type /Page >>"):
            body = _KEY.sub(rekey, body)
        done[old] = renumber(body, numbers.__getitem__)
    places: dict[str, tuple[int, float]] = {}
    for at, page in enumerate(pages):
        if b"/Annots" not in objects[page]:
            continue
        for annotation in numbers_in(array_of(objects[page], b"/Annots")):
            anchor, top = own[annotation], heights[annotation]
            before = places.get(anchor)
            if anchor and (before is None or (before[0] == at and before[1] < top)):
                places[anchor] = (at, top)
    bodies = tuple((numbers[page], done.pop(page)) for page in pages)
    listed = b" ".join(
        b"%d %d 0 R" % (first_key + at, numbers[int(entry.split()[0])]) for at, entry in enumerate(parents)
    )
    last_key = first_key + len(parents) - 1
    rest = {numbers[old]: body for old, body in done.items()}
    rest[leaf] = b"<< /Limits [ %d %d ] /Nums [ %b ] >>" % (first_key, last_key, listed)
    return Quire(
        packed=pack(rest, leaf + 1),
        pages=bodies,
        tops=tuple(numbers[top] for top in tops),
        parents=(leaf, first_key, last_key),
        marks=tuple(marks),
        places=places,
        next_object=leaf + 1 + streams_needed(len(rest)),
        next_key=last_key + 1,
    )


def _slim(body: bytes) -> bytes:
    """An element without what says nothing in the packet: see `mending.trim_structure`."""
    if b" /S /TD" in body:
        body = _NO_ATTRIBUTES.sub(b"", _HEADERS.sub(b"", body), count=1)
    elif b" /S /TH" in body:
        body = _NAME.sub(b"", _HEADERS.sub(b"", body))
    return body.removesuffix(_ELEMENT) + b" >>"


def _link(body: bytes, spoken: Callable[[str], str]) -> tuple[bytes, str, float]:
    """The link to a place of the packet, the anchor of the row that it stands in, and its upper edge."""
    found = _LINK.search(body)
    top = _TOP.search(body)
    if found is None or top is None:
        message = "a register holds a link that leads to no place of the packet"
        raise ValueError(message)
    address = unquote(bytes(pikepdf.Object.parse(found[1])).decode("utf-8", "replace"))
    anchor, _, own = address.removeprefix(_SCHEME).partition("|")
    body = _CONTENTS.sub(b"", body, count=1)
    target = b"<< /Contents %b /Dest %b" % (_string(spoken(anchor)), _string(anchor))
    return _LINK.sub(lambda _: target, body, count=1), own, float(top[1])


def _string(text: str) -> bytes:
    if text.isascii() and text.isprintable():
        return b"(" + re.sub(rb"([\\()])", rb"\\\1", text.encode()) + b")"
    return pikepdf.String(text).unparse()
