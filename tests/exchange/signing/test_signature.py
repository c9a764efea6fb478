"""A signature stands behind a packet's own bytes, and says whose key made it."""

from __future__ import annotations

import datetime as dt
import io

import pikepdf
import pytest
from signed import new_signer, small_pdf

from certgen.exchange.signing.certificates import key_digest
from certgen.exchange.signing.offline import SigningError
from certgen.exchange.signing.signature import prepare_signer, read_signatures, sign_bytes

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
