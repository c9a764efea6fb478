"""Whatever is appended to a packet besides a signature is found, and named."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from pyhanko.pdf_utils import generic
from signed import Update, forge_signed, new_signer, sign_by_hand, small_pdf

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


def test_a_link_that_is_led_elsewhere_is_found() -> None:
    """The list of page 1's links, which a signature may lengthen, with one in it replaced."""
    pdf = small_pdf(linked=True)

    def lead_away(writer: Any) -> None:
        listed = writer.root["/Pages"]["/Kids"][0]["/Annots"]
        listed[0] = writer.add_object(generic.DictionaryObject({NAME("/Subtype"): NAME("/Link")}))
        writer.update_container(listed)

    found = read_forged(pdf, forge_signed(pdf, lead_away, new_signer("Certifier")))
    assert "page 1: changed by an update that was appended" in found.faults


@pytest.mark.parametrize("change", CHANGES, ids=[change.__name__ for change in CHANGES])
def test_a_change_behind_a_signature_is_found(change: Callable[[Any], None]) -> None:
    """The forger's signature, behind the grower's, does not hold."""
    pdf = small_pdf()
    signed = sign_bytes(pdf, new_signer("Grower"))
    found = read_signatures(forge_signed(signed, change, new_signer("Certifier"), field_name="Signature2"))

    assert pdf == found.base
    assert ["Certifier"] == [one.signer for one in found.signatures if not one.holds]
    assert () != found.faults


def test_a_signature_by_another_hand_holds() -> None:
    """Written without pyHanko, with an index of the older kind: what follows is found for what it changes."""
    update = Update(small_pdf(packed=False))
    update.add_signature()
    found = read_signatures(sign_by_hand(update.write(), new_signer()))

    assert (small_pdf(packed=False), (), [""]) == (
        found.base,
        found.faults,
        [one.fault for one in found.signatures],
    )


def show_visibly(update: Update) -> None:
    """A signature with a place on the page."""
    update.add_signature(field="/Rect [0 0 300 300]")


def draw(update: Update) -> None:
    """A signature that brings its own drawing."""
    number = update.add("<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] /Length 0 >>\nstream\n\nendstream")
    update.add_signature(field=f"/AP << /N {number} 0 R >>")


def give_reason(update: Update) -> None:
    """A signature with words that a reader shows beside it."""
    update.add_signature(value="/Reason (certified as organic)")


def give_name(update: Update) -> None:
    """A signature with a signer's name besides the certificate's."""
    update.add_signature(value="/Name (Certifier)")


def use_older_kind(update: Update) -> None:
    """A kind of signature that another certificate for the same key would fit as well."""
    update.add_signature(kind="adbe.pkcs7.detached")


def hide_page(update: Update) -> None:
    """Words where the field names its page."""
    update.add_signature(page="<< /Note (certified) >>")


def name_field(update: Update) -> None:
    """A field whose name is a claim."""
    update.add_signature(name="Certified by the inspector")


def run_on_click(update: Update) -> None:
    """A field that does something when touched."""
    update.add_signature(field="/A << /S /URI /URI (https://certifier.example) >>")


def add_resources(update: Update) -> None:
    """A form with a face of its own."""
    update.add_signature(form="/DR << /Font << >> >>")


def calculate(update: Update) -> None:
    """A form that reckons on opening."""
    update.add_signature(form="/CO []")


def nest(update: Update) -> None:
    """The signature's field as a child of another."""
    update.add_signature(field="/Kids []")


SIGNED_CHANGES = {
    show_visibly: "page 1: a visible signature draws over it",
    draw: "page 1: a visible signature draws over it",
    give_reason: "or holds more than itself",
    give_name: "or holds more than itself",
    use_older_kind: "a signature is of another kind",
    hide_page: "holds more than a signature",
    name_field: "a signature's field bears words of its own",
    run_on_click: "holds more than a signature",
    add_resources: "a form: added",
    calculate: "a form: added",
    nest: "holds more than a signature",
}


@pytest.mark.parametrize(
    ("change", "named"), SIGNED_CHANGES.items(), ids=[one.__name__ for one in SIGNED_CHANGES]
)
def test_a_signature_that_says_or_shows_more_is_found(change: Callable[[Update], None], named: str) -> None:
    """A signature is a place for words and drawings too; ours have none."""
    update = Update(small_pdf(packed=False))
    change(update)
    found = read_forged(small_pdf(packed=False), sign_by_hand(update.write(), new_signer()))

    assert named in "\n".join(found.faults)


def list_twice(update: Update) -> None:
    """The catalog twice in the index: one reader takes the first, another the last."""
    update.entries.append((update.root, 0, update.pdf.index(b"endobj") - 40, "n"))


def use_prepared_object(update: Update) -> None:
    """The index leads to an object that lies ready within an attachment of the packet."""
    number = update.pdf.index(b"8 0 obj")
    update.entries.append((8, 0, number, "n"))


def free_object(update: Update) -> None:
    """Page 2 is taken away."""
    update.entries.append((update.pages[1], 1, 0, "f"))


def use_generation(update: Update) -> None:
    """Page 2 under its number, in another generation."""
    update.add("<< /Type /Page >>", update.pages[1], 1)


def add_hybrid(update: Update) -> None:
    """A second index, which only newer readers follow."""
    update.trailer["/XRefStm"] = update.trailer["/Prev"]


def loop(update: Update) -> None:
    """The index before this one is this one."""
    update.trailer["/Prev"] = str(len(update.write()) - 400)


def encrypt(update: Update) -> None:
    """A file that suddenly has a password."""
    number = update.add("<< /Filter /Standard /V 1 /R 2 /O () /U () /P -4 >>")
    update.trailer["/Encrypt"] = f"{number} 0 R"


def change_identifier(update: Update) -> None:
    """Another identifier."""
    update.trailer["/ID"] = "[<00><00>]"


def point_outside(update: Update) -> None:
    """An object that lies behind the end of the file."""
    update.entries.append((update.size, 0, 99_999_999, "n"))
    update.size += 1


def restart(update: Update) -> None:
    """No index before this one: all that came before is out of reach."""
    del update.trailer["/Prev"]


INDEX_TRICKS = (
    list_twice,
    use_prepared_object,
    free_object,
    use_generation,
    add_hybrid,
    loop,
    encrypt,
    change_identifier,
    point_outside,
    restart,
)


@pytest.mark.parametrize("trick", INDEX_TRICKS, ids=[one.__name__ for one in INDEX_TRICKS])
def test_tricks_with_the_index_are_found(trick: Callable[[Update], None]) -> None:
    """No signature holds in a file that two readers may understand differently."""
    update = Update(small_pdf(packed=False))
    update.add_signature()
    trick(update)
    found = read_signatures(sign_by_hand(update.write(), new_signer()))

    assert () != found.faults
    assert [] == [one for one in found.signatures if one.holds]


@pytest.mark.parametrize(
    ("between", "trailing"),
    [
        ("% certified\n", ""),
        ("99 0 obj\n(certified)\nendobj\n", ""),
        ("", "% certified\n"),
        ("", "(certified)\n"),
    ],
)
def test_bytes_between_the_objects_are_found(between: str, trailing: str) -> None:
    """No reader shows them; a later index could lead there."""
    update = Update(small_pdf(packed=False))
    update.add_signature()
    forged = sign_by_hand(update.write(between=between, trailing=trailing), new_signer())

    assert () != read_signatures(forged).faults


def test_a_comment_within_an_object_is_found() -> None:
    """The same, where the index does lead."""
    update = Update(small_pdf(packed=False))
    update.add_signature(value="% certified\n")

    found = read_forged(small_pdf(packed=False), sign_by_hand(update.write(), new_signer()))
    assert ("an update that was appended to this file holds bytes that belong to no object",) == found.faults


def test_a_signature_over_less_than_its_revision_is_found() -> None:
    """Bytes that it leaves out can be changed later."""
    update = Update(small_pdf(packed=False))
    update.add_signature()
    data = update.write()
    found = read_forged(small_pdf(packed=False), sign_by_hand(data, new_signer(), covered=len(data) - 40))

    assert ["the signature does not cover all of the file up to its end"] == [
        one.fault for one in found.signatures
    ]


@pytest.mark.parametrize("padding", [b"\x01", b"\x00" * 40 + b"certified"])
def test_bytes_in_the_space_behind_a_signature_are_found(padding: bytes) -> None:
    """The one stretch that a signature can't cover is its own room; it is empty but for the signature."""
    update = Update(small_pdf(packed=False))
    update.add_signature()
    found = read_forged(small_pdf(packed=False), sign_by_hand(update.write(), new_signer(), padding=padding))

    assert ["the space behind the signature was written to"] == [one.fault for one in found.signatures]


def test_attributes_that_a_signature_does_not_cover_are_found(pdf: bytes) -> None:
    """Anybody could put them in afterwards."""
    from asn1crypto import cms

    signed = sign_bytes(pdf, new_signer())
    start, end = signed.rindex(b"/Contents <") + 11, signed.rindex(b">", 0, signed.rindex(b"/ByteRange"))
    message = cms.ContentInfo.load(bytes.fromhex(signed[start:end].decode()))
    extra = cms.CMSAttribute({"type": "1.2.3.4", "values": [cms.Any(cms.OctetString(b"certified"))]})
    message["content"]["signer_infos"][0]["unsigned_attrs"] = cms.CMSAttributes([extra])
    changed = message.dump(force=True).hex().encode().ljust(end - start, b"0")
    found = read_forged(pdf, signed[:start] + changed + signed[end:])

    assert ["the signature holds parts that it does not cover"] == [one.fault for one in found.signatures]


def test_an_update_that_nobody_signed_is_found(pdf: bytes) -> None:
    """Whatever it says, and however little."""
    signed = sign_bytes(pdf, new_signer("Grower"))
    update = Update(signed)
    update.add("(a remark)")
    found = read_signatures(update.write())

    assert pdf == found.base
    assert [("Grower", True)] == [(one.signer, one.holds) for one in found.signatures]
    assert "an update was appended to this file that no signature covers" in found.faults


def test_an_update_that_leaves_the_last_one_out_is_found() -> None:
    """Its index leads past the signature before it, which is then no part of the document any more."""
    pdf = small_pdf(packed=False)
    update = Update(sign_bytes(pdf, new_signer("Grower")))
    update.trailer["/Prev"] = pdf.rsplit(b"startxref", 1)[1].split()[0].decode()
    update.add_signature()
    found = read_forged(pdf, sign_by_hand(update.write(), new_signer("Certifier")))

    assert "an update that was appended to this file holds bytes that belong to no object" in found.faults


def test_a_signature_that_is_taken_out_again_is_found(pdf: bytes) -> None:
    """The catalog without its form: a reader shows an unsigned file."""
    update = Update(sign_bytes(pdf, new_signer("Grower")))
    update.change(update.root, AcroForm="null")
    found = read_signatures(update.write())

    assert (pdf, ()) == (found.base, found.signatures)
    assert "an update was appended to this file that no signature covers" in found.faults


def test_a_signature_of_another_file_does_not_hold() -> None:
    """Copied with its update onto a packet of the same length."""
    signed, pdf = sign_bytes(small_pdf(packed=False), new_signer()), small_pdf(packed=False)
    other = pdf.replace(b"A season's packet", b"A farmer's packet")
    found = read_forged(other, other + signed[len(pdf) :])

    assert ["the signature does not fit the file's bytes"] == [one.fault for one in found.signatures]


def test_two_signatures_of_one_name_are_found(pdf: bytes) -> None:
    """A reader that goes by names would show one of them for both."""
    first = sign_bytes(pdf, new_signer("Grower"))

    forged = forge_signed(first, lambda _writer: None, new_signer("Certifier"), field_name="Signature2")
    found = read_signatures(forged.replace(b"(Signature2)", b"(Signature1)"))

    assert [True, False] == [one.holds for one in found.signatures] or () == found.signatures
    assert () != found.faults


@pytest.mark.parametrize("tail", [b" ", b"\n", b"\0", b"% more\n", b"%%EOF\n", b"startxref\n0\n%%EOF\n"])
def test_bytes_behind_the_end_are_found(pdf: bytes, tail: bytes) -> None:
    """However few; a reader that looks for the last end may take them for another beginning."""
    assert () != read_signatures(sign_bytes(pdf, new_signer()) + tail).faults


def test_changed_bytes_are_found_wherever_they_are(pdf: bytes) -> None:
    """Bits turned over, in the packet or behind it: the base is another, or no signature holds."""
    signed = sign_bytes(pdf, new_signer())
    missed = []
    for place in range(5, len(signed), 71):
        changed = bytearray(signed)
        changed[place] ^= 1 << (place % 8)
        found = read_signatures(bytes(changed))
        if found.base == pdf and not found.faults and all(one.holds for one in found.signatures):
            missed.append(place)

    assert [] == missed


@pytest.mark.parametrize("cut", [1, 7, 60, 400, 3000, 8500])
def test_a_file_that_was_cut_short_is_found(pdf: bytes, cut: int) -> None:
    """The answer is never that all is well."""
    found = read_signatures(sign_bytes(pdf, new_signer())[:-cut])

    assert [] == [one for one in found.signatures if one.holds]


@pytest.mark.parametrize(
    "data", [b"", b"hello", b"%PDF-1.7\n", b"%PDF-1.7\nstartxref\n0\n%%EOF\n", b"\0" * 5000]
)
def test_what_is_no_pdf_is_an_answer(data: bytes) -> None:
    """Nothing is raised."""
    found = read_signatures(data)

    assert (data, ()) == (found.base, found.signatures)
    assert () != found.faults
