"""Keys are made once, kept secret and never overwritten; certificates say whose they claim to be."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import TYPE_CHECKING

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    pkcs12,
)

from certgen.exchange.signing.certificates import (
    describe_holder,
    fingerprint,
    key_digest,
    load_key_digest,
    load_signer,
    load_trusted,
    make_certificate,
    names_key,
)
from certgen.exchange.signing.offline import SigningError

if TYPE_CHECKING:
    from pathlib import Path


def test_a_key_is_read_back(tmp_path: Path) -> None:
    """The secret and the public file belong together; the secret one is for its owner's eyes only."""
    digest = make_certificate(tmp_path / "orchard.key")

    assert digest == key_digest(load_signer(tmp_path / "orchard.key").signing_cert)
    assert digest == key_digest(load_trusted(tmp_path / "orchard.key.pub")[0])
    modes = [path.stat().st_mode & 0o777 for path in sorted(tmp_path.iterdir())]
    assert [0o600, 0o644] == modes


def test_the_certificate_is_one_that_readers_of_pdfs_know(tmp_path: Path) -> None:
    """P-256, for signing only, valid now and for as long as packets are asked for, under its own name."""
    digest = make_certificate(tmp_path / "orchard.key", "Invented Seed Garden")
    certificate = x509.load_pem_x509_certificate((tmp_path / "orchard.key.pub").read_bytes())
    key = certificate.public_key()
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value

    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert ("secp256r1", "CN=Invented Seed Garden") == (key.curve.name, certificate.subject.rfc4514_string())
    assert certificate.subject == certificate.issuer
    assert (True, True, False) == (usage.digital_signature, usage.content_commitment, usage.key_cert_sign)
    now = dt.datetime.now(dt.UTC)
    assert (
        certificate.not_valid_before_utc
        <= now
        < now + dt.timedelta(days=7000)
        < certificate.not_valid_after_utc
    )
    # What `openssl pkey -pubin -outform DER | sha256sum` gives.
    information = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    assert hashlib.sha256(information).hexdigest() == digest


def test_a_key_without_a_name_claims_nobodys(tmp_path: Path) -> None:
    """The certificate then bears the start of its own fingerprint."""
    digest = make_certificate(tmp_path / "orchard.key")

    (certificate,) = load_trusted(tmp_path / "orchard.key.pub")
    assert f"key {digest[:4]} {digest[4:8]}" == describe_holder(certificate)


@pytest.mark.parametrize("name", ["   ", "x" * 65, "Garden\nCertifier", "Garden\x1b[1m", "\u202eGarden"])
def test_a_name_that_no_certificate_bears_is_refused(tmp_path: Path, name: str) -> None:
    """Too long, empty, or with characters that would change how the rest is shown."""
    with pytest.raises(SigningError, match="printable characters"):
        make_certificate(tmp_path / "orchard.key", name)

    assert [] == list(tmp_path.iterdir())


def test_a_key_is_never_overwritten(tmp_path: Path) -> None:
    """Making a key where one lies, or a certificate alone, leaves all as it was."""
    first = make_certificate(tmp_path / "orchard.key")
    (tmp_path / "other.key.pub").write_text("mine")

    for name in ("orchard.key", "other.key"):
        with pytest.raises(FileExistsError):
            make_certificate(tmp_path / name)

    assert first == load_key_digest(str(tmp_path / "orchard.key.pub"))
    assert not (tmp_path / "other.key").exists()


@pytest.mark.parametrize("passphrase", ["cold frame", "Möhren"])
def test_a_passphrase_locks_the_key(tmp_path: Path, passphrase: str) -> None:
    """With one, the key opens with it and with nothing else."""
    path = tmp_path / "orchard.key"
    digest = make_certificate(path, passphrase=passphrase)

    assert digest == key_digest(load_signer(path, passphrase).signing_cert)
    for wrong in ("", "warm frame"):
        with pytest.raises(SigningError, match="CERTGEN_PASSPHRASE"):
            load_signer(path, wrong)


def test_a_passphrase_that_is_no_text_is_a_clear_error(tmp_path: Path) -> None:
    """The environment may hold any bytes; a key file takes text."""
    with pytest.raises(SigningError, match="UTF-8"):
        make_certificate(tmp_path / "orchard.key", passphrase="caf\udce9")

    assert [] == list(tmp_path.iterdir())


def test_what_names_a_key_is_read_in_three_forms(tmp_path: Path) -> None:
    """The certificate's file, all the digits, or the eight groups that were read out over the telephone."""
    digest = make_certificate(tmp_path / "orchard.key")
    forms = [str(tmp_path / "orchard.key.pub"), digest, digest.upper(), fingerprint(digest)]

    assert [digest, digest, digest, digest[:32]] == [load_key_digest(form) for form in forms]
    assert [True] * 4 == [names_key(load_key_digest(form), digest) for form in forms]
    assert [False] * 4 == [names_key(load_key_digest(form), "0" * 64) for form in forms]


def test_a_fingerprint_is_eight_groups_of_four() -> None:
    """The first half of the digest: 128 bits."""
    digest = "66687aadf862bd776c8fc18b8e9f8e20" + "f" * 32

    assert "6668 7aad f862 bd77 6c8f c18b 8e9f 8e20" == fingerprint(digest)


@pytest.mark.parametrize("text", ["", "6668 7aad", "no-such-file.pub", "g" * 64, "\0"])
def test_what_names_no_key_is_a_clear_error(text: str) -> None:
    """Too few digits would fit many keys."""
    with pytest.raises(SigningError, match="names no key"):
        load_key_digest(text)


def test_files_of_another_kind_are_clear_errors(tmp_path: Path) -> None:
    """A missing file, a folder, a note, an empty file, a key without a certificate: each says what to do."""
    (tmp_path / "note").write_text("hello")
    (tmp_path / "empty").touch()
    (tmp_path / "broken.pub").write_text("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")
    (tmp_path / "der").write_bytes(b"\x30\x82\x10\x00" + bytes(200))
    key = ec.generate_private_key(ec.SECP256R1())
    (tmp_path / "old.key").write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    (tmp_path / "bare.p12").write_bytes(
        pkcs12.serialize_key_and_certificates(None, key, None, None, NoEncryption())
    )

    for name, said in (("absent", "cannot be read: No such file"), (".", "is a folder, not an ordinary")):
        with pytest.raises(SigningError, match=said):
            load_signer(tmp_path / name)
    for name in ("note", "empty", "old.key"):
        with pytest.raises(SigningError, match="certgen seal --new-key"):
            load_signer(tmp_path / name)
    for name in ("der", "bare.p12"):
        with pytest.raises(SigningError, match="cannot be opened"):
            load_signer(tmp_path / name)
    for name in ("note", "empty", "broken.pub", "der"):
        with pytest.raises(SigningError, match="holds no certificate"):
            load_trusted(tmp_path / name)
    for name in ("old.key", "bare.p12"):
        with pytest.raises(SigningError, match=rf"is a secret key.* name its certificate, .*{name}\.pub"):
            load_trusted(tmp_path / name)


def test_the_two_files_of_a_key_are_told_apart(tmp_path: Path) -> None:
    """The secret one where the public one belongs, and the other way round: each error names the other."""
    make_certificate(tmp_path / "orchard.key", "Two Streams")

    with pytest.raises(SigningError, match=r"secret key.*orchard\.key\.pub"):
        load_key_digest(str(tmp_path / "orchard.key"))
    with pytest.raises(SigningError, match=r"to give away; sign with the secret key .*orchard\.key$"):
        load_signer(tmp_path / "orchard.key.pub")


def issue(path: Path, key: ec.EllipticCurvePrivateKey | ed25519.Ed25519PrivateKey, end: dt.datetime) -> None:
    """Write a key with a certificate that ends then."""
    name = x509.Name(
        [
            x509.NameAttribute(x509.NameOID.COMMON_NAME, "Seed\x07 Garden"),
            x509.NameAttribute(x509.NameOID.ORGANIZATION_NAME, "Invented Growers"),
        ]
    )
    usual = None if isinstance(key, ed25519.Ed25519PrivateKey) else hashes.SHA256()
    certificate = (
        x509.CertificateBuilder(name, name, key.public_key(), 5)
        .not_valid_before(dt.datetime(2020, 1, 1, tzinfo=dt.UTC))
        .not_valid_after(end)
        .sign(key, usual)
    )
    path.write_bytes(pkcs12.serialize_key_and_certificates(None, key, certificate, None, NoEncryption()))


def test_a_certificate_is_told_in_plain_words(tmp_path: Path) -> None:
    """The name first, the organization behind it; what would move a terminal's cursor is replaced."""
    issue(tmp_path / "a.p12", ec.generate_private_key(ec.SECP256R1()), dt.datetime(2120, 1, 1, tzinfo=dt.UTC))

    certificate = load_signer(tmp_path / "a.p12").signing_cert
    assert "Seed� Garden (Invented Growers)" == describe_holder(certificate)


def test_a_key_that_is_of_no_use_is_refused(tmp_path: Path) -> None:
    """An expired certificate, and a kind of key that readers of PDFs don't know."""
    past, future = (dt.datetime(year, 1, 1, tzinfo=dt.UTC) for year in (2021, 2120))
    issue(tmp_path / "old.p12", ec.generate_private_key(ec.SECP256R1()), past)
    issue(tmp_path / "new.p12", ed25519.Ed25519PrivateKey.generate(), future)

    with pytest.raises(SigningError, match="expired on 2021-01-01"):
        load_signer(tmp_path / "old.p12")
    with pytest.raises(SigningError, match="ECDSA or RSA"):
        load_signer(tmp_path / "new.p12")
