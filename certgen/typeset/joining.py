"""Parts set by different engines, joined into one file whose links, bookmarks and structure survive.

Each part arrives as a tagged PDF. A link to another place of the packet is written as the address
`packet:ANCHOR`, since no engine can know the pages of another; here it becomes a link inside the file, or
plain text where the packet has no such place. Quires come with their links resolved.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from certgen.typeset.final_write import DOCUMENT_KEY, LEAVES_KEY, hold_object, sew
from certgen.typeset.page_batch import FIRST_KEY, FIRST_OBJECT
from certgen.typeset.parts import SCHEME
from certgen.typeset.structure import kids, repair_structure

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Quire


@dataclass(slots=True)
class Mark:
    """A bookmark: its title, level and page (counted from 0)."""

    title: str
    level: int
    page: int
    top: float
    anchor: str


@dataclass(slots=True)
class Binding:
    """A packet being joined: append parts in reading order, then `finish`."""

    pdf: pikepdf.Pdf = field(default_factory=pikepdf.new)
    marks: list[Mark] = field(default_factory=list)
    #: anchor -> (page counted from 0, height of the place above the page's foot)
    places: dict[str, tuple[int, float]] = field(default_factory=dict)
    #: The pages in reading order; a page of a quire is held by an object that stands for it.
    leaves: list[Any] = field(default_factory=list)
    quires: list[Quire] = field(default_factory=list)
    _kids: list[Any] = field(default_factory=list)
    _parents: list[Any] = field(default_factory=list)

    @property
    def pages(self) -> int:
        """How many pages there are so far."""
        return len(self.leaves)

    def append(self, file: bytes, *, levels: Sequence[int] = ()) -> None:
        """Put a part after those that are there; `levels` are those of its headings, in order.

        A file's own bookmarks can't tell them: a part that begins below the first level is written as if it
        began at the first.
        """
        with pikepdf.open(io.BytesIO(file)) as part:
            start = self.pages
            self._note_places(part, start, iter(levels))
            numbers = _parent_entries(part)
            # Pages first: what is copied afterwards and points at them then points at the copies.
            own = len(self.pdf.pages)
            self.pdf.pages.extend(part.pages)
            pages = [page.obj for page in self.pdf.pages[own:]]
            self.leaves.extend(pages)
            root = self.pdf.copy_foreign(part.Root.StructTreeRoot)
            self._take_structure(root, pages, numbers)

    def append_quire(self, quire: Quire, *, level: int = 1) -> None:
        """Put finished pages after those that are there."""
        start = self.pages
        self.quires.append(quire)
        self.leaves.extend(hold_object(self.pdf, number) for number, _ in quire.pages)
        self._kids.extend(hold_object(self.pdf, number) for number in quire.tops)
        for anchor, (number, top) in quire.places.items():
            self.places.setdefault(anchor, (start + number, top))
        for one in quire.marks:
            self._mark(one.title, level + one.depth, start + one.page, one.top)

    def draw_over(self, quire: Quire, forms: Sequence[int]) -> None:
        """Draw forms of a quire over the pages, one each, as pagination artifacts."""
        self.quires.append(quire)
        before = self.pdf.make_stream(b"q")
        after = self.pdf.make_stream(b"Q\n/Artifact <</Type /Pagination>> BDC\nq /Running Do Q\nEMC")
        for page, number in zip(self.leaves, forms, strict=True):
            form = hold_object(self.pdf, number)
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

    def open_with(self, file: bytes) -> None:
        """Put a part before all others."""
        before, elements, marks = self.pages, len(self._kids), len(self.marks)
        old_places, self.places = self.places, {}
        self.append(file)
        count = self.pages - before
        self.leaves = self.leaves[before:] + self.leaves[:before]
        for _ in range(count):
            page = self.pdf.pages[-1]
            del self.pdf.pages[-1]
            self.pdf.pages.insert(0, page)
        self._kids = self._kids[elements:] + self._kids[:elements]
        opening = self.marks[marks:]
        for mark in opening:
            mark.page -= before
        for mark in self.marks[:marks]:
            mark.page += count
        self.marks = opening + self.marks[:marks]
        moved = {name: (page - before, top) for name, (page, top) in self.places.items()}
        self.places = {name: (page + count, top) for name, (page, top) in old_places.items()} | moved

    def _note_places(self, part: pikepdf.Pdf, start: int, levels: Iterator[int]) -> None:
        pages = {page.obj.objgen: number for number, page in enumerate(part.pages)}
        for name, target in _named_places(part):
            number = pages.get(target[0].objgen)
            if number is not None:
                self.places.setdefault(name, (start + number, float(target[3])))
        with part.open_outline() as outline:
            self._note_marks(outline.root, 1, levels, pages, start)

    def _note_marks(
        self, items: Iterable[Any], depth: int, levels: Iterator[int], pages: Mapping[Any, int], start: int
    ) -> None:
        for item in items:
            level, target = next(levels, depth), item.destination
            if isinstance(target, Array):
                number = pages.get(target[0].objgen)
                if number is not None:
                    top = float(target[3]) if len(target) > 3 and target[3] is not None else 0.0
                    self._mark(str(item.title), level, start + number, top)
            self._note_marks(item.children, depth + 1, levels, pages, start)

    def _mark(self, title: str, level: int, page: int, top: float) -> None:
        mark = Mark(title, level, page, top, f"section/{len(self.marks)}")
        self.marks.append(mark)
        self.places[mark.anchor] = (page, top)

    def _take_structure(self, root: Any, pages: Iterable[Any], numbers: Mapping[int, Any]) -> None:
        """Hang a part's elements under the one root, and give pages and links their new numbers."""
        for element in kids(root):
            self._kids.append(element)
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
        for element in self._kids:
            # Each engine wraps its part in a Document of its own: the packet is one.
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
        self._write_marks()

    def _write_parents(self, root: Any) -> None:
        own = Dictionary(Nums=Array([item for pair in enumerate(self._parents) for item in pair]))
        root.ParentTreeNextKey = len(self._parents)
        own.Limits = Array([0, len(self._parents) - 1])
        listed = [self.pdf.make_indirect(own)] if self._parents else []
        listed += [hold_object(self.pdf, quire.parents[0]) for quire in self.quires if quire.parents]
        root.ParentTree = self.pdf.make_indirect(Dictionary(Kids=Array(listed)))
        root.ParentTreeNextKey = self.next_key

    @property
    def next_object(self) -> int:
        """The number of the first object of the next quire."""
        return self.quires[-1].next_object if self.quires else FIRST_OBJECT

    @property
    def next_key(self) -> int:
        """The first key that the next quire may have in the parent tree."""
        return self.quires[-1].next_key if self.quires else FIRST_KEY

    def save(self) -> bytes:
        """The file's bytes, with an identifier that follows from its content alone."""
        self.pdf.Root[LEAVES_KEY] = Array(self.leaves)
        return sew(self.pdf, self.quires)

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
                if anchor in self.places:
                    del annotation["/A"]
                    annotation.Dest = String(anchor)
                    annotation.Contents = String(say_link(anchor))
                    kept.append(annotation)
                else:
                    self._unlink(annotation)
            page.Annots = Array(kept)
            page.Tabs = Name.S

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
            names += [String(anchor), Array([self.leaves[number], Name.XYZ, None, round(top + 4, 2), None])]
        leaves = []
        for start in range(0, len(names), 128):
            piece = names[start : start + 128]
            leaves.append(
                self.pdf.make_indirect(Dictionary(Names=Array(piece), Limits=Array([piece[0], piece[-2]])))
            )
        self.pdf.Root.Names = Dictionary(Dests=self.pdf.make_indirect(Dictionary(Kids=Array(leaves))))

    def _write_marks(self) -> None:
        with self.pdf.open_outline() as outline:
            trail: list[Any] = []
            for mark in self.marks:
                target = Array([self.leaves[mark.page], Name.XYZ, 0, round(mark.top + 4, 2), None])
                item = pikepdf.OutlineItem(mark.title, target)
                item.is_closed = True
                del trail[mark.level - 1 :]
                (trail[-1].children if trail else outline.root).append(item)
                trail.append(item)


def _anchor(annotation: Any) -> str:
    """The anchor that a link stands for, or an empty string."""
    action = annotation.get("/A")
    if action is None or action.get("/URI") is None:
        return ""
    uri = bytes(action.URI).decode("utf-8", "replace")
    if not uri.startswith(SCHEME):
        return ""
    from urllib.parse import unquote

    return unquote(uri.removeprefix(SCHEME))


def _named_places(part: pikepdf.Pdf) -> list[tuple[str, Any]]:
    names = part.Root.get("/Names")
    if names is None or "/Dests" not in names:
        return []
    found = []
    for name, target in pikepdf.NameTree(names.Dests).items():
        place = target.D if isinstance(target, Dictionary) else target
        found.append((name, place))
    return found


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
