"""The index of identifiers: where each of them stands in the document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from certgen.typeset.addresses import SCHEME
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.parts import Index

#: In how many columns the entries stand.
_COLUMNS: Final = 4
#: A page's number and the address of the place there.
Page = tuple[str, str]


def set_index(
    index: Index, places: Mapping[str, tuple[int, float]], before: int, settings: Settings
) -> bytes:
    """The index as a tagged PDF.

    `places` say on which page (from 0) each anchor stands, and `before` is how many pages will be put in
    front of these. Neighbours on the same pages share an entry, so that 20,000 tags fit a few pages.
    """
    groups = [
        {"title": fit_to_set(heading), "entries": [_entry(*entry) for entry in listed]}
        for heading, entries in index.groups
        if (listed := _merge(entries, places, before))
    ]
    groups += [
        {"title": fit_to_set(heading), "entries": [_paper(*paper, places, before) for paper in papers]}
        for heading, papers in index.papers
    ]
    data = {
        **design_of(settings),
        "heading": index.heading,
        "lead": index.lead,
        "columns": _COLUMNS,
        "groups": groups,
    }
    return compile_typst("index.typ", data, epoch=settings.epoch)


def _merge(
    entries: Iterable[tuple[str, Sequence[str]]], places: Mapping[str, tuple[int, float]], before: int
) -> list[tuple[str, str, tuple[Page, ...]]]:
    """The first and last identifier of each entry, and its pages; what stands nowhere is left out."""
    merged: list[tuple[str, str, tuple[Page, ...]]] = []
    for name, anchors in entries:
        pages = _pages(anchors, places, before)
        if not pages:
            continue
        if merged and [page for page, _ in merged[-1][2]] == [page for page, _ in pages]:
            merged[-1] = (merged[-1][0], name, merged[-1][2])
        else:
            merged.append((name, name, pages))
    return merged


def _pages(anchors: Sequence[str], places: Mapping[str, tuple[int, float]], before: int) -> tuple[Page, ...]:
    """The pages on which anchors stand. One link a page: it leads to the first of those that stand there."""
    first = {places[anchor][0] + before: anchor for anchor in reversed(anchors) if anchor in places}
    return tuple((str(number + 1), f"{SCHEME}{quote(first[number])}") for number in sorted(first))


def _paper(
    name: str, anchors: Sequence[str], href: str, places: Mapping[str, tuple[int, float]], before: int
) -> dict[str, Any]:
    """A document's entry: its name, which opens it where it is attached, and its pages."""
    file = f"{SCHEME}{quote(href)}" if href else ""
    return {"text": fit_to_set(name), "file": file, "pages": _pages(anchors, places, before)}


def _entry(first: str, last: str, pages: tuple[Page, ...]) -> dict[str, Any]:
    ends = (first,) if first == last else (first, last)
    return {"text": " … ".join(fit_to_set(end) for end in ends), "file": "", "pages": pages}
