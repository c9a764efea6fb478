"""Packets that somebody changed after they were made, signed or not; each with what must be said of it.

A forgery is given an honest packet and gives back the false one. `named` is a pattern that must be found in
what `certgen verify` says is wrong: the page, or the thing that was changed.
"""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pikepdf
from pikepdf import Array, Dictionary, Name, String
from printed_packets import edited, inside, put_inside, with_files, with_manifest
from signed import Update, forge_signed, new_signer

from certgen.exchange.signing.signature import sign_bytes
from certgen.manifest import NAME

if TYPE_CHECKING:
    from collections.abc import Callable

    Change = Callable[[pikepdf.Pdf], object]


@dataclass(frozen=True, slots=True)
class Forgery:
    """One way to forge a packet, and what must be said of it."""

    name: str
    forge: Callable[[bytes], bytes]
    named: str


FORGERIES: list[Forgery] = []
LETTER = "evidence/letters/S1.txt"
RECORDS = "records/season.yaml"
SIGNER, STRANGER = "Larkfold Seed Orchard", "Fernhollow Organic Certification"


def by_objects(named: str) -> Callable[[Change], Change]:
    """The file's objects are changed and it is written anew."""

    def enter(change: Change) -> Change:
        FORGERIES.append(Forgery(change.__name__, lambda packet: edited(packet, change), named))
        return change

    return enter


def by_bytes(named: str) -> Callable[[Callable[[bytes], bytes]], Callable[[bytes], bytes]]:
    """The packet's bytes are given and others given back."""

    def enter(forge: Callable[[bytes], bytes]) -> Callable[[bytes], bytes]:
        FORGERIES.append(Forgery(forge.__name__, forge, named))
        return forge

    return enter


def by_manifest(named: str) -> Callable[[Callable[[dict[str, Any]], object]], None]:
    """The manifest says something else, and nothing besides is changed."""

    def enter(change: Callable[[dict[str, Any]], object]) -> None:
        FORGERIES.append(Forgery(change.__name__, lambda packet: with_manifest(packet, change), named))

    return enter


def draw(document: pikepdf.Pdf, page: int, operators: bytes) -> None:
    """Operators behind those that draw a page, counted from 1."""
    document.pages[page - 1].contents_add(document.make_stream(operators))


def lay_over(document: pikepdf.Pdf, page: int, kind: str, **entries: Any) -> None:
    """An annotation on a page, counted from 1."""
    annotation = Dictionary(Type=Name.Annot, Subtype=Name(kind), Rect=Array([60, 600, 300, 700]), **entries)
    listed = list(document.pages[page - 1].get("/Annots", Array()))
    document.pages[page - 1].Annots = Array([*listed, document.make_indirect(annotation)])


def script() -> Dictionary:
    """An action that runs a script."""
    return Dictionary(S=Name.JavaScript, JS=String("app.alert('certified')"))


def first_link(document: pikepdf.Pdf) -> tuple[int, Any]:
    """The first page with a link, counted from 0, and the link."""
    return next(
        (number, one) for number, page in enumerate(document.pages) for one in page.get("/Annots", ())
    )


# What is drawn


@by_objects(r"page 1: what is drawn on it differs")
def white_box_on_the_cover(document: pikepdf.Pdf) -> None:
    draw(document, 1, b"q 1 1 1 rg 60 520 400 120 re f Q")


@by_objects(r"page 1: it says “.*CERTIFIED.*” where the records give nothing")
def words_on_the_cover(document: pikepdf.Pdf) -> None:
    font = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
    document.pages[0].Resources.Font["/Forged"] = document.make_indirect(font)
    draw(document, 1, b"BT /Forged 20 Tf 80 400 Td (CERTIFIED) Tj ET")


@by_objects(r"page 3: what is drawn on it differs")
def bar_over_a_later_page(document: pikepdf.Pdf) -> None:
    draw(document, 3, b"q 0 0 0 rg 60 400 200 12 re f Q")


@by_objects(r"page 1: it says nothing where the records give")
def cover_emptied(document: pikepdf.Pdf) -> None:
    document.pages[0].Contents = document.make_stream(b" ")


@by_objects(r"page 2: it says .* where the records give")
def cover_twice(document: pikepdf.Pdf) -> None:
    document.pages[1].Contents = document.pages[0].Contents
    document.pages[1].Resources = document.pages[0].Resources


@by_objects(r"page \d+: it says .* where the records give")
def another_foot(document: pikepdf.Pdf) -> None:
    form = document.pages[4].Resources.XObject["/Running"]
    form.write(document.pages[5].Resources.XObject["/Running"].read_bytes())
    form.Resources = document.pages[5].Resources.XObject["/Running"].Resources


@by_objects(r"pages? 1.*: a face, picture or drawing that it uses differs")
def another_face(document: pikepdf.Pdf) -> None:
    fonts = document.pages[0].Resources.Font
    name = next(iter(fonts.keys()))
    fonts[name] = document.make_indirect(
        Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
    )


@by_objects(r"page 2: (what is drawn on it differs|it says .* where the records give)")
def page_drawn_larger(document: pikepdf.Pdf) -> None:
    document.pages[1].contents_add(document.make_stream(b"2 0 0 2 0 0 cm "), prepend=True)


@by_objects(r"page 1: what is drawn on it differs")
def unseen_words(document: pikepdf.Pdf) -> None:
    draw(document, 1, b"q 3 Tr Q")


# Which pages there are, and how they lie


@by_objects(r"it has \d+ pages?; the records inside give \d+")
def last_page_taken_out(document: pikepdf.Pdf) -> None:
    del document.pages[-1]


@by_objects(r"it has \d+ pages?; the records inside give \d+")
def page_of_findings_taken_out(document: pikepdf.Pdf) -> None:
    del document.pages[3]


@by_objects(r"it has \d+ pages?; the records inside give \d+")
def page_put_in(document: pikepdf.Pdf) -> None:
    document.add_blank_page()


@by_objects(r"it has \d+ pages?")
def page_put_in_front(document: pikepdf.Pdf) -> None:
    document.add_blank_page()
    document.pages.insert(0, document.pages[-1])
    del document.pages[-1]


@by_objects(r"page 2: it says .*")
def pages_swapped(document: pikepdf.Pdf) -> None:
    one, other = document.pages[1].obj, document.pages[2].obj
    del document.pages[1:3]
    document.pages.insert(1, pikepdf.Page(other))
    document.pages.insert(2, pikepdf.Page(one))


@by_objects(r"page 1: its size, cut or turn differs")
def cover_cropped(document: pikepdf.Pdf) -> None:
    document.pages[0].CropBox = Array([0, 300, 595, 842])


@by_objects(r"page 2: its size, cut or turn differs")
def page_turned(document: pikepdf.Pdf) -> None:
    document.pages[1].Rotate = 90


@by_objects(r"page 2: its size, cut or turn differs")
def page_enlarged(document: pikepdf.Pdf) -> None:
    document.pages[1].UserUnit = 2


@by_objects(r"page 1: its size, cut or turn differs")
def sheet_grown(document: pikepdf.Pdf) -> None:
    document.pages[0].MediaBox = Array([0, 0, 900, 900])


@by_objects(r"page 1: an action that runs by itself was put on it")
def action_on_a_page(document: pikepdf.Pdf) -> None:
    document.pages[0].AA = Dictionary(O=script())


@by_objects(r"page 1: its entry /Thumb differs")
def another_thumbnail(document: pikepdf.Pdf) -> None:
    document.pages[0].Thumb = document.make_stream(b"\0")


# What lies over pages


@by_objects(r"page 1: an annotation \(Stamp\) was laid over it")
def stamp(document: pikepdf.Pdf) -> None:
    lay_over(document, 1, "/Stamp", Contents=String("APPROVED"))


@by_objects(r"page 2: an annotation \(FreeText\) was laid over it")
def remark(document: pikepdf.Pdf) -> None:
    lay_over(document, 2, "/FreeText", Contents=String("traced"), DA=String("/Helv 12 Tf"))


@by_objects(r"page 5: an annotation \(Highlight\) was laid over it")
def highlight(document: pikepdf.Pdf) -> None:
    lay_over(document, 5, "/Highlight")


@by_objects(r"page 3: an annotation \(Square\) was laid over it")
def opaque_square(document: pikepdf.Pdf) -> None:
    lay_over(document, 3, "/Square", IC=Array([1, 1, 1]))


@by_objects(r"page 1: an annotation \(FileAttachment\) was laid over it")
def records_pinned_to_a_page(document: pikepdf.Pdf) -> None:
    spec = pikepdf.AttachedFileSpec(document, b"lots: []\n", filename=RECORDS)
    lay_over(document, 1, "/FileAttachment", FS=spec.obj)


@by_objects(r"page 1: an annotation \(Widget\) was laid over it")
def field_on_a_page(document: pikepdf.Pdf) -> None:
    lay_over(document, 1, "/Widget", FT=Name.Tx, V=String("traced"))


@by_objects(r"page 1: an annotation \(Screen\) was laid over it")
def film(document: pikepdf.Pdf) -> None:
    lay_over(document, 1, "/Screen", A=script())


@by_objects(r"page 1: a link that leads out or runs something was laid over it")
def link_to_elsewhere(document: pikepdf.Pdf) -> None:
    lay_over(document, 1, "/Link", A=Dictionary(S=Name.URI, URI=String("https://certifier.example/ok")))


@by_objects(r"page \d+: a link that leads out or runs something was laid over it")
def link_with_a_script(document: pikepdf.Pdf) -> None:
    first_link(document)[1].A = script()


@by_objects(r"page \d+: a link on it was changed")
def link_led_astray(document: pikepdf.Pdf) -> None:
    first_link(document)[1].Dest = String("cover")


@by_objects(r"page \d+: a link on it was changed")
def link_that_says_otherwise(document: pikepdf.Pdf) -> None:
    first_link(document)[1].Contents = String("Go to the certificate")


@by_objects(r"page \d+: a link on it was taken away")
def link_taken_away(document: pikepdf.Pdf) -> None:
    number, _ = first_link(document)
    document.pages[number].Annots = Array(list(document.pages[number].Annots)[1:])


@by_objects(r"page \d+: a link was laid over it")
def link_twice(document: pikepdf.Pdf) -> None:
    number, link = first_link(document)
    document.pages[number].Annots = Array([*document.pages[number].Annots, link])


# What the file does and says of itself


@by_objects(r"it holds what no packet has: an action that runs on opening")
def script_on_opening(document: pikepdf.Pdf) -> None:
    document.Root.OpenAction = script()


@by_objects(r"it holds what no packet has: an action that runs on opening")
def opens_elsewhere(document: pikepdf.Pdf) -> None:
    document.Root.OpenAction = Array([document.pages[5].obj, Name.Fit])


@by_objects(r"it holds what no packet has: a script")
def script_by_name(document: pikepdf.Pdf) -> None:
    document.Root.Names.JavaScript = Dictionary(Names=Array([String("x"), script()]))


@by_objects(r"it holds what no packet has: an action that runs by itself")
def script_on_printing(document: pikepdf.Pdf) -> None:
    document.Root.AA = Dictionary(WP=script())


@by_objects(r"it holds what no packet has: a form")
def empty_form(document: pikepdf.Pdf) -> None:
    document.Root.AcroForm = Dictionary(Fields=Array())


@by_objects(r"it holds what no packet has: layers that can be switched")
def layers(document: pikepdf.Pdf) -> None:
    document.Root.OCProperties = Dictionary(OCGs=Array(), D=Dictionary())


@by_objects(r"it holds what no packet has: a list of files shown in the place of the pages")
def files_in_front(document: pikepdf.Pdf) -> None:
    document.Root.Collection = Dictionary(View=Name.T)


@by_objects(r"it holds what no packet has: the numbers of its pages")
def other_page_numbers(document: pikepdf.Pdf) -> None:
    document.Root.PageLabels = Dictionary(Nums=Array([0, Dictionary(P=String("certified-"))]))


@by_objects(r"its properties name another Title")
def title_that_claims(document: pikepdf.Pdf) -> None:
    document.docinfo["/Title"] = String("CERTIFIED ORGANIC")


@by_objects(r"its properties name another Author")
def author_that_claims(document: pikepdf.Pdf) -> None:
    document.docinfo["/Author"] = String(STRANGER)


@by_objects(r"the title and other metadata in it differs")
def metadata_that_claim(document: pikepdf.Pdf) -> None:
    data = document.Root.Metadata.read_bytes()
    document.Root.Metadata.write(data.replace(b"</dc:title>", b"<!-- certified --></dc:title>"))


@by_objects(r"the language in it differs")
def another_language(document: pikepdf.Pdf) -> None:
    document.Root.Lang = String("xx")


@by_objects(r"the bookmarks in it differ")
def bookmark_renamed(document: pikepdf.Pdf) -> None:
    with document.open_outline() as outline:
        outline.root[0].title = "Certificate"


@by_objects(r"the bookmarks in it differ")
def bookmarks_taken_out(document: pikepdf.Pdf) -> None:
    del document.Root.Outlines


@by_objects(r"the order and tags that a screen reader follows in it differs")
def another_text_for_screen_readers(document: pikepdf.Pdf) -> None:
    document.Root.StructTreeRoot.K[0]["/ActualText"] = String("All lots are traced.")


@by_objects(r"the places that links lead to differ")
def places_moved(document: pikepdf.Pdf) -> None:
    names = document.Root.Names.Dests.Kids[0].Names
    names[1] = Array([document.pages[0].obj, Name.Fit])


# What lies inside


@by_objects(r"lots\.yaml is inside and no part of what was reported on")
def more_records(document: pikepdf.Pdf) -> None:
    put_inside(document, "lots.yaml", b"lots: []\n")


@by_objects(r"Records/lots\.yaml is inside and no part of what was reported on")
def records_in_capitals(document: pikepdf.Pdf) -> None:
    put_inside(document, "Records/lots.yaml", b"lots: []\n")


@by_objects(r"evidence/approval\.pdf is inside and no part of what was reported on")
def more_evidence(document: pikepdf.Pdf) -> None:
    put_inside(document, "evidence/approval.pdf", b"%PDF-1.7")


@by_bytes(r"records/season\.yaml is not the file that the manifest names")
def other_records(packet: bytes) -> bytes:
    return with_files(packet, {RECORDS: inside(packet)[RECORDS].replace(b"negative", b"positive")})


@by_bytes(r"letters/S1\.txt is not the file that the manifest names")
def another_letter(packet: bytes) -> bytes:
    return with_files(packet, {LETTER: b"all trees negative\n"})


@by_objects(r"letters/S1\.txt is named by the manifest and not inside")
def letter_taken_out(document: pikepdf.Pdf) -> None:
    del document.attachments[LETTER]


@by_objects(r"the file records/season\.yaml inside differs")
def two_names_for_one_file(document: pikepdf.Pdf) -> None:
    pikepdf.NameTree(document.Root.Names.EmbeddedFiles)[RECORDS].F = String("records/other.yaml")


@by_objects(r"the file evidence/letters/S1\.txt inside differs")
def letter_described_otherwise(document: pikepdf.Pdf) -> None:
    pikepdf.NameTree(document.Root.Names.EmbeddedFiles)[LETTER].Desc = String("The certificate")


@by_objects(r"the list of files inside in it differs")
def files_unlisted(document: pikepdf.Pdf) -> None:
    document.Root.AF = Array()


@by_objects(r"holds two files named|names a file twice|differs")
def another_file_behind_the_second_name(document: pikepdf.Pdf) -> None:
    spec = pikepdf.NameTree(document.Root.Names.EmbeddedFiles)[LETTER]
    spec.EF.F = document.make_stream(b"something else\n")


# What the manifest says


@by_manifest(r"statements: season\.operation: it says “?\"Somebody Else\"")
def another_operation(manifest: dict[str, Any]) -> None:
    manifest["season"]["operation"] = "Somebody Else"


@by_manifest(r"statements: statements\.lots")
def standing_raised(manifest: dict[str, Any]) -> None:
    manifest["statements"]["lots"][0]["traced_mg"] += 1000


@by_manifest(r"statements: statements\.lots")
def lot_taken_out_of_the_statements(manifest: dict[str, Any]) -> None:
    manifest["statements"]["lots"].clear()


@by_manifest(r"statements: records\.")
def record_digests_taken_out(manifest: dict[str, Any]) -> None:
    manifest["records"].clear()


@by_manifest(r"records/season\.yaml is inside and no part")
def records_unlisted(manifest: dict[str, Any]) -> None:
    manifest["files"] = [file for file in manifest["files"] if file["name"] != RECORDS]


@by_manifest(r"letters/S1\.txt is inside and no part of what was reported on")
def letter_marked_as_outside(manifest: dict[str, Any]) -> None:
    next(file for file in manifest["files"] if file["name"] == LETTER)["attached"] = False


@by_manifest(r"pages? .*: it says")
def another_day(manifest: dict[str, Any]) -> None:
    manifest["on"] = "2027-01-01"


@by_manifest(r"it has \d+ pages?; the records inside give \d+|page 1")
def fewer_registers_claimed(manifest: dict[str, Any]) -> None:
    manifest["options"]["registers"] = "none"


@by_manifest(r"pages 1 to \d+: its size, cut or turn differs")
def another_paper_claimed(manifest: dict[str, Any]) -> None:
    manifest["options"]["page"] = "Letter"


@by_manifest(r"no packet can be made as the manifest says")
def another_lot_claimed(manifest: dict[str, Any]) -> None:
    manifest["options"]["lots"] = ["L9"]


@by_manifest(r"pages? .*: it says")
def another_version_claimed(manifest: dict[str, Any]) -> None:
    manifest["version"] = "9.9.9"


@by_manifest(r"the manifest of the packet that this one replaces isn't inside")
def correction_claimed(manifest: dict[str, Any]) -> None:
    manifest["replaces"] = "0" * 64


@by_manifest(r"statements: folders")
def unread_files_claimed(manifest: dict[str, Any]) -> None:
    error = {"file": "x.yaml", "line": None, "column": None, "message": "can't be read", "field": ""}
    manifest["folders"][0]["refused"].append(error)
    manifest["folders"].append({"name": "previous-1", "path": "../2025", "refused": [], "lost": []})


@by_bytes(r"statements: it isn't written as certgen writes it")
def manifest_laid_out_otherwise(packet: bytes) -> bytes:
    return with_files(packet, {NAME: json.dumps(json.loads(inside(packet)[NAME]), indent=1).encode()})


@by_bytes(r"letters/S1\.txt: cannot|statements: files|page \d+")
def letter_taken_out_and_marked_as_outside(packet: bytes) -> bytes:
    def mark(manifest: dict[str, Any]) -> None:
        letter_marked(manifest)

    def letter_marked(manifest: dict[str, Any]) -> None:
        next(file for file in manifest["files"] if file["name"] == LETTER)["attached"] = False

    return edited(with_manifest(packet, mark), letter_taken_out)


@by_bytes(r"page \d+|statements")
def letter_taken_out_and_forgotten(packet: bytes) -> bytes:
    def forget(manifest: dict[str, Any]) -> None:
        manifest["files"] = [file for file in manifest["files"] if file["name"] != LETTER]

    return edited(with_manifest(packet, forget), letter_taken_out)


@by_bytes(r"it has \d+ pages?; the records inside give \d+")
def invented_pages_around_genuine_files(packet: bytes) -> bytes:
    document = pikepdf.new()
    document.add_blank_page()
    for name, data in inside(packet).items():
        document.attachments[name] = pikepdf.AttachedFileSpec(document, data, filename=name)
    out = io.BytesIO()
    document.save(out, deterministic_id=True)
    return out.getvalue()


# What the bytes are


@by_bytes(r"bytes that no page shows differ")
def packed_anew(packet: bytes) -> bytes:
    return edited(packet, lambda _document: None)


@by_bytes(r"bytes that no page shows differ, from byte [\d,]+ of")
def something_behind_the_end(packet: bytes) -> bytes:
    return packet + b"% certified\n"


@by_bytes(r"cut short|damaged|changed")
def cut_short(packet: bytes) -> bytes:
    return packet[:-400]


@by_bytes(r"bytes that no page shows differ|appended")
def another_head(packet: bytes) -> bytes:
    return packet.replace(b"%PDF-1.7", b"%PDF-1.6", 1)


@by_bytes(r"page 1: it says nothing where the records give")
def cover_replaced_by_an_update(packet: bytes) -> bytes:
    update = Update(packet)
    number = update.add("<< /Length 1 >>\nstream\n \nendstream")
    update.change(update.pages[0], Contents=f"{number} 0 R")
    return update.write()


@by_bytes(r"it holds what no packet has: an action that runs on opening")
def script_put_in_by_an_update(packet: bytes) -> bytes:
    update = Update(packet)
    update.change(update.root, OpenAction="<< /S /JavaScript /JS (app.beep\\(\\)) >>")
    return update.write()


# Signed by somebody


def replace_cover(writer: Any) -> None:
    """Another first page, in the update that a signature brings along."""
    from pyhanko.pdf_utils.generic import NameObject, StreamObject

    page = writer.root["/Pages"]["/Kids"][0].get_object()
    page[NameObject("/Contents")] = writer.add_object(StreamObject(stream_data=b" "))
    writer.update_container(page)


def replace_title(writer: Any) -> None:
    """Another title, in the update that a signature brings along."""
    from pyhanko.pdf_utils.generic import NameObject, TextStringObject

    info = writer.trailer["/Info"]
    info[NameObject("/Title")] = TextStringObject("CERTIFIED")
    writer.update_container(info)


def add_script(writer: Any) -> None:
    """A script that runs on opening, in the update that a signature brings along."""
    from pyhanko.pdf_utils.generic import DictionaryObject, NameObject, TextStringObject

    writer.root[NameObject("/OpenAction")] = DictionaryObject(
        {NameObject("/S"): NameObject("/JavaScript"), NameObject("/JS"): TextStringObject("app.beep()")}
    )
    writer.update_root()


@by_bytes(r"signature: .*page 1|page 1: it says nothing")
def cover_replaced_and_signed(packet: bytes) -> bytes:
    return forge_signed(packet, replace_cover, new_signer(STRANGER))


@by_bytes(r"signature: ")
def title_replaced_and_signed(packet: bytes) -> bytes:
    return forge_signed(packet, replace_title, new_signer(STRANGER))


@by_bytes(r"signature: ")
def script_put_in_and_signed(packet: bytes) -> bytes:
    return forge_signed(packet, add_script, new_signer(STRANGER))


@by_bytes(r"signature: .*")
def signed_and_the_cover_replaced(packet: bytes) -> bytes:
    return cover_replaced_by_an_update(sign_bytes(packet, new_signer(SIGNER)))


@by_bytes(r"signature: .*")
def signed_twice_with_another_cover_between(packet: bytes) -> bytes:
    signed = sign_bytes(packet, new_signer(SIGNER))
    return forge_signed(signed, replace_cover, new_signer(STRANGER), field_name="Signature2")


@by_bytes(r"page 1: an annotation \(Stamp\) was laid over it")
def stamped_and_then_signed(packet: bytes) -> bytes:
    return sign_bytes(edited(packet, stamp), new_signer(STRANGER))


@by_bytes(r"page 1: what is drawn on it differs")
def signed_packet_written_anew(packet: bytes) -> bytes:
    return edited(sign_bytes(packet, new_signer(SIGNER)), white_box_on_the_cover)


@by_bytes(r"signature: |bytes that no page shows differ")
def something_behind_a_signature(packet: bytes) -> bytes:
    return sign_bytes(packet, new_signer(SIGNER)) + b"\n% certified\n"


@by_bytes(r"signature: |page|bytes|cut short|damaged")
def a_byte_changed_under_a_signature(packet: bytes) -> bytes:
    signed = bytearray(sign_bytes(packet, new_signer(SIGNER)))
    place = signed.index(b"endstream") - 3
    signed[place] ^= 1
    return bytes(signed)


@by_bytes(r"signature: ")
def signature_of_another_packet(packet: bytes) -> bytes:
    signed = sign_bytes(packet, new_signer(SIGNER))
    start = signed.rindex(b"/Contents <") + len(b"/Contents <")
    return signed[:start] + b"30" * 40 + signed[start + 80 :]
