"""A signature stands behind a packet's own bytes, and says whose key made it."""

from __future__ import annotations

import datetime as dt
import io

import pikepdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding
from signed import Update, issue_signer, new_signer, rsa_signer, sign_by_hand, small_pdf

from certgen.exchange.signing.certificates import key_digest
from certgen.exchange.signing.offline import SigningError
from certgen.exchange.signing.signature import SignatureState, prepare_signer, read_signatures, sign_bytes

COVERS = ("certgen.exchange.signing.appending",)


@pytest.mark.parametrize("packed", [True, False])
def test_a_signature_leaves_the_packets_bytes_in_front(packed: bool) -> None:
    """They come back whole, and the signature holds and names its key; both kinds of index serve."""
    pdf, signer = small_pdf(packed=packed), new_signer("Invented Seed Garden")
    signed = prepare_signer(signer)(pdf)
    found = read_signatures(signed)

    assert signed.startswith(pdf)
    assert (pdf, (), "") == (found.base, found.faults, found.unread)
    (state,) = found.signatures
    assert (True, "", ()) == (state.holds, state.fault, state.notes)
    assert ("Invented Seed Garden", key_digest(signer.signing_cert)) == (state.signer, state.key)
    assert (True, False) == (state.self_made, state.trusted)
    assert state.claimed_time is not None
    assert dt.timedelta(0) <= dt.datetime.now(dt.UTC) - state.claimed_time < dt.timedelta(hours=1)


@pytest.mark.parametrize("packed", [True, False])
def test_the_signed_file_is_a_sound_pdf_and_tells_the_same(packed: bool) -> None:
    """A reader opens it without repairs; pages, attachment, title and metadata are those of before."""
    before = pikepdf.open(io.BytesIO(small_pdf(packed=packed)))
    after = pikepdf.open(io.BytesIO(sign_bytes(small_pdf(packed=packed), new_signer())))

    assert [] == after.get_warnings()
    assert [bytes(page.Contents.read_bytes()) for page in before.pages] == [
        bytes(page.Contents.read_bytes()) for page in after.pages
    ]
    assert (dict(before.docinfo), before.Root.Metadata.read_bytes(), before.pdf_version) == (
        dict(after.docinfo),
        after.Root.Metadata.read_bytes(),
        after.pdf_version,
    )
    assert {"/AcroForm", "/Extensions"} == set(after.Root.keys()) - set(before.Root.keys())


def test_a_page_with_links_is_signed_as_well() -> None:
    """Where a page keeps the list of its links apart, the signature's field is put at that list's end."""
    pdf = small_pdf(linked=True)
    found = read_signatures(sign_bytes(sign_bytes(pdf, new_signer("Grower")), new_signer("Inspector")))

    assert (pdf, ()) == (found.base, found.faults)
    assert [True, True] == [one.holds for one in found.signatures]


@pytest.mark.parametrize("pss", [False, True])
def test_an_rsa_key_signs_as_well(pss: bool) -> None:
    """Authorities issue certificates for both kinds, and for two ways of using an RSA key."""
    (state,) = read_signatures(sign_bytes(small_pdf(), rsa_signer(pss=pss))).signatures

    assert (True, "", "RSA Garden") == (state.holds, state.fault, state.signer)


def test_several_may_sign_one_after_another() -> None:
    """Each signature covers those before it; all are read, in their order."""
    first, second = new_signer("Grower"), new_signer("Inspector")
    once = sign_bytes(small_pdf(), first)
    twice = sign_bytes(sign_bytes(once, second), first)
    found = read_signatures(twice)

    assert (small_pdf(), ()) == (found.base, found.faults)
    assert [("Grower", True), ("Inspector", True), ("Grower", True)] == [
        (one.signer, one.holds) for one in found.signatures
    ]


def test_an_unsigned_file_has_no_signature() -> None:
    """All of it is what it was."""
    found = read_signatures(small_pdf())

    assert (small_pdf(), (), (), "") == (found.base, found.signatures, found.faults, found.unread)


@pytest.mark.parametrize(
    "data", [b"", b"hello", b"%PDF-1.7\n", small_pdf()[:-400], small_pdf() + b"% more\n"]
)
def test_what_cannot_be_signed_is_refused(data: bytes) -> None:
    """No PDF, half a PDF, and one that was added to."""
    with pytest.raises(SigningError):
        sign_bytes(data, new_signer())


def test_a_file_whose_signature_is_broken_is_not_signed_again() -> None:
    """A second signature would cover what the first one does not bear out."""
    broken = (
        sign_bytes(small_pdf(), new_signer()).replace(b"Lot A", b"Lot C").replace(b"lots: []", b"lots: {}")
    )

    with pytest.raises(SigningError, match="not signed"):
        sign_bytes(broken + b"\n% more", new_signer())


def read_one(signed: bytes, *trusted: object) -> SignatureState:
    """The one signature of a file."""
    found = read_signatures(signed, trusted)

    assert () == found.faults
    (state,) = found.signatures
    return state


def test_a_certificate_is_trusted_if_whoever_verifies_vouches_for_it() -> None:
    """For itself, or for whoever issued it; not for another of the same name."""
    signer, issuer = issue_signer()
    signed = sign_bytes(small_pdf(), signer)
    other = new_signer("Invented Seed Garden").signing_cert

    assert [False, True, True, False, True] == [
        read_one(signed, *trusted).trusted
        for trusted in ((), (issuer,), (signer.signing_cert,), (other,), (other, issuer))
    ]
    assert ("Invented Seed Garden", False) == (read_one(signed).signer, read_one(signed).self_made)


def test_one_who_may_sign_packets_may_not_vouch_for_others() -> None:
    """A grower's certificate that is vouched for does not make the grower an authority."""
    signer, grower = issue_signer("Certifier", authority=False)

    assert not read_one(sign_bytes(small_pdf(), signer), grower).trusted


def test_a_certificate_for_another_purpose_is_not_trusted() -> None:
    """One that was issued for locking letters, or a web server, was not meant to sign a packet."""
    signer, issuer = issue_signer(usage="key_agreement")

    assert not read_one(sign_bytes(small_pdf(), signer), issuer).trusted


def test_an_expired_certificate_is_noted() -> None:
    """Whether it signed before is only claimed; that it was vouched for then is told all the same."""
    signer, issuer = issue_signer(years=(2020, 2024))
    update = Update(small_pdf(packed=False))
    update.add_signature(value="/M (D:20230601120000)")
    state = read_one(sign_by_hand(update.write(), signer), issuer)

    assert (True, True) == (state.holds, state.trusted)
    assert dt.datetime(2023, 6, 1, 12, tzinfo=dt.UTC) == state.claimed_time
    assert ("The certificate expired on 2024-01-01; that it signed before is only claimed.",) == state.notes


@pytest.mark.parametrize(
    ("time", "noted"),
    [
        ("20250601120000Z", "It claims to be made on 2025-06-01, when its certificate was not valid."),
        ("20990601120000+05'00'", "It claims to be made on 2099-06-01, which is yet to come."),
    ],
)
def test_a_time_that_cannot_be_is_noted(time: str, noted: str) -> None:
    """The signer's clock is nobody's witness."""
    signer, issuer = issue_signer(years=(2020, 2024)) if time.startswith("2025") else issue_signer()
    update = Update(small_pdf(packed=False))
    update.add_signature(value=f"/M (D:{time})")
    state = read_one(sign_by_hand(update.write(), signer), issuer)

    assert noted in state.notes
    assert not time.startswith("2025") or not state.trusted


def test_another_certificate_for_the_same_key_does_not_take_the_place_of_the_signers() -> None:
    """Somebody else's certificate for the grower's key, with the certifier's name, put in after signing."""
    from asn1crypto import cms
    from asn1crypto import x509 as asn1

    signer = new_signer("Grower")
    signed = sign_bytes(small_pdf(), signer)
    start, end = signed.rindex(b"/Contents <") + 11, signed.rindex(b">", 0, signed.rindex(b"/ByteRange"))
    message = cms.ContentInfo.load(bytes.fromhex(signed[start:end].decode()))
    own = x509.load_der_x509_certificate(signer.signing_cert.dump())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Certifier")])
    times = (own.not_valid_before_utc, own.not_valid_after_utc)
    builder = x509.CertificateBuilder(own.issuer, name, own.public_key(), own.serial_number, *times)
    forged = builder.sign(ec.generate_private_key(ec.SECP256R1()), hashes.SHA256())
    choice = cms.CertificateChoices("certificate", asn1.Certificate.load(forged.public_bytes(Encoding.DER)))
    message["content"]["certificates"] = cms.CertificateSet([choice])
    contents = message.dump(force=True).hex().upper().encode().ljust(end - start, b"0")
    found = read_signatures(signed[:start] + contents + signed[end:])

    assert [(False, "")] == [(one.holds, one.signer) for one in found.signatures]


def test_a_file_with_very_many_revisions_is_answered_at_once() -> None:
    """Each is small; to look at all of them would take minutes."""
    update = Update(small_pdf(packed=False))
    out = bytearray(update.pdf)
    for _ in range(2000):
        trailer = f"<< /Root {update.root} 0 R /Size {update.size} /Prev {update.trailer['/Prev']} >>"
        update.trailer["/Prev"] = str(len(out))
        out += f"xref\n0 0\ntrailer\n{trailer}\nstartxref\n{len(out)}\n%%EOF\n".encode()

    assert ("this file was added to more often than a packet ever is",) == read_signatures(bytes(out)).faults
