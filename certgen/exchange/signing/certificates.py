"""Keys and certificates: made by the grower, issued by somebody, or vouched for by whoever verifies.

A secret key lies in a PKCS #12 file together with its X.509 certificate. A certificate that one made oneself
proves only that one key signed; whose key that is, an inspector learns by comparing fingerprints.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from typing import TYPE_CHECKING, Any

from certgen.exchange.signing.offline import SigningError, prepare_signing
from certgen.output_places.places import Output, write_outputs
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from asn1crypto import x509 as asn1
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from pyhanko.sign.signers import SimpleSigner

#: How long a certificate that one makes oneself is valid: as long as packets are asked for, and more.
_DAYS = 20 * 365
#: X.520 allows a common name so many characters.
_NAME = 64
#: No certificate, and no file of certificates, is larger.
_FILE_BYTES = 1024 * 1024


def make_certificate(
    path: Path,
    name: str = "",
    passphrase: str = "",
    *,
    write: Callable[[Sequence[Output]], object] = write_outputs,
) -> str:
    """Make a secret key (ECDSA, P-256) and its certificate: both in `path`, the certificate in `path.pub`.

    `name` becomes the certificate's common name; without one it bears the start of the key's fingerprint, so
    that it claims nobody's name. With a `passphrase` the PKCS #12 file is encrypted. Returns the key's digest
    as `key_digest` does. `write` puts both files in place; unless told otherwise it writes over neither
    (`FileExistsError`). Raises `SigningError` for a name that no certificate can bear.
    """
    prepare_signing()
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        NoEncryption,
        PublicFormat,
        pkcs12,
    )

    if len(name) > _NAME or not (name.strip() or name == "") or not name.isprintable():
        raise SigningError(f"a certificate's name has 1 to {_NAME} printable characters")
    key = ec.generate_private_key(ec.SECP256R1())
    info = key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    digest = hashlib.sha256(info).hexdigest()
    certificate = _issue(key, name.strip() or f"key {fingerprint(digest)[:9]}")
    secret_words = _encode(passphrase)
    encryption = BestAvailableEncryption(secret_words) if secret_words else NoEncryption()
    secret = pkcs12.serialize_key_and_certificates(b"certgen", key, certificate, None, encryption)
    beside = path.with_name(path.name + ".pub")
    public = certificate.public_bytes(Encoding.PEM)
    write([Output(path, "key", secret, private=True), Output(beside, "certificate", public)])
    return digest


def _issue(key: EllipticCurvePrivateKey, name: str) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    # To the day: the minute is nobody's concern, and clocks differ.
    today = dt.datetime.now(dt.UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(today - dt.timedelta(days=1))
        .not_valid_after(today + dt.timedelta(days=_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def load_signer(path: Path, passphrase: str = "") -> SimpleSigner:
    """Read a secret key with its certificate from a PKCS #12 file, one's own or one issued by somebody.

    Raises `SigningError` with what to do.
    """
    prepare_signing()
    from pyhanko.sign.signers import SimpleSigner

    data, secret_words = _read(path, "the key file"), _encode(passphrase)
    try:
        signer: SimpleSigner = SimpleSigner.load_pkcs12_data(data, [], secret_words)
    except (ValueError, AttributeError, TypeError) as fault:
        if b"-----BEGIN CERTIFICATE-----" in data:
            secret = str(path).removesuffix(".pub")
            named = (
                f"sign with the secret key that it belongs to, {secret}"
                if secret != str(path)
                else ("sign with the secret key that it belongs to")
            )
            raise SigningError(f"{path} is a certificate, to give away; {named}") from fault
        if not data.startswith(b"\x30"):
            raise SigningError(
                f"{path} holds no key with a certificate (PKCS #12); make one with: "
                "certgen seal --new-key FILE"
            ) from fault
        raise SigningError(
            f"{path} cannot be opened; its passphrase goes into the environment variable CERTGEN_PASSPHRASE"
        ) from fault
    certificate: asn1.Certificate = signer.signing_cert
    if certificate.public_key.algorithm not in {"ec", "rsa"}:
        raise SigningError(
            f"{path} holds a key of a kind that PDF readers don't know; use an ECDSA or RSA key"
        )
    if certificate.not_valid_after < dt.datetime.now(dt.UTC):
        raise SigningError(f"the certificate in {path} expired on {certificate.not_valid_after.date()}")
    return signer


def _encode(passphrase: str) -> bytes | None:
    """What locks a PKCS #12 file; nothing for no passphrase."""
    try:
        return passphrase.encode() or None
    except UnicodeEncodeError as fault:
        raise SigningError("the passphrase is not text in UTF-8, which a key file needs") from fault


def load_trusted(path: Path) -> tuple[asn1.Certificate, ...]:
    """Read the certificates in a file, PEM or DER, that one vouches for. Raises `SigningError`."""
    prepare_signing()
    return _parse(_read(path, "the certificate"), str(path))


def load_key_digest(text: str) -> str:
    """Return what names a key: 64 hexadecimal digits, or the 32 that a fingerprint holds.

    `text` is the path of a `.pub` file (a certificate), those 64 digits, or the fingerprint's eight groups.
    `names_key` compares it with a signature's key. Raises `SigningError`.
    """
    from pathlib import Path

    digits = re.sub(r"[\s:-]", "", text).lower()
    if re.fullmatch(r"[0-9a-f]{64}|[0-9a-f]{32}", digits):
        return digits
    path = Path(text)
    if not path.is_file():
        raise SigningError(
            f"{text!r} names no key: neither a .pub file nor the eight groups of a fingerprint"
        )
    return key_digest(load_trusted(path)[0])


def key_digest(certificate: asn1.Certificate) -> str:
    """The SHA-256 of a certificate's SubjectPublicKeyInfo, as 64 hexadecimal digits.

    It names the key: a second certificate for the same key, with whatever name, has the same digest.
    """
    return hashlib.sha256(certificate.public_key.dump()).hexdigest()


def fingerprint(digest: str) -> str:
    """The first 128 bits of a key's digest in eight groups, short enough to read over the telephone."""
    return " ".join(digest[i : i + 4] for i in range(0, 32, 4))


def names_key(wanted: str, key: str) -> bool:
    """Whether `wanted`, from `load_key_digest`, is the digest `key` of a signature or its fingerprint."""
    return len(wanted) >= 32 and key.startswith(wanted)


def describe_holder(certificate: asn1.Certificate) -> str:
    """Whom a certificate names, in words: its common name, then organization and country if it has them.

    What stands in a certificate was written by whoever made it: no control characters pass, and no novels.
    """
    parts: dict[str, Any] = certificate.subject.native
    names = [parts.get(part) for part in ("common_name", "organization_name", "country_name")]
    words = [_clean(one if isinstance(one, str) else one[0]) for one in names if one]
    if not words:
        return _clean(certificate.subject.human_friendly) or "nobody by name"
    return words[0] + (f" ({', '.join(words[1:])})" if words[1:] else "")


def _clean(text: str) -> str:
    return "".join(c if c.isprintable() else "�" for c in text)[:100]


def _read(path: Path, what: str) -> bytes:
    try:
        return read_ordinary(path, _FILE_BYTES)
    except OSError as fault:
        raise SigningError(f"{what} {path} cannot be read: {fault.strerror}") from fault


def _parse(data: bytes, name: str) -> tuple[asn1.Certificate, ...]:
    from asn1crypto import pem
    from asn1crypto import x509 as asn1

    try:
        blocks = [block for _, _, block in pem.unarmor(data, multiple=True)] if pem.detect(data) else [data]
        found = tuple(asn1.Certificate.load(block, strict=True) for block in blocks)
        for one in found:
            # Reading is lazy; whoever is at fault should be known here.
            key_digest(one), describe_holder(one), one.not_valid_after
    except (ValueError, TypeError, KeyError, AttributeError) as fault:
        if _is_secret(data):
            raise SigningError(
                f"{name} is a secret key, which nobody else may have; name its certificate, {name}.pub"
            ) from fault
        raise SigningError(f"{name} holds no certificate (X.509, PEM or DER)") from fault
    return found


def _is_secret(data: bytes) -> bool:
    """Whether a file holds a secret key: PKCS #12, or PEM that says so."""
    from asn1crypto.pkcs12 import Pfx

    if b"PRIVATE KEY-----" in data:
        return True
    try:
        return bool(Pfx.load(data)["version"].native == "v3")
    except (ValueError, TypeError, KeyError):
        return False
