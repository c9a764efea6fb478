"""`certgen check`: the gaps, the lots' standing, and the shortest way to clean."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from certgen.cli.arguments import Lots, OnDay, SeasonFolder, choose, parse_day, split_list

if TYPE_CHECKING:
    from datetime import date

    from certgen.cli.findings import Shown


def run(
    season: SeasonFolder = Path(),
    form: Annotated[
        str, typer.Option("--format", metavar="text|json|csv|sarif", help="How the result is written.")
    ] = "text",
    only: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SLUG", help="Only gaps of this rule. Repeat it, or separate several by commas."
        ),
    ] = None,
    lot: Lots = None,
    on: OnDay = None,
    everything: Annotated[
        bool, typer.Option("--all", help="List every place of every gap, however many there are.")
    ] = False,
    watch: Annotated[
        bool, typer.Option("--watch", help="Check again whenever a file changes, until Ctrl-C.")
    ] = False,
    no_cache: Annotated[
        bool, typer.Option("--no-cache", help="Read every file afresh, and keep nothing for the next time.")
    ] = False,
) -> int:
    """Find what is missing in a season's records, what speaks against the claim, and what mends it first.

    Example:  certgen check example_season --on 2026-10-31 --lot AK-26-4
    """
    choose(form, FORMATS, "--format")
    slugs, lots, day = split_list(only), split_list(lot), parse_day(on)
    from certgen.rules import CRASHED, RULES

    for slug in slugs:
        choose(slug, [*RULES, CRASHED], "--only")
    if not watch:
        return _check(season, day, form, slugs, lots, everything=everything, cached=not no_cache)
    if form != "text":
        message = "Watching writes text for people; leave --format out."
        raise typer.BadParameter(message, param_hint="--watch")
    from certgen.cli.watching import follow_changes

    code = 0
    for _ in follow_changes(season):
        if sys.stdout.isatty():
            sys.stdout.write("\x1b[2J\x1b[H")
        code = _check(season, parse_day(on), form, slugs, lots, everything=everything, cached=not no_cache)
        sys.stdout.write("\nWatching. Ctrl-C ends it.\n")
        sys.stdout.flush()
    return code


def _check(
    season: Path,
    day: date,
    form: str,
    slugs: list[str],
    lots: list[str],
    *,
    everything: bool,
    cached: bool,
) -> int:
    from certgen.cli.findings import select
    from certgen.cli.output import examine_or_refuse

    # Text and JSON tell of reading errors in their own place.
    result = examine_or_refuse(season, day, form, cached=cached, told=False)
    if result is None:
        return 2
    for one in lots:
        choose(one, result.lots, "--lot")
    shown = select(result, slugs, lots)
    if form == "text":
        _write_text(shown, everything=everything)
    else:
        _WRITERS[form](shown)
    return shown.exit_code


def _write_text(shown: Shown, *, everything: bool) -> None:
    from certgen.cli.findings_text import write_text

    write_text(shown, everything=everything)


def _write_json(shown: Shown) -> None:
    from certgen.cli.findings import as_json
    from certgen.cli.output import dump_json

    dump_json(as_json(shown))


def _write_csv(shown: Shown) -> None:
    from certgen.cli.findings import as_rows
    from certgen.cli.output import dump_csv, list_errors

    heading, *rows = as_rows(shown)
    dump_csv(heading, rows)
    list_errors(shown.result.errors)


def _write_sarif(shown: Shown) -> None:
    from certgen.cli.output import dump_json
    from certgen.exchange.interchange.sarif import build_sarif

    dump_json(build_sarif(shown.result, shown.gaps))


#: How a result is written for other programs.
_WRITERS: Final[dict[str, Callable[[Shown], None]]] = {
    "json": _write_json,
    "csv": _write_csv,
    "sarif": _write_sarif,
}
FORMATS: Final = ("text", *_WRITERS)
