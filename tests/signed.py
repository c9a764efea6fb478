"""Small PDFs and keys to sign them with, for the tests of signatures."""

from __future__ import annotations

import asyncio
import datetime as dt
import hashlib
import io
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pikepdf
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, pkcs12

from certgen.exchange.signing.certificates import load_signer, make_certificate
from certgen.exchange.signing.offline import prepare_signing

if TYPE_CHECKING:
    from collections.abc import Callable

    from asn1crypto import x509 as asn1
    from pyhanko.sign.signers import SimpleSigner


@cache
def new_signer(name: str = "") -> SimpleSigner:
    """A key of its own with a certificate of this name; the same for the same name."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "orchard.key"
        make_certificate(path, name)
        return load_signer(path)


@cache
def issue_signer(
    name: str = "Invented Seed Garden",
    *,
    years: tuple[int, int] = (2020, 2120),
    authority: bool = True,
    usage: str = "content_commitment",
) -> tuple[SimpleSigner, asn1.Certificate]:
    """A key whose certificate somebody else issued, and the certificate of whoever did.

    `years` are the first and the one after the last of its validity; an issuer that is no `authority` has a
    certificate for signing packets; `usage` is what the key may be used for.
    """
    prepare_signing()
    from asn1crypto import x509 as asn1
    from pyhanko.sign.signers import SimpleSigner

    keys = [ec.generate_private_key(ec.SECP256R1()) for _ in range(2)]
    issuer = _name("Invented Growers' Association")
    root = _certify(issuer, keys[0], issuer, keys[0], (2020, 2120), {"key_cert_sign"}, authority=authority)
    leaf = _certify(_name(name), keys[1], issuer, keys[0], years, {usage}, authority=False)
    packed = pkcs12.serialize_key_and_certificates(None, keys[1], leaf, [root], NoEncryption())
    signer = SimpleSigner.load_pkcs12_data(packed, [])
    return signer, asn1.Certificate.load(root.public_bytes(Encoding.DER))


@cache
def rsa_signer(*, pss: bool) -> SimpleSigner:
    """A signer with an RSA key, in the older or the newer way of using one."""
    prepare_signing()
    from pyhanko.sign.signers import SimpleSigner

    key, name = rsa.generate_private_key(65537, 2048), _name("RSA Garden")
    own = _certify(name, key, name, key, (2020, 2120), {"content_commitment"}, authority=False)
    signer = SimpleSigner.load_pkcs12_data(
        pkcs12.serialize_key_and_certificates(None, key, own, None, NoEncryption()), []
    )
    signer.prefer_pss = pss
    return signer


def _name(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])


def _certify(
    subject: x509.Name,
    key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey,
    issuer: x509.Name,
    by: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey,
    years: tuple[int, int],
    usage: set[str],
    *,
    authority: bool,
) -> x509.Certificate:
    start, end = (dt.datetime(year, 1, 1, tzinfo=dt.UTC) for year in years)
    kinds = (
        "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
        "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
    )  # fmt: skip
    return (
        x509.CertificateBuilder(issuer, subject, key.public_key(), x509.random_serial_number(), start, end)
        .add_extension(x509.BasicConstraints(ca=authority, path_length=None), critical=True)
        .add_extension(x509.KeyUsage(**{kind: kind in usage for kind in kinds}), critical=True)
        .sign(by, hashes.SHA256())
    )


@cache
def small_pdf(*, packed: bool = True, linked: bool = False) -> bytes:
    """A PDF of two pages with an attachment, a title and metadata.

    `packed`: with the newer kind of index. `linked`: page 1 has a list of annotations, apart from the page.
    """
    pdf = pikepdf.new()
    for words in ("Lot A: traced", "Lot B: unproven"):
        page = pdf.add_blank_page()
        page.Contents = pdf.make_stream(f"BT /F1 12 Tf 72 720 Td ({words}) Tj ET".encode())
        page.Resources = pikepdf.Dictionary(
            Font=pikepdf.Dictionary(
                F1=pdf.make_indirect(
                    pikepdf.Dictionary(
                        Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica
                    )
                )
            )
        )
    link = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot,
        Subtype=pikepdf.Name.Link,
        Rect=[0, 0, 9, 9],
        Dest=[pdf.pages[1].obj, pikepdf.Name.Fit],
    )
    if linked:
        pdf.pages[0].Annots = pdf.make_indirect(pikepdf.Array([pdf.make_indirect(link)]))
    pdf.attachments["lots.yaml"] = pikepdf.AttachedFileSpec(pdf, b"lots: []\n", filename="lots.yaml")
    pdf.docinfo["/Title"] = "A season's packet"
    with pdf.open_metadata() as metadata:
        metadata["dc:title"] = "A season's packet"
    out = io.BytesIO()
    mode = pikepdf.ObjectStreamMode.generate if packed else pikepdf.ObjectStreamMode.disable
    pdf.save(out, deterministic_id=True, object_stream_mode=mode)
    return out.getvalue()


class Update:
    """An incremental update by hand, as forgers write it: objects, an index in the older form, a trailer.

    `root` and `pages` are the numbers of the catalog and the pages; `trailer` and `entries` (number,
    generation, offset, kind) may be changed before it is written.
    """

    def __init__(self, pdf: bytes) -> None:
        self.pdf = pdf
        self.objects: list[tuple[int, int, str]] = []
        self.entries: list[tuple[int, int, int, str]] = []
        with pikepdf.open(io.BytesIO(pdf)) as document:
            self.root = document.Root.objgen[0]
            self.pages = [page.objgen[0] for page in document.pages]
            self.size = int(document.trailer.Size)
            identifier = "".join(f"<{bytes(part).hex()}>" for part in document.trailer.ID)
            self.trailer = {
                "/Root": f"{self.root} 0 R",
                "/Info": f"{document.trailer.Info.objgen[0]} 0 R",
                "/ID": f"[{identifier}]",
                "/Prev": pdf.rsplit(b"startxref", 1)[1].split()[0].decode(),
            }

    def add(self, body: str, number: int = 0, generation: int = 0) -> int:
        """An object with this text, in the place of `number` or a new one. Returns its number."""
        if not number:
            number, self.size = self.size, self.size + 1
        self.objects.append((number, generation, body))
        return number

    def change(self, number: int, **entries: str) -> None:
        """An object of the file, with these entries of its dictionary put in or replaced."""
        with pikepdf.open(io.BytesIO(self.pdf)) as document:
            found = document.get_object(number, 0)
            for key in set(entries) & {name.removeprefix("/") for name in dict(found.items())}:
                del found[f"/{key}"]
            text = found.unparse(resolved=True).decode("latin-1").removesuffix(">>")
        added = " ".join(f"/{key} {value}" for key, value in entries.items())
        self.add(f"{text} {added} >>", number)

    def add_signature(
        self,
        *,
        field: str = "",
        value: str = "",
        form: str = "",
        page: str = "",
        name: str = "Signature1",
        kind: str = "ETSI.CAdES.detached",
    ) -> None:
        """The field and dictionary of a signature, with these texts; `sign_by_hand` fills it."""
        signature = self.add(
            f"<< /Type /Sig /Filter /Adobe.PPKLite /SubFilter /{kind} {_RANGE} "
            f"/Contents <{'0' * _ROOM}> {value} >>"
        )
        box = "" if "/Rect" in field else "/Rect [0 0 0 0]"
        number = self.add(
            f"<< /Type /Annot /Subtype /Widget /FT /Sig /T ({name}) {box} /F 132 /V {signature} 0 R "
            f"/P {page or f'{self.pages[0]} 0 R'} {field} >>"
        )
        self.change(self.pages[0], Annots=f"[{number} 0 R]")
        self.change(self.root, AcroForm=f"<< /Fields [{number} 0 R] /SigFlags 3 {form} >>")

    def write(self, *, between: str = "", trailing: str = "") -> bytes:
        """The file with the update behind it; `between` stands before the index, `trailing` after it."""
        out = bytearray(self.pdf)
        listed = list(self.entries)
        for number, generation, body in self.objects:
            listed.append((number, generation, len(out), "n"))
            out += f"{number} {generation} obj\n{body}\nendobj\n".encode("latin-1")
        out += between.encode()
        start = len(out)
        out += b"xref\n"
        for number, generation, offset, kind in sorted(listed, key=lambda entry: entry[0]):
            out += f"{number} 1\n{offset:010d} {generation:05d} {kind} \n".encode()
        entries = " ".join(f"{key} {text}" for key, text in {**self.trailer, "/Size": str(self.size)}.items())
        return bytes(out) + f"trailer\n<< {entries} >>\n{trailing}startxref\n{start}\n%%EOF\n".encode(
            "latin-1"
        )


#: Room for a signature, in hexadecimal digits, and for the four figures of what it covers.
_ROOM = 8000
_RANGE = "/ByteRange [0000000000 0000000000 0000000000 0000000000]"


def sign_by_hand(pdf: bytes, signer: SimpleSigner, *, covered: int = 0, padding: bytes = b"") -> bytes:
    """Fill the empty signature in `pdf`, over its first `covered` bytes or all; `padding` goes behind it."""
    start = pdf.rindex(b"<" + b"0" * _ROOM + b">")
    after = start + _ROOM + 2
    rest = (covered or len(pdf)) - after
    figures = f"/ByteRange [0 {start} {after} {rest}]".ljust(len(_RANGE)).encode()
    ready = pdf.replace(_RANGE.encode(), figures)
    digest = hashlib.sha256(ready[:start] + ready[after : after + rest]).digest()
    message = asyncio.run(signer.async_sign(digest, "sha256", use_pades=True)).dump()
    contents = (message + padding).hex().encode().ljust(_ROOM, b"0")
    return ready[:start] + b"<" + contents + b">" + ready[after:]


def forge_signed(pdf: bytes, change: Callable[[Any], None], signer: SimpleSigner, **details: Any) -> bytes:
    """A file with a signature in whose own update `change` had its way with the document.

    `change` gets pyHanko's writer; `details` go to the signature's metadata.
    """
    prepare_signing()
    from pyhanko.sign.fields import SigSeedSubFilter
    from pyhanko.sign.signers import PdfSignatureMetadata, sign_pdf

    from certgen.exchange.signing.appending import SignatureWriter

    writer = SignatureWriter(io.BytesIO(pdf))
    change(writer)
    settings = {"field_name": "Signature1", "subfilter": SigSeedSubFilter.PADES, "md_algorithm": "sha256"}
    signed = sign_pdf(writer, PdfSignatureMetadata(**{**settings, **details}), signer=signer)
    return bytes(signed.getvalue())
