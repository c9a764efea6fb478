"""What a sheet's columns and words mean, asked of whoever sits at the terminal: once, and kept in a map."""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import click

from certgen.cli.terminal import clean
from certgen.exchange.importing.cells import as_text
from certgen.exchange.importing.column_evidence import Column, count_fitting, kind_of
from certgen.exchange.importing.column_maps import IGNORED, OPEN, SheetMap, Target, find_field, known_fields
from certgen.exchange.importing.heading_names import list_candidates
from certgen.exchange.importing.headings import take_as
from certgen.exchange.importing.questions import Question, answer
from certgen.records.tables import load_tables
from certgen.rules.wording import count

#: What stands between the texts of columns that are put together.
_JOIN: Final = "; "
#: So many fields are offered for a column.
_FIELDS: Final = 14

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from certgen.exchange.importing.grids import Sheet
    from certgen.exchange.importing.opening import Spreadsheet
    from certgen.records.tables import Field, Table


def ask_maps(sheets: Spreadsheet) -> list[SheetMap]:
    """The maps of all sheets that wait, answered. On `click.Abort` what was answered is in `sheets.asked`."""
    done = []
    told: dict[tuple[str, str], str] = {}
    for place, (sheet, sheet_map) in enumerate(sheets.asked):

        def keep(changed: SheetMap, place: int = place, sheet: Sheet = sheet) -> SheetMap:
            sheets.asked[place] = (sheet, changed)
            return changed

        done.append(_ask_sheet(sheets, sheet, sheet_map, keep, told))
    return done


def _ask_sheet(
    sheets: Spreadsheet,
    sheet: Sheet,
    sheet_map: SheetMap,
    keep: Callable[[SheetMap], SheetMap],
    told: dict[tuple[str, str], str],
) -> SheetMap:
    _say(f"\nSheet '{sheet.name}', {count(len(sheet.rows), 'row')}")
    if sheet_map.table == OPEN:
        table = _ask_table(sheets, sheet_map)
        sheet_map = keep(sheets.reguess(sheet, replace(sheet_map, table=table)))
        if table == IGNORED:
            return sheet_map
    if sheet.name not in sheets.confirmed:
        sheet_map = keep(_ask_columns(sheets, sheet, sheet_map))
    while questions := sheets.questions(sheet, sheet_map):
        for question in questions:
            sheet_map = keep(answer(sheet_map, question, _ask_once(question, told)))
    return sheet_map


def _ask_table(sheets: Spreadsheet, sheet_map: SheetMap) -> str:
    """The table of a sheet that nothing tells; most such sheets hold no records."""
    _say(f"  Nothing shows which table it is. {sheets.reasons.get((sheet_map.sheet, ''), '')}")
    return _choose("  Which table is it?", [*load_tables(), IGNORED], IGNORED)


def _ask_once(question: Question, told: dict[tuple[str, str], str]) -> str:
    """An answer: the one that another sheet had about its days or commas; else it is asked, and what every
    row has is offered as it was told last."""
    same = (question.kind, question.heading)
    before = told.get(same, "")
    if question.kind in {"dates", "decimal"} and before:
        _say(f"  {question.kind}: {before}, as told above")
        return before
    if question.kind == "constant" and before in question.choices:
        question = replace(question, suggestion=question.suggestion or before)
    told[same] = _ask(question)
    return told[same]


def _ask_columns(sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap) -> SheetMap:
    """Shows what each column was taken for and why, and asks about those that were taken for nothing.

    What a saved map tells of a column isn't asked again.
    """
    waiting = sheets.open_columns.get(sheet.name, frozenset(sheet_map.columns))
    if not waiting:
        return sheet_map
    asked = [heading for heading in sheet_map.columns if heading in waiting]
    _say_columns(sheets, sheet_map, asked)
    wrong: Collection[str] = ()
    if not click.confirm("  Is that right?", default=True, err=True):
        kept = tuple(one for one in sheet_map.also if _keep_further(one))
        sheet_map, wrong = replace(sheet_map, also=kept), _ask_wrong(asked)
    further = _list_further(sheet_map)
    for heading in asked:
        known = sheet_map.columns[heading] is not None
        if heading in wrong or not (known or heading in further):
            sheet_map = _ask_column(sheets, sheet, sheet_map, heading)
    return sheet_map


def _ask_wrong(asked: Sequence[str]) -> list[str]:
    """The columns that somebody says were taken for what they are not."""
    by_name = {heading.casefold(): heading for heading in asked}
    while True:
        given = _prompt("  Which columns are not? Their headings, with ; between, or all", "all")
        named = [part.strip().casefold() for part in given.split(";") if part.strip()]
        unknown = [part for part in named if part not in by_name and part != "all"]
        if not unknown:
            return list(asked) if "all" in named else [by_name[part] for part in named]
        _say(f"    {_hint(unknown[0], list(by_name))}")


def _list_further(sheet_map: SheetMap) -> set[str]:
    """The headings that a further table takes."""
    return {heading for part in sheet_map.also for heading in part.columns if part.columns[heading]}


def _say_columns(sheets: Spreadsheet, sheet_map: SheetMap, asked: Sequence[str]) -> None:
    """What each column was taken for and why, in this table and in the further ones."""
    _say(f"  taken for records of {sheet_map.table}{_tell_rows(sheet_map)}:")
    further = _list_further(sheet_map)
    for heading in asked:
        if sheet_map.columns[heading] is not None or heading not in further:
            why = sheets.reasons.get((sheet_map.sheet, heading), "")
            _say(f"    {heading}: {_tell(sheet_map.columns[heading])}  ({why})")
    for part in sheet_map.also:
        _say_further(sheets, sheet_map, part)


def _tell_rows(part: SheetMap) -> str:
    return ", several rows to one record" if part.repeats else ""


def _say_further(sheets: Spreadsheet, sheet_map: SheetMap, part: SheetMap) -> None:
    """A further table that the same rows fill, with its columns."""
    where = f", in rows that have '{part.where}'" if part.where else ""
    _say(f"  the same rows tell of {part.table}{where}{_tell_rows(part)}:")
    for heading, target in part.columns.items():
        if target is not None:
            own = sheet_map.columns.get(heading) is None
            why = sheets.reasons.get((part.sheet, heading), "") if own else "it joins the two"
            _say(f"    {heading}: {_tell(target)}  ({why})")


def _keep_further(part: SheetMap) -> bool:
    return click.confirm(f"  Do the same rows tell of {part.table}?", default=True, err=True)


def _tell(target: Target | None) -> str:
    if target is None:
        return "not taken over"
    told = " and ".join(target.names) if target.fields and not target.entries else target.field
    return f"{told} in {target.unit}" if target.unit else told


def _ask_column(sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap, heading: str) -> SheetMap:
    """The map with what somebody says that a column is."""
    table = load_tables()[sheet_map.table]
    now = sheet_map.columns[heading]
    default = IGNORED if now is None else now.field
    taken = _list_taken(sheet_map, heading)
    likely = _list_likely(sheets, sheet, sheet_map, heading, taken)
    _say(f"    fields that it can be: {', '.join(likely)}; or {IGNORED}")
    text = f"  Column '{heading}' ({sheets.reasons.get((sheet_map.sheet, heading), '')}): which field?"
    while True:
        given = _name_field(_prompt(text, default).strip(), table)
        if given == default:
            return sheet_map
        if given == IGNORED:
            return _with_column(sheet_map, heading, None)
        field = find_field(table, sheet_map.child, given)
        if field is not None and given not in taken:
            return _with_column(sheet_map, heading, take_as(sheet, heading, table, given, sheets.known))
        if _may_join(given, field):
            return _join_columns(sheet_map, heading, given)
        free = [name for name in known_fields(table, sheet_map.child) if name not in taken]
        _say(f"    {_hint(given, free)}" if field is None else f"    Another column is `{given}` already.")


def _list_likely(
    sheets: Spreadsheet, sheet: Sheet, sheet_map: SheetMap, heading: str, taken: Collection[str]
) -> list[str]:
    """Some of the fields that nothing fills yet and that the column's cells can be, those of words last."""
    index = next(at for at, cell in sheet.headings.items() if str(cell.value).strip() == heading)
    column = Column.of(sheet, index)
    fields = known_fields(load_tables()[sheet_map.table], sheet_map.child)
    fitting = [name for name, field in fields.items() if _is_offered(column, field, name, taken, sheets)]
    return sorted(fitting, key=lambda name: kind_of(fields[name]) in {"text", "identifier"})[:_FIELDS]


def _is_offered(column: Column, field: Field, name: str, taken: Collection[str], sheets: Spreadsheet) -> bool:
    """Whether a field is worth naming for a column: nothing fills it, or it takes more, and the cells fit."""
    if (name in taken and name != "note") or field.kind == "evidence":
        return False
    referred = field.refers_to or (field.item.refers_to if field.item is not None else ())
    if referred:
        there = {one for table in referred for one in sheets.known.all_identifiers.get(table, ())}
        return any(as_text(cell.value).strip() in there for cell in column.cells)
    return count_fitting(column, field, "", sheets.known.words)[0] == 1


def _name_field(given: str, table: Table) -> str:
    """The field that an answer means: by its name, or what else it may be called."""
    if find_field(table, "", given) is not None or given == IGNORED:
        return given
    called = [one.name for likeness, one, *_ in list_candidates(given, table.name) if likeness == 1]
    return called[0] if len(set(called)) == 1 else given


def _may_join(name: str, field: Field | None) -> bool:
    """Whether a text takes two columns; other fields take one."""
    question = f"    Another column is `{name}` already. Put both into it?"
    return field is not None and field.kind == "text" and click.confirm(question, default=True, err=True)


def _with_column(sheet_map: SheetMap, heading: str, target: Target | None) -> SheetMap:
    return replace(sheet_map, columns={**sheet_map.columns, heading: target})


def _join_columns(sheet_map: SheetMap, heading: str, name: str) -> SheetMap:
    """The map where a column joins those that make up the field of that name already."""
    joined = {
        other: replace(target, join=target.join or _JOIN)
        for other, target in sheet_map.columns.items()
        if target is not None and target.field == name and not target.fields
    }
    join = next(iter(joined.values())).join if joined else _JOIN
    return replace(sheet_map, columns={**sheet_map.columns, **joined, heading: Target(name, join=join)})


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
