"""What PDF/UA-1 asks of the structure and the setters leave out: scopes of heading cells, whole lists."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pikepdf import Array, Dictionary, Name

from certgen.report.structure import kids, walk

if TYPE_CHECKING:
    import pikepdf


def mend_structure(pdf: pikepdf.Pdf, root: Any) -> None:
    """Go through the whole tree once and mend what stands wrong."""
    for element in walk(root):
        kind = element.S
        if kind == "/L":
            _mend_list(pdf, element)
        elif kind == "/TH":
            _say_scope(element)


def _attributes(element: Any) -> list[Any]:
    found = element.get("/A")
    listed = list(found) if isinstance(found, Array) else [found]
    return [one for one in listed if isinstance(one, Dictionary)]


def _say_scope(cell: Any) -> None:
    if "/A" not in cell:
        cell.A = Dictionary(O=Name.Table)
    listed = _attributes(cell)
    if any("/Scope" in one for one in listed):
        return
    for one in listed:
        if one.get("/O") == "/Table":
            one.Scope = Name.Column if cell.P.P.S == "/THead" else Name.Row


def _mend_list(pdf: pikepdf.Pdf, element: Any) -> None:
    """A list holds items and nothing else; a label with its value is one item."""
    mended = []
    for kid in kids(element):
        if kid.S in {"/LI", "/Caption", "/L"}:
            mended.append(kid)
            continue
        inside = kids(kid)
        if inside and all(one.S == "/LI" for one in inside):
            parts = [part for one in inside for part in kids(one)]
            for number, part in enumerate(parts):
                part.S = Name.Lbl if number == 0 and len(parts) > 1 else Name.LBody
                part.P = kid
            kid.S = Name.LI
            kid.K = Array(parts)
            mended.append(kid)
        else:
            item = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.LI, P=element))
            kid.S = Name.LBody
            kid.P = item
            item.K = Array([kid])
            mended.append(item)
    element.K = Array(mended)
