"""`certgen evidence`: what has no paper, what lies there unnamed, and files added to one record or many."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import click

from certgen.cli.arguments import PATH, command, format_option, option, refusing, season_argument
from certgen.cli.terminal import Terminal, clean
from certgen.rules.wording import count, join, noun

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from certgen.dossier.papers import Papered, Unpapered
    from certgen.examination import Result
    from certgen.exchange.editing.evidence import Named
    from certgen.exchange.editing.filing import Filing, Naming

#: Records of a kind that are listed one by one where their list isn't asked for whole.
_LISTED = 40


@command(
    "certgen evidence 2026 --add scan.pdf --to screening:S26-001..S26-019 --as letters/scan-017.pdf",
    "certgen evidence 2026 --add page-1.jpg --add page-2.jpg --to letters:DN-26-014 --as letters/ --preview",
)
@season_argument
@option(
    "--add",
    "files",
    metavar="FILE",
    type=PATH,
    multiple=True,
    help="Copy this file in and name it in records. Repeat it for several.",
)
@option(
    "--to",
    metavar="TABLE:IDS",
    multiple=True,
    help="The records that it belongs to: screening:S-17, screening:S-1..S-19,S-30, report:DN-26-014 or"
    " season. Repeat it for several tables.",
)
@option(
    "--as",
    "name",
    metavar="PATH",
    default="",
    help="Its path below evidence/, or with / at the end a folder there. Default: its own name.",
)
@option("--preview", is_flag=True, help="Say what would be written, and write nothing.")
@format_option("text", "json", help="How the list is written.")
@option("--field", metavar="NAME", default="evidence", help="The record's field that names it.")
def run(
    season: Path,
    files: tuple[Path, ...],
    to: tuple[str, ...],
    name: str,
    preview: bool,
    form: str,
    field: str,
) -> int:
    """List what has no paper and the files that no record names, or add files to records.

    All that is added at once is one change: all of it or nothing, and `certgen undo` takes it back. A paper
    of a letter that has a record of its own is named there, once, and its samples have it through the letter.
    """
    if not files:
        if to or name or preview:
            message = "Say which file it is about: --add FILE."
            raise click.UsageError(message)
        return _list(season, form)
    if form != "text":
        message = "Adding a file writes text: leave --format out."
        raise click.ClickException(message)
    if not to:
        message = "say which records the file belongs to, as in --to screening:S26-017"
        raise click.ClickException(message)
    return _add(season, files, to, name, field, preview=preview)


# Adding


def _add(
    folder: Path, files: Sequence[Path], to: Sequence[str], name: str, field: str, *, preview: bool
) -> int:
    from certgen.cli.output import list_errors, mend_season, name_author
    from certgen.exchange.editing.filing import file_papers, plan_filing
    from certgen.exchange.editing.history import HistoryError
    from certgen.exchange.editing.record_choice import EvidenceError, choose_records
    from certgen.exchange.editing.splicing import SpliceError
    from certgen.standards.season_reading import read_case

    mend_season(folder)
    season, errors = read_case(folder)
    if season is None or errors:
        list_errors(errors)
        return 2
    with refusing(EvidenceError, SpliceError, HistoryError):
        chosen, notes = choose_records(season, to)
        filing = plan_filing(season, files, chosen, to=name, field=field)
        written = not preview and file_papers(season, filing, name_author("evidence"))
    out = Terminal()
    for note in notes:
        out.text(note)
    _tell_added(out, filing, preview=preview)
    if not written:
        out.text("Nothing was written." if preview else "All of it was there already; nothing to do.")
    return 0


def _tell_added(out: Terminal, filing: Filing, *, preview: bool) -> None:
    _tell_papers(out, filing, preview=preview)
    would = "Would be named" if preview else "Named"
    new = filing.named_anew()
    by_place: dict[tuple[str, str], list[Naming]] = {}
    for naming in new:
        by_place.setdefault((naming.record.table, naming.file), []).append(naming)
    for (table, file), some in by_place.items():
        out.text(f"{would} by {_name_records(table, some)} in {file}.")
    known = len(filing.namings) - len(new)
    if known and new:
        out.text(f"{count(known, 'record')} named {'it' if len(filing.papers) == 1 else 'them'} before.")


def _tell_papers(out: Terminal, filing: Filing, *, preview: bool) -> None:
    for paper in filing.papers:
        stands = "is there already" if paper.there else "would be laid there" if preview else "is there"
        out.text(f"evidence/{paper.path} {stands}.")
        out.line(f"SHA-256 {paper.sha256}")
        for note in paper.notes:
            out.text(f"Note: {paper.path} {note}.", hang=2)


def _name_records(table: str, namings: Sequence[Naming]) -> str:
    names = [naming.record.identifier for naming in namings]
    if len(names) > 6:
        return f"{count(len(names), table)} ({names[0]} … {names[-1]})"
    return f"{table} {join(names)}"


# Listing


def _list(folder: Path, form: str) -> int:
    from certgen.cli.output import dump_json, examine_or_refuse, list_errors
    from certgen.dossier.papers import count_papered, list_uncopied, list_unpapered
    from certgen.exchange.editing.evidence import list_copies, named_evidence, unnamed_evidence
    from certgen.exchange.interchange.evidence import build_evidence

    result = examine_or_refuse(folder, None, form, told=False)
    named = list(named_evidence(result.season))
    unpapered, uncopied = list_unpapered(result.case), list_uncopied(result.case)
    unnamed, copies = unnamed_evidence(result.season), list_copies(result.season)
    code = 1 if unpapered or not all(entry.there for entry in named) else 0
    if form == "json":
        dump_json(build_evidence(result, named, unpapered, uncopied, unnamed, copies))
        list_errors(result.errors)
        return code
    out = Terminal()
    _sum_up(out, result, named, unpapered, uncopied)
    _tell_missing(out, named, unnamed)
    for kind in unpapered:
        _tell_kind(out, result, kind, folder)
    for kind in uncopied:
        out.heading(f"{kind.title} ({len(kind.records)} of {kind.of})")
        out.text("No rule asks for the copy; who reads the records alone can't see the paper.", 2)
        _tell_records(out, kind)
    _tell_tables(out, count_papered(result.case))
    if unnamed:
        out.heading("There and not named by any record")
        for path in unnamed:
            out.line(f"  {clean(path)}")
    if copies:
        out.heading("The same bytes under several names")
        for paths in copies:
            out.text(" = ".join(paths), 2, hang=2)
    list_errors(result.errors)
    return code


def _sum_up(
    out: Terminal,
    result: Result,
    named: Sequence[Named],
    unpapered: Sequence[Unpapered],
    uncopied: Sequence[Unpapered],
) -> None:
    """How many records lack their paper and what that does, then how many papers are named and there."""
    from certgen.dossier.papers import count_weighing

    bare = sum(len(kind.records) for kind in unpapered)
    numbered = sum(len(kind.records) for kind in uncopied)
    weighing = sum(count_weighing(result, kind) for kind in unpapered)
    if bare or numbered:
        out.text(
            f"{count(bare, 'record')} that should name a paper {'names' if bare == 1 else 'name'} none;"
            f" {count(numbered, 'record')} {'bears' if numbered == 1 else 'bear'} the number of a paper of"
            " which no copy is filed."
        )
        if weighing:
            leave = "leaves" if weighing == 1 else "leave"
            out.text(f"{weighing} of them {leave} seed unproven until the paper is named.")
    else:
        out.line("No record that should name a paper names none.")
    out.line(_say_named(named))


def _say_named(named: Sequence[Named]) -> str:
    if not named:
        return "No record names a file of evidence."
    there = sum(entry.there for entry in named)
    if len(named) == 1:
        return f"1 entry names evidence; its file is {'' if there else 'not '}there."
    return f"{len(named)} entries name evidence; {there} of the files are there."


def _tell_missing(out: Terminal, named: Sequence[Named], unnamed: Sequence[str]) -> None:
    """What is named and not there, each with a file that may be meant."""
    from difflib import get_close_matches

    missing = [entry for entry in named if not entry.there]
    if not missing:
        return
    folded = {path.casefold(): path for path in unnamed}
    rows = []
    for entry in missing:
        near = get_close_matches(entry.path.casefold(), list(folded), n=1, cutoff=0.8)
        hint = f"; {folded[near[0]]} is there: did you mean it?" if near else ""
        rows.append((entry.path, f"{entry.table} {entry.id}{hint}"))
    out.heading("Named and not there")
    out.table(rows)


def _tell_kind(out: Terminal, result: Result, kind: Unpapered, folder: Path) -> None:
    """Records that lack the paper which a rule asks for: how many, what that does, and what to type."""
    from certgen.dossier.papers import count_weighing

    weighing = count_weighing(result, kind)
    rules = join(f"certgen rules {rule}" for rule in kind.rules)
    out.heading(f"{kind.title} ({len(kind.records)} of {kind.of})")
    if weighing:
        leave = "leaves" if weighing == 1 else "leave"
        out.text(f"{weighing} of {len(kind.records)} {leave} seed unproven ({rules}).", 2)
    else:
        out.text(f"Advice: none of these leaves seed unproven by itself ({rules}).", 2)
    _tell_records(out, kind)
    table, _, name = kind.records[0][0].partition(" ")
    typed = shlex.join(["certgen", "evidence", str(folder), "--add", "FILE", "--to", f"{table}:{name}"])
    out.text(f"With the paper at hand: {typed}", 2, hang=2)


def _tell_records(out: Terminal, kind: Unpapered) -> None:
    out.table(kind.records[:_LISTED])
    if len(kind.records) > _LISTED:
        out.text(f"and {len(kind.records) - _LISTED} more; --format json lists all", 2)


def _tell_tables(out: Terminal, tables: Sequence[Papered]) -> None:
    """How many records of each table name a file, in two columns."""
    if tables:
        out.heading("Records that name a file, themselves or through their letter")
        out.table([(f"{one.naming} of {one.records}", noun(one.table, one.records)) for one in tables])
