"""Parts set by different engines, joined into one file whose links, bookmarks and structure survive.

Each part arrives as a tagged PDF. A link to another place of the document is written as the address
`packet:ANCHOR`, since no engine can know the pages of another; here it becomes a link inside the file, or
plain text where the document has no such place. Where the anchor is the name of an attached file, it becomes
a file attachment annotation, which opens that very file. Page batches come with their links resolved.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream, String

from certgen.typeset.addresses import SCHEME
from certgen.typeset.final_write import (
    DOCUMENT_KEY,
    FIXED_KEY,
    ORDER_KEY,
    stand_in,
    stand_in_for_tops,
    write_joined,
)
from certgen.typeset.page_batch import begin_numbering
from certgen.typeset.structure import kids, repair_structure

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Numbering, PageBatch


@dataclass(slots=True)
class Bookmark:
    """A heading among the bookmarks: its title, level and page (counted from 0)."""

    title: str
    level: int
    page: int
    top: float
    anchor: str


@dataclass(slots=True)
class JoinedFile:
    """A file being joined: append parts in reading order, then `finish` and `save`.

    `files` are the attached files by name, with the numbers that batches know them by; what describes each
    stands in `specs` before `finish`.
    """

    pdf: pikepdf.Pdf = field(default_factory=pikepdf.new)
    bookmarks: list[Bookmark] = field(default_factory=list)
    #: anchor -> (page counted from 0, height of the place above the page's foot)
    places: dict[str, tuple[int, float]] = field(default_factory=dict)
    #: In reading order; for a page of a batch there is an object that stands for it.
    pages: list[Any] = field(default_factory=list)
    batches: list[PageBatch] = field(default_factory=list)
    files: Mapping[str, int] = field(default_factory=dict)
    specs: Mapping[str, Any] = field(default_factory=dict)
    _numbering: Numbering | None = None
    _opener: Any = None
    _elements: list[Any] = field(default_factory=list)
    _parents: list[Any] = field(default_factory=list)

    @property
    def numbering(self) -> Numbering:
        """From where the next batch may number its objects and keys."""
        return self._numbering or begin_numbering(self.files)

    def append(self, file: bytes, *, levels: Sequence[int] = ()) -> None:
        """Put a part after those that are there; `levels` are those of its headings, in order.

        A file's own bookmarks can't tell them: a part that begins below the first level is written as if it
        began at the first.
        """
        with pikepdf.open(io.BytesIO(file)) as part:
            self._note_places(part, len(self.pages), iter(levels))
            numbers = _parent_entries(part)
            # Pages first: what is copied afterwards and points at them then points at the copies.
            own = len(self.pdf.pages)
            self.pdf.pages.extend(part.pages)
            pages = [page.obj for page in self.pdf.pages[own:]]
            self.pages.extend(pages)
            root = self.pdf.copy_foreign(part.Root.StructTreeRoot)
            self._take_structure(root, pages, numbers)

    def take_numbers(self, batches: Iterable[PageBatch]) -> None:
        """Number what comes after the batches, wherever they are appended."""
        for batch in batches:
            self._numbering = max(self.numbering, batch.numbering, key=lambda one: one.next_object)

    def append_batch(self, batch: PageBatch, *, level: int = 1) -> None:
        """Put finished pages after those that are there; `level` is that of their first heading."""
        start = len(self.pages)
        self.batches.append(batch)
        self.take_numbers([batch])
        self.pages.extend(stand_in(self.pdf, number) for number, _ in batch.pages)
        if batch.tops:
            self._elements.append(stand_in_for_tops(self.pdf, len(self.batches) - 1))
        for anchor, (page, top) in batch.places.items():
            self.places.setdefault(anchor, (start + page, top))
        for heading in batch.headings:
            self._add_bookmark(heading.title, level + heading.depth, start + heading.page, heading.top)

    def draw_over(self, file: bytes) -> None:
        """Draw the pages of `file` over the pages, one each, as pagination artifacts."""
        before = self.pdf.make_stream(b"q")
        after = self.pdf.make_stream(b"Q\n/Artifact <</Type /Pagination>> BDC\nq /Running Do Q\nEMC")
        with pikepdf.open(io.BytesIO(file)) as part:
            forms = [self.pdf.copy_foreign(page.as_form_xobject()) for page in part.pages]
        for page, form in zip(self.pages, forms, strict=True):
            if page.get("/Type") != "/Page":
                page.update(Dictionary(Before=before, After=after, Running=form))
                continue
            # Pages of a chapter share their resources: each gets its own, with a name that is always the
            # same.
            resources = Dictionary(dict(page.get("/Resources", Dictionary()).items()))
            drawn = dict(resources.get("/XObject", Dictionary()).items())
            resources.XObject = Dictionary({**drawn, "/Running": form})
            page.Resources = resources
            content = list(page.Contents) if isinstance(page.Contents, Array) else [page.Contents]
            page.Contents = Array([before, *content, after])

    def open_with(self, parts: Iterable[PageBatch | tuple[bytes, Sequence[int]]]) -> None:
        """Put parts before all others: finished pages, or files, each with the levels of its headings."""
        pages, elements, bookmarks = len(self.pages), len(self._elements), len(self.bookmarks)
        own = len(self.pdf.pages)
        old_places, self.places = self.places, {}
        for part in parts:
            if isinstance(part, tuple):
                file, levels = part
                self.append(file, levels=levels)
            else:
                self.append_batch(part)
        count = len(self.pages) - pages
        self.pages = self.pages[pages:] + self.pages[:pages]
        for _ in range(len(self.pdf.pages) - own):
            page = self.pdf.pages[-1]
            del self.pdf.pages[-1]
            self.pdf.pages.insert(0, page)
        self._elements = self._elements[elements:] + self._elements[:elements]
        opening = self.bookmarks[bookmarks:]
        for bookmark in opening:
            bookmark.page -= pages
        for bookmark in self.bookmarks[:bookmarks]:
            bookmark.page += count
        self.bookmarks = opening + self.bookmarks[:bookmarks]
        moved = {name: (number - pages, top) for name, (number, top) in self.places.items()}
        self.places = {name: (number + count, top) for name, (number, top) in old_places.items()} | moved

    def _note_places(self, part: pikepdf.Pdf, start: int, levels: Iterator[int]) -> None:
        pages = {page.obj.objgen: number for number, page in enumerate(part.pages)}
        for name, target in _named_places(part):
            number = pages.get(target[0].objgen)
            if number is not None:
                self.places.setdefault(name, (start + number, float(target[3])))
        with part.open_outline() as outline:
            self._note_bookmarks(outline.root, 1, levels, pages, start)

    def _note_bookmarks(
        self, items: Iterable[Any], depth: int, levels: Iterator[int], pages: Mapping[Any, int], start: int
    ) -> None:
        for item in items:
            level, target = next(levels, depth), item.destination
            if isinstance(target, Array):
                number = pages.get(target[0].objgen)
                if number is not None:
                    top = float(target[3]) if len(target) > 3 and target[3] is not None else 0.0
                    self._add_bookmark(str(item.title), level, start + number, top)
            self._note_bookmarks(item.children, depth + 1, levels, pages, start)

    def _add_bookmark(self, title: str, level: int, page: int, top: float) -> None:
        bookmark = Bookmark(title, level, page, top, f"section/{len(self.bookmarks)}")
        self.bookmarks.append(bookmark)
        self.places[bookmark.anchor] = (page, top)

    def _take_structure(self, root: Any, pages: Iterable[Any], numbers: Mapping[int, Any]) -> None:
        """Put a part's elements under the one root, and give pages and links their new numbers."""
        for element in kids(root):
            self._elements.append(element)
        copied = _flat_parents(root)
        offset = len(self._parents)
        used = sorted(numbers)
        renumbered = {old: offset + position for position, old in enumerate(used)}
        self._parents.extend(copied[old] for old in used)
        for page in pages:
            if "/StructParents" in page:
                page.StructParents = renumbered[int(page.StructParents)]
            for annotation in page.get("/Annots", ()):
                if "/StructParent" in annotation:
                    annotation.StructParent = renumbered[int(annotation.StructParent)]

    def finish(self, settings: Settings) -> None:
        """Build the one structure tree, resolve the links, write bookmarks and named places."""
        pdf = self.pdf
        root = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        document = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Document, P=root))
        flat: list[Any] = []
        for element in self._elements:
            # Each engine wraps its part in a Document of its own: the file is one.
            flat.extend(kids(element) if element.get("/S") == "/Document" else [element])
        for element in flat:
            if "/S" in element:
                element.P = document
        document.K = Array(flat)
        root.K = Array([document])
        document[DOCUMENT_KEY] = True
        self._write_parents(root)
        repair_structure(pdf, root)
        pdf.Root.StructTreeRoot = root
        pdf.Root.MarkInfo = Dictionary(Marked=True)
        pdf.Root.Lang = String(settings.language)
        pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        self._resolve_links(settings.say_link)
        self._write_places()
        self._write_bookmarks()

    def _write_parents(self, root: Any) -> None:
        own = Dictionary(Nums=Array([item for pair in enumerate(self._parents) for item in pair]))
        root.ParentTreeNextKey = len(self._parents)
        own.Limits = Array([0, len(self._parents) - 1])
        listed = [self.pdf.make_indirect(own)] if self._parents else []
        by_key = sorted(self.batches, key=lambda batch: batch.parents[1])
        listed += [stand_in(self.pdf, batch.parents[0]) for batch in by_key]
        root.ParentTree = self.pdf.make_indirect(Dictionary(Kids=Array(listed)))
        root.ParentTreeNextKey = self.numbering.next_key

    def save(self) -> bytes:
        """The file's bytes, with an identifier that follows from its content alone."""
        self.pdf.Root[ORDER_KEY] = Array(self.pages)
        if self.specs:
            self.pdf.Root[FIXED_KEY] = Array([self._look(), *(self.specs[name] for name in self.files)])
        return write_joined(self.pdf, self.batches, self.numbering.next_object)

    def _resolve_links(self, say_link: Callable[[str], str]) -> None:
        for page in self.pdf.pages:
            if "/Annots" not in page:
                continue
            kept = []
            for annotation in page.Annots:
                anchor = _anchor(annotation)
                if not anchor:
                    kept.append(annotation)
                    continue
                annotation.F = 4
                if anchor in self.specs:
                    if self._open_file(annotation, anchor, say_link):
                        kept.append(annotation)
                elif anchor in self.places:
                    del annotation["/A"]
                    annotation.Dest = String(anchor)
                    annotation.Contents = String(say_link(anchor))
                    kept.append(annotation)
                else:
                    self._unlink(annotation)
            page.Annots = Array(kept)
            page.Tabs = Name.S

    def _open_file(self, annotation: Any, name: str, say_link: Callable[[str], str]) -> bool:
        """Make of a link what opens an attached file, in the structure too.

        False for the sign before the text, which has a link and an element of its own: the text's link covers
        the sign as well, so both are left out.
        """
        number = int(annotation.StructParent)
        element = self._parents[number]
        if all(isinstance(kid, Dictionary) and kid.get("/Type") == Name.OBJR for kid in element.K):
            element.P.K = Array([kid for kid in element.P.K if kid != element])
            self._parents[number] = None
            return False
        element.S = Name.Annot
        for key in ("/A", "/BS"):
            if key in annotation:
                del annotation[key]
        x1, y1, x2, y2 = annotation.Rect
        annotation.Rect = Array([min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)])
        annotation.Subtype = Name.FileAttachment
        annotation.FS = self.specs[name]
        annotation.AP = Dictionary(N=self._look())
        annotation.Contents = String(say_link(name))
        return True

    def _look(self) -> Any:
        """How a place looks that opens a file: as it is, since the page shows the text with its sign."""
        if self._opener is None:
            form = Stream(self.pdf, b"q\nQ\n")
            form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, Array([0, 0, 1, 1])
            form.Resources = Dictionary()
            self._opener = self.pdf.make_indirect(form)
        return self._opener

    def _unlink(self, annotation: Any) -> None:
        """Turn a link that leads nowhere into plain text, in the structure too."""
        element = self._parents[int(annotation.StructParent)]
        element.S = Name.Span
        remaining = [
            kid
            for kid in element.K
            if not (isinstance(kid, Dictionary) and kid.get("/Type") == Name.OBJR and kid.Obj == annotation)
        ]
        element.K = Array(remaining)
        self._parents[int(annotation.StructParent)] = None

    def _write_places(self) -> None:
        names: list[Any] = []
        for anchor in sorted(self.places, key=lambda name: name.encode()):
            number, top = self.places[anchor]
            names += [String(anchor), Array([self.pages[number], Name.XYZ, None, round(top + 4, 2), None])]
        nodes = []
        for start in range(0, len(names), 128):
            piece = names[start : start + 128]
            nodes.append(
                self.pdf.make_indirect(Dictionary(Names=Array(piece), Limits=Array([piece[0], piece[-2]])))
            )
        self.pdf.Root.Names = Dictionary(Dests=self.pdf.make_indirect(Dictionary(Kids=Array(nodes))))

    def _write_bookmarks(self) -> None:
        with self.pdf.open_outline() as outline:
            trail: list[Any] = []
            for bookmark in self.bookmarks:
                target = Array([self.pages[bookmark.page], Name.XYZ, 0, round(bookmark.top + 4, 2), None])
                item = pikepdf.OutlineItem(bookmark.title, target)
                item.is_closed = True
                del trail[bookmark.level - 1 :]
                (trail[-1].children if trail else outline.root).append(item)
                trail.append(item)


def _anchor(annotation: Any) -> str:
    """The anchor that a link stands for, or an empty string."""
    action = annotation.get("/A")
    if action is None or action.get("/URI") is None:
        return ""
    uri = bytes(action.URI).decode("utf-8", "replace")
    return unquote(uri.removeprefix(SCHEME)) if uri.startswith(SCHEME) else ""


def _named_places(part: pikepdf.Pdf) -> list[tuple[str, Any]]:
    names = part.Root.get("/Names")
    if names is None or "/Dests" not in names:
        return []
    return [
        (name, target.D if isinstance(target, Dictionary) else target)
        for name, target in pikepdf.NameTree(names.Dests).items()
    ]


def _parent_entries(part: pikepdf.Pdf) -> dict[int, Any]:
    """The numbers of the parent tree that pages and links of `part` really use."""
    used: dict[int, Any] = {}
    for page in part.pages:
        if "/StructParents" in page:
            used[int(page.StructParents)] = None
        for annotation in page.get("/Annots", ()):
            if "/StructParent" in annotation:
                used[int(annotation.StructParent)] = None
    return used


def _flat_parents(root: Any) -> dict[int, Any]:
    flat: dict[int, Any] = {}

    def read(node: Any) -> None:
        listed = node.get("/Nums")
        if listed is not None:
            items = list(listed)
            flat.update(zip((int(key) for key in items[::2]), items[1::2], strict=True))
        for kid in node.get("/Kids", ()):
            read(kid)

    read(root.ParentTree)
    return flat
