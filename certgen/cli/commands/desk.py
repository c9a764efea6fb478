"""`certgen desk`: a season's records in the browser of this machine."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

from certgen.cli.arguments import Number, command, day_option, option, season_argument


@command("certgen desk 2026", "certgen desk 2026 --no-browser --port 8017")
@season_argument
@option("--port", type=Number(0, 65535), default=0, metavar="N", help="The port; 0 takes a free one.")
@option("--no-browser", is_flag=True, help="Print the address only, and open no browser.")
@day_option
def run(season: Path, port: int, no_browser: bool, on: date | None) -> int:
    """Open a season in the browser: enter what was done today, see what is missing and mend it, go through
    every table.

    The desk answers this machine only, and only who has the address that it prints. What is entered goes into
    the season's own files; comments and layout stay, and whatever an editor writes meanwhile is kept. Stop it
    with Ctrl+C.
    """
    from certgen.cli.output import list_errors, mend_season
    from certgen.disk_cache import cache_folder
    from certgen.examination import ReadFailure
    from certgen.verification.supplied import LIMITS, PacketVerifier

    try:
        from certgen.desk.held_season import HeldSeason
        from certgen.desk.server import open_desk
    except ModuleNotFoundError as fault:
        sys.stderr.write(
            f"The desk needs '{fault.name}', which isn't installed: pip install 'certgen[desk]'.\n"
        )
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
    desk = open_desk(held, port)
    sys.stdout.write(f"The desk is open at {desk.address}\nCtrl+C closes it.\n")
    sys.stdout.flush()
    if not no_browser:
        import webbrowser

        webbrowser.open(desk.address)
    try:
        desk.serve()
    except KeyboardInterrupt:
        sys.stdout.write("The desk is closed.\n")
    return 0
