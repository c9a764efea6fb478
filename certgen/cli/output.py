"""What commands share in reading a season, and in handing results to other programs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from certgen.cli.arguments import refusing
from certgen.cli.terminal import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date
    from typing import BinaryIO

    from certgen.examination import Result
    from certgen.exchange.editing.history import Author
    from certgen.output_places.kinds import Kind
    from certgen.output_places.places import Output
    from certgen.records import ReadingError


#: The place of what goes to standard output.
STREAM: Final = Path("-")
_CLAIMED: Final = "certgen.standard_output"


def examine_or_refuse(
    season: Path,
    on: date | None,
    form: str = "text",
    *,
    suppositions: Sequence[str] = (),
    cached: bool = True,
    told: bool = True,
) -> Result:
    """The season, examined as of a day or of today; ends the command if nothing can be read.

    Reading errors that leave the rest whole go to standard error, so that what other programs read stays
    clean; with `told` False the command says them itself. `cached` allows files parsed before. Raises
    SuppositionError as `examine` does.
    """
    from datetime import date

    from certgen.cli.progress import show_waiting
    from certgen.disk_cache import cache_folder
    from certgen.examination import ReadFailure, examine
    from certgen.verification.supplied import LIMITS, PacketVerifier

    cache = cache_folder() if cached else None

    mend_season(season)
    try:
        with show_waiting("reading and checking the records"):
            result = examine(
                season,
                on or date.today(),
                suppositions=suppositions,
                cache=cache,
                packets=PacketVerifier(cache, LIMITS),
            )
    except ReadFailure as failure:
        refuse(failure.errors, form)
        raise click.exceptions.Exit(2) from None
    if told:
        list_errors(result.errors)
    return result


def mend_season(season: Path) -> None:
    """Finishes or undoes what a killed run left half done in a season's folder, and says which.

    What can't be mended ends no command that only reads: its errors name what was left.
    """
    from certgen.output_places.places import mend_folder
    from certgen.write_journal import UnfinishedError

    try:
        done = mend_folder(season)
    except UnfinishedError as fault:
        done = f"certgen: {fault}."
    if done:
        sys.stderr.write(f"{clean(done)}\n")


def name_author(command: str) -> Author:
    """Who runs a command: the account of the machine, where it has a name."""
    from certgen.exchange.editing.history import Author, name_account

    return Author(f"certgen {command}", name_account())


def hold_places(places: Mapping[Path, Kind], *, force: bool) -> None:
    """Ends the command before its work if something lies in the way of a file that it will write."""
    from certgen.output_places.places import OutputRefusedError, check_places

    if STREAM in places:
        _claim_stream()
    with refusing(OutputRefusedError):
        check_places({path: kind for path, kind in places.items() if path != STREAM}, force=force)


def _claim_stream() -> BinaryIO:
    """Standard output for a file's bytes; all that the command says goes to standard error from here on."""
    context, stream = click.get_current_context(), sys.stdout
    if _CLAIMED not in context.meta:
        if stream.isatty():
            raise click.UsageError(
                "What is written isn't for a terminal: send it on with > FILE or | PROGRAM."
            )
        context.meta[_CLAIMED] = stream.buffer
        sys.stdout = sys.stderr
        context.call_on_close(lambda: setattr(sys, "stdout", stream))
    claimed: BinaryIO = context.meta[_CLAIMED]
    return claimed


def write_files(outputs: Sequence[Output], *, force: bool) -> None:
    """The files, all or none, where a person wants them; what gave way is named on standard error. One may go
    to standard output, when all others are in their places.
    """
    from certgen.output_places.places import OutputRefusedError, write_outputs

    streamed = [one for one in outputs if one.path == STREAM]
    if len(streamed) > 1:
        raise click.UsageError("Only one file can go to standard output; give the others a name.")
    with refusing(OutputRefusedError):
        kept = write_outputs([one for one in outputs if one.path != STREAM], force=force)
    tell_kept(kept)
    for one in streamed:
        stream = _claim_stream()
        stream.write(one.data)
        stream.flush()


def tell_kept(kept: Iterable[tuple[Path, Path]]) -> None:
    """Where that is now which was in the way of a file."""
    sys.stderr.write("".join(f"What was in {path} is kept in {beside}.\n" for path, beside in kept))


def refuse(errors: Iterable[ReadingError], form: str = "text") -> None:
    """Why nothing could be read, in the form that was asked for."""
    if form == "json":
        from certgen.exchange.interchange import layout

        dump_json({"errors": layout.list_errors(errors)})
    else:
        list_errors(errors)


def list_errors(errors: Iterable[ReadingError]) -> None:
    """The errors on standard error, one a line, place first."""
    sys.stderr.write("".join(f"{error.text()}\n" for error in errors))


def dump_json(content: Any) -> None:
    """One JSON object on standard output."""
    from certgen.exchange.interchange.layout import iterate_json

    sys.stdout.writelines(iterate_json(content))


def dump_csv(heading: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Comma-separated values on standard output; what a spreadsheet would run as a formula is neutralised."""
    from certgen.exchange.interchange.layout import render_csv

    sys.stdout.write(render_csv(heading, rows))


def dump_text(text: str) -> None:
    """Text on standard output with the line ends that it has, whatever those of the machine are."""
    sys.stdout.flush()
    binary = getattr(sys.stdout, "buffer", None)
    if binary is None:
        sys.stdout.write(text)
    else:
        binary.write(text.encode())
        binary.flush()
