"""`certgen new`: a season's folder to fill in."""

from __future__ import annotations

import shlex
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from certgen.cli.arguments import split_list
from certgen.cli.terminal import Terminal

if TYPE_CHECKING:
    from certgen.exchange.editing.skeleton import Beginning


def run(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make.", show_default=False)],
    operation: Annotated[
        str, typer.Option("--operation", metavar="NAME", help="The operation, as its certificate names it.")
    ] = "",
    crop: Annotated[str, typer.Option("--crop", metavar="CROP", help="The crop profile.")] = "papaya",
    standard: Annotated[
        list[str] | None,
        typer.Option("--standard", metavar="KEY", help="A rulebook the seed is to meet. Default: us-nop."),
    ] = None,
    label: Annotated[
        str, typer.Option("--label", metavar="NAME", help="The season's short name. Default: its year.")
    ] = "",
    first: Annotated[str, typer.Option("--from", metavar="DATE", help="First day. Default: 1 January.")] = "",
    last: Annotated[str, typer.Option("--to", metavar="DATE", help="Last day. Default: 31 December.")] = "",
) -> int:
    """Lay out a season's folder: every table explained where it is filled in, and nothing in it that is
    wrong.

    Asks for what is not given, when somebody is there to answer. Never overwrites anything.

    Example:  certgen new 2027 --operation "Lantern Gully Seed Orchard" --standard us-nop --from 2027-01-01
    """
    from certgen.exchange.editing.skeleton import Beginning, lay_out

    terminal = Terminal()
    start = _day(first, "--from", date(date.today().year, 1, 1))
    end = _day(last, "--to", date(start.year, 12, 31))
    beginning = Beginning(
        operation, label or str(start.year), start, end, crop, tuple(split_list(standard) or ["us-nop"])
    )
    if not operation:
        if not sys.stdin.isatty():
            sys.stderr.write(
                "certgen new: say whose season this is, as its certificate names it: certgen new "
                f'{shlex.quote(str(folder))} --operation "NAME"\n'
            )
            return 2
        beginning = _ask(beginning)
    try:
        names = lay_out(folder, beginning)
    except (ValueError, FileExistsError) as fault:
        sys.stderr.write(f"certgen new: {fault}.\n")
        return 2
    terminal.text(f"{folder} is laid out: {', '.join(names)}, and evidence/ for letters and photos.")
    typed = shlex.quote(str(folder))
    terminal.text(
        "Open trees.yaml and go on from there; each file says what belongs in it. Or fill in a workbook: "
        f"certgen export {typed} --empty --out season.xlsx, then certgen import {typed} season.xlsx. "
        f"To see what is missing: certgen check {typed}"
    )
    return 0


def _day(text: str, option: str, default: date) -> date:
    if not text:
        return default
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = f"'{text}' is no day. Write it as year-month-day, for example 2027-01-01."
        raise typer.BadParameter(message, param_hint=option) from None


def _ask(known: Beginning) -> Beginning:
    from certgen.exchange.editing.skeleton import Beginning
    from certgen.standards import PROFILES, RULEBOOKS

    operation = typer.prompt("Operation, as its certificate names it")
    crop = typer.prompt(f"Crop ({', '.join(PROFILES)})", default=known.crop)
    standards = typer.prompt(
        f"Standards, by commas ({', '.join(RULEBOOKS)})", default=", ".join(known.standards)
    )
    label = typer.prompt("Season's short name", default=known.label)
    start = _day(typer.prompt("First day", default=known.start.isoformat()), "--from", known.start)
    end = _day(typer.prompt("Last day", default=known.end.isoformat()), "--to", known.end)
    return Beginning(operation, label, start, end, crop, tuple(split_list([standards])))
