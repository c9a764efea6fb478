"""The structure tree of a tagged PDF: walking it, and repairing what the engines leave out of PDF/UA-1."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pikepdf
from pikepdf import Array, Dictionary, Name

if TYPE_CHECKING:
    from collections.abc import Iterator


def kids(element: Any) -> list[Any]:
    """The child elements of a structure element, without marked content and object references."""
    inside = element.get("/K")
    if inside is None:
        return []
    listed = list(inside) if isinstance(inside, pikepdf.Array) else [inside]
    return [kid for kid in listed if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]


def walk(element: Any) -> Iterator[Any]:
    """Every structure element below `element`, in reading order."""
    for kid in kids(element):
        yield kid
        yield from walk(kid)


def repair_structure(pdf: pikepdf.Pdf, root: Any) -> None:
    """Go through the whole tree once and repair what stands wrong."""
    for element in walk(root):
        kind = element.S
        if kind == "/L":
            _repair_list(pdf, element)
        elif kind == "/TH":
            _say_scope(element)


def _attributes(element: Any) -> list[Any]:
    attributes = element.get("/A")
    listed = list(attributes) if isinstance(attributes, Array) else [attributes]
    return [entry for entry in listed if isinstance(entry, Dictionary)]


def _say_scope(cell: Any) -> None:
    if "/A" not in cell:
        cell.A = Dictionary(O=Name.Table)
    listed = _attributes(cell)
    if any("/Scope" in entry for entry in listed):
        return
    for entry in listed:
        if entry.get("/O") == "/Table":
            entry.Scope = Name.Column if cell.P.P.S == "/THead" else Name.Row


def _repair_list(pdf: pikepdf.Pdf, element: Any) -> None:
    """A list holds items and nothing else; a label with its value is one item."""
    repaired = []
    for kid in kids(element):
        if kid.S in {"/LI", "/Caption", "/L"}:
            repaired.append(kid)
            continue
        inside = kids(kid)
        if inside and all(item.S == "/LI" for item in inside):
            parts = [part for item in inside for part in kids(item)]
            for number, part in enumerate(parts):
                part.S = Name.Lbl if number == 0 and len(parts) > 1 else Name.LBody
                part.P = kid
            kid.S = Name.LI
            kid.K = Array(parts)
            repaired.append(kid)
        else:
            item = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.LI, P=element))
            kid.S = Name.LBody
            kid.P = item
            item.K = Array([kid])
            repaired.append(item)
    element.K = Array(repaired)
