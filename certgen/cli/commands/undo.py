"""`certgen undo`: a change of the records taken back."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import FOLDER, Number, argument, command, refusing
from certgen.cli.terminal import Terminal, clean

if TYPE_CHECKING:
    from certgen.exchange.editing.undoing import Undo


@command("certgen undo 2026\ncertgen undo 2026 12\necho yes | certgen undo 2026")
@argument("season", "SEASON", "The folder with the season's records.", type=FOLDER, default=Path())
@argument("number", "[N]", "The change's number in `certgen history`.", type=Number(min=1), required=False)
def run(season: Path, number: int | None) -> int:
    """Take a change back: its files are again what they were, to the byte. Without a number that is the
    latest change that stands.

    Shows what would become of the records and asks; where nobody is there to ask, the word `yes` is read from
    standard input. Where a file was changed again since, that stays if the two can be told apart; otherwise
    nothing is written, and both versions are shown. Taking back is a change too, and can be taken back.
    Changes are kept for 800 days and up to 1 GB; the latest 50 stay in any case.
    """
    from certgen.cli.commands.history import hold_folder
    from certgen.cli.output import mend_season, name_author
    from certgen.cli.writers.history import write_undo, write_versions
    from certgen.exchange.editing.history import HistoryError
    from certgen.exchange.editing.undoing import UndoRefusedError, plan_undo
    from certgen.whole_files import PathError

    hold_folder(season, number)
    mend_season(season)
    try:
        with refusing(HistoryError, PathError):
            undo = plan_undo(season, number)
    except UndoRefusedError as fault:
        sys.stderr.write(f"certgen undo: {clean(str(fault))}.\n")
        write_versions(fault)
        return 2
    write_undo(undo)
    if not _agree(undo):
        return 2
    with refusing(ValueError):
        done = undo.carry_out(name_author("undo"))
    if done is not None:
        typed = shlex.quote(str(season))
        Terminal().text(
            f"Change {undo.change.number} is undone. That is change {done.number}; to have it back:"
            f" certgen undo {typed} {done.number}"
        )
    return 0


def _agree(undo: Undo) -> bool:
    """Whether whoever runs the command wants it."""
    if sys.stdin.isatty():
        agreed = click.confirm(f"Undo change {undo.change.number}?")
    else:
        agreed = sys.stdin.readline(100).strip().lower() == "yes"
    if not agreed:
        sys.stderr.write("Nothing was changed; answer yes to undo it.\n")
    return agreed
