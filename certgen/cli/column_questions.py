"""What a sheet's columns and words mean, asked of whoever sits at the terminal: once, and kept in a map."""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from certgen.cli.terminal import clean
from certgen.exchange.importing.column_maps import IGNORED, OPEN, SheetMap, Target, find_field, known_fields
from certgen.exchange.importing.headings import take_as
from certgen.exchange.importing.questions import Question, answer
from certgen.records.tables import load_tables
from certgen.rules.wording import count

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from certgen.exchange.importing.grids import Sheet
    from certgen.exchange.importing.opening import Spreadsheet


def ask_maps(sheets: Spreadsheet) -> list[SheetMap]:
    """The maps of all sheets that wait, answered. On `click.Abort` what was answered is in `sheets.asked`."""
    done = []
    for place, (sheet, sheet_map) in enumerate(sheets.asked):

        def keep(changed: SheetMap, place: int = place, sheet: Sheet = sheet) -> SheetMap:
            sheets.asked[place] = (sheet, changed)
            return changed

        done.append(_ask_sheet(sheets, sheet, sheet_map, keep))
    return done


def _ask_sheet(
    sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap, keep: Callable[[SheetMap], SheetMap]
) -> SheetMap:
    _say(f"\nSheet '{sheet.name}', {count(len(sheet.rows), 'row')}")
    if sheet_map.table == OPEN:
        table = _choose(
            f"Which table is it? {sheets.reasons.get((sheet_map.sheet, ''), '')}", [*load_tables(), IGNORED]
        )
        sheet_map = keep(sheets.reguess(sheet, replace(sheet_map, table=table)))
        if table == IGNORED:
            return sheet_map
    if sheet.name not in sheets.confirmed:
        sheet_map = keep(_ask_columns(sheets, sheet, sheet_map))
    while questions := sheets.questions(sheet, sheet_map):
        for question in questions:
            sheet_map = keep(answer(sheet_map, question, _ask(question)))
    return sheet_map


def _ask_columns(sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap) -> SheetMap:
    """Shows what each column was taken for and why, and asks about those that were taken for nothing.

    What a saved map tells of a column isn't asked again.
    """
    waiting = sheets.open_columns.get(sheet.name, frozenset(sheet_map.columns))
    if not waiting:
        return sheet_map
    _say(f"  taken for records of {sheet_map.table}:")
    columns = dict(sheet_map.columns)
    asked = [heading for heading in columns if heading in waiting]
    for heading in asked:
        why = sheets.reasons.get((sheet_map.sheet, heading), "")
        _say(f"    {heading}: {_tell(columns[heading])}  ({why})")
    right = click.confirm("  Is that right?", default=True, err=True)
    for heading in [name for name in asked if not (right and columns[name])]:
        columns[heading] = _ask_column(sheets, sheet, replace(sheet_map, columns=columns), heading)
    return replace(sheet_map, columns=columns)


def _tell(target: Target | None) -> str:
    if target is None:
        return "not taken over"
    return f"{target.field} in {target.unit}" if target.unit else target.field


def _ask_column(sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap, heading: str) -> Target | None:
    table = load_tables()[sheet_map.table]
    now = sheet_map.columns[heading]
    taken = _list_taken(sheet_map, heading)
    text = f"  Column '{heading}' ({sheets.reasons.get((sheet_map.sheet, heading), '')}): which field?"
    while True:
        given = _prompt(text, now.field if now else IGNORED).strip()
        if given == IGNORED:
            return None
        if now is not None and given == now.field:
            return now
        if given in taken:
            _say(f"    Another column is `{given}` already.")
        elif find_field(table, sheet_map.child, given) is not None:
            return take_as(sheet, heading, table, given, sheets.known)
        else:
            free = [name for name in known_fields(table, sheet_map.child) if name not in taken]
            _say(f"    {_hint(given, free)}")


def _list_taken(sheet_map: SheetMap, heading: str) -> set[str]:
    """The fields that other columns fill."""
    others = [target for name, target in sheet_map.columns.items() if target and name != heading]
    return {name for target in others for name in target.names}


def _ask(question: Question) -> str:
    """An answer that the question takes."""
    if question.choices and not question.suggestion:
        _say(f"    one of: {', '.join(question.choices)}")
    if not question.choices:
        return _prompt(f"  {question.text}", question.suggestion).strip()
    return _choose(f"  {question.text}", question.choices, question.suggestion)


def _choose(text: str, choices: Sequence[str], suggestion: str = "") -> str:
    while True:
        given = _prompt(text, suggestion).strip()
        found = [choice for choice in choices if choice.casefold() == given.casefold()]
        if given.casefold() in {"y", "yes"} and suggestion and not found:
            return suggestion
        if found:
            return found[0]
        _say(f"    {_hint(given, choices)}")


def _hint(given: str, choices: Sequence[str]) -> str:
    close = difflib.get_close_matches(given, choices, 1)
    return f"Did you mean {close[0]}?" if close else f"Write one of: {', '.join(choices)}"


def _prompt(text: str, suggestion: str) -> str:
    given: str = click.prompt(clean(text), default=suggestion or None, err=True, type=str)
    return given


def _say(text: str) -> None:
    click.echo(clean(text), err=True)
