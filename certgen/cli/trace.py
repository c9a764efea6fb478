"""`certgen trace`: the line back to screened parents and forward to buyers, from any record."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from certgen.cli.arguments import OnDay, choose, parse_day

if TYPE_CHECKING:
    from certgen.cli.line import Line
    from certgen.examination import Result

FORMATS: Final = ("text", "json", "svg")


def run(
    season: Annotated[
        str,
        typer.Argument(
            metavar="[SEASON] ID", help="The season's folder, and a record's or document's number."
        ),
    ],
    identifier: Annotated[str | None, typer.Argument(hidden=True)] = None,
    form: Annotated[
        str, typer.Option("--format", metavar="text|json|svg", help="How the line is written; svg draws it.")
    ] = "text",
    supposed: Annotated[
        list[str] | None,
        typer.Option(
            "--suppose",
            metavar="WHAT",
            help="Ask what would follow: tree:17=positive, sample:S3=inconclusive, bag:B4=torn.",
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.svg", help="Where the drawing goes (svg).")
    ] = None,
    on: OnDay = None,
) -> int:
    """Follow a lot, bag, tree, sale or any other record back to screened parents and forward to buyers.

    An invoice's number, a laboratory report's, the text of a tag or a buyer's name will do too. Where the
    line ends too soon it says NO RECORD. If two tables use one number, say which: bag:B-3.

    Example:  certgen trace example_season AK-26-4 --suppose tree:T-306=negative

    Example:  certgen trace example_season INV-26-001

    Example:  certgen trace example_season AK-26-4 --format svg --out line.svg
    """
    choose(form, FORMATS, "--format")
    if out is not None and form != "svg":
        message = "Only a drawing is written to a file: write --format svg too."
        raise typer.BadParameter(message, param_hint="--out")
    if identifier is None and Path(season).is_dir():
        message = f"Say which number to follow: certgen trace {shlex.quote(season)} NUMBER."
        raise typer.BadParameter(message, param_hint="ID")
    folder, name = (Path(), season) if identifier is None else (Path(season), identifier)
    day = parse_day(on)
    from certgen.cli.line import Line, UnknownRecord, find_records
    from certgen.cli.output import examine_or_refuse, list_errors
    from certgen.lineage import SuppositionError

    try:
        result = examine_or_refuse(folder, day, form, suppositions=supposed or (), told=False)
        before = examine_or_refuse(folder, day, form, told=False) if supposed and result else result
        if result is None or before is None:
            return 2
        lines = [Line(result, node) for node in find_records(result, name)]
    except SuppositionError as error:
        raise typer.BadParameter(str(error), param_hint="--suppose") from None
    except UnknownRecord as error:
        raise typer.BadParameter(str(error), param_hint="ID") from None
    if form == "json":
        _write_json(lines)
    elif form == "svg":
        _write_svg(lines, out)
    else:
        _write_text(lines, supposed or (), before)
    if form != "json":
        list_errors(result.errors)
    return max(map(_exit_code, lines))


def _exit_code(line: Line) -> int:
    """As for the whole season, but only the gaps on this line count."""
    code = line.result.exit_code
    open_ = any(gap.weight != "advice" for node in line.nodes for gap in line.result.gaps_of(node))
    behind = [node for node in (line.root, *line.lineage.back(line.root)) if not line.lineage.season_of(node)]
    return code if code >= 2 else int(open_ or any(line.missing(node) for node in behind))


def _write_json(lines: list[Line]) -> None:
    from certgen.cli.line import as_json
    from certgen.cli.output import dump_json

    dump_json(as_json(lines))


def _write_svg(lines: list[Line], out: Path | None) -> None:
    from certgen.cli.line_drawing import draw_lines
    from certgen.whole_files import write_whole

    drawing = draw_lines(lines)
    if out is None:
        sys.stdout.write(drawing)
    else:
        write_whole(out, drawing.encode())
        sys.stdout.write(f"{out} is written.\n")


def _write_text(lines: list[Line], supposed: list[str] | tuple[str, ...], before: Result) -> None:
    from certgen.cli.line_text import write_text

    for number, line in enumerate(lines):
        if number:
            sys.stdout.write("\n")
        # What a supposition changes is said once, of all lots.
        write_text(line, () if number else tuple(supposed), before)
