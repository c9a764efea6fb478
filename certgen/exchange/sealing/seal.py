"""The seal on a packet: one digest over every byte of the file, and a key behind the digest if wanted.

A digest of a whole file cannot lie inside that file unless its own place is left out. So the seal is a
block of comment lines of fixed width just before the last `startxref` of the PDF: comments are white space
to a PDF reader, and because the block stands behind all objects no offset in the file moves. The digest
covers all bytes except the block; the block itself is strict to the letter (lower-case hexadecimal, fixed
widths), so that a change to any byte of the file, in the block or out of it, behind the end or before it,
is found.

Without a key the seal shows that the file is as it was written. With a key (Ed25519, RFC 8032) it shows
also that the holder of the key wrote it, if the reader knows the public key from elsewhere.

Keys are made once and kept by the grower, shown to others as a short line of letters; a PAdES signature
with a certificate that the grower brings along may follow.
"""

from __future__ import annotations

import hashlib
import io
import logging
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from certgen.whole_files import write_all

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_NO_KEY = "0" * 64
_NO_SIGNATURE = "0" * 128
_BLOCK = re.compile(
    rb"%certgen-seal 1 length=([0-9]{12})\n"
    rb"%certgen-seal sha256=([0-9a-f]{64})\n"
    rb"%certgen-seal key=([0-9a-f]{64})\n"
    rb"%certgen-seal signature=([0-9a-f]{128})\n"
)
_MARK = b"%certgen-seal "
_TAIL = re.compile(rb"startxref\r?\n[0-9]{1,12}\r?\n%%EOF\r?\n?\Z")


class SealError(ValueError):
    """A file that cannot be sealed, or a key that cannot be read."""


@dataclass(frozen=True, slots=True)
class SealState:
    """What the seal of a file says. `intact` is true when every byte is as it was sealed.

    `present`: a seal block was found. `signed`: the block names a key. `signature_holds`: the key's
    signature fits. `key`: the public key as hexadecimal, `""` without one. `sealed_length`: how many bytes
    the seal covers, block included; bytes behind them belong to a signature added later, or to nobody.
    `fault`: what is wrong, in words.
    """

    present: bool
    intact: bool
    signed: bool = False
    signature_holds: bool = False
    key: str = ""
    digest: str = ""
    sealed_length: int = 0
    fault: str = ""


def seal_bytes(pdf: bytes, key: Ed25519PrivateKey | None = None) -> bytes:
    """Return `pdf` with a seal in it. Raises `SealError` for an unfinished PDF and for one sealed already."""
    if not pdf.startswith(b"%PDF-"):
        raise SealError("this is no PDF file")
    if _find_block(pdf) is not None:
        raise SealError("this file is sealed already; make a fresh report to seal it anew")
    tail = _TAIL.search(pdf)
    if tail is None:
        raise SealError("this PDF does not end as a finished one does; it may be cut off")
    digest = hashlib.sha256(pdf).hexdigest()
    public, signature = _NO_KEY, _NO_SIGNATURE
    width = len(_block(0, digest, public, signature))
    length = len(pdf) + width
    if key is not None:
        public = key.public_key().public_bytes_raw().hex()
        signature = key.sign(_message(length, digest)).hex()
    at = tail.start()
    return pdf[:at] + _block(length, digest, public, signature) + pdf[at:]


def without_keyless_seal(pdf: bytes) -> bytes:
    """The file as it was before a seal without a key was put on, so that one with a key can take its place.

    A seal that a key stands behind, or one that is broken, is left where it is.
    """
    state, block = check_seal(pdf), _find_block(pdf)
    if block is None or not state.intact or state.signed or state.sealed_length != len(pdf):
        return pdf
    return pdf[: block.start()] + pdf[block.end() :]


def check_seal(pdf: bytes) -> SealState:
    """Read the seal of a file and say whether it holds. Never raises: a broken seal is an answer."""
    block = _find_block(pdf)
    if block is None:
        return SealState(_MARK in pdf, False, fault=_missing(pdf))
    length, digest = int(block[1]), block[2].decode()
    public, signature = block[3].decode(), block[4].decode()
    state = SealState(
        True, False, public != _NO_KEY, False, "" if public == _NO_KEY else public, digest, length
    )
    covered = pdf[: block.start()] + pdf[block.end() : length]
    if hashlib.sha256(covered).hexdigest() != digest:
        return _at_fault(state, "the file's bytes are not those that were sealed")
    if public == _NO_KEY:
        if signature != _NO_SIGNATURE:
            return _at_fault(state, "the seal bears a signature but no key")
        return SealState(True, True, False, False, "", digest, length)
    if not _signature_holds(public, signature, _message(length, digest)):
        return _at_fault(state, "the signature was not made by the key that the seal names")
    return SealState(True, True, True, True, public, digest, length)


def _find_block(pdf: bytes) -> re.Match[bytes] | None:
    """The block that stands where it says: before the end of as many bytes as it covers.

    A sealed file may hold another one as evidence; that one's block gives a length that does not fit here.
    """
    for block in reversed(list(_BLOCK.finditer(pdf))):
        length = int(block[1])
        if block.end() < length <= len(pdf) and _TAIL.fullmatch(pdf, block.end(), length):
            return block
    return None


def _missing(pdf: bytes) -> str:
    if _MARK not in pdf:
        return "the file bears no seal"
    lengths = [int(block[1]) for block in _BLOCK.finditer(pdf)]
    if lengths and lengths[-1] > len(pdf):
        return f"the file is {len(pdf):,} bytes long; {lengths[-1]:,} were sealed"
    return "the seal itself was changed"


def _at_fault(state: SealState, fault: str) -> SealState:
    return SealState(
        state.present, False, state.signed, False, state.key, state.digest, state.sealed_length, fault
    )


def _block(length: int, digest: str, public: str, signature: str) -> bytes:
    return (
        f"%certgen-seal 1 length={length:012d}\n%certgen-seal sha256={digest}\n"
        f"%certgen-seal key={public}\n%certgen-seal signature={signature}\n"
    ).encode()


def _message(length: int, digest: str) -> bytes:
    """What the key signs. The first line keeps a signature from being used for anything else."""
    return f"certgen seal 1\nlength {length}\nsha256 {digest}\n".encode()


def _signature_holds(public: str, signature: str, message: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True


def make_key(path: Path) -> str:
    """Make a new Ed25519 key: the secret half in `path`, the public half beside it in `path.pub`.

    Returns the public key as hexadecimal. An existing file is never overwritten (`FileExistsError`):
    a lost key cannot be made again, and with it goes the proof of every report sealed by it.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    key = Ed25519PrivateKey.generate()
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    public = key.public_key().public_bytes_raw().hex()
    beside = path.with_name(path.name + ".pub")
    write_all({path: secret, beside: f"{public}\n".encode()}, replace=False, mode=0o600)
    beside.chmod(0o644)
    return public


def load_key(path: Path) -> Ed25519PrivateKey:
    """Read a secret key made by `make_key`. Raises `SealError` with what to do."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except OSError as fault:
        raise SealError(f"the key file {path} cannot be read: {fault.strerror}") from fault
    except (ValueError, TypeError, UnsupportedAlgorithm) as fault:
        raise SealError(f"{path} holds no sealing key; make one with: certgen seal --new-key FILE") from fault
    if not isinstance(key, Ed25519PrivateKey):
        raise SealError(f"{path} holds a key of another kind; a seal takes an Ed25519 key")
    return key


def load_public_key(text: str) -> str:
    """Return a public key, given as hexadecimal or as the path of a `.pub` file, as 64 hexadecimal digits."""
    candidate = text.strip().lower()
    if len(candidate) != 64:
        try:
            candidate = Path(text).read_text(encoding="ascii").strip().lower()
        except (OSError, UnicodeDecodeError) as fault:
            raise SealError(
                f"{text!r} is neither a public key (64 letters and digits) nor a .pub file"
            ) from fault
    if len(candidate) != 64 or any(c not in "0123456789abcdef" for c in candidate):
        raise SealError(f"{text!r} does not hold a public key of 64 hexadecimal digits")
    return candidate


def fingerprint(public: str) -> str:
    """A public key as eight groups of four letters, short enough to read over the telephone.

    The first 128 bits of the SHA-256 of the key's bytes.
    """
    digest = hashlib.sha256(bytes.fromhex(public)).hexdigest()[:32]
    return " ".join(digest[i : i + 4] for i in range(0, 32, 4))


_FIELD = "CertgenSignature"


@dataclass(frozen=True, slots=True)
class SignatureState:
    """What a PAdES signature says: whether it holds over the whole file, and whom the certificate names."""

    holds: bool
    signer: str = ""
    fault: str = ""


def sign_bytes(pdf: bytes, certificate: Path, passphrase: bytes | None) -> bytes:
    """Return `pdf` with a PAdES signature by the PKCS #12 file `certificate`. Raises `SealError`."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign.fields import SigSeedSubFilter
    from pyhanko.sign.signers import PdfSignatureMetadata, SimpleSigner, sign_pdf

    signer = SimpleSigner.load_pkcs12(certificate, passphrase=passphrase)
    if signer is None:
        raise SealError(f"{certificate} cannot be opened as a PKCS #12 certificate with this passphrase")
    details = PdfSignatureMetadata(field_name=_FIELD, subfilter=SigSeedSubFilter.PADES, md_algorithm="sha256")
    signed = sign_pdf(IncrementalPdfFileWriter(io.BytesIO(pdf)), details, signer=signer)
    return bytes(signed.getvalue())


def check_signature(pdf: bytes, sealed_length: int) -> SignatureState:
    """Check the one signature that stands behind the sealed bytes.

    It must cover the whole file, and add nothing but itself to what was sealed.
    """
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    # The library reports an unknown issuer on the log, with a traceback; that is not ours to judge.
    logging.getLogger("pyhanko").addHandler(logging.NullHandler())
    try:
        reader = PdfFileReader(io.BytesIO(pdf))
        signatures = reader.embedded_signatures
        if len(signatures) != 1:
            return SignatureState(False, fault="bytes were added behind the seal that no signature covers")
        status = validate_pdf_signature(
            signatures[0], ValidationContext(trust_roots=[], allow_fetching=False)
        )
    except Exception as fault:  # noqa: BLE001 (a hostile file may trip the library over anything)
        return SignatureState(
            False, fault=f"what follows the seal cannot be read as a signature ({type(fault).__name__})"
        )
    signer = str(status.signing_cert.subject.human_friendly)
    if not (status.intact and status.valid):
        return SignatureState(False, signer, "the signature does not fit the file's bytes")
    if status.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return SignatureState(False, signer, "bytes were added behind the signature")
    if not _padding_is_zero(pdf[sealed_length:]):
        return SignatureState(False, signer, "the space behind the signature was written to")
    return SignatureState(True, signer)


def _padding_is_zero(added: bytes) -> bool:
    """The one stretch a signature cannot cover is its own field: all of it but the signature must be zero."""
    found = re.search(rb"/Contents\s*<([0-9a-fA-F]+)>", added)
    if found is None:
        return False
    blob = bytes.fromhex(found[1].decode())
    if len(blob) < 4 or blob[0] != 0x30 or blob[1] & 0x80 == 0:
        return False
    octets = blob[1] & 0x7F
    size = 2 + octets + int.from_bytes(blob[2 : 2 + octets], "big")
    return size <= len(blob) and not any(blob[size:])
