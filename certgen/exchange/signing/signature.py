"""A PDF signature put behind a packet's bytes, and what the signatures of a file from anybody are worth.

Signing appends an incremental update (PAdES, baseline B-B, invisible): the packet's own bytes stay as they
are, in front of it. Reading finds those bytes again and holds everything behind them to what a signature
itself needs: whoever signs a file can otherwise append another first page and sign that as well.
"""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from certgen.exchange.signing.offline import MissingError, SigningError, prepare_signing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from asn1crypto import x509 as asn1
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.signers import SimpleSigner

#: More signatures, one behind the other, than anybody needs.
_SIGNATURES = 20
#: And more revisions than a file has that may still be a packet.
_REVISIONS = 50
_UNREAD = (
    "Signatures can't be looked at here: it takes packages that are not installed (pip install"
    " 'certgen[signing]')."
)
_NOT_ALONE = "more than a signature was added with it"


@dataclass(frozen=True, slots=True)
class SignatureState:
    """What one signature says, and how far it can be believed.

    `holds`: it fits its revision's bytes, covers all of them, and was added alone. `signer`: whom the
    certificate names, in words; it claims to be them unless `trusted`. `key`: the digest of the key, see
    `certificates.key_digest`. `claimed_time`: when the signer's clock says it was made. `self_made`: the
    certificate was issued by its own key. `trusted`: it is one of the certificates vouched for, or was issued
    under one; whether it was revoked since can't be known without a network. `notes`: what else should be
    known, in words. `fault`: why it doesn't hold, `""` where it does.
    """

    holds: bool
    signer: str = ""
    key: str = ""
    claimed_time: dt.datetime | None = None
    self_made: bool = False
    trusted: bool = False
    notes: tuple[str, ...] = ()
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Signatures:
    """The signatures of a file. `base`: its bytes as they were before the first one; all of them without any.

    `signatures`: in the order in which they were made. `faults`: what stands behind `base` besides the
    signatures, in words. `unread`: why nothing could be looked at, `""` where it was; `base` is then the
    whole file, and nothing that it says of signatures is known.
    """

    base: bytes
    signatures: tuple[SignatureState, ...] = ()
    faults: tuple[str, ...] = ()
    unread: str = ""


def prepare_signer(signer: SimpleSigner) -> Callable[[bytes], bytes]:
    """What signs a PDF's bytes by `signer`: for whoever writes them and need not know how."""
    return lambda pdf: sign_bytes(pdf, signer)


def sign_bytes(pdf: bytes, signer: SimpleSigner) -> bytes:
    """Return `pdf` with a signature behind it; its own bytes stay in front as they are.

    Raises `SigningError` for what is no PDF, for one that can't be read, and for one at whose end stands more
    than signatures already.
    """
    if not pdf.startswith(b"%PDF-"):
        raise SigningError("this is no PDF file")
    before = read_signatures(pdf)
    faults = [*before.faults, *(one.fault for one in before.signatures if not one.holds)]
    if before.unread or faults:
        raise SigningError(f"this file is not signed: {before.unread or faults[0]}")
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.sign.fields import SigSeedSubFilter
    from pyhanko.sign.signers import PdfSignatureMetadata, sign_pdf

    from certgen.exchange.signing.appending import SignatureWriter

    details = PdfSignatureMetadata(
        field_name=f"Signature{len(before.signatures) + 1}",
        subfilter=SigSeedSubFilter.PADES,
        md_algorithm="sha256",
    )
    try:
        signed = bytes(sign_pdf(SignatureWriter(io.BytesIO(pdf)), details, signer=signer).getvalue())
    except (PdfError, ValueError) as fault:
        raise SigningError(f"this PDF cannot be signed ({fault})") from fault
    # Not every PDF is as plain as a packet. None is handed out whose signature would be refused.
    after = read_signatures(signed)
    if after.base != before.base or after.faults or not all(one.holds for one in after.signatures):
        raise SigningError("this PDF cannot be signed: it does not end where its last object ends")
    return signed


def read_signatures(pdf: bytes, trusted: Sequence[asn1.Certificate] = ()) -> Signatures:
    """Find the signatures of a file, what they cover, and what else was appended. Never raises.

    `trusted`: certificates that whoever verifies vouches for, from `certificates.load_trusted`.
    """
    try:
        prepare_signing()
    except MissingError:
        return Signatures(pdf, unread=_UNREAD)
    try:
        return _read(pdf, trusted)
    except Exception as fault:  # noqa: BLE001 (a hostile file may trip the library over anything)
        what = f"what was appended to this file cannot be read as a signature ({type(fault).__name__})"
        return Signatures(pdf, faults=(what,))


def _read(pdf: bytes, trusted: Sequence[asn1.Certificate]) -> Signatures:
    from pyhanko.pdf_utils.reader import PdfFileReader

    from certgen.exchange.signing.revisions import RevisionError, find_ends

    reader = PdfFileReader(io.BytesIO(pdf), strict=True)
    if reader.xrefs.total_revisions > _REVISIONS:
        return Signatures(pdf, faults=("this file was added to more often than a packet ever is",))
    first = min([_find_first_field(reader), *(one.signed_revision for one in _list_signatures(reader))])
    if first == reader.xrefs.total_revisions:
        return Signatures(pdf)
    try:
        ends = find_ends(pdf, reader)
    except RevisionError as fault:
        return Signatures(pdf, faults=(str(fault),))
    if first == 0:
        return Signatures(pdf, faults=("the file was written with a signature in it, not signed afterwards",))
    if len(ends) - first > _SIGNATURES:
        return Signatures(pdf, faults=(f"more than {_SIGNATURES} updates were appended to this file",))
    states, faults = _read_updates(pdf, reader, (first, ends), trusted)
    if ends[-1] != len(pdf):
        faults.append(f"{len(pdf) - ends[-1]:,} bytes were appended behind the end of this file")
    return Signatures(pdf[: ends[first - 1]], tuple(states), tuple(dict.fromkeys(faults)))


def _read_updates(
    pdf: bytes, reader: PdfFileReader, place: tuple[int, Sequence[int]], trusted: Sequence[asn1.Certificate]
) -> tuple[list[SignatureState], list[str]]:
    """The signatures from a revision on, and what else is there; `place`: which, and where each ends."""
    first, ends = place
    embedded = _list_signatures(reader)
    states: list[SignatureState] = []
    faults: list[str] = []
    for revision in range(first, len(ends)):
        span = (ends[revision - 1], ends[revision])
        here = [_judge(pdf, one, span, trusted) for one in embedded if one.signed_revision == revision]
        found = _examine(pdf, reader, revision, span)
        if not here:
            found.append("an update was appended to this file that no signature covers")
        for state in here:
            alone = not found or not state.holds
            states.append(state if alone else replace(state, holds=False, fault=_NOT_ALONE))
        faults += found
    return states, faults


def _list_signatures(reader: PdfFileReader) -> list[Any]:
    try:
        return list(reader.embedded_signatures)
    except Exception:  # noqa: BLE001 (as above; what is no signature is found as what it is)
        return []


def _find_first_field(reader: PdfFileReader) -> int:
    """The first revision that brought a field, or one more than all: one can be taken out again."""
    from certgen.exchange.signing.updates import list_fields

    revisions = range(reader.xrefs.total_revisions)
    fields = [list_fields(reader.get_historical_resolver(revision).root) for revision in revisions]
    return next((place for place in revisions[1:] if fields[place] != fields[place - 1]), len(fields))


def _examine(pdf: bytes, reader: PdfFileReader, revision: int, span: tuple[int, int]) -> list[str]:
    from certgen.exchange.signing.updates import examine_update

    try:
        return examine_update(pdf, reader, revision, span)
    except Exception as fault:  # noqa: BLE001 (as above)
        return [f"an update that was appended to this file cannot be read ({type(fault).__name__})"]


def _judge(
    pdf: bytes, embedded: Any, span: tuple[int, int], trusted: Sequence[asn1.Certificate]
) -> SignatureState:
    """One signature, and the certificate behind it; `span` is where its revision starts and ends."""
    try:
        return _weigh(pdf, embedded, span, trusted)
    except Exception as fault:  # noqa: BLE001 (as above)
        return SignatureState(False, fault=f"the signature cannot be read ({type(fault).__name__})")


def _weigh(
    pdf: bytes, embedded: Any, span: tuple[int, int], trusted: Sequence[asn1.Certificate]
) -> SignatureState:
    from certgen.exchange.signing.certificates import describe_holder, key_digest

    certificate = embedded.signer_cert
    status, time = _validate(embedded, ()), embedded.self_reported_timestamp
    state = SignatureState(
        holds=bool(status.intact and status.valid),
        signer=describe_holder(certificate),
        key=key_digest(certificate),
        claimed_time=time.replace(tzinfo=time.tzinfo or dt.UTC) if time else None,
        self_made=certificate.self_signed in {"yes", "maybe"},
    )
    fault = "" if state.holds else "the signature does not fit the file's bytes"
    fault = fault or _find_gap(pdf, embedded, span)
    if fault:
        return replace(state, holds=False, fault=fault)
    moment = state.claimed_time or dt.datetime.now(dt.UTC)
    vouched = any(one.dump() == certificate.dump() for one in trusted) or _is_vouched(
        embedded, trusted, moment
    )
    return replace(state, trusted=vouched, notes=tuple(_note_times(certificate, state)))


def _find_gap(pdf: bytes, embedded: Any, span: tuple[int, int]) -> str:
    """Why a signature doesn't cover its whole revision and nothing but it, in words; `""` where it does."""
    from certgen.exchange.signing.messages import check_message

    start, length, after, rest = (int(part) for part in embedded.byte_range)
    if start != 0 or after + rest != span[1] or not span[0] < length < after < span[1]:
        return "the signature does not cover all of the file up to its end"
    content, gap = embedded.pkcs7_content, pdf[length:after]
    # Capital letters, as usual, or small ones; not some of each, which would be a change that nobody finds.
    if gap not in {b"<%s>" % spelled for spelled in (content.hex().encode(), content.hex().upper().encode())}:
        return "the signature leaves out more of the file than itself"
    return check_message(content, embedded.signer_cert)


def _validate(embedded: Any, trusted: Sequence[asn1.Certificate], moment: dt.datetime | None = None) -> Any:
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    context = ValidationContext(trust_roots=list(trusted), allow_fetching=False, moment=moment)
    return validate_pdf_signature(embedded, context, skip_diff=True)


def _is_vouched(embedded: Any, trusted: Sequence[asn1.Certificate], moment: dt.datetime) -> bool:
    """Whether the certificate was issued under one of `trusted`, as things stood when it was used."""
    issuers = [one for one in trusted if one.ca]
    return bool(issuers) and bool(_validate(embedded, issuers, moment).trusted)


def _note_times(certificate: asn1.Certificate, state: SignatureState) -> Iterator[str]:
    start, end, now = certificate.not_valid_before, certificate.not_valid_after, dt.datetime.now(dt.UTC)
    if end < now:
        yield f"The certificate expired on {end.date()}; that it signed before is only claimed."
    if state.claimed_time is not None and not start <= state.claimed_time <= end:
        yield f"It claims to be made on {state.claimed_time.date()}, when its certificate was not valid."
    if state.claimed_time is not None and state.claimed_time > now:
        yield f"It claims to be made on {state.claimed_time.date()}, which is yet to come."
