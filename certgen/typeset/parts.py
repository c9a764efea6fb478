"""A document as frozen, display-ready text: all that a template or an engine is given.

Nothing here computes. Each part that WeasyPrint sets too, on the first page and in the summary, names the
template that shows it, so that templates need no decisions.
Anchors are `table/id`, the same name in PDF, registers, index and binder; a `href` is an anchor, the name of
an attached file (see `addresses`), or empty.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, TypeAlias
from urllib.parse import quote

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.typeset.entries import CompactRegister, Entries
    from certgen.typeset.first_page import Cover
    from certgen.typeset.spots import Spot


class Numerous:
    """What stands in a document by the ten thousand. It is sent to another process as the values of its
    fields: a dataclass with slots looks up what its fields are each time, and takes more than twice as long.
    """

    __slots__: tuple[str, ...] = ()

    def __reduce__(self) -> tuple[type[Numerous], tuple[object, ...]]:
        return type(self), tuple([getattr(self, name) for name in self.__slots__])


@dataclass(frozen=True, slots=True)
class Run(Numerous):
    """A stretch of text, with the anchor it leads to.

    `field` sets it as a field's name in the records, `mark` puts the shape of a standing before it. On the
    first page `page` puts the number of the page that the anchor stands on behind the text.
    """

    text: str
    href: str = ""
    field: bool = False
    page: bool = False
    mark: str = ""

    @property
    def address(self) -> str:
        """The `href` as it stands behind the scheme, where a percent sign would be taken for a code."""
        return quote(self.href)


@dataclass(frozen=True, slots=True)
class Cell(Numerous):
    """What stands in one cell of a table; `mark` is a standing or weight shown as a shape before the text."""

    runs: tuple[Run, ...]
    kind: str = "text"
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """A column's heading: `kind` is `text`, `number` or `key`; `share` its part of the width."""

    text: str
    kind: str = "text"
    share: str = ""


@dataclass(frozen=True, slots=True)
class Row(Numerous):
    """A row; `tone` is `plain`, `total`, `faulty`."""

    cells: tuple[Cell, ...]
    anchor: str = ""
    tone: str = "plain"


@dataclass(frozen=True, slots=True)
class Grid:
    """A table with a caption; `width` is `column` beside the notes or `measure` across the page.

    The rows of a `close` one stand closer.
    """

    template: ClassVar[str] = "parts/grid.html"
    caption: str
    heads: tuple[Head, ...]
    rows: tuple[Row, ...]
    note: str = ""
    width: str = "measure"
    close: bool = False


@dataclass(frozen=True, slots=True)
class Prose:
    """Running text, with an optional note for the margin; `width` as a table's."""

    template: ClassVar[str] = "parts/prose.html"
    paragraphs: tuple[str, ...]
    margin: str = ""
    width: str = "column"


@dataclass(frozen=True, slots=True)
class Note:
    """A line in small type below something; its runs may lead somewhere."""

    template: ClassVar[str] = "parts/note.html"
    runs: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Listing:
    """A plain list."""

    template: ClassVar[str] = "parts/listing.html"
    items: tuple[tuple[Run, ...], ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and what is said of it."""

    label: str
    runs: tuple[Run, ...]
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """A list of labels and values."""

    template: ClassVar[str] = "parts/facts.html"
    items: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its words: `alt` says in text all that the drawing says; `spots` lead on from it."""

    template: ClassVar[str] = "parts/picture.html"
    name: str
    svg: str
    alt: str
    caption: str = ""
    width: str = "measure"
    spots: tuple[Spot, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt someone at a piece of work, and whose word counts."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Cautions:
    """Warnings where work can hurt someone; `pairs` are rows of those that stand side by side."""

    pairs: tuple[tuple[Caution, ...], ...]


@dataclass(frozen=True, slots=True)
class Exhibit:
    """A paper: what opens it, what it shows as lines or a picture (`alt`: in words), and what it doesn't."""

    paper: Run
    lines: tuple[str, ...] = ()
    pictures: tuple[str, ...] = ()
    alt: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class GapEntry:
    """One gap on a card: its number, what is said, the record, and the line of the file it stands in."""

    anchor: str
    number: str
    message: tuple[Run, ...]
    record: Run
    file: Run
    also: str = ""


@dataclass(frozen=True, slots=True)
class GapCard:
    """One matter with its paper and room to write: `message`, `record` and `place` are its first gap's,
    `entries` tell every gap that is gathered here, `without` says which papers are lacking."""

    number: str
    anchor: str
    weight: str
    mark: str
    title: str
    rule: str
    message: tuple[Run, ...]
    record: Run
    place: str
    entries: tuple[GapEntry, ...]
    remedy: tuple[Run, ...]
    clauses: tuple[str, ...]
    lots: tuple[Run, ...]
    reaches: str
    explanation: str = ""
    exhibits: tuple[Exhibit, ...] = ()
    without: str = ""


@dataclass(frozen=True, slots=True)
class Signature:
    """Lines to sign on."""

    statement: str
    signers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Findings:
    """Side by side: the operation's own declaration with its `signers`, and room for what an inspector finds,
    with `ticks` and a line for each of `lines`."""

    statement: str
    signers: tuple[str, ...]
    title: str
    ticks: tuple[str, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ContentsLine:
    """A line of the contents: the heading, the anchor and number of its page, and what hangs below it."""

    anchor: str
    title: str
    page: int
    below: tuple[ContentsLine, ...] = ()


@dataclass(frozen=True, slots=True)
class Contents:
    """The lines of a contents, in reading order; only Typst sets it."""

    lines: tuple[ContentsLine, ...]


Part: TypeAlias = (
    "Grid | Prose | Note | Listing | Facts | Picture | Cautions | GapCard | Entries | Signature | Findings"
    " | Contents"
)


@dataclass(frozen=True, slots=True)
class Section:
    """A headed stretch of the document: `level` is the heading's place in the outline, `style` its look.

    `chapter` and `dossier` start a page; `follow` looks like a chapter and begins where the one before it
    ended; `part` and `minor` follow on.
    """

    anchor: str
    title: str
    level: int
    parts: tuple[Part, ...]
    kicker: str = ""
    lead: str = ""
    mark: str = ""
    style: str = "part"


@dataclass(frozen=True, slots=True)
class Chapter:
    """Sections that are set together: a chapter is the unit that two processor cores share out."""

    name: str
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class RegisterColumn:
    """A register's column: its heading, its part of the width, and whether figures stand right."""

    title: str
    share: float
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Register:
    """A whole table of the records, a row a record. A cell is a tuple of (text, href) pairs."""

    table: str
    title: str
    lead: str
    columns: tuple[RegisterColumn, ...]
    rows: tuple[tuple[str, tuple[tuple[tuple[str, str], ...], ...]], ...] = field(repr=False)

    @property
    def anchors(self) -> Iterator[str]:
        """What leads to each record."""
        return (anchor for anchor, _ in self.rows)


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file inside the document: its name there, its bytes, its type and what it is to the document."""

    name: str
    data: bytes = field(repr=False)
    media_type: str
    relationship: str
    description: str


@dataclass(frozen=True, slots=True)
class RegisterSet:
    """Registers, one after the other, below one heading with its lead."""

    heading: str = ""
    lead: str = ""
    registers: tuple[Register | CompactRegister, ...] = ()


@dataclass(frozen=True, slots=True)
class Index:
    """Where each identifier stands: `groups` are (heading, ((identifier, anchors where it stands), …)), in
    reading order; `papers` the same of documents, an entry each, with what opens it."""

    heading: str
    lead: str
    groups: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...] = field(repr=False)
    papers: tuple[tuple[str, tuple[tuple[str, tuple[str, ...], str], ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Document:
    """A whole document, in reading order: cover, summary, contents, all else.

    `shorter` are covers that say less, for when the one before them doesn't fit its page; what `glossary`
    says follows on the contents' page.

    `head` and `foot` stand on every page, and beside the foot the QR code of `code`, if it says anything.
    `unlisted` are the titles of sections that the contents leave out;
    they stay among the bookmarks. `producer` is what the file says it was made by.
    """

    head: str
    foot: str
    producer: str
    cover: Cover
    front: tuple[Chapter, ...]
    manifest: RegisterSet
    registers: RegisterSet = RegisterSet()
    back: tuple[Chapter, ...] = ()
    index: Index | None = None
    attachments: tuple[Attachment, ...] = field(default=(), repr=False)
    unlisted: frozenset[str] = frozenset()
    code: str = ""
    shorter: tuple[Cover, ...] = ()
    summary: tuple[Chapter, ...] = ()
    glossary: tuple[Section, ...] = ()

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """All chapters, in reading order."""
        return (*self.summary, *self.front, *self.back)
