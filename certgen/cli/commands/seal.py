"""`certgen seal`: a key of one's own, and the signature on a packet."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import PATH, argument, command, force_option, option, refusing

if TYPE_CHECKING:
    from pathlib import Path


@command('certgen seal --new-key orchard.key --name "K. Wren"\ncertgen seal report.pdf --key orchard.key')
@argument("file", "FILE.pdf", "The packet to sign.", type=PATH, required=False)
@option("--key", "--certificate", metavar="FILE", type=PATH, help="Your key with its certificate (PKCS #12).")
@option("--new-key", metavar="FILE", type=PATH, help="Make a key and a certificate for it in this file.")
@option("--name", metavar="NAME", default="", help="With --new-key: whom the certificate names.")
@option("--out", metavar="FILE", type=PATH, help="Where to. Default: FILE itself.")
@force_option
def run(
    file: Path | None,
    key: Path | None,
    new_key: Path | None,
    name: str,
    out: Path | None,
    force: bool,
) -> int:
    """Make a signing key, or sign a packet: any PDF reader shows the signature, certgen verify checks it.

    The key stays with you; give the .pub file, or its fingerprint, to your inspector once, on paper or in
    person. A certificate that somebody issued to you serves as well. The passphrase of a key is taken from
    the environment variable CERTGEN_PASSPHRASE.
    """
    from certgen.exchange.signing.offline import SigningError

    passphrase = os.environ.get("CERTGEN_PASSPHRASE", "")
    with refusing(SigningError, FileExistsError):
        if new_key is not None:
            _make_key(new_key, name, passphrase, force=force)
            return 0
        if file is None or key is None:
            message = "name the packet to sign and your key (--key FILE), or make a key with --new-key FILE"
            raise click.ClickException(message)
        _sign_file(file, out or file, key, passphrase, force=force)
    sys.stdout.write(f"{out or file} is signed.\n")
    return 0


def _make_key(file: Path, name: str, passphrase: str, *, force: bool) -> None:
    from certgen.cli.output import write_files
    from certgen.exchange.signing.certificates import fingerprint, make_certificate

    digest = make_certificate(file, name, passphrase, write=lambda outputs: write_files(outputs, force=force))
    locked = "" if passphrase else " It isn't encrypted: set CERTGEN_PASSPHRASE before, and it is."
    sys.stdout.write(
        f"{file} holds your secret key: keep a copy where nobody else reads it; it cannot be made again."
        f"{locked}\n"
        f"{file}.pub holds the certificate, to give away. Its key's fingerprint, to read to an inspector:\n"
        f"  {fingerprint(digest)}\n"
    )


def _sign_file(file: Path, out: Path, key: Path, passphrase: str, *, force: bool) -> None:
    from certgen.cli.output import write_files
    from certgen.exchange.signing.certificates import load_signer
    from certgen.exchange.signing.signature import sign_bytes
    from certgen.output_places.places import Output
    from certgen.verification.attachments import PacketError, read_packet

    with refusing(PacketError):
        pdf = read_packet(file)
    signed = sign_bytes(pdf, load_signer(key, passphrase))
    write_files([Output(out, "packet", signed)], force=force)
