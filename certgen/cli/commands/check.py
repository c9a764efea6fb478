"""`certgen check`: the gaps, the lots' standing, and what to do first."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final

import click

from certgen.cli.arguments import (
    Word,
    choose,
    command,
    day_option,
    format_option,
    lots_option,
    names_option,
    option,
    reader_options,
    season_argument,
)
from certgen.cli.offered_names import offer_rules

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from certgen.dossier.search import Selection

FORMATS: Final = ("text", "json", "csv", "sarif")
#: From which weight of gaps on the command ends with 1; `unreadable`: no gap does it, but 2 stays 2.
_FAILING: Final = {
    "unproven": {"unproven", "rejects"},
    "rejects": {"rejects"},
    "unreadable": frozenset[str](),
}


@command("certgen check example_season --on 2026-10-31 --lot AK-26-4")
@season_argument
@format_option(*FORMATS, help="How the result is written.")
@names_option(
    "--only",
    metavar="SLUG",
    help="Only gaps of this rule. Repeat it, or separate several by commas.",
    shell_complete=offer_rules,
)
@lots_option
@reader_options
@day_option
@option(
    "--fail-on",
    metavar="WEIGHT",
    type=Word(list(_FAILING)),
    default="unproven",
    help="What ends the command with 1: unproven, only what rejects, or (unreadable) no gap at all.",
)
@option("--all", "everything", is_flag=True, help="List every place of every gap, however many there are.")
@option("--watch", is_flag=True, help="Check again whenever a file changes, until Ctrl-C.")
@option("--no-cache", is_flag=True, help="Read every file afresh, and keep nothing for the next time.")
def run(
    season: Path,
    form: str,
    only: list[str],
    lot: list[str],
    reader: str,
    party: str,
    on: date | None,
    fail_on: str,
    everything: bool,
    watch: bool,
    no_cache: bool,
) -> int:
    """Find what is missing in a season's records, what speaks against the claim, and what mends it first."""
    from certgen.cli.disclosure import show_alone
    from certgen.cli.output import examine_or_refuse
    from certgen.collector import pause_collector
    from certgen.dossier.search import select
    from certgen.rules import CRASHED, RULES

    choose(only, [*RULES, CRASHED], "--only")
    if reader != "certifier" and form == "text":
        message = "Text is for your own terminal; what you hand on has a --format: json, csv or sarif."
        raise click.BadParameter(message, param_hint="--for")

    @pause_collector()
    def check() -> int:
        # Text and JSON tell of reading errors in their own place.
        result = examine_or_refuse(season, on, form, cached=not no_cache, told=False)
        choose(lot, result.lots, "--lot")
        with show_alone(result, lot, reader, party) as shown:
            selection = select(shown, only, lot)
            _write(selection, form, everything)
            code = selection.exit_code
            # A season that claims nothing ends with 1 and has no gap.
            lets_pass = code == 1 and fail_on != "unproven"
            failing = any(gap.weight in _FAILING[fail_on] for gap in selection.gaps)
            return 0 if lets_pass and not failing else code

    if not watch:
        return check()
    if form != "text":
        message = "Watching writes text for people; leave --format out."
        raise click.BadParameter(message, param_hint="--watch")
    from certgen.cli.progress import follow_changes

    code = 0
    for _ in follow_changes(season):
        if sys.stdout.isatty():
            sys.stdout.write("\x1b[2J\x1b[H")
        try:
            code = check()
        except click.exceptions.Exit as refusal:
            code = refusal.exit_code
        sys.stdout.write("\nWatching. Ctrl-C ends it.\n")
        sys.stdout.flush()
    return code


def _write(selection: Selection, form: str, everything: bool) -> None:
    from certgen.cli.output import dump_csv, dump_json, list_errors
    from certgen.cli.writers.check import write_text
    from certgen.exchange.interchange.check import COLUMNS, build_check, tabulate_check
    from certgen.exchange.interchange.sarif import build_sarif

    match form:
        case "text":
            write_text(selection, everything=everything)
        case "json":
            dump_json(build_check(selection))
        case "sarif":
            dump_json(build_sarif(selection.result, selection.gaps))
        case _:
            dump_csv(COLUMNS, tabulate_check(selection))
            list_errors(selection.result.errors)
