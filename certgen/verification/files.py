"""A packet or a card as a file from anybody: glanced at, and verified in a process of its own under limits.

The process loads what sets pages, which takes a second; this one loads none of it, so that it isn't loaded
twice, one after the other.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Final

from certgen.limits import Limits, run_limited
from certgen.typeset.pango import hold_pango
from certgen.verification.attachments import PacketError, read_attachments, read_packet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from asn1crypto import x509

    from certgen.verification.answers import Verification

#: Typst sets a file's keywords uncompressed, in its metadata.
_CARD_KEYWORDS: Final = b"certgen lot card"
#: What a packet may take: far more than twenty thousand bags do on a small machine.
LIMITS: Final = Limits(seconds=900, megabytes=4096)


def looks_like_card(path: Path) -> bool:
    """Whether a file may be a card, or the text of one's code: it is only glanced at, and not taken apart."""
    data = read_packet(path)
    if data.startswith(b"%PDF-"):
        return _CARD_KEYWORDS in data
    from certgen.exchange.lot_card.code import HEAD, TEXT_BYTES

    return data[:TEXT_BYTES].lstrip().startswith(f"{HEAD}: ".encode())


def verify_file(
    path: Path,
    *,
    key: str = "",
    trusted: Sequence[x509.Certificate] = (),
    quick: bool = False,
    against: Path | None = None,
    limits: Limits = LIMITS,
) -> Verification:
    """Verify a packet from anybody, in a process of its own under limits.

    `against` is an earlier packet, or a season's folder; the others are as in `verify_bytes`. Raises
    `PacketError` where there is nothing to verify, or where the file asks for more than the limits allow,
    and `PangoMissingError` where no pages can be made anew, those of packets inside it either.
    """
    earlier = None if against is None or against.is_dir() else read_packet(against)
    given = (read_packet(path), key, [one.dump() for one in trusted], quick, earlier)
    hold_pango()
    outcome = run_limited(_verify, *given, seconds=limits.seconds, megabytes=limits.megabytes)
    if outcome.passed:
        raise PacketError(f"{path} {outcome.reason}: a packet doesn't, so nothing more was done")
    found = outcome.value
    if against is not None and earlier is None:
        _compare_with_folder(found, path, against)
    return found


def _compare_with_folder(found: Verification, path: Path, folder: Path) -> None:
    """Hold a packet against the season's folder as it is now."""
    from certgen.verification.disclosed import compare_disclosed
    from certgen.verification.earlier import compare_folder
    from certgen.verification.packet_files import stated_options

    if stated_options(found.manifest).is_full:
        compare_folder(found, folder)
        return
    from certgen.examination import ReadFailure, examine
    from certgen.exchange.signing.signature import read_signatures
    from certgen.verification.supplied import LIMITS as SUPPLIED
    from certgen.verification.supplied import PacketVerifier

    on = date.fromisoformat(found.manifest["on"])
    try:
        result = examine(folder, on, packets=PacketVerifier(limits=SUPPLIED))
    except ReadFailure as failure:
        raise PacketError(failure.errors[0].text()) from failure
    inside = read_attachments(read_signatures(read_packet(path)).base)
    compare_disclosed(found, inside, replace(result, version=found.manifest["version"]), None)


def _verify(pdf: bytes, key: str, trusted: list[bytes], quick: bool, earlier: bytes | None) -> Verification:
    from certgen.verification.verification import compare_with_packet, verify_bytes

    certificates = []
    if trusted:
        from asn1crypto import x509

        certificates = [x509.Certificate.load(one) for one in trusted]
    found = verify_bytes(pdf, key=key, trusted=certificates, quick=quick)
    if earlier is not None:
        compare_with_packet(found, pdf, earlier)
    return found
