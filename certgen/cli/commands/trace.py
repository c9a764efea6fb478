"""`certgen trace`: the line back to screened parents and forward to buyers, from any record."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    PATH,
    argument,
    choose,
    command,
    day_option,
    force_option,
    format_option,
    option,
    reader_options,
    refuse_words,
)
from certgen.cli.offered_names import offer_records
from certgen.cli.terminal import Terminal

if TYPE_CHECKING:
    from datetime import date

    from certgen.dossier.line import Trace


@command(
    "certgen trace example_season AK-26-4 --suppose tree:T-306=negative",
    "certgen trace example_season INV-26-001",
    "certgen trace example_season AK-26-4 --format svg --out line.svg",
)
@argument(
    "words",
    "[SEASON] ID",
    "The season's folder, and a record's or document's number.",
    nargs=-1,
    required=True,
    shell_complete=offer_records,
)
@format_option("text", "json", "svg", help="How the line is written; svg draws it.")
@option(
    "--suppose",
    metavar="WHAT",
    multiple=True,
    help="Ask what would follow: tree:17=positive, sample:S3=inconclusive, bag:B4=torn.",
)
@option("--out", metavar="FILE.svg", type=PATH, help="Where the drawing goes (svg).")
@reader_options
@force_option
@day_option
def run(
    words: tuple[str, ...],
    form: str,
    suppose: tuple[str, ...],
    out: Path | None,
    reader: str,
    party: str,
    force: bool,
    on: date | None,
) -> int:
    """Follow a lot, bag, tree, sale or any other record back to screened parents and forward to buyers.

    An invoice's number, a laboratory report's, the text of a tag or a buyer's name will do too. Where the
    line ends too soon it says NO RECORD. If two tables use one number, say which: bag:B-3. An invoice that
    shares its number with a tree is document:17.
    """
    if out is not None and form != "svg":
        message = "Only a drawing is written to a file: write --format svg too."
        raise click.BadParameter(message, param_hint="--out")
    season, number = _part(words)
    from certgen.cli.disclosure import refuse_others, show_alone
    from certgen.cli.output import examine_or_refuse, list_errors
    from certgen.cli.writers.trace import write_text
    from certgen.dossier.line import Line, Trace
    from certgen.dossier.search import UnknownRecordError, find_records
    from certgen.lineage import SuppositionError

    if form == "text" or suppose:
        refuse_others(reader, "What you hand on has a --format, json or svg, and supposes nothing.")
    try:
        result = examine_or_refuse(season, on, form, suppositions=suppose, told=False)
        before = examine_or_refuse(season, on, form, told=False) if suppose else result
    except SuppositionError as error:
        raise click.BadParameter(str(error), param_hint="--suppose") from None
    if reader == "buyer":
        choose([number], result.lots, "ID")
    with show_alone(result, [number], reader, party) as shown:
        try:
            trace = Trace(tuple(Line(shown, node) for node in find_records(shown, number)))
        except UnknownRecordError as error:
            raise click.BadParameter(str(error), param_hint="ID") from None
        if form == "text":
            write_text(trace, suppose, before)
            _tell_papers(trace, number)
        else:
            _hand_over(trace, form, out, force=force)
        if form != "json":
            list_errors(result.errors)
        return trace.exit_code


def _tell_papers(trace: Trace, number: str) -> None:
    """Which papers of other records bear the same number, and how to follow those."""
    from certgen.dossier.search import list_other_papers
    from certgen.rules.wording import join

    asked = list_other_papers(trace.result, number, [line.root for line in trace.lines])
    if asked:
        out = Terminal()
        out.line()
        out.text(f"A paper of another record bears the number {number} too; ask for {join(asked, 'or')}.")


def _hand_over(trace: Trace, form: str, out: Path | None, *, force: bool) -> None:
    """The line in a form that others read."""
    from certgen.cli.output import dump_json
    from certgen.exchange.interchange.trace import build_trace

    if form == "json":
        dump_json(build_trace(trace))
    else:
        _draw(trace, out, force=force)


def _part(words: tuple[str, ...]) -> tuple[Path, str]:
    """The season's folder and the number to follow; without a folder it is the one the user is in."""
    if len(words) > 2:
        refuse_words(words[2:])
    *folder, number = words
    if not folder and Path(number).is_dir():
        message = f"Say which number to follow: certgen trace {shlex.quote(number)} NUMBER."
        raise click.BadParameter(message, param_hint="ID")
    return Path(*folder), number


def _draw(trace: Trace, out: Path | None, *, force: bool) -> None:
    from certgen.cli.output import write_files
    from certgen.cli.writers.trace_drawing import draw_trace
    from certgen.output_places.places import Output

    drawing = draw_trace(trace)
    if out is None:
        sys.stdout.write(drawing)
    else:
        write_files([Output(out, "drawing", drawing.encode())], force=force)
        sys.stdout.write(f"{out} is written.\n")
