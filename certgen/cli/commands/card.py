"""`certgen card`: one page about one lot, for whoever buys it."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.cli.arguments import (
    PATH,
    Word,
    argument,
    choose,
    command,
    day_option,
    force_option,
    option,
    refusing,
    season_argument,
)
from certgen.cli.offered_names import offer_lots

if TYPE_CHECKING:
    from datetime import date

    from certgen.examination import Result
    from certgen.manifest import Maker


@command(
    "certgen card example_season AK-26-1 --out card.pdf",
    "certgen card my-season AK-26-1 --packet report.pdf --key orchard.key",
)
@season_argument
@argument("lot", "LOT", "The lot that the card is about.", shell_complete=offer_lots)
@option("--out", metavar="FILE.pdf", type=PATH, help="Where to. Default: card.pdf.")
@option("--page", type=Word(["A4", "Letter"]), default="A4", help="The paper it is to be printed on.")
@option(
    "--packet",
    metavar="REPORT.pdf",
    type=PATH,
    help="The packet that it goes with. Default: the one that certgen report would write, on this paper.",
)
@option("--key", metavar="FILE", type=PATH, help="Sign the code with this key.")
@force_option
@day_option
def run(
    season: Path,
    lot: str,
    out: Path | None,
    page: str,
    packet: Path | None,
    key: Path | None,
    force: bool,
    on: date | None,
) -> int:
    """Print a lot's card: what it is, standing by gram, parents, tests and what they leave open, its label.

    It holds nothing of any other lot, buyer or file, so it can go to whoever buys. A telephone reads the code
    on it without a network; certgen verify checks the card, alone or against the packet.
    """
    from certgen.cli.output import examine_or_refuse, hold_places, write_files
    from certgen.exchange.lot_card.code import sign_facts
    from certgen.exchange.lot_card.facts import CardError
    from certgen.exchange.lot_card.page import set_card
    from certgen.exchange.signing.certificates import load_signer
    from certgen.exchange.signing.offline import SigningError
    from certgen.output_places.places import Output
    from certgen.typeset.typst_pages import SettingError

    path = out or Path("card.pdf")
    hold_places({path: "lot card"}, force=force)
    with refusing(SigningError):
        signer = None if key is None else load_signer(key, os.environ.get("CERTGEN_PASSPHRASE", ""))
    # What is handed over is read afresh.
    result = examine_or_refuse(season, on, cached=False)
    choose([lot], result.lots, "LOT")
    with refusing(CardError, SigningError, SettingError):
        facts = _gather(result, lot, page, packet)
        data = set_card(facts if signer is None else sign_facts(facts, signer))
    write_files([Output(path, "lot card", data)], force=force)
    sys.stdout.write(f"{path}\n")
    return 0 if facts["standing"] == "traced" else 1


def _gather(result: Result, lot: str, page: str, packet: Path | None) -> dict[str, Any]:
    """The card's facts, by the packet that certgen report would write or by one that was named."""
    from certgen.disclosure.lot_papers import gather_own_card
    from certgen.exchange.lot_card.facts import gather_facts
    from certgen.report.packet import find_maker

    if packet is None:
        return gather_own_card(result, lot, page)
    maker = find_maker(result)
    return gather_facts(result, lot, _find_packet(result, maker, page, packet), maker, page)


def _find_packet(result: Result, maker: Maker, page: str, packet: Path) -> str:
    """The SHA-256 of the packet that the card goes with, which must be of these records."""
    import hashlib

    from certgen.exchange.lot_card.facts import CardError
    from certgen.exchange.signing.signature import read_signatures
    from certgen.manifest import NAME, PacketOptions, build_manifest
    from certgen.verification.attachments import PacketError, read_attachments, read_packet
    from certgen.verification.packet_files import read_manifest

    own = build_manifest(result, maker, PacketOptions(page))
    with refusing(PacketError):
        inside = read_attachments(read_signatures(read_packet(packet)).base)
        manifest = read_manifest(inside)
    if [manifest[part] for part in ("files", "on")] != [own.content[part] for part in ("files", "on")]:
        raise CardError(
            f"{packet} was made of other records, or as of another day ({manifest['on']}): the card would say"
            " what it doesn't. Make the packet anew, or give its day with --on"
        )
    return hashlib.sha256(inside[NAME]).hexdigest()
