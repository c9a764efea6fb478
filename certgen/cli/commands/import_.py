"""`certgen import`: records out of a workbook or a CSV file."""

from __future__ import annotations

import shlex
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from certgen.cli.arguments import (
    INPUT,
    PATH,
    Word,
    argument,
    choose,
    command,
    force_option,
    name_input,
    option,
    refusing,
)
from certgen.cli.terminal import Terminal, clean
from certgen.exchange.importing import load
from certgen.limits import LimitedProcess, Limits, Outcome
from certgen.rules.wording import count

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.exchange.importing.opening import Spreadsheet
    from certgen.exchange.importing.plan import ImportPlan

Value = TypeVar("Value")

#: What a sheet may take to be read and tried: far more than a season's notebook takes.
LIMITS: Final = Limits(seconds=300, megabytes=2048)


@command("certgen import 2026 bags.csv --table bagging --dates dmy --save-map bags-map.yaml")
@argument("season", "SEASON", "The season's folder.", type=PATH)
@argument(
    "file", "FILE", "A .xlsx or .csv file, or a .yaml file of records; - for standard input.", type=INPUT
)
@option("--table", metavar="TABLE", default="", help="The table that the file's one sheet holds.")
@option("--map", "map_file", metavar="FILE", type=PATH, help="A column map that you have looked over.")
@option("--save-map", metavar="FILE", type=PATH, help="Write the guessed map here.")
@option("--dates", type=Word(["dmy", "mdy"]), help="How dates like 3/4/2026 are meant.")
@option("--encoding", metavar="NAME", default="utf-8", help="How a CSV file's letters are written.")
@option("--replace", is_flag=True, help="Let a row overwrite the record of the same identifier.")
@option("--keep-going", is_flag=True, help="Take the sound rows, leave the others out and name them.")
@force_option
@option("--dry-run", is_flag=True, help="Say what would be done; write nothing.")
@option("--preview", is_flag=True, help="The same, field by field.")
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
    preview: bool,
) -> int:
    """Bring records in from a workbook of certgen's, from any sheet through a column map, or from a file of
    records: what an inspection left behind.

    Nothing is written unless every row is sound. A cell fills what stands empty; an empty cell erases
    nothing; what says otherwise is never overwritten unasked, and the comments in your files stay. In a
    sheet of your own the headings are found below its titles, totals are skipped, and the columns are
    guessed where there is a reason. On a terminal the rest is asked, once: the answers go into a map, which
    serves every later month (--map). Without one the map is printed, with a ? for each answer. A file that
    takes more than five minutes or 2 GB of memory is refused.
    """
    from certgen.cli.output import mend_season
    from certgen.records.tables import load_tables

    if table:
        choose([table], load_tables(), "--table")
    how = {"table": table, "dates": dates or "", "encoding": encoding, "season": season}
    with refusing(ValueError, FileExistsError), LimitedProcess(LIMITS, load) as process:
        process.begin()
        # While the process loads the same.
        from certgen.exchange.importing.opening import Spreadsheet
        from certgen.exchange.importing.record_files import ENDINGS

        records = file if file.suffix.lower() in ENDINGS else None
        if records is not None:
            _refuse_columns(table, map_file, save_map, dates)
        sheets = _open(process, file, map_file, **how) if records is None else Spreadsheet()
        _say_notes(sheets)
        _settle(sheets, file, map_file, save_map, force=force)
        if not _are_words(sheets):
            return _show_guess(sheets, season, file, save_map, force=force)
        mend_season(season)
        options = {"record_file": records, "replace": replace, "keep_going": keep_going}
        plan = _plan(process, season, file, sheets, options)
        if plan is None:
            return 2
        if _stays_open(sheets, keep_going=keep_going):
            _say_faults(plan)
            return _show_guess(sheets, season, file, save_map, force=force)
    return _finish(plan, keep_going=keep_going, dry_run=dry_run or preview, preview=preview)


def _plan(
    process: LimitedProcess, season: Path, file: Path, sheets: Spreadsheet, options: Mapping[str, Any]
) -> ImportPlan | None:
    """What the import would do; None, and the reason told, where the season can take nothing."""
    from certgen.cli.progress import show_waiting
    from certgen.exchange.importing.plan import plan_import
    from certgen.exchange.importing.trial import ImportRefusedError

    work = partial(plan_import, season_sheet=sheets.season, **options)
    try:
        with show_waiting("trying the records"):
            return _take(process.run(work, season, [*sheets.mapped, *sheets.asked]), file)
    except ImportRefusedError as fault:
        sys.stderr.write(f"certgen import: {fault}.\n")
        sys.stderr.writelines(f"  {clean(error.text())}\n" for error in fault.errors[:50])
        return None


def _say_notes(sheets: Spreadsheet) -> None:
    """What was passed over, each on a line, and every column that isn't taken over by its name."""
    for note in sheets.notes:
        sys.stderr.write(f"{clean(note)}\n")
    for name in sheets.passed_over:
        sys.stderr.write(f"Sheet '{clean(name)}' is not in the map and was passed over.\n")
    for sheet, sheet_map in (*sheets.mapped, *sheets.asked):
        parts = sheet_map.parts
        left = [
            heading
            for heading in sheet_map.columns
            if all(part.columns.get(heading) is None for part in parts)
        ]
        if left:
            names = ", ".join(f"'{heading}'" for heading in left)
            said = f"sheet '{sheet.name}': not taken over: {names}"
            sys.stderr.write(f"{clean(said)}\n")


def _is_watched() -> bool:
    """Whether somebody is there to answer."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def _is_new_map(map_file: Path | None) -> bool:
    """Whether the map is to be begun: it isn't there yet, and somebody can be asked."""
    return map_file is not None and not map_file.exists() and _is_watched()


def _are_words(sheets: Spreadsheet) -> bool:
    """Whether a saved map says all but what some words mean: each stays a fault at its cells."""
    return _is_watched() or all(sheet.name in sheets.confirmed for sheet, _ in sheets.asked)


def _stays_open(sheets: Spreadsheet, *, keep_going: bool) -> bool:
    """Whether words wait for somebody to say what they mean; with `keep_going` their rows are left out."""
    return bool(sheets.asked) and not (keep_going or _is_watched())


def _settle(
    sheets: Spreadsheet, file: Path, map_file: Path | None, save_map: Path | None, *, force: bool
) -> None:
    """Asks what the sheets ask, where somebody can answer, and keeps what was answered before an interruption
    too."""
    from certgen.cli.column_questions import ask_maps
    from certgen.exchange.importing.column_maps import IGNORED

    if not (sheets.asked and _is_watched()):
        return
    place = save_map or map_file
    if place is None:
        place = Path(click.prompt("Keep the answers in", default=f"{file.stem}-map.yaml", err=True))
    try:
        ask_maps(sheets)
    finally:
        _keep_map(sheets, place, force=force or place == map_file)
        sys.stderr.write(f"The answers are in {clean(str(place))}; next time: --map {clean(str(place))}\n")
    sheets.asked = [(sheet, sheet_map) for sheet, sheet_map in sheets.asked if sheet_map.table != IGNORED]


def _keep_map(sheets: Spreadsheet, place: Path, *, force: bool) -> str:
    """Writes the map of all sheets down; what lies there is kept beside. Returns the text.

    Into the map that the sheets were read with only the answers are put: its comments stay.
    """
    from certgen.cli.output import write_files
    from certgen.exchange.importing.map_files import map_text
    from certgen.exchange.importing.map_splices import renew_map
    from certgen.output_places.places import Output

    old = _read_own_map(sheets, place)
    text = renew_map(old, sheets.maps, sheets.remarks) if old else map_text(sheets.maps, sheets.remarks)
    write_files([Output(place, "column map", text.encode())], force=force)
    return text


def _read_own_map(sheets: Spreadsheet, place: Path) -> str:
    """The text of the map that the sheets were read with, where it lies at the place; else nothing."""
    from certgen.exchange.importing.column_maps import MapError
    from certgen.exchange.importing.map_files import read_map

    try:
        same = bool(sheets.saved) and read_map(place) == dict(sheets.saved)
        return place.read_text(encoding="utf-8") if same else ""
    except (MapError, OSError, ValueError):
        return ""


def _refuse_columns(*given: object) -> None:
    if any(given):
        message = "A file of records has no columns: leave out --table, --map, --save-map and --dates."
        raise click.UsageError(message)


def _open(process: LimitedProcess, file: Path, map_file: Path | None, **how: Any) -> Spreadsheet:
    """The sheets of a file, read as `how` says. Raises ValueError as `open_spreadsheet` and `_take` do."""
    from certgen.cli.progress import show_waiting
    from certgen.exchange.importing.opening import open_for_season

    saved = None if _is_new_map(map_file) else map_file
    with show_waiting("reading the sheet"):
        return _take(process.run(partial(open_for_season, map_file=saved, **how), file), file)


def _take(outcome: Outcome[Value], file: Path) -> Value:
    """What came of reading the file. Raises ValueError where it passed a limit."""
    if outcome.passed:
        message = f"{file.name} {outcome.reason}; split it, or save a copy without empty rows and pictures"
        raise ValueError(message)
    return outcome.value


def _show_guess(sheets: Spreadsheet, season: Path, file: Path, save_map: Path | None, *, force: bool) -> int:
    from certgen.exchange.importing.column_maps import OPEN
    from certgen.exchange.importing.map_files import map_text

    how = "Save it (--save-map map.yaml)"
    if save_map is not None:
        sys.stdout.write(_keep_map(sheets, save_map, force=force))
        how = f"It is in {save_map}"
    else:
        sys.stdout.write(map_text(sheets.maps, sheets.remarks))
    typed = (season, name_input(file), save_map or "map.yaml")
    folder, sheet, name = (shlex.quote(str(path)) for path in typed)
    asked = sum(len(sheets.questions(sheet, sheet_map)) for sheet, sheet_map in sheets.asked)
    said = (
        " What is new in the columns above is a guess." if sheets.saved else " The columns above are a guess."
    )
    if _are_words(sheets):
        said = ""
    if asked:
        said += f" Answer what says ? in the map ({count(asked, 'question')})."
    if any(sheet_map.table == OPEN for _, sheet_map in sheets.asked):
        said += " A sheet that holds no records says: table: ignore."
    sys.stderr.write(
        f"Nothing was imported.{said} {how}, look it over, mend it, then run: "
        f"certgen import {folder} {sheet} --map {name}\n"
    )
    return 2


def _say_faults(plan: ImportPlan) -> None:
    from certgen.exchange.importing.fault_groups import group_faults

    sys.stderr.writelines(f"{clean(line)}\n" for line in group_faults(plan.faults))


def _finish(plan: ImportPlan, *, keep_going: bool, dry_run: bool, preview: bool) -> int:
    _say_faults(plan)
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
    _tell_fields(plan, everything=preview)
    return _tell(plan, "would be " if dry_run else "")


def _tell_fields(plan: ImportPlan, *, everything: bool) -> None:
    """Each field that changes, from what to what; without `everything` those that said something else."""
    from certgen.exchange.importing.merging import show_pair

    out = Terminal()
    for record in plan.list_fields(new=everything):
        told = [field for field in record.fields if everything or field.before is not None]
        if told:
            out.line(clean(f"{record.record}{', new' if record.new else ''}"))
        for name, before, after in told:
            old, new = show_pair(before, after)
            out.line(clean(f"  {name}: {new}" if record.new else f"  {name}: {old} -> {new}"))


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
