"""The index of identifiers: where each of them stands in the document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.collector import pause_collector
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.page_batch import PLACES
from certgen.typeset.typst_chapters import SetChapter, number_chapter
from certgen.typeset.typst_pages import compile_typst, design_of
from certgen.typeset.typst_text import Links

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.page_batch import Numbering, PageBatch
    from certgen.typeset.parts import Index

#: In how many columns the entries stand.
_COLUMNS: Final = 4
#: No page holds so many entries.
_MORE_THAN_A_PAGE: Final = 400
#: A page's number and the address of the place there.
Page = tuple[str, str]


@pause_collector()
def compose_index(
    index: Index,
    places: Mapping[str, tuple[int, float]],
    before: int,
    settings: Settings,
    start: Numbering,
    files: Mapping[str, int],
) -> PageBatch:
    """The index in finished pages, whose objects and keys are numbered from `start` on.

    `places` and `before` are as in `set_index`, `files` the numbers of the attached files, by name.
    """
    return number_chapter(set_index(index, places, before, settings, files), settings, start, files)


def set_index(
    index: Index,
    places: Mapping[str, tuple[int, float]],
    before: int,
    settings: Settings,
    files: Collection[str] = (),
) -> SetChapter:
    """The index as Typst set it, with what its links lead to.

    `places` say on which page (from 0) each anchor stands, and `before` is how many pages will be put in
    front of these; `files` are the names of the attached files that links may open. Neighbours on the same
    pages share an entry, so that 20,000 tags fit a few pages.
    """
    links = Links(frozenset(places), files)
    groups = [
        {"title": fit_to_set(heading), "entries": [_entry(*entry, links) for entry in listed]}
        for heading, entries in index.groups
        if (listed := _merge(entries, places, before))
    ]
    groups += [
        {"title": fit_to_set(heading), "entries": [_paper(*paper, places, before, links) for paper in papers]}
        for heading, papers in index.papers
    ]
    data = {
        **design_of(settings),
        "heading": index.heading,
        "lead": index.lead,
        "columns": _COLUMNS,
        "groups": groups,
        "long": sum(len(group["entries"]) for group in groups) > _MORE_THAN_A_PAGE,
        "places": PLACES,
    }
    return SetChapter(compile_typst("index.typ", data, epoch=settings.epoch), tuple(links.numbers))


def _merge(
    entries: Iterable[tuple[str, Sequence[str]]], places: Mapping[str, tuple[int, float]], before: int
) -> list[tuple[str, str, dict[int, str]]]:
    """The first and last identifier of each entry, and its pages; what stands nowhere is left out."""
    merged: list[tuple[str, str, dict[int, str]]] = []
    for name, anchors in entries:
        pages = _pages(anchors, places, before)
        if not pages:
            continue
        if merged and merged[-1][2].keys() == pages.keys():
            merged[-1] = (merged[-1][0], name, merged[-1][2])
        else:
            merged.append((name, name, pages))
    return merged


def _pages(anchors: Sequence[str], places: Mapping[str, tuple[int, float]], before: int) -> dict[int, str]:
    """The pages on which anchors stand, each with the first of those that stand there."""
    return {places[anchor][0] + before: anchor for anchor in reversed(anchors) if anchor in places}


def _link(pages: Mapping[int, str], links: Links) -> tuple[Page, ...]:
    """One link a page, in order."""
    return tuple((str(number + 1), links.address(pages[number])) for number in sorted(pages))


def _paper(
    name: str,
    anchors: Sequence[str],
    href: str,
    places: Mapping[str, tuple[int, float]],
    before: int,
    links: Links,
) -> dict[str, Any]:
    """A document's entry: its name, which opens it where it is attached, and its pages."""
    pages = _link(_pages(anchors, places, before), links)
    return {"text": fit_to_set(name), "file": links.address(href), "pages": pages}


def _entry(first: str, last: str, pages: Mapping[int, str], links: Links) -> dict[str, Any]:
    ends = (first,) if first == last else (first, last)
    return {"text": " … ".join(fit_to_set(end) for end in ends), "file": "", "pages": _link(pages, links)}
