"""`certgen due`: what is cleared, what falls due and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.arguments import command, day_option, format_option, option, season_argument

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path


@command("certgen due example_season --on 2026-06-01")
@season_argument
@format_option("text", "json", "csv", help="How the list is written.")
@day_option
@option("--all", "everything", is_flag=True, help="List what lies further ahead too, and every cleared tree.")
def run(season: Path, form: str, on: date | None, everything: bool) -> int:
    """List trees cleared for bagging, bags to take off or pick, results awaited, tests and stock running
    out.
    """
    from certgen.cli.output import dump_csv, dump_json, examine_or_refuse
    from certgen.cli.writers.due import write_text
    from certgen.dossier.due import list_due
    from certgen.exchange.interchange.due import COLUMNS, build_due, tabulate_due

    result = examine_or_refuse(season, on, form)
    due = list_due(result)
    match form:
        case "text":
            write_text(result, due, everything=everything)
        case "json":
            dump_json(build_due(result, due))
        case _:
            dump_csv(COLUMNS, tabulate_due(due))
    return 2 if result.errors else 0
