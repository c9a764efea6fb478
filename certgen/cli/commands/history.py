"""`certgen history`: what was changed in a season's records, by whom, what from and to."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import FOLDER, Number, argument, command, format_option, option
from certgen.cli.terminal import clean

if TYPE_CHECKING:
    from certgen.exchange.editing.history import History


@command("certgen history 2026\ncertgen history 2026 12 --format json")
@argument("season", "SEASON", "The folder with the season's records.", type=FOLDER, default=Path())
@argument("number", "[N]", "Only the change of this number, whole.", type=Number(min=1), required=False)
@option("--all", "everything", is_flag=True, help="List every change and every record.")
@format_option("text", "json", help="How the list is written.")
def run(season: Path, number: int | None, everything: bool, form: str) -> int:
    """List the changes that were made by certgen to a season's records and evidence, the latest first: when,
    by whom, in which files, and of each field what it said before and after.

    What stood there before is kept whole in the season's hidden folder .history, for 800 days and up to
    1 GB in all; the latest 50 changes stay in any case. It is yours alone: it is no part of the records, and
    no packet holds it. `certgen undo` takes a change back.
    """
    from certgen.cli.output import dump_json, mend_season
    from certgen.cli.writers.history import write_history
    from certgen.exchange.editing.history import read_history
    from certgen.exchange.interchange.history import build_history

    hold_folder(season, number)
    mend_season(season)
    history = read_history(season)
    chosen = history if number is None else _choose(history, number)
    if form == "json":
        dump_json(build_history(history, chosen.changes))
    else:
        write_history(season, history, chosen.changes, whole=everything or number is not None)
    sys.stderr.write("".join(f"{clean(one)}.\n" for one in history.damaged))
    return 2 if history.damaged else 0


def hold_folder(season: Path, number: int | None) -> None:
    """End the command where there is no such folder; a number alone was meant for the folder one is in."""
    if season.is_dir():
        return
    typed = season.name
    if number is None and typed.isdecimal():
        message = (
            f"there is no folder '{typed}'; for change {typed} of the folder you are in, write: . {typed}"
        )
        raise click.ClickException(message)
    message = f"there is no folder '{season}'"
    raise click.ClickException(message)


def _choose(history: History, number: int) -> History:
    change = history.find(number)
    if change is None:
        message = f"no change {number} is kept; without a number all that are kept are listed"
        raise click.ClickException(message)
    return history._replace(changes=(change,))
