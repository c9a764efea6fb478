"""`certgen evidence`: what the records name, what lies there unnamed, and a file added to a record."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from certgen.cli.arguments import SeasonFolder, choose, parse_day
from certgen.cli.terminal import Terminal, clean

if TYPE_CHECKING:
    from certgen.records import Season


def run(
    season: SeasonFolder = Path(),
    add: Annotated[
        Path | None, typer.Option("--add", metavar="FILE", help="Copy this file in and name it in a record.")
    ] = None,
    to: Annotated[
        str, typer.Option("--to", metavar="TABLE:ID", help="The record that it belongs to: screening:S-17.")
    ] = "",
    name: Annotated[
        str, typer.Option("--as", metavar="PATH", help="Its path below evidence/. Default: its own name.")
    ] = "",
    field: Annotated[
        str, typer.Option("--field", metavar="NAME", help="The record's field that names it.")
    ] = "evidence",
) -> int:
    """List what has no paper and the files that no record names, or add a file to a record.

    Example:  certgen evidence 2026 --add scan.pdf --to screening:S26-017 --as letters/scan-017.pdf
    """
    from certgen.cli.output import list_errors
    from certgen.examination import read_case
    from certgen.records.tables import load_tables

    if add is None:
        return _list(season)
    found, errors = read_case(season)
    if found is None or errors:
        list_errors(errors)
        return 2
    table, _, identifier = to.partition(":")
    if not identifier:
        sys.stderr.write(
            "certgen evidence: say which record the file belongs to, as in --to screening:S26-017.\n"
        )
        return 2
    choose(table, load_tables(), "--to")
    return _add(found, add, table, identifier, name, field)


def _add(season: Season, file: Path, table: str, identifier: str, name: str, field: str) -> int:
    from certgen.exchange.editing.evidence import EvidenceError, add_evidence
    from certgen.exchange.editing.splicing import SpliceError

    try:
        added = add_evidence(season, file, table, identifier, to=name, field=field)
    except (EvidenceError, SpliceError) as fault:
        sys.stderr.write(f"certgen evidence: {clean(str(fault))}.\n")
        return 2
    sys.stdout.write(
        f"evidence/{added.path} is there and named by {table} {identifier} in {added.file}.\n"
        f"SHA-256 {added.sha256}\n"
    )
    return 0


def _list(folder: Path) -> int:
    from certgen.cli.output import examine_or_refuse, list_errors
    from certgen.dossier.papers import list_unpapered
    from certgen.exchange.editing.evidence import named_evidence, unnamed_evidence

    result = examine_or_refuse(folder, parse_day(None), "text", told=False)
    if result is None:
        return 2
    terminal = Terminal()
    named = list(named_evidence(result.season))
    missing = [one for one in named if not one.there]
    unnamed = unnamed_evidence(result.season)
    terminal.line(f"{len(named)} entries name evidence; {len(named) - len(missing)} of the files are there.")
    if missing:
        terminal.heading("Named and not there")
        terminal.table((one.path, f"{one.table} {one.id}") for one in missing)
    bare = list_unpapered(result.case)
    for kind in bare:
        terminal.heading(f"{kind.title} ({len(kind.records)})")
        terminal.table(kind.records)
    if unnamed:
        terminal.heading("There and not named by any record")
        for path in unnamed:
            terminal.line(f"  {clean(path)}")
    list_errors(result.errors)
    return 1 if missing or bare else 0
