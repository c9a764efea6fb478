"""`certgen evidence`: what the records name, what lies there unnamed, and a file added to a record."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import (
    PATH,
    choose,
    command,
    format_option,
    option,
    refusing,
    season_argument,
)
from certgen.cli.terminal import Terminal, clean
from certgen.rules.wording import count, noun

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from certgen.dossier.papers import Unpapered
    from certgen.exchange.editing.evidence import Named


@command("certgen evidence 2026 --add scan.pdf --to screening:S26-017 --as letters/scan-017.pdf")
@season_argument
@option("--add", metavar="FILE", type=PATH, help="Copy this file in and name it in a record.")
@option("--to", metavar="TABLE:ID", default="", help="The record that it belongs to: screening:S-17.")
@option("--as", "name", metavar="PATH", default="", help="Its path below evidence/. Default: its own name.")
@format_option("text", "json", help="How the list is written.")
@option("--field", metavar="NAME", default="evidence", help="The record's field that names it.")
def run(season: Path, add: Path | None, to: str, name: str, form: str, field: str) -> int:
    """List what has no paper and the files that no record names, or add a file to a record."""
    if add is None:
        return _list(season, form)
    if form != "text":
        message = "Adding a file writes text: leave --format out."
        raise click.ClickException(message)
    return _add(season, add, to, name, field)


def _add(folder: Path, file: Path, to: str, name: str, field: str) -> int:
    from certgen.cli.output import list_errors, mend_season, name_author
    from certgen.examination import read_case
    from certgen.exchange.editing.evidence import EvidenceError, add_evidence
    from certgen.exchange.editing.history import HistoryError
    from certgen.exchange.editing.splicing import SpliceError
    from certgen.records.tables import load_tables

    mend_season(folder)
    season, errors = read_case(folder)
    if season is None or errors:
        list_errors(errors)
        return 2
    table, _, identifier = to.partition(":")
    if not identifier:
        message = "say which record the file belongs to, as in --to screening:S26-017"
        raise click.ClickException(message)
    choose([table], load_tables(), "--to")
    with refusing(EvidenceError, SpliceError, HistoryError):
        added = add_evidence(
            season, file, table, identifier, to=name, field=field, author=name_author("evidence")
        )
    sys.stdout.write(
        f"evidence/{added.path} is there and named by {table} {identifier} in {added.file}.\n"
        f"SHA-256 {added.sha256}\n"
    )
    return 0


def _list(folder: Path, form: str) -> int:
    from certgen.cli.output import dump_json, examine_or_refuse, list_errors
    from certgen.dossier.papers import list_uncopied, list_unpapered
    from certgen.exchange.editing.evidence import named_evidence, unnamed_evidence
    from certgen.exchange.interchange.evidence import build_evidence

    result = examine_or_refuse(folder, None, form, told=False)
    named = list(named_evidence(result.season))
    missing = [(entry.path, f"{entry.table} {entry.id}") for entry in named if not entry.there]
    unpapered, uncopied = list_unpapered(result.case), list_uncopied(result.case)
    unnamed = unnamed_evidence(result.season)
    if form == "json":
        dump_json(build_evidence(result, named, unpapered, uncopied, unnamed))
        list_errors(result.errors)
        return 1 if missing or unpapered else 0
    out = Terminal()
    _sum_up(out, named, unpapered, uncopied)
    if missing:
        out.heading("Named and not there")
        out.table(missing)
    for kind in (*unpapered, *uncopied):
        out.heading(f"{kind.title} ({len(kind.records)} of {kind.of})")
        out.table(kind.records)
    if unnamed:
        out.heading("There and not named by any record")
        for path in unnamed:
            out.line(f"  {clean(path)}")
    list_errors(result.errors)
    return 1 if missing or unpapered else 0


def _sum_up(
    out: Terminal, named: Sequence[Named], unpapered: Sequence[Unpapered], uncopied: Sequence[Unpapered]
) -> None:
    """How many papers are named and there, and how many records lack theirs."""
    there = sum(entry.there for entry in named)
    names, are = ("names", "is") if len(named) == 1 else ("name", "are")
    out.line(
        f"{count(len(named), 'entry')} {names} evidence; {there} of the {noun('file', len(named))} {are}"
        " there."
    )
    bare = sum(len(kind.records) for kind in unpapered)
    numbered = sum(len(kind.records) for kind in uncopied)
    if bare or numbered:
        out.line(
            f"{count(bare, 'record')} that should name a paper {'names' if bare == 1 else 'name'} none;"
            f" {count(numbered, 'record')} {'bears' if numbered == 1 else 'bear'} the number of a paper of"
            " which no copy is filed."
        )
    else:
        out.line("No record that should name a paper names none.")
