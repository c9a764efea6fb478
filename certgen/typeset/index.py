"""The index of identifiers: where each tag, tree, lot or document stands in the packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.typeset.legibility import fit_to_set
from certgen.typeset.parts import SCHEME
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: In how many columns the entries stand.
_COLUMNS: Final = 4
LEAD: Final = (
    "Where each tag, tree, lot or document stands in this packet. “B001 … B040” means every identifier of"
    " that table from the first to the last in the order of the register."
)
_Entries = list[tuple[str, str, tuple[tuple[str, str], ...]]]


def set_index(
    identifiers: Sequence[tuple[str, Sequence[tuple[str, Sequence[str]]]]],
    places: Mapping[str, tuple[int, float]],
    before: int,
    *,
    title: str,
    language: str,
    sheet_name: str,
    epoch: int,
) -> bytes:
    """The index as a tagged PDF.

    `identifiers` are the packet's; `places` say on which page (from 0) each anchor stands, and `before` is
    how many pages will be put in front of these. Neighbours on the same pages share an entry, so that 20,000
    tags fit a few pages.
    """
    groups = []
    for heading, entries in identifiers:
        listed: _Entries = []
        for name, anchors in entries:
            # One link a page: it leads to the first of the anchors that stand there.
            found = {places[anchor][0] + before: anchor for anchor in reversed(anchors) if anchor in places}
            pages = tuple((str(number + 1), f"{SCHEME}{found[number]}") for number in sorted(found))
            if not pages:
                continue
            if listed and [page for page, _ in listed[-1][2]] == [page for page, _ in pages]:
                listed[-1] = (listed[-1][0], name, listed[-1][2])
            else:
                listed.append((name, name, pages))
        if listed:
            groups.append({"title": fit_to_set(heading), "entries": [_entry(*one) for one in listed]})
    data = {
        **design_of(sheet_name, language, title),
        "heading": "Index of identifiers",
        "lead": LEAD,
        "columns": _COLUMNS,
        "groups": groups,
    }
    return compile_typst("index.typ", data, epoch=epoch)


def _entry(first: str, last: str, pages: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    ends = (first,) if first == last else (first, last)
    return {"text": " … ".join(fit_to_set(end) for end in ends), "pages": pages}
