"""`certgen seal`: a key of one's own, and the seal on a report."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer


def run(
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE.pdf", help="The report to seal.", show_default=False)
    ] = None,
    key: Annotated[Path | None, typer.Option("--key", metavar="FILE", help="Your sealing key.")] = None,
    new_key: Annotated[
        Path | None, typer.Option("--new-key", metavar="FILE", help="Make a sealing key in this file.")
    ] = None,
    certificate: Annotated[
        Path | None,
        typer.Option("--certificate", metavar="FILE.p12", help="Add a PAdES signature by this certificate."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Where to. Default: FILE itself.")
    ] = None,
) -> int:
    """Make a sealing key, or put a seal on a report: any byte changed afterwards is found by certgen verify.

    The secret key stays with you; give the .pub file to your inspector once, on paper or in person. The
    passphrase of a certificate is taken from the environment variable CERTGEN_PASSPHRASE.

    Example:  certgen seal --new-key orchard.key; certgen seal report.pdf --key orchard.key
    """
    from certgen.exchange.sealing.keys import fingerprint, make_key
    from certgen.exchange.sealing.seal import SealError

    try:
        if new_key is not None:
            public = make_key(new_key)
            sys.stdout.write(
                f"{new_key} holds your secret key: keep a copy where nobody else reads it; "
                "it cannot be made again.\n"
                f"{new_key}.pub holds the public one. Its fingerprint, to read out to an inspector:\n"
                f"  {fingerprint(public)}\n"
            )
            return 0
        if file is None:
            sys.stderr.write("certgen seal: name the report to seal, or make a key with --new-key FILE.\n")
            return 2
        seal_file(file, out or file, key, certificate)
    except (SealError, FileExistsError) as fault:
        sys.stderr.write(f"certgen seal: {fault}.\n")
        return 2
    sys.stdout.write(f"{out or file} is sealed.\n")
    return 0


def seal_file(file: Path, out: Path, key: Path | None = None, certificate: Path | None = None) -> None:
    """Seal a report that has been written, and sign it if a certificate is given.

    `certgen report` calls this after the last byte of the PDF is there. Raises `SealError` and `OSError`;
    the file is whole before and after.
    """
    from certgen.exchange.sealing.keys import load_key
    from certgen.exchange.sealing.seal import seal_bytes, without_keyless_seal
    from certgen.whole_files import write_whole

    pdf = file.read_bytes()
    if key is not None or certificate is not None:
        # `certgen report` seals without a key; the grower's own key takes that seal's place.
        pdf = without_keyless_seal(pdf)
    sealed = seal_bytes(pdf, load_key(key) if key is not None else None)
    if certificate is not None:
        from certgen.exchange.sealing.signature import sign_bytes

        passphrase = os.environ.get("CERTGEN_PASSPHRASE")
        sealed = sign_bytes(sealed, certificate, passphrase.encode() if passphrase else None)
    write_whole(out, sealed)
