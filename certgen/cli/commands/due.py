"""`certgen due`: what is cleared, what falls due and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.cli.arguments import command, day_option, format_option, option, season_argument

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path


@command("certgen due example_season --on 2026-06-01", "certgen due 2026 --format ics > 2026.ics")
@season_argument
@format_option("text", "json", "csv", "ics", help="How the list is written.")
@day_option
@option("--all", "everything", is_flag=True, help="List what lies further ahead too, and every cleared tree.")
def run(season: Path, form: str, on: date | None, everything: bool) -> int:
    """List trees cleared for bagging, bags to take off or pick, results awaited, tests and stock running
    out.

    With --format ics it is a calendar (RFC 5545) for a phone or computer: what has a last day stands on its
    days with an alarm, what has none is a to-do. Imported again it renews what is there.
    """
    from certgen.cli.output import dump_csv, dump_json, dump_text, examine_or_refuse
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
        case "ics":
            from certgen.exchange.interchange.calendar import build_calendar

            dump_text(build_calendar(result, due))
        case _:
            dump_csv(COLUMNS, tabulate_due(due))
    return 2 if result.errors else 0
