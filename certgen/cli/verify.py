"""`certgen verify`: is this file what was sealed, and do the records inside still bear out what it says?"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from certgen.cli.terminal import Terminal, clean


def run(
    file: Annotated[
        Path, typer.Argument(metavar="FILE.pdf", help="A report of certgen's.", show_default=False)
    ],
    key: Annotated[
        str,
        typer.Option(
            "--key", metavar="KEY", help="The public key it must bear: a .pub file, or its letters."
        ),
    ] = "",
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="SEASON", help="Compare with a season's folder as it is now."),
    ] = None,
) -> int:
    """Check a report's seal, the files inside it, and that the rules come to what it says, from the file
    alone.

    Exit code: 0 everything holds, 1 something does not, 2 there is nothing that can be verified.

    Example:  certgen verify report.pdf --key orchard.key.pub
    """
    from certgen.cli.progress import show_waiting
    from certgen.exchange.sealing.attachments import PacketError
    from certgen.exchange.sealing.keys import fingerprint, load_public_key
    from certgen.exchange.sealing.seal import SealError
    from certgen.exchange.sealing.verification import verify_packet

    terminal = Terminal()
    try:
        wanted = load_public_key(key) if key else ""
        with show_waiting("checking the report"):
            found = verify_packet(file, key=wanted, against=against)
    except (PacketError, SealError) as fault:
        sys.stderr.write(f"certgen verify: {clean(str(fault))}.\n")
        return 2
    if found.manifest:
        season = found.manifest["season"]
        terminal.text(
            f"{season['operation']}, season {season['label']}, as the records stood on "
            f"{found.manifest['on']}; made by certgen {found.manifest['version']}."
        )
    seal = found.seal
    if seal.intact:
        signed = f"with the key {fingerprint(seal.key)}" if seal.signed else "without a key"
        terminal.text(f"Seal: every byte is as it was sealed, {signed}.")
    if found.signature is not None and found.signature.holds:
        terminal.text(f"Signature: holds over the whole file. Certificate: {found.signature.signer}. "
                      "Who issued it was not judged.")  # fmt: skip
    if found.files:
        terminal.text(f"Files: {found.files} inside are those that the report was made from.")
    for note in found.notes:
        terminal.text(note)
    for one in found.faults:
        terminal.text(one, 2, "red")
    if found.sound:
        terminal.text("The report's statements follow from the records inside it.", 0, "green")
        return 0
    count = len(found.faults)
    terminal.text(
        f"{count} fault{'s' if count > 1 else ''}: this file does not bear out what it says.", 0, "red"
    )
    return 1
