"""`certgen report`: the packet for the inspector, as PDF and as a file for a tablet."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Never

import click

from certgen.cli.arguments import (
    PATH,
    Word,
    choose,
    command,
    day_option,
    force_option,
    lots_option,
    option,
    reader_options,
    refusing,
    season_argument,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from certgen.examination import Result
    from certgen.manifest import PacketOptions
    from certgen.output_places.kinds import Kind


@command(
    "certgen report example_season --out report.pdf --html report.html --on 2026-11-25",
    "certgen report example_season --for buyer --to 'Cobalt Fen Growers' --lot AK-26-1 --out lot.pdf",
)
@season_argument
@option("--out", metavar="FILE.pdf", type=PATH, help="Where the packet goes. Default: report.pdf.")
@option("--html", metavar="FILE.html", type=PATH, help="Also, or only, a file for a browser or tablet.")
@lots_option
@option(
    "--registers",
    type=Word(["full", "lots", "none"]),
    default="full",
    help="All records, those behind lots, or none.",
)
@option("--short", is_flag=True, help="Eight pages or so: findings, lots, balance, signatures.")
@option("--page", type=Word(["A4", "Letter"]), default="A4", help="The paper it is to be printed on.")
@option("--key", metavar="FILE", type=PATH, help="Sign the packet with this key as well.")
@reader_options
@option("--replaces", metavar="OLD.pdf", type=PATH, help="An earlier packet that this one corrects.")
@force_option
@day_option
def run(
    season: Path,
    out: Path | None,
    html: Path | None,
    lot: list[str],
    registers: str,
    short: bool,
    page: str,
    key: Path | None,
    reader: str,
    party: str,
    replaces: Path | None,
    force: bool,
    on: date | None,
) -> int:
    """Print the season's packet: cover, gaps, a dossier a lot, mass balance, registers, index."""
    _expect(out, ".pdf", "--out")
    _expect(html, ".html", "--html")
    from certgen.cli.disclosure import show_line, show_to
    from certgen.cli.output import examine_or_refuse, hold_places, write_files
    from certgen.cli.progress import show_steps, show_waiting
    from certgen.collector import pause_collector
    from certgen.manifest import PacketOptions
    from certgen.output_places.places import Output
    from certgen.typeset.setting_pool import open_setting_pool

    _hold_reader(reader, replaces, short=short)
    packet = out or (Path("report.pdf") if html is None else None)
    hold_places(_name_places(packet, html), force=force)
    _hold_replaced(replaces, packet)
    sign = _prepare_signing(key)
    replaced = b"" if replaces is None else _read_replaced(replaces, lot)
    outputs = []
    # All that is made stays until the command ends: to look through it once takes a quarter of a second.
    with ExitStack() as stack, pause_collector():
        # Another process loads what sets pages meanwhile.
        pool = None if packet is None else stack.enter_context(open_setting_pool(page))
        # What is handed over is read afresh.
        whole = examine_or_refuse(season, on, cached=False)
        _point_to_season(whole, season, lot)
        choose(lot, whole.lots, "--lot")
        options = PacketOptions(page, "none" if short else registers, tuple(lot) or None, short=short)
        from certgen.report.writing import set_html, set_pdf

        result, chosen = stack.enter_context(show_to(whole, options, reader, party))
        result, chosen = stack.enter_context(show_line(result, chosen))
        if html is not None:
            with show_waiting("writing the binder"):
                outputs.append(Output(html, "binder", set_html(result, chosen)))
        if packet is not None:
            with show_steps("setting pages") as steps:
                data = set_pdf(
                    result, chosen, replaced=replaced, sign=sign, pool=pool,
                    progress=lambda what, done, count: steps(done, count, what),
                )  # fmt: skip
            outputs.append(Output(packet, "packet", data))
        write_files(outputs, force=force)
        sys.stdout.write("".join(f"{output.path}\n" for output in outputs))
        _say_result(result, chosen)
    return result.exit_code


def _hold_reader(reader: str, replaces: Path | None, *, short: bool) -> None:
    """Ends the command where what was asked for isn't made for its reader."""
    if reader in {"member", "public"}:
        _point_to(reader)
    if reader == "certifier":
        return
    if replaces is not None:
        message = "What was withheld from one reader isn't shown to another; make the new one without it."
        raise click.BadParameter(message, param_hint="--replaces")
    if short:
        message = "It is for the certifier: a buyer's packet is one lot's, and short as it is."
        raise click.BadParameter(message, param_hint="--short")


def _point_to_season(whole: Result, season: Path, lots: list[str]) -> None:
    """A lot of an earlier season of which nothing is told here has its packet there."""
    from certgen.records.rows import plain_values

    farm = whole.farm
    for row, lot in enumerate(plain_values(farm.table("lots")["lot"])):
        stretch = farm.stretch_of("lots", row)
        if lot in lots and lot not in whole.lots and stretch.label:
            message = (
                f"Lot '{lot}' is of season {stretch.label}, and this season tells nothing of it. Make its"
                f" packet from that one: certgen report {season / stretch.path} --lot {lot}"
            )
            raise click.BadParameter(message, param_hint="--lot")


def _point_to(reader: str) -> Never:
    """A report is of a whole line; whoever may see less has an output of their own."""
    message = {
        "member": "A member is shown what passed between the two of you, and no line: certgen export --for"
        " member --to NAME --format json or csv.",
        "public": "The public is shown a lot's card: certgen card SEASON LOT.",
    }[reader]
    raise click.BadParameter(message, param_hint="--for")


def _name_places(packet: Path | None, binder: Path | None) -> dict[Path, Kind]:
    """What will be written where."""
    places: dict[Path, Kind] = {}
    if packet is not None:
        places[packet] = "packet"
    if binder is not None:
        places[binder] = "binder"
    return places


def _expect(file: Path | None, ending: str, option: str) -> None:
    """Whoever names a PDF report.txt meant something else."""
    if (
        file is not None
        and str(file) != "-"
        and file.suffix.lower() not in {ending, ending.removesuffix("l")}
    ):
        message = f"What is written is a {ending[1:].upper()} file; let its name end in {ending}."
        raise click.BadParameter(message, param_hint=option)


def _hold_replaced(replaced: Path | None, packet: Path | None) -> None:
    """Whoever corrects a packet keeps it: the new one is compared with it."""
    if replaced is not None and packet is not None and packet.exists() and packet.samefile(replaced):
        message = f"{replaced} would be written over; name another file with --out, and keep the old one."
        raise click.BadParameter(message, param_hint="--replaces")


def _prepare_signing(key: Path | None) -> Callable[[bytes], bytes]:
    """What puts a signature behind the packet; nothing without a key."""
    if key is None:
        return lambda data: data
    from certgen.exchange.signing.certificates import load_signer
    from certgen.exchange.signing.offline import SigningError
    from certgen.exchange.signing.signature import prepare_signer

    with refusing(SigningError):
        return prepare_signer(load_signer(key, os.environ.get("CERTGEN_PASSPHRASE", "")))


def _read_replaced(file: Path, lots: list[str]) -> bytes:
    """The manifest of the packet that is to be replaced, which is about the same lots: it travels inside."""
    from certgen.exchange.signing.signature import read_signatures
    from certgen.manifest import NAME
    from certgen.verification.attachments import PacketError, read_attachments, read_packet
    from certgen.verification.packet_files import read_manifest, stated_options

    with refusing(PacketError):
        inside = read_attachments(read_signatures(read_packet(file)).base)
        options = stated_options(read_manifest(inside))
    if {*(options.lots or ())} != {*lots}:
        about = f"lots {', '.join(options.lots)}" if options.lots else "the whole season"
        message = f"{file} is about {about}; a packet takes the place of one about the same."
        raise click.BadParameter(message, param_hint="--replaces")
    return inside[NAME]


def _say_result(result: Result, options: PacketOptions) -> None:
    from certgen.cli.writers.check import count_gaps
    from certgen.report.chapters.left_out import say_lots

    summary = result.summary
    if options.left_out is not None:
        sys.stdout.write(f"About {say_lots(options)} and nothing else. ")
    lots = ", ".join(f"{number} {standing}" for standing, number in summary.lots.items() if number)
    sys.stdout.write(f"Lots: {lots or 'none'}. Gaps: {count_gaps(summary.gaps)}.\n")
