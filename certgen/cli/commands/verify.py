"""`certgen verify`: is this report what was sealed, and does it bear out what it says?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.arguments import PATH, argument, command, option, refusing
from certgen.cli.terminal import Terminal

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.exchange.sealing.verification import Verification


@command("certgen verify report.pdf --key orchard.key.pub")
@argument("file", "FILE.pdf", "A report of certgen's.", type=PATH)
@option(
    "--key",
    metavar="KEY",
    default="",
    help="The public key it must bear: a .pub file, or its letters.",
)
@option("--against", metavar="SEASON", type=PATH, help="Compare with a season's folder as it is now.")
def run(file: Path, key: str, against: Path | None) -> int:
    """Check a report's seal, the files inside it, and that the rules come to what it says, from the file
    alone.

    Exit code: 0 everything holds, 1 something does not, 2 there is nothing that can be verified.
    """
    from certgen.cli.progress import show_waiting
    from certgen.exchange.sealing.attachments import PacketError
    from certgen.exchange.sealing.seal import SealError, load_public_key
    from certgen.exchange.sealing.verification import verify_packet

    with refusing(PacketError, SealError):
        wanted = load_public_key(key) if key else ""
        with show_waiting("checking the report"):
            found = verify_packet(file, key=wanted, against=against)
    _write_text(found)
    return 0 if found.sound else 1


def _write_text(found: Verification) -> None:
    out = Terminal()
    if found.manifest:
        season = found.manifest["season"]
        out.text(
            f"{season['operation']}, season {season['label']}, as the records stood on "
            f"{found.manifest['on']}; made by certgen {found.manifest['version']}."
        )
    _write_marks(out, found)
    if found.files:
        out.text(f"Files: {found.files} inside are those that the report was made from.")
    for note in found.notes:
        out.text(note)
    for fault in found.faults:
        out.text(fault, 2, "red")
    if found.sound:
        out.text("The report's statements follow from the records inside it.", 0, "green")
    else:
        count = len(found.faults)
        faults = f"{count} fault{'s' if count > 1 else ''}"
        out.text(f"{faults}: this file does not bear out what it says.", 0, "red")


def _write_marks(out: Terminal, found: Verification) -> None:
    """The seal and the signature, as far as they hold."""
    from certgen.exchange.sealing.seal import fingerprint

    if found.seal.intact:
        signed = f"with the key {fingerprint(found.seal.key)}" if found.seal.signed else "without a key"
        out.text(f"Seal: every byte is as it was sealed, {signed}.")
    if found.signature is not None and found.signature.holds:
        out.text(
            f"Signature: holds over the whole file. Certificate: {found.signature.signer}. "
            "Who issued it was not judged."
        )
