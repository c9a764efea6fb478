"""A page batch: pages in their final bytes, which are joined with others without opening their rows.

Each row of a register is some twenty objects (cells, links, their structure). To carry these through a
joining one by one cost 60 kB of memory and a millisecond a row. So a file that Typst set is rewritten where
it was set: its objects are numbered for the whole document and packed, all but the pages. What the
joining still has to touch is a page, not a row.
"""

from __future__ import annotations

import json
import re
import zlib
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.typeset.objects import STREAM, lead_references, numbers_in, pack, read_objects, streams_needed

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.typeset.objects import Packed


@dataclass(frozen=True, slots=True)
class Numbering:
    """The next numbers that a batch may use, for an object and for a key of the parent tree."""

    next_object: int
    next_key: int


#: Numbers of objects that every batch refers to: the file's one Document element, its list of pages, and how
#: a place looks that opens an attached file. The attached files follow.
DOCUMENT: Final = 1
PAGES: Final = 2
OPENER: Final = 3
#: Where the first batch of a file without attachments begins. The keys of all other parts stay far below.
FIRST: Final = Numbering(next_object=4, next_key=1_000_000)
#: What stands in a page for things that only the finished file has.
BEFORE, AFTER, RUNNING = b"/BatchBefore", b"/BatchAfter", b"/BatchRunning"
#: The attachment of a set file that says where its rows and headings stand.
PLACES: Final = "places.json"
#: What a set file holds of a link whose address is a number.
_LINK: Final = re.compile(
    rb"/A<</Type/Action/S/URI/URI\(packet:(\d+)\)>>/F 4/StructParent (\d+)/Contents\(packet:\d+\)"
)
#: What becomes of a link that opens an attached file, up to that file; and what its element says of it.
_OPENS: Final = re.compile(
    rb"(<</Type/Annot/Subtype/)Link(/Rect\[[^\]]*\])(?:/(?:QuadPoints|Border)\[[^\]]*\])*"
    rb"(/F 4/StructParent \d+/FS )"
)
_LINK_ELEMENT: Final = re.compile(rb"(<<(?:/Type/StructElem)?/S/)Link(/.*/Obj (\d+) 0 R.*)")
_HEADING: Final = re.compile(rb"/S/H([1-6])/")
#: What elements say and the document needn't: their type, which is optional, borders, and names of heading
#: cells, which each batch gives anew, while their scope says the same.
_KIND: Final = b"/Type/StructElem"
_IDLE: Final = re.compile(
    rb"/(?:ID\(U[0-9a-z]*\)|A\[<</O/Table/Headers\[(?:\(U[0-9a-z]*\))*\]>>\]|Headers\[\])"
    rb"|<</O/Layout/Border[^<>]*>>"
)
#: A row with its first cell, and what a cell says of the heading cells above it.
_ROW: Final = re.compile(rb"<<(?:/Type/StructElem)?/S/TR/.*?/K\[(\d+) 0 R")
_HEADERS: Final = re.compile(rb"<</O/Table/Headers\[[^\]]*\]")
_ELEMENTS: Final = (b"<</Type/StructElem", b"<</Type/Annot")
#: So many of an object's first bytes say what it is.
_FIRST: Final = 60


@dataclass(frozen=True, slots=True)
class BatchHeading:
    """A heading: its title, its level below the batch's first (0, 1 …), its page and height."""

    title: str
    depth: int
    page: int
    top: float


@dataclass(frozen=True, slots=True)
class PageBatch:
    """Pages in their final bytes, and the numbers from which the next batch may go on.

    `pages` are the pages' numbers and bodies, `tops` the numbers of the elements right under the Document,
    `parents` the number of the batch's node of the parent tree with its first and last key. `places` are the
    rows' anchors with page (from 0) and height.
    """

    packed: Packed
    numbering: Numbering
    pages: tuple[tuple[int, bytes], ...]
    tops: tuple[int, ...]
    parents: tuple[int, int, int]
    headings: tuple[BatchHeading, ...]
    places: dict[str, tuple[int, float]]


def number_files(names: Iterable[str]) -> dict[str, int]:
    """The numbers of the objects that describe attached files, by name, in the order in which they lie
    there."""
    return {name: OPENER + 1 + at for at, name in enumerate(sorted(names, key=str.encode))}


def begin_numbering(files: Mapping[str, int]) -> Numbering:
    """Where a file's first batch begins."""
    return Numbering(FIRST.next_object + len(files), FIRST.next_key)


def string_of(text: str) -> bytes:
    """A text as a string of the file."""
    if text.isascii() and text.isprintable():
        for sign in "\\()":
            text = text.replace(sign, f"\\{sign}")
        return b"(%b)" % text.encode()
    return b"<feff" + text.encode("utf-16-be", "replace").hex().encode() + b">"


class _SetFile(NamedTuple):
    """A file that Typst set, apart: which of its objects are what."""

    objects: dict[int, bytes]
    document: int
    page_tree: int
    pages: list[int]
    #: Pairs of key and reference of the parent tree, as they stand in the file.
    parents: bytes
    #: What the file itself says of its headings and rows.
    said: int


def cut_batch(
    file: bytes,
    links: Sequence[tuple[str, str]],
    start: Numbering,
    *,
    lowered: int = 0,
    files: Mapping[str, int] = MappingProxyType({}),
    row_heads: bool = False,
) -> PageBatch:
    """The pages of a file that Typst set, as a batch whose objects and keys begin at `start`.

    A link's address is its place in `links`: the anchor that it leads to, and what a screen reader says of
    it. One whose anchor is among `files` opens the file of that number. Headings stand `lowered` levels lower
    in the document. With `row_heads` the first cell of each row is its heading. Raises ValueError for a file
    that is not written as Typst writes it.
    """
    given = _take_apart(file)
    if row_heads:
        _say_row_heads(given.objects)
    elements, others = _elements_of(given), _reach(given)
    numbers = {old: new for new, old in enumerate([*elements, *others], start=start.next_object)}
    led = _renumbering(numbers, given)
    said = _read_said(given.objects[given.said])
    leads = _write_leads(links, files)
    objects = _rewrite_elements(given, elements, numbers, leads, start, led)
    _set_levels(objects, said.get("levels"), lowered)
    _open_files(objects)
    for number in others:
        body = given.objects[number]
        if number in given.pages:
            body = _open_page(body, given.objects, start.next_key)
        objects[numbers[number]] = lead_references(body, led)
    pages = tuple((numbers[page], objects.pop(numbers[page])) for page in given.pages)
    keys = [(start.next_key + int(key), old) for key, old in re.findall(rb"(\d+) (\d+ 0 R)", given.parents)]
    parents = (start.next_object + len(numbers), start.next_key, keys[-1][0])
    objects[parents[0]] = b"<< /Limits [ %d %d ] /Nums [ %b ] >>" % (
        *parents[1:], lead_references(b" ".join([b"%d %b" % pair for pair in keys]), led),
    )  # fmt: skip
    headings, places = _read_places(given, said, lowered)
    return PageBatch(
        packed=pack(objects, parents[0] + 1),
        numbering=Numbering(parents[0] + 1 + streams_needed(len(objects)), keys[-1][0] + 1),
        pages=pages,
        tops=tuple(numbers[top] for top in numbers_in(given.objects[given.document].partition(b"/K")[2])),
        parents=parents,
        headings=headings,
        places=places,
    )


def _take_apart(file: bytes) -> _SetFile:
    objects = read_objects(file)
    pages, root, document, said = _find_only(
        objects, b"/Type/Pages", b"/Type/StructTreeRoot", b"/S/Document", b"/Type/EmbeddedFile"
    )
    parents = objects[root].partition(b"/Nums[")[2].partition(b"]")[0]
    return _SetFile(objects, document, pages, numbers_in(objects[pages]), parents, said)


def _find_only(objects: Mapping[int, bytes], *keys: bytes) -> list[int]:
    """For each of `keys` the number of the one object that has it among its first entries."""
    heads = b"".join([body[:_FIRST].ljust(_FIRST) for body in objects.values()])
    numbers = list(objects)
    found = []
    for key in keys:
        inside = [match.start() for match in re.finditer(re.escape(key), heads)]
        whole = [at // _FIRST for at in inside if at % _FIRST + len(key) <= _FIRST]
        if len(whole) != 1:
            message = f"{len(whole)} objects of a set file have {key.decode()}, and one should"
            raise ValueError(message)
        found.append(numbers[whole[0]])
    return found


def _say_row_heads(objects: dict[int, bytes]) -> None:
    """Make each row's first cell its heading, which Typst can't be told."""
    for body in list(objects.values()):
        row = _ROW.match(body)
        if row is not None and b"/S/TD" in objects[int(row[1])]:
            cell = objects[int(row[1])].replace(b"/S/TD", b"/S/TH", 1)
            objects[int(row[1])] = _HEADERS.sub(b"<</O/Table/Scope/Row", cell, count=1)


def _elements_of(given: _SetFile) -> list[int]:
    """The elements, the links, and the lists of elements that the parent tree holds for each page."""
    listed = set(numbers_in(given.parents))
    return [
        number
        for number, body in given.objects.items()
        if number != given.document
        and (body.startswith(_ELEMENTS) or (number in listed and body.startswith(b"[")))
    ]


def _reach(given: _SetFile) -> list[int]:
    """The pages and what they are drawn with."""
    reached: dict[int, None] = {}
    waiting = list(given.pages)
    while waiting:
        number = waiting.pop()
        body = given.objects[number]
        if number in reached or body.startswith((*_ELEMENTS, b"<</Type/Pages")):
            continue
        reached[number] = None
        waiting += numbers_in(body.partition(STREAM)[0])
    return list(reached)


def _renumbering(numbers: Mapping[int, int], given: _SetFile) -> dict[bytes, bytes]:
    """The digits of what the set file refers to, and those of it in the document."""
    led = {b"%d" % old: b"%d" % new for old, new in numbers.items()}
    return led | {b"%d" % given.page_tree: b"%d" % PAGES, b"%d" % given.document: b"%d" % DOCUMENT}


def _write_leads(links: Iterable[tuple[str, str]], files: Mapping[str, int]) -> list[bytes]:
    """What each link says of where it leads: to a place in the document, or to an attached file."""
    leads = []
    for anchor, words in links:
        if anchor in files:
            to = b"/FS %d 0 R/AP<</N %d 0 R>>" % (files[anchor], OPENER)
        else:
            to = b"/Dest" + string_of(anchor)
        leads.append(to + b"/Contents" + string_of(words))
    return leads


def _open_files(objects: dict[int, bytes]) -> None:
    """Of the links that were led to an attached file make what opens it, in the structure too."""
    opening = {}
    for number, body in objects.items():
        if b"/FS " in body:
            opened, found = _OPENS.subn(rb"\1FileAttachment\2\3", body)
            if found:
                opening[number] = opened
    if not opening:
        return
    for number, body in objects.items():
        match = _LINK_ELEMENT.fullmatch(body)
        if match and int(match[3]) in opening:
            objects[number] = match[1] + b"Annot" + match[2]
    objects |= opening


def _rewrite_elements(
    given: _SetFile,
    elements: Sequence[int],
    numbers: Mapping[int, int],
    leads: Sequence[bytes],
    start: Numbering,
    led: Mapping[bytes, bytes],
) -> dict[int, bytes]:
    """The elements and links by their new numbers.

    Each is one line, and there are very many: all are rewritten in one go.
    """

    def link(match: re.Match[bytes]) -> bytes:
        return b"/F 4/StructParent %d%b" % (start.next_key + int(match[2]), leads[int(match[1])])

    lines = b"\n".join(given.objects[number] for number in elements)
    # References first: those to attached files, which links lead to, have the document's numbers already.
    lines = _LINK.sub(link, lead_references(_IDLE.sub(b"", lines.replace(_KIND, b"")), led))
    return dict(zip((numbers[number] for number in elements), lines.split(b"\n"), strict=True))


def _set_levels(objects: dict[int, bytes], levels: Sequence[int] | None, lowered: int) -> None:
    """Give the headings their levels in the document: `levels` in order, if the file says them, else their
    own, lowered by so many.
    """
    headings = [number for number, body in objects.items() if b"/S/H" in body and _HEADING.search(body)]
    if levels is not None and len(levels) != len(headings):
        message = f"{len(headings)} headings of a set file have {len(levels)} levels"
        raise ValueError(message)
    for at, number in enumerate(headings):
        own = _HEADING.search(objects[number])
        if own is not None:
            level = levels[at] if levels is not None else int(own[1]) + lowered
            objects[number] = _HEADING.sub(b"/S/H%d/" % level, objects[number], count=1)


def _open_page(page: bytes, objects: Mapping[int, bytes], first_key: int) -> bytes:
    """A page with room for its running head, and with its key of the document's."""

    def resources(match: re.Match[bytes]) -> bytes:
        # Pages share them, and each is to have a running head of its own among them.
        own, running = objects[int(match[1])].removesuffix(b">>"), b"/XObject << /Running %b " % RUNNING
        if b"/XObject<<" in own:
            return b"/Resources%b >>" % own.replace(b"/XObject<<", running, 1)
        return b"/Resources%b %b>> >>" % (own, running)

    page = re.sub(rb"/Resources (\d+) 0 R", resources, page)
    page = re.sub(rb"/Contents (\d+ 0 R)", rb"/Contents [ %b \1 %b ]" % (BEFORE, AFTER), page)
    return re.sub(rb"(?<=/StructParents )\d+", lambda match: b"%d" % (first_key + int(match[0])), page)


def _read_said(attached: bytes) -> dict[str, Any]:
    """What the file itself says of its headings and rows."""
    about, _, data = attached.partition(STREAM)
    data = data.removesuffix(b"\nendstream")
    said: dict[str, Any] = json.loads(zlib.decompress(data) if b"/FlateDecode" in about else data)
    return said


def _read_places(
    given: _SetFile, said: Mapping[str, Any], lowered: int
) -> tuple[tuple[BatchHeading, ...], dict[str, tuple[int, float]]]:
    """The headings and the rows' places."""
    height = _height_of(given.objects[given.pages[0]])
    headings = tuple(
        BatchHeading(title, level - 1 + lowered, page - 1, height - top)
        for (title, level), page, top in said["headings"]
    )
    # Where an anchor has two rows, its place is the first.
    return headings, {anchor: (page - 1, height - top) for anchor, page, top in reversed(said["rows"])}


def _height_of(page: bytes) -> float:
    match = re.search(rb"/MediaBox\[0 0 [0-9.]+ ([0-9.]+)\]", page)
    if match is None:
        message = "a page of a set file does not say how high it is"
        raise ValueError(message)
    return float(match[1])
