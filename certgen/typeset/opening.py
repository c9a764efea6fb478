"""What opens a document and names its pages: the cover, the summary, the contents with the glossary.

The cover names pages of findings, the contents those of the index, and the index counts the pages that come
before it: they are set again until all agree.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import pikepdf

from certgen.typeset.html_pages import count_cover_pages, set_cover
from certgen.typeset.index import compose_index
from certgen.typeset.joining import JoinedFile
from certgen.typeset.legibility import fit_to_set, make_legible, tell_unset, unset_letters
from certgen.typeset.parts import Chapter, Contents, ContentsLine, Run, Section
from certgen.typeset.typst_chapters import number_chapter, set_chapter

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.process_pool import Pool
    from certgen.typeset.design import Settings
    from certgen.typeset.first_page import Cover
    from certgen.typeset.page_batch import PageBatch
    from certgen.typeset.parts import Document, Index
    from certgen.typeset.typst_chapters import SetChapter

    #: Title, level, page from 0, and anchor of a heading.
    Heading = tuple[str, int, int, str]

#: Of the headings below a chapter so many stand in the contents; of more none, for the chapter lists them.
_MOST_BELOW: Final = 40
#: Each round moves pages by those of the round before; past so many, two lengths of a page alternate.
_ROUNDS: Final = 6


@dataclass(frozen=True, slots=True)
class Opening:
    """What opens a document, and its index.

    A part is finished pages, or a file with the levels of its headings (the cover's).
    """

    parts: tuple[PageBatch | tuple[bytes, Sequence[int]], ...]
    index: PageBatch | None


def set_opening(
    document: Document,
    summary: Sequence[PageBatch],
    joined: JoinedFile,
    manifest: Sequence[PageBatch],
    covers: list[Cover],
    settings: Settings,
    pool: Pool,
    apart: Pool,
) -> Opening:
    """Cover, summary and contents of a document, and its index; `summary` are the pages of its chapters,
    `covers` those that may fit. The cover is set by `pool` and the index by `apart`, one here and the other
    elsewhere.

    `joined` holds all that stands between the contents and the index; nothing is added to it here. A document
    of which nothing is to be listed has no page of contents.
    """
    told = JoinedFile()
    for batch in summary:
        told.append_batch(batch)
    glossary = make_legible(Chapter("glossary", document.glossary))
    start = manifest[-1].numbering if manifest else joined.numbering
    first, last = 1, 1
    for _ in range(_ROUNDS):
        before = first + len(told.pages) + last
        places = {name: page + first + 1 for name, (page, _) in told.places.items()}
        places |= {name: page + before + 1 for name, (page, _) in joined.places.items()}
        waiting = pool.offer(set_cover, name_pages(covers[0], places), settings)
        listed = apart.send(
            _compose_index, document.index, joined.places, before, settings, start, joined.files
        )
        cover = _set_first_page(waiting.obtain(), covers, places, settings, pool)
        index = listed.result()
        contents = _list_contents(document, told, first, _headings(joined, index, manifest), before)
        opened = _set_contents(contents, glossary.sections, settings)
        then = index.numbering if index else start
        contained = number_chapter(opened, settings, then) if opened else None
        was, first, last = (first, last), _count_pages(cover), len(contained.pages) if contained else 0
        if was == (first, last):
            break
    return Opening(((cover, (1,)), *summary, *([contained] if contained else [])), index)


def _compose_index(index: Index | None, *given: Any) -> PageBatch | None:
    """The index in finished pages, if there is any; called in a process of its own where it is long."""
    return compose_index(index, *given) if index else None


def _set_contents(
    lines: Sequence[ContentsLine], glossary: Sequence[Section], settings: Settings
) -> SetChapter | None:
    """The page of contents with the glossary below; None if there is nothing on it."""
    if not (lines or glossary):
        return None
    listed = Section("contents", "Contents", 1, (Contents(tuple(lines)),), style="chapter")
    return set_chapter(Chapter("contents", (listed, *glossary)), settings)


def legible_covers(document: Document) -> list[Cover]:
    """The covers, longest first, fit to be set; each says where letters of the document are spelled out."""
    unset = {letter for chapter in document.chapters for letter in unset_letters(chapter)}
    covers = (document.cover, *document.shorter)
    return [tell_unset(make_legible(cover), unset | unset_letters(cover)) for cover in covers]


class _SomePages(dict[str, int]):
    """A page of two digits for each anchor, while none is known."""

    def get(self, _anchor: str, _other: object = None) -> int:
        return 88


def find_fitting(covers: list[Cover], settings: Settings) -> list[Cover]:
    """The covers without the longest if that is too long, as far as that shows before pages are known."""
    too_long = len(covers) > 1 and count_cover_pages(name_pages(covers[0], _SomePages()), settings) > 1
    return covers[too_long:]


def _set_first_page(
    file: bytes, covers: list[Cover], places: Mapping[str, int], settings: Settings, pool: Pool
) -> bytes:
    """The longest cover that fits a page, or the shortest; those too long are taken out of the list.

    `file` is the first of them.
    """
    while len(covers) > 1 and _count_pages(file) > 1:
        del covers[0]
        file = pool.send(set_cover, name_pages(covers[0], places), settings).result()
    return file


def name_pages(value: Any, places: Mapping[str, int]) -> Any:
    """A cover, or a piece of one, in which each run that names a page does so.

    `places` are page numbers by anchor; a run whose anchor has no place keeps its text alone, or is a dash.
    """
    if isinstance(value, Run):
        if not value.page:
            return value
        number = places.get(value.href)
        text = value.text if number is None else f"{value.text}{number}"
        return replace(value, text=text or "–", href=value.href if number else "", page=False)
    if isinstance(value, tuple):
        return tuple(name_pages(item, places) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        changed = {field.name: name_pages(getattr(value, field.name), places) for field in fields(value)}
        return replace(value, **changed)
    return value


def _headings(
    joined: JoinedFile, index: PageBatch | None, manifest: Sequence[PageBatch]
) -> Iterator[Heading]:
    """The headings after the contents; their anchors are those that they get when all is joined."""
    for mark in joined.bookmarks:
        yield mark.title, mark.level, mark.page, mark.anchor
    number, start = len(joined.bookmarks), len(joined.pages)
    for batch in (*([index] if index else []), *manifest):
        for heading in batch.headings:
            yield heading.title, 1 + heading.depth, start + heading.page, f"section/{number}"
            number += 1
        start += len(batch.pages)


def _list_contents(
    document: Document, told: JoinedFile, first: int, headings: Iterable[Heading], before: int
) -> list[ContentsLine]:
    """The lines of the contents: of the summary, and of all headings that `before` pages come before."""
    own = [section.anchor for chapter in document.summary for section in chapter.sections]
    marks = zip(told.bookmarks, own, strict=True)
    listed = [
        *((mark.title, mark.level, mark.page + first, anchor) for mark, anchor in marks),
        *((title, level, page + before, anchor) for title, level, page, anchor in headings),
    ]
    left_out = {fit_to_set(title) for title in document.unlisted}
    return _hang([heading for heading in listed if heading[0] not in left_out])


def _hang(headings: Iterable[Heading]) -> list[ContentsLine]:
    """Headings of the first level as lines, those of the second hung below them while they are few."""
    lines: list[tuple[ContentsLine, list[ContentsLine]]] = []
    for title, level, page, anchor in headings:
        line = ContentsLine(anchor, title, page + 1)
        if level == 1 or not lines:
            lines.append((line, []))
        elif level == 2:
            lines[-1][1].append(line)
    return [replace(line, below=tuple(below)) if len(below) <= _MOST_BELOW else line for line, below in lines]


def _count_pages(file: bytes) -> int:
    with pikepdf.open(io.BytesIO(file)) as pdf:
        return len(pdf.pages)
