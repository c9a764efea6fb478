"""`certgen seal`: a key of one's own, and the seal on a report."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import PATH, argument, command, force_option, option, refusing

if TYPE_CHECKING:
    from pathlib import Path


@command("certgen seal --new-key orchard.key\ncertgen seal report.pdf --key orchard.key")
@argument("file", "FILE.pdf", "The report to seal.", type=PATH, required=False)
@option("--key", metavar="FILE", type=PATH, help="Your sealing key.")
@option("--new-key", metavar="FILE", type=PATH, help="Make a sealing key in this file.")
@option("--certificate", metavar="FILE.p12", type=PATH, help="Add a PAdES signature by this certificate.")
@option("--out", metavar="FILE", type=PATH, help="Where to. Default: FILE itself.")
@force_option
def run(
    file: Path | None,
    key: Path | None,
    new_key: Path | None,
    certificate: Path | None,
    out: Path | None,
    force: bool,
) -> int:
    """Make a sealing key, or put a seal on a report: any byte changed afterwards is found by certgen verify.

    The secret key stays with you; give the .pub file to your inspector once, on paper or in person. The
    passphrase of a certificate is taken from the environment variable CERTGEN_PASSPHRASE.
    """
    from certgen.exchange.sealing.seal import SealError

    with refusing(SealError, FileExistsError):
        if new_key is not None:
            _make_key(new_key)
            return 0
        if file is None:
            message = "name the report to seal, or make a key with --new-key FILE"
            raise click.ClickException(message)
        _seal_file(file, out or file, key, certificate, force=force)
    sys.stdout.write(f"{out or file} is sealed.\n")
    return 0


def _make_key(file: Path) -> None:
    from certgen.exchange.sealing.seal import fingerprint, make_key

    public = make_key(file)
    sys.stdout.write(
        f"{file} holds your secret key: keep a copy where nobody else reads it; it cannot be made again.\n"
        f"{file}.pub holds the public one. Its fingerprint, to read out to an inspector:\n"
        f"  {fingerprint(public)}\n"
    )


def _seal_file(file: Path, out: Path, key: Path | None, certificate: Path | None, *, force: bool) -> None:
    from certgen.cli.output import write_files
    from certgen.exchange.sealing.seal import load_key, seal_bytes, without_keyless_seal
    from certgen.output_places import Output

    pdf = file.read_bytes()
    if key is not None or certificate is not None:
        # `certgen report` seals without a key; the grower's own key takes that seal's place.
        pdf = without_keyless_seal(pdf)
    sealed = seal_bytes(pdf, load_key(key) if key is not None else None)
    if certificate is not None:
        from certgen.exchange.sealing.seal import sign_bytes

        passphrase = os.environ.get("CERTGEN_PASSPHRASE")
        sealed = sign_bytes(sealed, certificate, passphrase.encode() if passphrase else None)
    write_files([Output(out, "packet", sealed)], force=force)
