"""`certgen import`: records out of a workbook or a CSV file."""

from __future__ import annotations

import shlex
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from certgen.cli.arguments import PATH, Word, argument, choose, command, force_option, option, refusing
from certgen.cli.terminal import Terminal, clean
from certgen.limits import LimitedProcess, Limits, Outcome
from certgen.rules.wording import count

if TYPE_CHECKING:
    from certgen.exchange.importing.opening import Spreadsheet
    from certgen.exchange.importing.plan import ImportPlan

Value = TypeVar("Value")

#: What a sheet may take to be read and tried: far more than a season's notebook takes.
LIMITS: Final = Limits(seconds=300, megabytes=2048)


@command("certgen import 2026 bags.csv --table bagging --dates dmy --save-map bags-map.yaml")
@argument("season", "SEASON", "The season's folder.", type=PATH)
@argument("file", "FILE", "A .xlsx or .csv file, or a .yaml file of records.", type=PATH)
@option("--table", metavar="TABLE", default="", help="The table that the file's one sheet holds.")
@option("--map", "map_file", metavar="FILE", type=PATH, help="A column map that you have looked over.")
@option("--save-map", metavar="FILE", type=PATH, help="Write the guessed map here.")
@option("--dates", type=Word(["dmy", "mdy"]), help="How dates like 3/4/2026 are meant.")
@option("--encoding", metavar="NAME", default="utf-8", help="How a CSV file's letters are written.")
@option("--replace", is_flag=True, help="Let a row overwrite the record of the same identifier.")
@option("--keep-going", is_flag=True, help="Take the sound rows, leave the others out and name them.")
@force_option
@option("--dry-run", is_flag=True, help="Say what would be done; write nothing.")
def run(
    season: Path,
    file: Path,
    table: str,
    map_file: Path | None,
    save_map: Path | None,
    dates: str | None,
    encoding: str,
    replace: bool,
    keep_going: bool,
    force: bool,
    dry_run: bool,
) -> int:
    """Bring records in from a workbook of certgen's, from any sheet through a column map, or from a file of
    records: what an inspection left behind.

    Nothing is written unless every row is sound; records that are there already are never overwritten
    unasked, and the comments in your files stay. For a sheet with its own headings the columns are guessed
    and shown first. A file that takes more than five minutes or 2 GB of memory is refused.
    """
    from certgen.cli.output import mend_season
    from certgen.cli.progress import show_waiting
    from certgen.exchange.importing.opening import Spreadsheet
    from certgen.exchange.importing.plan import plan_import
    from certgen.exchange.importing.record_files import ENDINGS
    from certgen.exchange.importing.trial import ImportRefusedError
    from certgen.records.tables import load_tables

    if table:
        choose([table], load_tables(), "--table")
    records = file if file.suffix.lower() in ENDINGS else None
    if records is not None:
        _refuse_columns(table, map_file, save_map, dates)
    with refusing(ValueError), LimitedProcess(LIMITS) as process:
        sheets = Spreadsheet()
        if records is None:
            sheets = _open(
                process, file, map_file=map_file, table=table, dates=dates or "", encoding=encoding
            )
        if sheets.guessed:
            return _show_guess(sheets, season, file, save_map, force=force)
        mend_season(season)
        try:
            with show_waiting("trying the records"):
                work = partial(
                    plan_import,
                    season_sheet=sheets.season,
                    record_file=records,
                    replace=replace,
                    keep_going=keep_going,
                )
                plan = _take(process.run(work, season, sheets.mapped), file)
        except ImportRefusedError as fault:
            sys.stderr.write(f"certgen import: {fault}.\n")
            sys.stderr.writelines(f"  {clean(error.text())}\n" for error in fault.errors[:50])
            return 2
    for name in sheets.passed_over:
        sys.stderr.write(f"Sheet '{clean(name)}' is not in the map and was passed over.\n")
    return _finish(plan, keep_going=keep_going, dry_run=dry_run)


def _refuse_columns(*given: object) -> None:
    if any(given):
        message = "A file of records has no columns: leave out --table, --map, --save-map and --dates."
        raise click.UsageError(message)


def _open(process: LimitedProcess, file: Path, **how: Any) -> Spreadsheet:
    """The sheets of a file, read as `how` says. Raises ValueError as `open_spreadsheet` and `_take` do."""
    from certgen.cli.progress import show_waiting
    from certgen.exchange.importing.opening import open_spreadsheet

    with show_waiting("reading the sheet"):
        return _take(process.run(partial(open_spreadsheet, **how), file), file)


def _take(outcome: Outcome[Value], file: Path) -> Value:
    """What came of reading the file. Raises ValueError where it passed a limit."""
    if outcome.passed:
        message = f"{file.name} {outcome.reason}; split it, or save a copy without empty rows and pictures"
        raise ValueError(message)
    return outcome.value


def _show_guess(sheets: Spreadsheet, season: Path, file: Path, save_map: Path | None, *, force: bool) -> int:
    from certgen.cli.output import write_files
    from certgen.exchange.importing.headings import map_text
    from certgen.output_places import Output

    text = map_text([*(sheet_map for _, sheet_map in sheets.mapped), *sheets.guessed])
    sys.stdout.write(text)
    how = "Save it (--save-map map.yaml)"
    if save_map is not None:
        write_files([Output(save_map, "column map", text.encode())], force=force)
        how = f"It is in {save_map}"
    typed = (season, file, save_map or Path("map.yaml"))
    folder, sheet, name = (shlex.quote(str(path)) for path in typed)
    sys.stderr.write(
        f"Nothing was imported: the columns above are a guess. {how}, look it over, mend it, then run: "
        f"certgen import {folder} {sheet} --map {name}\n"
    )
    return 2


def _finish(plan: ImportPlan, *, keep_going: bool, dry_run: bool) -> int:
    for fault in plan.faults:
        sys.stderr.write(f"{clean(fault.text())}\n")
    if plan.faults and not keep_going:
        faults = count(len(plan.faults), "fault")
        sys.stderr.write(
            f"{faults}: nothing was written. Mend the sheet, or take the sound rows only with --keep-going.\n"
        )
        return 2
    if not dry_run:
        from certgen.cli.output import name_author

        with refusing(ValueError):
            plan.carry_out(name_author("import"))
    return _tell(plan, "would be " if dry_run else "")


def _tell(plan: ImportPlan, would: str) -> int:
    """What the import did, or would do."""
    out = Terminal()
    added = Counter((name.split()[0], file) for name, file in plan.added)
    for (table, file), number in added.items():
        records = count(number, "record")
        out.line(f"{records} of {table} {would}added to {file}")
    for name, file in plan.changed:
        out.line(f"{clean(name)} {would}changed in {file}")
    if plan.same:
        were = f"{count(plan.same, 'record')} {'was' if plan.same == 1 else 'were'}"
        out.line(f"{were} there already, the same in every field")
    if plan.left_out:
        out.line(f"left out: {clean(', '.join(plan.left_out))}")
        return 2
    if not plan.added and not plan.changed:
        out.line("Nothing to do.")
    return 0
