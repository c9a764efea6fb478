"""`certgen desk`: a season's records in the browser of this machine."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import Number, command, day_option, option, refusing, season_argument

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.desk.devices import Devices


@command(
    "certgen desk 2026",
    "certgen desk 2026 --no-browser --port 8017",
    "certgen desk 2026 --phones --port 8017",
)
@season_argument
@option(
    "--port",
    type=Number(0, 65535),
    default=0,
    metavar="N",
    help="The port; 0 takes a free one. Tags that lead to the desk need the same one each day.",
)
@option("--phones", is_flag=True, help="Let devices of the farm's network in by a code.")
@option(
    "--at",
    default="",
    metavar="ADDRESS",
    help="With --phones: at this address of this machine only. Default: all its private ones.",
)
@option("--no-browser", is_flag=True, help="Print the address only, and open no browser.")
@day_option
def run(season: Path, port: int, phones: bool, at: str, no_browser: bool, on: date | None) -> int:
    """Open a season in the browser: enter what was done today, see what is missing and mend it, go through
    every table.

    The desk answers this machine only, and only who has the address that it prints. What is entered goes into
    the season's own files; comments and layout stay, and whatever an editor writes meanwhile is kept. Stop it
    with Ctrl+C.

    With --phones it can be reached from the farm's network too, until it is stopped: a phone opens the
    address that is printed and types the code beside it, which lets in one device. It may see, enter and
    mend; printing, undoing and letting others in stay with this machine. The network carries all of it
    unencrypted (HTTP): whoever listens there can read the records, take a phone's cookie and do what that
    phone may. Use it in a network whose users you trust.
    """
    from certgen.cli.output import list_errors, mend_season
    from certgen.disk_cache import cache_folder
    from certgen.examination import ReadFailure
    from certgen.verification.supplied import LIMITS, PacketVerifier

    try:
        from certgen.desk.held_season import HeldSeason
        from certgen.desk.network import AddressError, find_addresses
        from certgen.desk.server import open_desk

        with refusing(AddressError):
            addresses = _choose_addresses(find_addresses, phones=phones, at=at)
    except ModuleNotFoundError as fault:
        library = (fault.name or "").partition(".")[0]
        sys.stderr.write(f"The desk needs '{library}', which isn't installed: pip install 'certgen[desk]'.\n")
        return 2
    mend_season(season)
    cache = cache_folder()
    try:
        held = HeldSeason(
            season, lambda: on or date.today(), packets=PacketVerifier(cache, LIMITS), cache=cache
        )
    except ReadFailure as failure:
        list_errors(failure.errors)
        return 2
    desk = open_desk(held, port, addresses, _tell_code)
    sys.stdout.write(f"The desk is open at {desk.address}\n")
    if desk.devices is not None:
        _tell_phones(desk.devices)
    sys.stdout.write("Ctrl+C closes it.\n")
    sys.stdout.flush()
    if not no_browser:
        import webbrowser

        webbrowser.open(desk.address)
    try:
        desk.serve()
    except KeyboardInterrupt:
        sys.stdout.write("The desk is closed.\n")
    return 0


def _choose_addresses(find: Callable[[str], tuple[str, ...]], *, phones: bool, at: str) -> tuple[str, ...]:
    """At which addresses of the network the desk is to be reached; none without `--phones`."""
    if at and not phones:
        raise click.UsageError("--at says where phones reach the desk; give --phones with it.")
    return find(at) if phones else ()


def _tell_phones(devices: Devices) -> None:
    """What to type on a phone, and what to know before."""
    from certgen.desk.devices import write_code

    sys.stdout.write(
        f"Phones in the farm's network open {' or '.join(devices.addresses)}\n"
        f"and type this code: {write_code(devices.code)}\n"
        "The network carries all of it unencrypted: use it where you trust whoever is in that network.\n"
    )


def _tell_code(code: str) -> None:
    """The code of the next device, whenever there is a new one."""
    from certgen.desk.devices import write_code

    told = f"The next device types: {write_code(code)}" if code else "No more devices are let in."
    sys.stdout.write(f"{told}\n")
    sys.stdout.flush()
