"""`certgen check`: the gaps, the lots' standing, and the shortest way to clean."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from certgen.cli.arguments import Lots, OnDay, SeasonFolder, choose, parse_day, split_list

if TYPE_CHECKING:
    from datetime import date

    from certgen.cli.findings import Shown
    from certgen.records import ReadingError


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
    from certgen.records.cache import cache_folder
    from certgen.rules import CRASHED, RULES

    for slug in slugs:
        choose(slug, [*RULES, CRASHED], "--only")
    cache = None if no_cache else cache_folder()
    if not watch:
        return _check(season, day, form, slugs, lots, everything=everything, cache=cache)
    if form != "text":
        message = "Watching writes text for people; leave --format out."
        raise typer.BadParameter(message, param_hint="--watch")
    from certgen.cli.watching import follow_changes

    code = 0
    for _ in follow_changes(season):
        if sys.stdout.isatty():
            sys.stdout.write("\x1b[2J\x1b[H")
        code = _check(season, parse_day(on), form, slugs, lots, everything=everything, cache=cache)
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
    cache: Path | None,
) -> int:
    from certgen.cli.findings import select
    from certgen.examination import ReadFailure, examine

    try:
        result = examine(season, day, cache=cache)
    except ReadFailure as failure:
        (_errors_json if form == "json" else _errors_text)(failure.errors)
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

    _dump(as_json(shown))


def _write_csv(shown: Shown) -> None:
    import csv

    from certgen.cli.findings import as_rows

    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerows(as_rows(shown))
    _errors_text(shown.result.errors)


def _write_sarif(shown: Shown) -> None:
    from certgen.exchange.sarif import build_sarif

    _dump(build_sarif(shown.result, shown.gaps))


def _errors_json(errors: tuple[ReadingError, ...]) -> None:
    from certgen.cli.findings import errors_as_json

    _dump({"errors": errors_as_json(errors)})


def _errors_text(errors: tuple[ReadingError, ...]) -> None:
    sys.stderr.write("".join(f"{error.text()}\n" for error in errors))


def _dump(content: dict[str, Any]) -> None:
    json.dump(content, sys.stdout, ensure_ascii=False, indent=1)
    sys.stdout.write("\n")


#: How a result is written for other programs.
_WRITERS: Final[dict[str, Callable[[Shown], None]]] = {
    "json": _write_json,
    "csv": _write_csv,
    "sarif": _write_sarif,
}
FORMATS: Final = ("text", *_WRITERS)
