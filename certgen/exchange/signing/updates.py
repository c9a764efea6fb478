"""What was appended to a PDF, held to what a signature needs.

An incremental update can replace any object of a file: a page, an attachment, the action on opening. So each
one is taken apart: its bytes must be the objects that its index lists and nothing between them, and those
objects a signature, its field, the field's place in the form and on a page. pyHanko's own analysis of the
difference, with the strictest rules that let a first signature pass, has the last word.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pyhanko.pdf_utils import generic

from certgen.exchange.signing.appending import PADES_EXTENSION
from certgen.exchange.signing.differences import (
    CATALOG,
    INFO,
    Number,
    label_objects,
    list_pages,
    review_difference,
)
from certgen.exchange.signing.revisions import RevisionError, check_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pyhanko.pdf_utils.reader import HistoricalResolver, PdfFileReader


_FIELD = {"/FT", "/T", "/Type", "/Subtype", "/F", "/Rect", "/P", "/V"}
_WIDGET = {"/FT": "/Sig", "/Type": "/Annot", "/Subtype": "/Widget"}
_SIGNATURE = {"/Type", "/Filter", "/SubFilter", "/Contents", "/ByteRange", "/M"}
#: The kind of signature that PAdES describes: others don't bind the certificate to what it signed.
_SIGNED = {"/Type": "/Sig", "/Filter": "/Adobe.PPKLite", "/SubFilter": "/ETSI.CAdES.detached"}
_FIELD_NAME = re.compile(r"Signature[0-9]{0,3}")
_DATE = re.compile(r"D:[0-9]{14}(Z|[+-][0-9]{2}'[0-9]{2}'?)?")
_MORE = "an update that was appended to this file holds more than a signature"


def examine_update(pdf: bytes, reader: PdfFileReader, revision: int, span: tuple[int, int]) -> list[str]:
    """What stands in a revision besides one signature, in words; `span` is where it starts and ends."""
    try:
        check_bytes(pdf, reader, revision, span)
    except RevisionError as fault:
        faults = [str(fault)]
    else:
        faults = []
    update = _Update(pdf[: span[0]], reader, revision)
    faults += [*update.check_trailer(), *update.check_catalog(), *update.check_pages()]
    faults += update.check_form()
    faults += update.name_others()
    if not faults and not review_difference(update.old, update.new):
        faults.append(_MORE)
    # What could be named says more than that there is more.
    return [one for one in dict.fromkeys(faults) if one != _MORE] or faults[:1]


class _Update:
    """One incremental update: what its index lists, and the document before and after it."""

    def __init__(self, before: bytes, reader: PdfFileReader, revision: int) -> None:
        self.before = before
        self.old: HistoricalResolver = reader.get_historical_resolver(revision - 1)
        self.new: HistoricalResolver = reader.get_historical_resolver(revision)
        index = reader.xrefs.get_xref_container_info(revision).stream_ref
        self.listed = {
            (ref.idnum, ref.generation): ref for ref in reader.xrefs.explicit_refs_in_revision(revision)
        }
        self.pages = list_pages(self.old)
        # What has its place in a signature's update; the rest is named at the end.
        self.explained: set[Number] = {(self.old.root_ref.idnum, self.old.root_ref.generation)}
        if index is not None:
            self.explained.add((index.idnum, index.generation))
        self.field = self._find_field()

    def is_fresh(self, part: Any) -> bool:  # any PDF object
        """Whether this refers to an object that the update brings along, under a number not used before."""
        return (
            isinstance(part, generic.IndirectObject)
            and (part.idnum, part.generation) in self.listed
            and self.old.is_ref_unassignable(part.reference)
        )

    def check_trailer(self) -> Iterator[str]:
        """The trailer leads to the same catalog and the same title as before."""
        old, new = self.old.trailer_view, self.new.trailer_view
        for key in sorted({*old, *new} - {"/Prev", "/Size", "/ID"}):
            if not _same(old, new, key):
                what = INFO if key == "/Info" else "the file's innermost entries"
                yield f"{what}: changed by an update that was appended"
        if "/ID" in old and old["/ID"][0] != new["/ID"][0]:
            yield "the file's identifier: changed by an update that was appended"

    def check_catalog(self) -> Iterator[str]:
        """The catalog gained a form, and the mark that a PAdES signature is there."""
        old, new = self.old.root, self.new.root
        for key in sorted({*old, *new} - {"/AcroForm", "/Extensions"}):
            if not _same(old, new, key):
                yield f"{CATALOG.get(key, 'the catalog')}: changed by an update that was appended"
        if not _same(old, new, "/Extensions"):
            expected = {
                PADES_EXTENSION: {
                    "/Type": "/DeveloperExtensions",
                    "/BaseVersion": "/1.7",
                    "/ExtensionLevel": 1,
                }
            }
            if "/Extensions" in old or new["/Extensions"] != expected:
                yield "the catalog: changed by an update that was appended"

    def check_pages(self) -> Iterator[str]:
        """One page lists the signature's field among its annotations; nothing else of it is another."""
        for place, number in enumerate(self.pages, 1):
            if number not in self.listed:
                continue
            self.explained.add(number)
            reference = generic.Reference(*number, None)
            old, new = self.old(reference), self.new(reference)
            if not isinstance(new, generic.DictionaryObject) or isinstance(new, generic.StreamObject):
                yield f"page {place}: replaced by an update that was appended"
                continue
            changed = {key for key in {*old, *new} if not _same(old, new, key)}
            if changed & {"/Contents", "/Resources"}:
                yield f"page {place}: what is printed on it was replaced by an update that was appended"
            elif changed - {"/Annots"}:
                yield f"page {place}: changed by an update that was appended"
            if "/Annots" in changed and not self._gained_field(old, new):
                yield f"page {place}: something was laid over it by an update that was appended"

    def _gained_field(self, old: Any, new: Any) -> bool:  # pages
        listed: Any = new.raw_get("/Annots") if "/Annots" in new else generic.ArrayObject()
        if self.is_fresh(listed):
            self.explained.add((listed.idnum, listed.generation))
        elif isinstance(listed, generic.IndirectObject):
            return False
        before = list(old["/Annots"]) if "/Annots" in old else []
        return self.field is not None and list(listed.get_object()) == [*before, self.field]

    def _find_field(self) -> Any:  # the reference to the field that the form gained
        before, after = list_fields(self.old.root), list_fields(self.new.root)
        added, kept = after[len(before) :], after[: len(before)] == before
        return added[0] if kept and len(added) == 1 and self.is_fresh(added[0]) else None

    def check_form(self) -> Iterator[str]:
        """The form gained one field, a signature's, that shows nothing and holds a signature and no more."""
        if self.field is None:
            many = len(list_fields(self.new.root)) > len(list_fields(self.old.root)) + 1
            yield "a form: fields were added by an update that was appended" if many else _MORE
            return
        form = self.new.root["/AcroForm"]
        self._explain(self.old.root, self.new.root, "/AcroForm")
        if "/AcroForm" in self.old.root:
            self._explain(self.old.root["/AcroForm"], form, "/Fields")
        else:
            self._explain({}, form, "/Fields")
        if {*form} - {"/Fields", "/SigFlags"} or form.get("/SigFlags", 3) not in {1, 3}:
            yield "a form: added by an update that was appended"
        field = self.field.get_object()
        self.explained.add((self.field.idnum, self.field.generation))
        self._explain_list(field)
        names = [str(one.get_object().get("/T")) for one in form["/Fields"]]
        if len(names) != len(set(names)):
            yield "two signatures of one name were appended to this file"
        yield from self._check_field(field)

    def _explain(self, old: Any, new: Any, key: str) -> None:  # dictionaries
        """The object at `key` has its place here, if it is the one that was there, or is new."""
        part = new.raw_get(key)
        if isinstance(part, generic.IndirectObject):
            kept = key in old and old.raw_get(key) == part
            if kept or self.is_fresh(part):
                self.explained.add((part.idnum, part.generation))

    def _explain_list(self, field: Any) -> None:  # a dictionary
        """A page may keep the list of its annotations apart; the field then stands at that list's end."""
        page = field.raw_get("/P")
        listed = self.old(page.reference).get("/Annots") if self._is_page(page) else None
        if not isinstance(listed, generic.IndirectObject):
            return
        old, new = self.old(listed.reference), self.new(listed.reference)
        if isinstance(new, generic.ArrayObject) and list(new) == [*old, self.field]:
            self.explained.add((listed.idnum, listed.generation))

    def _is_page(self, part: Any) -> bool:  # any PDF object
        return isinstance(part, generic.IndirectObject) and (part.idnum, part.generation) in self.pages

    def _check_field(self, field: Any) -> Iterator[str]:  # a dictionary
        if "/AP" in field or "/MK" in field or any(float(side) for side in field.get("/Rect", [])):
            yield f"{self._find_place()}: a visible signature draws over it"
        elif {*field} - _FIELD or not self._is_plain(field):
            yield _MORE
        if not _FIELD_NAME.fullmatch(str(field.get("/T"))) or not isinstance(field.get("/F", 0), int):
            yield "a signature's field bears words of its own"
        value = field.raw_get("/V")
        if not self.is_fresh(value):
            yield "a signature is not where its field says"
            return
        self.explained.add((value.idnum, value.generation))
        yield from _check_signature(value.get_object())

    def _is_plain(self, field: Any) -> bool:  # a dictionary
        return self._is_page(field.raw_get("/P")) and all(
            field.get(key) == value for key, value in _WIDGET.items()
        )

    def _find_place(self) -> str:
        for place, number in enumerate(self.pages, 1):
            page = self.new(generic.Reference(*number, None))
            if "/Annots" in page and self.field in list(page["/Annots"]):
                return f"page {place}"
        return "a page"

    def name_others(self) -> Iterator[str]:
        """The objects that no signature accounts for, by what they belong to."""
        others = sorted({*self.listed} - self.explained)
        if not others:
            return
        labels = label_objects(self.before)
        found = dict.fromkeys(labels[number] for number in others if number in labels)
        for label in found:
            yield f"{label}: changed by an update that was appended"
        if not found:
            yield _MORE


def _check_signature(signature: Any) -> Iterator[str]:  # a dictionary
    """The signature's own dictionary says when it was made, and nothing else in words."""
    if (
        {*signature} - _SIGNATURE
        or any(signature.get(key) != value for key, value in _SIGNED.items())
        or not _DATE.fullmatch(str(signature.get("/M", "D:20000101000000")))
    ):
        yield "a signature is of another kind, or holds more than itself: a reason, a place, other words"


def list_fields(root: Any) -> list[Any]:  # a catalog; references
    """The fields of a document's form, from its catalog."""
    form = _resolve(root, "/AcroForm")
    fields = _resolve(form, "/Fields") if isinstance(form, generic.DictionaryObject) else None
    return list(fields) if isinstance(fields, generic.ArrayObject) else []


def _resolve(holder: Any, key: str) -> Any:  # a dictionary
    """An entry, its reference followed; None where it is missing, or null."""
    try:
        return holder[key]
    except KeyError:
        return None


def _same(old: Any, new: Any, key: str) -> bool:  # dictionaries
    """Whether an entry refers to the same object, or is the same, in two revisions."""
    if (key in old) != (key in new):
        return False
    return key not in old or bool(old.raw_get(key) == new.raw_get(key))
