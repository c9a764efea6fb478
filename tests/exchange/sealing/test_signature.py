"""A PAdES signature stands behind the seal and covers it."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

import pikepdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, pkcs12
from cryptography.x509.oid import NameOID

from certgen.exchange.sealing.seal import SealError, check_seal, check_signature, seal_bytes, sign_bytes

if TYPE_CHECKING:
    from pathlib import Path

COVERS = ("certgen.exchange.sealing.seal",)


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A self-issued certificate of an invented operation, as a PKCS #12 file."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Invented Seed Garden")])
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    issued = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(17)
        .not_valid_before(dt.datetime(2020, 1, 1, tzinfo=dt.UTC))
        .not_valid_after(dt.datetime(2120, 1, 1, tzinfo=dt.UTC))
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    path = tmp_path_factory.mktemp("keys") / "seed.p12"
    path.write_bytes(
        pkcs12.serialize_key_and_certificates(b"seed", key, issued, None, BestAvailableEncryption(b"pw"))
    )
    return path


@pytest.fixture(scope="module")
def signed(certificate: Path) -> bytes:
    """A sealed PDF of one empty page, signed."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    out = io.BytesIO()
    pdf.save(out)
    return sign_bytes(seal_bytes(out.getvalue()), certificate, b"pw")


def test_seal_and_signature_hold_together(signed: bytes) -> None:
    """The seal still holds over its part, and the signature over all of it, naming the signer."""
    seal = check_seal(signed)
    state = check_signature(signed, seal.sealed_length)

    assert (True, True, "") == (seal.intact, state.holds, state.fault)
    assert "Invented Seed Garden" in state.signer
    assert seal.sealed_length < len(signed)


def test_a_change_behind_the_seal_is_found(signed: bytes) -> None:
    """Bits turned over in what the signature added are found by one check or the other."""
    seal = check_seal(signed)
    missed = []
    for at in range(seal.sealed_length, len(signed), 997):
        changed = bytearray(signed)
        changed[at] ^= 4
        if check_seal(bytes(changed)).intact and check_signature(bytes(changed), seal.sealed_length).holds:
            missed.append(at)

    assert [] == missed


def test_bytes_behind_the_signature_are_found(signed: bytes) -> None:
    """Something appended after signing is not covered, and said so."""
    length = check_seal(signed).sealed_length

    assert not check_signature(signed + b"% more\n", length).holds
    assert not check_signature(signed[:length] + b"% more\n", length).holds


def test_wrong_passphrase_is_a_clear_error(certificate: Path) -> None:
    """A certificate that does not open is named."""
    with pytest.raises(SealError, match="passphrase"):
        sign_bytes(b"%PDF-1.7\n", certificate, b"wrong")
