"""Where two PDF files differ, told by page: what is drawn, what lies over it, what the file does and holds.

The bytes decide whether a file was changed; this says where. Objects are compared by what they hold, however
they are numbered or packed.
"""

from __future__ import annotations

import hashlib
import io
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import pikepdf

from certgen.rules.wording import noun
from certgen.verification.attachments import UNREADABLE, PacketError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

#: Keys of an object that only say how it is packed, or lead back to what holds it.
_PACKING: Final = frozenset(
    {"/Length", "/Filter", "/DecodeParms", "/Parent", "/P", "/StructParent", "/StructParents"}
)
#: What stands in the catalogue, in words.
_CATALOGUE: Final = {
    "/AA": "an action that runs by itself",
    "/AcroForm": "a form",
    "/AF": "the list of files inside",
    "/Collection": "a list of files shown in the place of the pages",
    "/Extensions": "extensions",
    "/Lang": "the language",
    "/MarkInfo": "whether it is tagged",
    "/Metadata": "the title and other metadata",
    "/OCProperties": "layers that can be switched",
    "/OpenAction": "an action that runs on opening",
    "/OutputIntents": "the meaning of its colours",
    "/PageLabels": "the numbers of its pages",
    "/PageLayout": "how its pages open",
    "/PageMode": "how it opens",
    "/Perms": "permissions",
    "/StructTreeRoot": "the order and tags that a screen reader follows",
    "/URI": "the address that its links start from",
    "/ViewerPreferences": "how a reader shows it",
}
_NAMES: Final = {
    "/Dests": "the places that links lead to",
    "/JavaScript": "a script",
    "/AP": "appearances",
    "/Pages": "hidden pages",
    "/Templates": "hidden pages",
    "/Renditions": "sound or film",
}
_BOXES: Final = frozenset(
    {"/MediaBox", "/CropBox", "/BleedBox", "/TrimBox", "/ArtBox", "/Rotate", "/UserUnit"}
)
#: What a page is drawn with: whether that shows, its text and its picture tell.
_DRAWN: Final = {
    "/Contents": "what is drawn on it differs",
    "/Resources": "a face, picture or drawing that it uses differs",
}
_TAGS: Final = frozenset({"/StructTreeRoot", "/OutputIntents"})
_LINK: Final = "a link"
_DEEPEST: Final = 400


@dataclass(frozen=True, slots=True)
class Difference:
    """A place where two files differ, in words; `page` counts from 1, 0 for what belongs to no page.

    `is_foreign`: no version of certgen writes such a thing. `is_seen`: whoever uses the file meets it, as a
    link, a bookmark or a title; what isn't shows, if at all, in a page's text and picture.
    """

    page: int
    words: str
    is_foreign: bool = False
    is_seen: bool = True


@dataclass(slots=True)
class _Reading:
    """One file, open: its pages by object number, and the digests of what was compared already."""

    pdf: pikepdf.Pdf
    pages: dict[tuple[int, int], int] = field(default_factory=dict)
    digests: dict[tuple[int, int], bytes] = field(default_factory=dict)

    def digest(self, thing: Any, trail: tuple[Any, ...] = ()) -> bytes:
        """What stands for an object and all that it holds. A page that it leads to counts by its number."""
        number = thing.objgen if isinstance(thing, pikepdf.Object) and thing.is_indirect else None
        if number is not None:
            if number in self.pages:
                return b"page %d" % self.pages[number]
            if number in self.digests:
                return self.digests[number]
            if number in trail:
                return b"above %d" % (len(trail) - trail.index(number))
            trail = (*trail, number)
        if len(trail) > _DEEPEST:
            raise PacketError("this PDF holds objects within objects without end")
        found = hashlib.sha256(b"\0".join(self._parts(thing, trail))).digest()
        if number is not None:
            self.digests[number] = found
        return found

    def _parts(self, thing: Any, trail: tuple[Any, ...]) -> Iterator[bytes]:
        if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
            yield b"<<"
            for key in sorted(thing.keys()):
                if key not in _PACKING:
                    yield key.encode("utf-8", "surrogateescape")
                    yield self.digest(thing[key], trail)
            if isinstance(thing, pikepdf.Stream):
                yield _read_stream(thing)
        elif isinstance(thing, pikepdf.Array):
            yield b"["
            for kid in thing:
                yield self.digest(kid, trail)
        elif isinstance(thing, pikepdf.Object):
            yield thing.unparse()
        else:
            yield repr(thing).encode()


def _read_stream(stream: Any) -> bytes:
    try:
        return bytes(stream.read_bytes())
    except pikepdf.PdfError:
        return bytes(stream.read_raw_bytes())


def compare_files(given: bytes, made: bytes) -> tuple[Difference, ...]:
    """Where `given` differs from the file that was `made`: pages first, then what belongs to none.

    Empty where no object differs. Raises `PacketError` for a file that can't be read.
    """
    try:
        with (
            pikepdf.open(io.BytesIO(given), attempt_recovery=False, suppress_warnings=True) as one,
            pikepdf.open(io.BytesIO(made)) as other,
        ):
            return tuple(_compare(_read(one), _read(other)))
    except PacketError:
        raise
    except (pikepdf.PdfError, *UNREADABLE) as fault:
        raise PacketError("this PDF cannot be read; it was cut short, damaged or changed") from fault


def _read(pdf: pikepdf.Pdf) -> _Reading:
    return _Reading(pdf, {page.obj.objgen: number for number, page in enumerate(pdf.pages, start=1)})


def _compare(given: _Reading, made: _Reading) -> Iterator[Difference]:
    count, wanted = len(given.pdf.pages), len(made.pdf.pages)
    if count != wanted:
        yield Difference(0, f"it has {count} {noun('page', count)}; the records inside give {wanted}")
    for number, (page, other) in enumerate(zip(given.pdf.pages, made.pdf.pages, strict=False), start=1):
        yield from _compare_pages(number, (given, page.obj), (made, other.obj))
    yield from _compare_catalogues(given, made)
    yield from _compare_titles(given, made)
    yield from _compare_attachments(given, made)


def _differing(given: _Reading, one: Any, made: _Reading, other: Any, passed: Iterable[str]) -> list[str]:
    """The keys under which two dictionaries don't hold the same, but those that are passed over."""
    keys = dict.fromkeys((*sorted(other.keys()), *sorted(one.keys())))
    passed_over = {*_PACKING, *passed}
    return [
        key
        for key in keys
        if key not in passed_over
        and not (key in one and key in other and given.digest(one[key]) == made.digest(other[key]))
    ]


def _compare_pages(
    number: int, given: tuple[_Reading, Any], made: tuple[_Reading, Any]
) -> Iterator[Difference]:
    (one, page), (other, wanted) = given, made
    for key in _differing(one, page, other, wanted, ("/Annots",)):
        if key in _BOXES:
            yield Difference(number, "its size, cut or turn differs")
        elif key in _DRAWN:
            yield Difference(number, _DRAWN[key], is_seen=False)
        else:
            words = (
                "an action that runs by itself was put on it" if key == "/AA" else f"its entry {key} differs"
            )
            yield Difference(number, words, is_foreign=key not in wanted)
    yield from _compare_annotations(number, given, made)


def _compare_annotations(
    number: int, given: tuple[_Reading, Any], made: tuple[_Reading, Any]
) -> Iterator[Difference]:
    here, there = (
        [(reading.digest(one), _name_annotation(one)) for one in page.get("/Annots", ())]
        for reading, page in (given, made)
    )
    gone = Counter(there) - Counter(here)
    missing = Counter(kind for _, kind in gone.elements())
    for _, kind in (Counter(here) - Counter(there)).elements():
        if missing[kind]:
            missing[kind] -= 1
            yield Difference(number, f"{kind} on it was changed")
        else:
            yield Difference(number, f"{kind} was laid over it", is_foreign=kind != _LINK)
    for kind in missing.elements():
        yield Difference(number, f"{kind} on it was taken away")


def _name_annotation(annotation: Any) -> str:
    kind = str(annotation.get("/Subtype", "/unknown"))[1:]
    if kind != "Link":
        return f"an annotation ({kind[:40]})"
    return "a link that leads out or runs something" if "/A" in annotation or "/AA" in annotation else _LINK


def _compare_catalogues(given: _Reading, made: _Reading) -> Iterator[Difference]:
    one, other = given.pdf.Root, made.pdf.Root
    if _list_bookmarks(given) != _list_bookmarks(made):
        yield Difference(0, "the bookmarks in it differ")
    for key in _differing(given, one, made, other, ("/Pages", "/Names", "/Outlines")):
        said = _CATALOGUE.get(key, f"the entry {key}")
        if key in other:
            yield Difference(0, f"{said} in it differs", is_seen=key not in _TAGS)
        else:
            yield Difference(0, f"it holds what no packet has: {said}", is_foreign=True)
    names, others = (_held(root, "/Names") for root in (one, other))
    for key in _differing(given, names, made, others, ("/EmbeddedFiles",)):
        said = _NAMES.get(key, f"the names {key}")
        if key in others:
            yield Difference(0, f"{said} differ", is_seen=False)
        else:
            yield Difference(0, f"it holds what no packet has: {said}", is_foreign=True)


def _list_bookmarks(reading: _Reading) -> list[tuple[int, str, bytes]]:
    """Each bookmark with its level and where it leads, in reading order."""
    found = []
    with reading.pdf.open_outline() as outline:
        waiting = [(1, item) for item in reversed(outline.root)]
        while waiting:
            level, item = waiting.pop()
            led = item.destination if item.destination is not None else item.action
            found.append((level, str(item.title), reading.digest(led)))
            waiting += [(level + 1, kid) for kid in reversed(item.children)]
    return found


def _held(holder: Any, key: str) -> Any:
    """The dictionary under a key; an empty one where there is none."""
    return holder.get(key, {})


def _compare_titles(given: _Reading, made: _Reading) -> Iterator[Difference]:
    one, other = (_held(reading.pdf.trailer, "/Info") for reading in (given, made))
    for key in _differing(given, one, made, other, ()):
        yield Difference(0, f"its properties name another {key[1:]}")


def _compare_attachments(given: _Reading, made: _Reading) -> Iterator[Difference]:
    here, there = _list_attachments(given), _list_attachments(made)
    for name in dict.fromkeys((*there, *here)):
        shown = ascii(name)[1:-1][:80]
        if name not in there:
            yield Difference(0, f"the file {shown} was put inside", is_foreign=True)
        elif name not in here:
            yield Difference(0, f"the file {shown} was taken out")
        elif here[name] != there[name]:
            yield Difference(0, f"the file {shown} inside differs")


def _list_attachments(reading: _Reading) -> Mapping[str, list[bytes]]:
    """By name the digests of what lies under it; a name that stands twice has two."""
    found: dict[str, list[bytes]] = {}
    names = _held(reading.pdf.Root, "/Names")
    if "/EmbeddedFiles" in names:
        for name, spec in pikepdf.NameTree(names["/EmbeddedFiles"]).items():
            found.setdefault(str(name), []).append(reading.digest(spec))
    return found


def first_difference(given: bytes, made: bytes) -> int:
    """The first byte, counted from 0, at which two files differ; where one ends, if one starts the other."""
    low, high = 0, min(len(given), len(made))
    while low < high:
        middle = (low + high + 1) // 2
        if given[low:middle] == made[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low
