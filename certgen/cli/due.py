"""`certgen due`: what is cleared, what falls due and when."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from certgen.cli.arguments import OnDay, SeasonFolder, choose, parse_day

if TYPE_CHECKING:
    from certgen.dossier.due import Due
    from certgen.examination import Result

FORMATS: Final = ("text", "json", "csv")
_HEADINGS: Final = {
    "cleared for bagging": "Cleared for bagging",
    "result outstanding": "Results outstanding",
    "bag to take off": "Bags still on the flower",
    "bag to pick": "Fruit nearing harvest",
    "germination test": "Germination tests",
    "storage": "Seed in store",
    "incident open": "Incidents still open",
    "keep": "Records and samples to keep",
}


def run(
    season: SeasonFolder = Path(),
    form: Annotated[
        str, typer.Option("--format", metavar="text|json|csv", help="How the list is written.")
    ] = "text",
    on: OnDay = None,
    everything: Annotated[
        bool, typer.Option("--all", help="List what lies further ahead too, and every cleared tree.")
    ] = False,
) -> int:
    """List trees cleared for bagging, bags to take off or pick, results awaited, tests and stock running out.

    Example:  certgen due example_season --on 2026-06-01
    """
    choose(form, FORMATS, "--format")
    from certgen.cli.output import examine_or_refuse
    from certgen.dossier.due import list_due

    result = examine_or_refuse(season, parse_day(on), form)
    if result is None:
        return 2
    due = list_due(result)
    if form == "text":
        _write_text(result, due, everything=everything)
    else:
        {"json": _write_json, "csv": _write_csv}[form](result, due)
    return 2 if result.errors else 0


def _write_text(result: Result, due: tuple[Due, ...], *, everything: bool) -> None:
    from certgen.cli.terminal import Terminal, clean
    from certgen.rules.wording import day

    out = Terminal()
    details = result.season.details
    out.line(out.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))
    out.line(f"As of {day(result.on)}.")
    if not due:
        out.line("Nothing is due.")
    for subject, heading in _HEADINGS.items():
        listed = [one for one in due if one.subject == subject]
        if not listed:
            continue
        out.heading(f"{heading} ({len(listed)})")
        shown = [one for one in listed if everything or one.state in {"due", "overdue"}]
        if subject == "cleared for bagging" and not everything:
            out.text(", ".join(one.identifier for one in listed), 2)
            continue
        if shown:
            out.table((one.identifier, one.state, _window(one), one.about) for one in shown)
        if len(shown) < len(listed):
            out.text(_say_ahead(subject, [one for one in listed if one not in shown]), 2)
        basis = {one.basis for one in listed if one.basis}
        for text in sorted(basis) if subject != "cleared for bagging" else ():
            out.text(f"By {text}.", 2, "dim")
    out.line()


def _say_ahead(subject: str, ahead: list[Due]) -> str:
    from certgen.rules.wording import day

    days = [one.first or one.last for one in ahead]
    first = min((when for when in days if when is not None), default=None)
    if subject == "keep":
        until = f", the first of them until {day(first)}" if first else ""
        return f"{len(ahead)} to keep{until}; --all lists them."
    next_one = f", the first on {day(first)}" if first else ""
    return f"{len(ahead)} further ahead{next_one}; --all lists them."


def _window(one: Due) -> str:
    from certgen.rules.wording import day

    if one.first is not None and one.last is not None:
        return f"{day(one.first)} to {day(one.last)}"
    if one.last is not None:
        return f"until {day(one.last)}"
    return f"since {day(one.first)}" if one.first is not None else ""


def _row(one: Due) -> tuple[str, ...]:
    first, last = (str(when) if when is not None else "" for when in (one.first, one.last))
    return (one.subject, one.state, one.table, one.identifier, one.about, first, last, one.basis)


_COLUMNS: Final = ("subject", "state", "table", "id", "about", "first", "last", "basis")


def _write_json(result: Result, due: tuple[Due, ...]) -> None:
    from certgen.cli.output import dump_json, name_season

    dump_json(
        {
            "format": 1,
            "season": name_season(result),
            "on": str(result.on),
            "due": [dict(zip(_COLUMNS, _row(one), strict=True)) for one in due],
        }
    )


def _write_csv(result: Result, due: tuple[Due, ...]) -> None:  # noqa: ARG001 (all writers are called alike)
    from certgen.cli.output import dump_csv

    dump_csv(_COLUMNS, map(_row, due))
