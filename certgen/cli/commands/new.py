"""`certgen new`: a season's folder to fill in."""

from __future__ import annotations

import shlex
import sys
from datetime import date
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    PATH,
    Day,
    argument,
    command,
    force_option,
    names_option,
    option,
    refusing,
    split_list,
)
from certgen.cli.terminal import Terminal

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.exchange.editing.skeleton import Beginning


@command('certgen new 2027 --operation "Lantern Gully Seed Orchard" --standard us-nop --from 2027-01-01')
@argument("folder", "DIR", "The folder to make.", type=PATH)
@option("--operation", metavar="NAME", default="", help="The operation, as its certificate names it.")
@option("--crop", metavar="CROP", default="papaya", help="The crop profile.")
@names_option("--standard", metavar="KEY", help="A rulebook the seed is to meet. Default: us-nop.")
@option("--label", metavar="NAME", default="", help="The season's short name. Default: its year.")
@option("--from", "first", metavar="DATE", type=Day(), help="First day. Default: 1 January.")
@option("--to", "last", metavar="DATE", type=Day(), help="Last day. Default: 31 December.")
@force_option
def run(
    folder: Path,
    operation: str,
    crop: str,
    standard: list[str],
    label: str,
    first: date | None,
    last: date | None,
    force: bool,
) -> int:
    """Lay out a season's folder: every table explained where it is filled in, and nothing in it that is
    wrong.

    Asks for what is not given, when somebody is there to answer. Never overwrites anything. An editor that
    knows YAML schemas finds the season's by the first line of each file, or by the setting `yaml.schemas`
    in .schemas/editor-settings.json.
    """
    from certgen.cli.output import name_author, tell_kept
    from certgen.exchange.editing.skeleton import Beginning, lay_out

    start = first or date(date.today().year, 1, 1)
    end = last or date(start.year, 12, 31)
    beginning = Beginning(
        operation, label or str(start.year), start, end, crop, tuple(standard or ["us-nop"])
    )
    typed = shlex.quote(str(folder))
    if not operation:
        if not sys.stdin.isatty():
            sys.stderr.write(
                "certgen new: say whose season this is, as its certificate names it: "
                f'certgen new {typed} --operation "NAME"\n'
            )
            return 2
        beginning = _ask(beginning)
    with refusing(ValueError, FileExistsError):
        names, kept = lay_out(folder, beginning, force=force, author=name_author("new"))
    tell_kept(kept)
    out = Terminal()
    out.text(f"{folder} is laid out: {', '.join(names)}, and evidence/ for letters and photos.")
    out.text(
        "Open trees.yaml and go on from there; each file says what belongs in it. Or fill in a workbook: "
        f"certgen export {typed} --empty --out season.xlsx, then certgen import {typed} season.xlsx. "
        f"To see what is missing: certgen check {typed}"
    )
    return 0


def _ask(known: Beginning) -> Beginning:
    from certgen.exchange.editing.skeleton import Beginning
    from certgen.standards import PROFILES, RULEBOOKS

    operation = click.prompt("Operation, as its certificate names it")
    crop = click.prompt(f"Crop ({', '.join(PROFILES)})", default=known.crop)
    standards = click.prompt(
        f"Standards, by commas ({', '.join(RULEBOOKS)})", default=", ".join(known.standards)
    )
    label = click.prompt("Season's short name", default=known.label)
    start = click.prompt("First day", default=known.start, type=Day())
    end = click.prompt("Last day", default=known.end, type=Day())
    return Beginning(operation, label, start, end, crop, tuple(split_list([standards])))
