"""What one revision of a PDF changed of the one before, by pyHanko's analysis, and in words where that is."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from pyhanko.pdf_utils import generic
from pyhanko.sign.diff_analysis import ModificationLevel, StandardDiffPolicy, SuspiciousModification
from pyhanko.sign.diff_analysis.commons import compare_key_refs, qualify_transforming
from pyhanko.sign.diff_analysis.form_rules_api import (
    FieldComparisonContext,
    FieldComparisonSpec,
    FormUpdate,
    FormUpdatingRule,
)
from pyhanko.sign.diff_analysis.rules.file_structure_rules import CatalogModificationRule, XrefStreamRule
from pyhanko.sign.diff_analysis.rules.form_field_rules import SigFieldCreationRule, SigFieldModificationRule

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from pyhanko.pdf_utils.reader import HistoricalResolver

#: An object's number and generation.
Number = tuple[int, int]

#: Parts of the catalog, in the words that somebody who reads a packet has for them.
CATALOG = {
    "/AA": "what runs when the file is opened or printed",
    "/AF": "the attached files",
    "/Collection": "how the attached files are shown",
    "/Lang": "the language",
    "/MarkInfo": "the structure that is read aloud",
    "/Metadata": "the metadata: title, author, dates",
    "/Names": "the attached files, scripts and named places",
    "/OCProperties": "the layers",
    "/OpenAction": "what runs when the file is opened",
    "/Outlines": "the bookmarks",
    "/PageLabels": "the numbers of the pages",
    "/Pages": "the list of pages",
    "/StructTreeRoot": "the structure that is read aloud",
    "/ViewerPreferences": "how the file is shown",
}
INFO = "the title, author and dates"
#: What leads from a page to other pages, or to the whole.
_AWAY = {"/Parent", "/P", "/Dest", "/StructParents", "/B"}
#: More pages, and objects looked at for a word, than a packet has.
_PAGES, _OBJECTS = 50_000, 2_000_000


class _SignatureForm(FormUpdatingRule):
    """The library's rule on forms, for a file that has none yet as well."""

    def apply(self, old: HistoricalResolver, new: HistoricalResolver) -> Iterator[Any]:
        if "/AcroForm" in old.root:
            yield from super().apply(old, new)
            return
        mark = FormUpdate.curry_ref(field_name=None, context_checked=None)
        fresh = generic.DictionaryObject()
        _, form = yield from qualify_transforming(
            ModificationLevel.LTA_UPDATES,
            compare_key_refs("/AcroForm", old, old.root, new.root),
            transform=mark,
        )
        if not isinstance(form, generic.DictionaryObject):
            raise SuspiciousModification("no form")
        _, fields = yield from qualify_transforming(
            ModificationLevel.LTA_UPDATES, compare_key_refs("/Fields", old, fresh, form), transform=mark
        )
        specs = {}
        if not isinstance(fields, generic.ArrayObject):
            raise SuspiciousModification("no fields")
        for reference in fields:
            field = reference.get_object()
            if str(field["/T"]) in specs:
                raise SuspiciousModification("two fields of one name")
            specs[str(field["/T"])] = FieldComparisonSpec(field["/FT"], None, reference.reference, None)
        context = FieldComparisonContext(specs, old, new)
        for rule in self.field_rules:
            yield from rule.apply(context)


_POLICY = StandardDiffPolicy(
    global_rules=[
        CatalogModificationRule(ignored_keys=frozenset({"/AcroForm", "/Extensions"})),
        XrefStreamRule().as_qualified(ModificationLevel.LTA_UPDATES),
    ],
    form_rule=_SignatureForm(
        [SigFieldCreationRule(), SigFieldModificationRule(allow_in_place_appearance_stream_changes=False)],
        ignored_acroform_keys=frozenset({"/Fields"}),
    ),
    ignore_orphaned_objects=False,
    ignore_identical_objects=False,
)


def review_difference(old: HistoricalResolver, new: HistoricalResolver) -> bool:
    """Whether pyHanko finds nothing in `new` that a new signature does not account for.

    Its list of all uses of each object is left empty: to make it takes the library minutes where a packet
    has many. It guards objects that are replaced and have several uses; a signature replaces none but the
    catalog, a page and the form, and whoever asks has looked at those.
    """
    old._indirect_object_access_cache = {}  # noqa: SLF001 (the library has no other way to leave it out)
    try:
        _POLICY.apply(old, new)
    except SuspiciousModification:
        return False
    return True


def list_pages(revision: HistoricalResolver) -> list[Number]:
    """The pages' objects in their order. Raises `ValueError` for a tree that is none."""
    pages: list[Number] = []
    seen: set[Number] = set()
    waiting = [revision.root.raw_get("/Pages")]
    while waiting:
        node = waiting.pop()
        if not isinstance(node, generic.IndirectObject):
            raise ValueError("a page stands within another object")
        number = (node.idnum, node.generation)
        if number in seen or len(pages) > _PAGES:
            raise ValueError("the pages go round in a circle, or there are too many")
        seen.add(number)
        found = revision(node.reference)
        if "/Kids" in found:
            waiting += reversed(list(found["/Kids"]))
        else:
            pages.append(number)
    return pages


def label_objects(pdf: bytes) -> dict[Number, str]:
    """What each object of a PDF belongs to, in words: a page, or a part of the catalog."""
    import pikepdf

    with pikepdf.open(io.BytesIO(pdf), suppress_warnings=True) as document:
        trees: list[tuple[Any, str]] = [
            (page.obj, f"page {place}") for place, page in enumerate(document.pages, 1)
        ]
        pages: dict[Number, str] = {page.objgen: label for page, label in trees}
        if "/Info" in document.trailer:
            trees.append((document.trailer["/Info"], INFO))
        trees += [(document.Root[key], CATALOG[key]) for key in CATALOG if key in document.Root]
        labels: dict[Number, str] = {}
        for tree, label in trees:
            _label_tree(tree, label, labels, pages)
        return {**labels, **pages}


def _label_tree(tree: Any, label: str, labels: dict[Number, str], pages: Collection[Number]) -> None:
    """Give `label` to what hangs together with `tree` and has none, as far as to the pages."""
    waiting = _parts(tree) if tree.objgen in pages else [tree]
    while waiting and len(labels) < _OBJECTS:
        part = waiting.pop()
        if part.is_indirect:
            if part.objgen in labels or part.objgen in pages:
                continue
            labels[part.objgen] = label
        waiting += _parts(part)


def _parts(part: Any) -> list[Any]:  # pikepdf's objects
    import pikepdf

    if isinstance(part, (pikepdf.Dictionary, pikepdf.Stream)):
        found = [value for key, value in part.items() if key not in _AWAY]
    elif isinstance(part, pikepdf.Array):
        found = list(part)
    else:
        return []
    return [one for one in found if isinstance(one, (pikepdf.Dictionary, pikepdf.Array, pikepdf.Stream))]
