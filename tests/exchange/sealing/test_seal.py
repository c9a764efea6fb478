"""The seal finds any change to any byte, and a key stands behind it when one is given."""

from __future__ import annotations

import io
import random

import pikepdf
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from hypothesis import strategies as st

from certgen.exchange.sealing.seal import SealError, check_seal, seal_bytes, without_keyless_seal

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def small_pdf(**options: object) -> bytes:
    """A PDF of one empty page, as bytes."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True, **options)  # type: ignore[arg-type]
    return out.getvalue()


PLAIN = small_pdf()
SEALED = seal_bytes(PLAIN)
SIGNED = seal_bytes(PLAIN, KEY)


def test_a_sealed_file_holds() -> None:
    """What was sealed and not touched is intact, with and without a key."""
    assert (True, False) == (check_seal(SEALED).intact, check_seal(SEALED).signed)
    assert (True, True) == (check_seal(SIGNED).intact, check_seal(SIGNED).signature_holds)
    assert KEY.public_key().public_bytes_raw().hex() == check_seal(SIGNED).key


@pytest.mark.parametrize("sealed", [SEALED, SIGNED])
def test_every_flipped_bit_is_found(sealed: bytes) -> None:
    """One bit turned over anywhere, in the seal or out of it, breaks the seal."""
    missed = []
    for at in range(len(sealed)):
        changed = bytearray(sealed)
        changed[at] ^= 1 << (at % 8)
        if check_seal(bytes(changed)).intact:
            missed.append(at)

    assert [] == missed


@given(tail=st.binary(min_size=1, max_size=40), cut=st.integers(1, 600))
@settings(max_examples=50)
def test_added_and_missing_ends_are_found(tail: bytes, cut: int) -> None:
    """A file that was cut off is found; so are bytes behind its end, whose sealed part still holds."""
    longer = check_seal(SIGNED + tail)

    assert not check_seal(SIGNED[:-cut]).intact
    assert not longer.intact or longer.sealed_length < len(SIGNED + tail)


def test_bytes_put_in_are_found() -> None:
    """Bytes put in at any place break the seal."""
    places = random.Random(5).sample(range(len(SEALED)), 60)

    assert [] == [at for at in places if check_seal(SEALED[:at] + b" " + SEALED[at:]).intact]


@pytest.mark.parametrize("streams", [pikepdf.ObjectStreamMode.disable, pikepdf.ObjectStreamMode.generate])
def test_a_sealed_file_is_still_a_sound_pdf(streams: pikepdf.ObjectStreamMode) -> None:
    """A PDF reader opens the sealed file without repairing it, whichever form its index has."""
    sealed = seal_bytes(small_pdf(object_stream_mode=streams), KEY)
    with pikepdf.open(io.BytesIO(sealed)) as pdf:
        assert (1, []) == (len(pdf.pages), pdf.get_warnings())


@pytest.mark.parametrize("data", [b"", b"hello", PLAIN[:-8], SEALED])
def test_what_cannot_be_sealed_is_refused(data: bytes) -> None:
    """No PDF, half a PDF and a sealed PDF are not sealed."""
    with pytest.raises(SealError):
        seal_bytes(data)


def test_a_seal_by_another_key_is_not_taken_for_the_first() -> None:
    """Putting another key's name into the block does not make it that key's seal."""
    other = Ed25519PrivateKey.from_private_bytes(bytes(32)).public_key().public_bytes_raw().hex().encode()
    forged = SIGNED.replace(KEY.public_key().public_bytes_raw().hex().encode(), other)

    assert "the signature was not made by the key that the seal names" == check_seal(forged).fault


def test_an_unsealed_file_says_so() -> None:
    """A file without a seal is told apart from one whose seal is broken."""
    assert (False, "the file bears no seal") == (check_seal(PLAIN).present, check_seal(PLAIN).fault)


def test_a_sealed_file_inside_another_does_not_mislead() -> None:
    """Last year's report may lie inside this year's as evidence; each seal speaks for its own file."""
    document = pikepdf.open(io.BytesIO(PLAIN))
    document.attachments["old.pdf"] = pikepdf.AttachedFileSpec(document, SIGNED, filename="old.pdf")
    out = io.BytesIO()
    document.save(out, compress_streams=False)
    assert SIGNED in out.getvalue()
    sealed = seal_bytes(out.getvalue())

    assert (False, True) == (check_seal(out.getvalue()).intact, check_seal(sealed).intact)
    assert (len(sealed), False) == (check_seal(sealed).sealed_length, check_seal(sealed).signed)


def test_a_key_may_take_the_place_of_none() -> None:
    """A seal without a key comes off and leaves no trace; one with a key, or a broken one, stays."""
    broken = SEALED.replace(b"%PDF-1", b"%PDF-2", 1)

    assert [PLAIN, PLAIN, SIGNED, broken] == [
        without_keyless_seal(one) for one in (SEALED, PLAIN, SIGNED, broken)
    ]
