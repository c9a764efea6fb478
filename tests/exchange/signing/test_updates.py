"""Whatever is appended to a packet besides a signature is found, and named."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from pyhanko.pdf_utils import generic
from signed import forge_signed, new_signer, small_pdf

from certgen.exchange.signing.signature import Signatures, read_signatures, sign_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

COVERS = ("certgen.exchange.signing.differences", "certgen.exchange.signing.revisions")
NAME, TEXT, NUMBER = generic.NameObject, generic.TextStringObject, generic.NumberObject


@pytest.fixture(params=[True, False], ids=["packed", "plain"])
def pdf(request: pytest.FixtureRequest) -> bytes:
    """A small packet, with either kind of index."""
    return small_pdf(packed=request.param)


def read_forged(pdf: bytes, forged: bytes) -> Signatures:
    """What is found in a forgery; its base is always the genuine packet, and no signature of it holds."""
    found = read_signatures(forged)

    assert pdf == found.base
    assert [] == [one for one in found.signatures if one.holds]
    return found


def rewrite_page(writer: Any) -> None:
    """Another text on page 1."""
    page = writer.root["/Pages"]["/Kids"][0]
    page["/Contents"] = writer.add_object(generic.StreamObject(stream_data=b"BT (Lot A: certified) Tj ET"))
    writer.update_container(page)


def rewrite_content(writer: Any) -> None:
    """The same, with the page left and its stream replaced."""
    reference = writer.root["/Pages"]["/Kids"][1].raw_get("/Contents").reference
    writer.objects[reference.generation, reference.idnum] = generic.StreamObject(
        stream_data=b"BT (traced) Tj ET"
    )


def rewrite_font(writer: Any) -> None:
    """The letters of page 1 are drawn by another face."""
    font = writer.root["/Pages"]["/Kids"][0]["/Resources"]["/Font"]["/F1"]
    font["/BaseFont"] = NAME("/Symbol")
    writer.update_container(font)


def stamp(writer: Any) -> None:
    """An opaque stamp over page 2."""
    page = writer.root["/Pages"]["/Kids"][1]
    rectangle = generic.ArrayObject([NUMBER(0), NUMBER(0), NUMBER(300), NUMBER(300)])
    annotation = generic.DictionaryObject(
        {NAME("/Type"): NAME("/Annot"), NAME("/Subtype"): NAME("/Square"), NAME("/Rect"): rectangle}
    )
    page["/Annots"] = generic.ArrayObject([writer.add_object(annotation)])
    writer.update_container(page)


def turn_page(writer: Any) -> None:
    """Page 1 on its head."""
    writer.root["/Pages"]["/Kids"][0]["/Rotate"] = NUMBER(180)
    writer.update_container(writer.root["/Pages"]["/Kids"][0])


def drop_page(writer: Any) -> None:
    """Page 2 gone."""
    pages = writer.root["/Pages"]
    pages["/Kids"] = generic.ArrayObject([pages["/Kids"].raw_get(0)])
    pages["/Count"] = NUMBER(1)
    writer.update_container(pages)


def attach(writer: Any) -> None:
    """Another attachment in the place of the list."""
    names = generic.DictionaryObject({NAME("/Names"): generic.ArrayObject()})
    writer.root["/Names"] = generic.DictionaryObject({NAME("/EmbeddedFiles"): names})
    writer.update_root()


def rewrite_attachment(writer: Any) -> None:
    """Another content of the attached records."""
    reference = writer.root["/AF"][0]["/EF"].raw_get("/F").reference
    writer.objects[reference.generation, reference.idnum] = generic.StreamObject(stream_data=b"lots: [x]\n")


def run_script(writer: Any) -> None:
    """JavaScript on opening."""
    action = {NAME("/S"): NAME("/JavaScript"), NAME("/JS"): TEXT("app.alert(1)")}
    writer.root["/OpenAction"] = generic.DictionaryObject(action)
    writer.update_root()


def rewrite_title(writer: Any) -> None:
    """Another title in the older place."""
    info = writer.trailer["/Info"]
    info["/Title"] = TEXT("CERTIFIED")
    writer.update_container(info)


def replace_title(writer: Any) -> None:
    """The same by a new object in the trailer."""
    writer.set_info(writer.add_object(generic.DictionaryObject({NAME("/Title"): TEXT("CERTIFIED")})))


def rewrite_metadata(writer: Any) -> None:
    """Another title in the newer place."""
    reference = writer.root.raw_get("/Metadata").reference
    writer.objects[reference.generation, reference.idnum] = generic.StreamObject(stream_data=b"<x/>")


def add_metadata(writer: Any) -> None:
    """The same by a new object in the catalog."""
    writer.root["/Metadata"] = writer.add_object(generic.StreamObject(stream_data=b"<x/>"))
    writer.update_root()


def replace_catalog(writer: Any) -> None:
    """Another catalog under another number."""
    root = generic.DictionaryObject({key: writer.root.raw_get(key) for key in writer.root})
    reference = writer.add_object(root)
    writer.trailer["/Root"] = writer._root = reference
    writer._root_object = root


def add_orphan(writer: Any) -> None:
    """An object that nothing refers to."""
    writer.add_object(TEXT("nobody refers to this"))


def add_trailer_entry(writer: Any) -> None:
    """Something in the trailer."""
    writer.set_custom_trailer_entry(NAME("/Note"), TEXT("CERTIFIED"))


def add_form_field(writer: Any) -> None:
    """A field to fill in beside the signature."""
    field = {NAME("/FT"): NAME("/Tx"), NAME("/T"): TEXT("Note"), NAME("/V"): TEXT("certified")}
    fields = generic.ArrayObject([writer.add_object(generic.DictionaryObject(field))])
    writer.root["/AcroForm"] = generic.DictionaryObject({NAME("/Fields"): fields})
    writer.update_root()


def add_xfa(writer: Any) -> None:
    """A form of the kind that draws its own pages."""
    form = {NAME("/Fields"): generic.ArrayObject(), NAME("/XFA"): TEXT("<xdp/>")}
    writer.root["/AcroForm"] = generic.DictionaryObject(form)
    writer.update_root()


def add_extension(writer: Any) -> None:
    """A word where only the mark of the standard belongs."""
    writer.root["/Extensions"] = generic.DictionaryObject({NAME("/CERT"): TEXT("certified")})
    writer.update_root()


CHANGES = {
    rewrite_page: "page 1: what is printed on it was replaced",
    rewrite_content: "page 2: changed",
    rewrite_font: "page 1: changed",
    stamp: "page 2: something was laid over it",
    turn_page: "page 1: changed",
    drop_page: "the list of pages: changed",
    attach: "the attached files, scripts and named places: changed",
    rewrite_attachment: "the attached files: changed",
    run_script: "what runs when the file is opened: changed",
    rewrite_title: "the title, author and dates: changed",
    replace_title: "the title, author and dates: changed",
    rewrite_metadata: "the metadata: title, author, dates: changed",
    add_metadata: "the metadata: title, author, dates: changed",
    add_orphan: "holds more than a signature",
    add_trailer_entry: "the file's innermost entries: changed",
    add_form_field: "a form: fields were added",
    add_xfa: "a form: added",
    add_extension: "the catalog: changed",
}


@pytest.mark.parametrize(("change", "named"), CHANGES.items(), ids=[change.__name__ for change in CHANGES])
def test_a_change_signed_by_anybody_is_found_and_named(
    pdf: bytes, change: Callable[[Any], None], named: str
) -> None:
    """The change came with a signature over the whole file, as whoever has a key can make one."""
    found = read_forged(pdf, forge_signed(pdf, change, new_signer("Certifier")))

    assert named in "\n".join(found.faults)
    assert ["more than a signature was added with it"] == [one.fault for one in found.signatures]


@pytest.mark.parametrize("change", CHANGES, ids=[change.__name__ for change in CHANGES])
def test_a_change_behind_a_signature_is_found(pdf: bytes, change: Callable[[Any], None]) -> None:
    """The forger's signature, behind the grower's, does not hold."""
    signed = sign_bytes(pdf, new_signer("Grower"))
    found = read_signatures(forge_signed(signed, change, new_signer("Certifier"), field_name="Signature2"))

    assert pdf == found.base
    assert ["Certifier"] == [one.signer for one in found.signatures if not one.holds]
    assert () != found.faults
