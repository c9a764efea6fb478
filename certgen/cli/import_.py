"""`certgen import`: records out of a workbook or a CSV file."""

from __future__ import annotations

import shlex
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from certgen.cli.arguments import choose
from certgen.cli.terminal import Terminal, clean

if TYPE_CHECKING:
    from certgen.exchange.importing.opening import Spreadsheet
    from certgen.exchange.importing.plan import ImportPlan


def run(
    season: Annotated[
        Path, typer.Argument(metavar="SEASON", help="The season's folder.", show_default=False)
    ],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .xlsx or .csv file.", show_default=False)],
    table: Annotated[
        str, typer.Option("--table", metavar="TABLE", help="The table that the file's one sheet holds.")
    ] = "",
    map_file: Annotated[
        Path | None, typer.Option("--map", metavar="FILE", help="A column map that you have looked over.")
    ] = None,
    save_map: Annotated[
        Path | None, typer.Option("--save-map", metavar="FILE", help="Write the guessed map here.")
    ] = None,
    dates: Annotated[
        str, typer.Option("--dates", metavar="dmy|mdy", help="How dates like 3/4/2026 are meant.")
    ] = "",
    encoding: Annotated[
        str, typer.Option("--encoding", metavar="NAME", help="How a CSV file's letters are written.")
    ] = "utf-8",
    replace: Annotated[
        bool, typer.Option("--replace", help="Let a row overwrite the record of the same identifier.")
    ] = False,
    keep_going: Annotated[
        bool, typer.Option("--keep-going", help="Take the sound rows, leave the others out and name them.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be done; write nothing.")
    ] = False,
) -> int:
    """Bring records in from a workbook of certgen's, or from any sheet through a column map.

    Nothing is written unless every row is sound; records that are there already are never overwritten
    unasked, and the comments in your files stay. For a sheet with its own headings the columns are guessed
    and shown first.

    Example:  certgen import 2026 bags.csv --table bagging --dates dmy --save-map bags-map.yaml
    """
    if dates:
        choose(dates, ("dmy", "mdy"), "--dates")
    from certgen.cli.progress import show_waiting
    from certgen.exchange.importing.opening import open_spreadsheet
    from certgen.exchange.importing.plan import plan_import
    from certgen.exchange.importing.trial import ImportRefusedError
    from certgen.records.tables import load_tables

    if table:
        choose(table, load_tables(), "--table")
    try:
        with show_waiting("reading the sheet"):
            sheets = open_spreadsheet(file, map_file=map_file, table=table, dates=dates, encoding=encoding)
        if sheets.guessed:
            return _show_guess(sheets, season, file, save_map)
        with show_waiting("trying the records"):
            plan = plan_import(
                season, sheets.mapped, season_sheet=sheets.season, replace=replace, keep_going=keep_going
            )
    except ImportRefusedError as fault:
        sys.stderr.write(f"certgen import: {fault}.\n")
        sys.stderr.writelines(f"  {clean(error.text())}\n" for error in fault.errors[:50])
        return 2
    except ValueError as fault:
        sys.stderr.write(f"certgen import: {clean(str(fault))}.\n")
        return 2
    for name in sheets.passed_over:
        sys.stderr.write(f"Sheet '{clean(name)}' is not in the map and was passed over.\n")
    return _finish(plan, keep_going=keep_going, dry_run=dry_run)


def _show_guess(sheets: Spreadsheet, season: Path, file: Path, save_map: Path | None) -> int:
    from certgen.exchange.importing.headings import map_text
    from certgen.whole_files import write_whole

    text = map_text([*(one for _, one in sheets.mapped), *sheets.guessed])
    sys.stdout.write(text)
    name = save_map or Path("map.yaml")
    if save_map is not None:
        try:
            write_whole(save_map, text.encode(), replace=False)
        except FileExistsError as fault:
            sys.stderr.write(f"certgen import: {fault}.\n")
            return 2
    how = f"It is in {name}" if save_map is not None else "Save it (--save-map map.yaml)"
    sys.stderr.write(
        f"Nothing was imported: the columns above are a guess. {how}, look it over, mend it, then run: "
        f"certgen import {shlex.quote(str(season))} {shlex.quote(str(file))} --map {shlex.quote(str(name))}\n"
    )
    return 2


def _finish(plan: ImportPlan, *, keep_going: bool, dry_run: bool) -> int:
    terminal = Terminal()
    for fault in plan.faults:
        sys.stderr.write(f"{clean(fault.text())}\n")
    if plan.faults and not keep_going:
        count = len(plan.faults)
        sys.stderr.write(
            f"{count} fault{'s' if count > 1 else ''}: nothing was written. "
            "Mend the sheet, or take the sound rows only with --keep-going.\n"
        )
        return 2
    if not dry_run:
        plan.carry_out()
    would = "would be " if dry_run else ""
    for (table, file), count in Counter((name.split()[0], file) for name, file in plan.added).items():
        terminal.line(f"{count} {'record' if count == 1 else 'records'} of {table} {would}added to {file}")
    for name, file in plan.changed:
        terminal.line(f"{clean(name)} {would}changed in {file}")
    if plan.same:
        were = "record was" if plan.same == 1 else "records were"
        terminal.line(f"{plan.same} {were} there already, the same in every field")
    if plan.left_out:
        terminal.line(f"left out: {clean(', '.join(plan.left_out))}")
        return 2
    if not plan.added and not plan.changed:
        terminal.line("Nothing to do.")
    return 0
