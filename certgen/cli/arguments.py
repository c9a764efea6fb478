"""Arguments that many commands share."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

SeasonFolder = Annotated[
    Path, typer.Argument(metavar="SEASON", help="The folder with the season's records.", show_default=False)
]
OnDay = Annotated[
    str | None,
    typer.Option("--on", metavar="DATE", help="Check as of this day (2026-10-31). Default: today."),
]
Lots = Annotated[
    list[str] | None,
    typer.Option("--lot", metavar="LOT", help="Only this lot. Repeat it, or separate several by commas."),
]


def parse_day(text: str | None) -> date:
    """The day that was asked for, or today."""
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = f"'{text}' is no day. Write it as year-month-day, for example 2026-10-31."
        raise typer.BadParameter(message, param_hint="--on") from None


def split_list(given: Iterable[str] | None) -> list[str]:
    """Values of an option that may be repeated or hold several separated by commas."""
    return [one.strip() for part in given or () for one in part.split(",") if one.strip()]


def choose(given: str, known: Iterable[str], option: str) -> str:
    """The value if it is a known one; otherwise says which there are."""
    names = list(known)
    if given in names:
        return given
    from certgen.records.mistakes import RENAMED

    near = difflib.get_close_matches(given, names, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    if RENAMED.get(given) in names:
        hint = f" It is now called '{RENAMED[given]}'."
    listed = f" Choose one of: {', '.join(names)}." if len(names) <= 12 else ""
    message = f"There is no '{given}'.{hint}{listed}"
    raise typer.BadParameter(message, param_hint=option)
