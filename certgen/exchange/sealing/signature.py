"""A PAdES signature on a sealed packet, made with a certificate that the grower brings along.

The seal comes first, the signature is appended as the standard asks and covers the sealed bytes too.
This module never judges who issued a certificate: that needs trust lists which the reader chooses.
"""

from __future__ import annotations

import io
import logging
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from certgen.exchange.sealing.seal import SealError

if TYPE_CHECKING:
    from pathlib import Path

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
