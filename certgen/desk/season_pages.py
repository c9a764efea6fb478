"""Season: what holds for the season as a whole (operation, standards, events of concern, routine, practice),
seen and changed in a form like any record.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.desk.answering import address, go_to, say_saved
from certgen.desk.entry_kinds import usual_units
from certgen.desk.entry_pages import keep_typed, label_of, offer_names, say_faults
from certgen.desk.form_fields import FormField, Words, build_field, show_value, with_dates
from certgen.desk.form_reading import FieldFault, FormReading, read_form
from certgen.desk.saving import Mending, Outcome, save
from certgen.exchange.spreadsheets.rows import is_child
from certgen.records.tables import Column, Field, load_season_table
from certgen.standards import StandardError, load_profile, load_rulebook

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot

#: The field that holds what a mapping's own names are, where its names are the grower's to choose.
_NAME: Final = "name"
#: What a mapping says under each name, where that is one value: its field in a form.
_VALUE: Final = "value"
#: The parts of the page, each with the fields that it begins with; what is left stands in the last.
_PARTS: Final = (
    ("Operation", "operation."),
    ("Season", "label from to crop standards events_of_concern previous scale_step"),
    ("Routine", "routine."),
    ("Own practice", "practice review_triggers"),
    ("Plan and map", "plan map."),
    ("More", ""),
)
_NAMING: Final[Mapping[str, str]] = MappingProxyType(
    {
        "practice": "What the range is of, as the crop's profile calls it.",
        "review_triggers": "What the percentage is of: mass_balance is the difference over all seed.",
    }
)


def list_columns() -> tuple[tuple[Column, ...], tuple[Column, ...]]:
    """The columns of the `season` mapping that a form can show, and those that it can't.

    A mapping whose names are the grower's own (`practice`) is a list of entries here, each with its name.
    """
    shown: list[Column] = []
    left: list[Column] = []
    for column in load_season_table().columns:
        if column.kind == "mapping" and not column.field.fields:
            made = _name_entries(column)
            (shown if made is not None else left).append(made or column)
        else:
            shown.append(column)
    return tuple(shown), tuple(left)


def _name_entries(column: Column) -> Column | None:
    """A mapping of free names as a list of entries; None for one that isn't a level or two deep."""
    item = column.field.item
    if item is None or any(field.fields or field.item for field in item.fields.values()):
        return None
    called = Field(_NAME, "text", required=True, title="Of", description=_NAMING.get(column.name, ""))
    fields = {_NAME: called, **(item.fields or {_VALUE: replace(item, name=_VALUE)})}
    entry = Field(column.name, "mapping", fields=MappingProxyType(fields))
    return Column(column.name, column.path, replace(column.field, kind="list", item=entry))


def _is_named(column: Column) -> bool:
    """Whether the entries of a column are a mapping in the file."""
    return (
        is_child(column) and next(iter(column.field.item.fields), "") == _NAME if column.field.item else False
    )


def spread(details: Mapping[str, Any]) -> dict[str, Any]:
    """The `season` mapping as its form shows it: mappings of free names are lists of entries."""
    shown = dict(details)
    for column in filter(_is_named, list_columns()[0]):
        entries = [
            {_NAME: name, **(says if isinstance(says, dict) else {_VALUE: says})}
            for name, says in dict(details.get(column.name) or {}).items()
        ]
        if entries:
            shown[column.name] = entries
    return shown


def gather_names(reading: FormReading) -> None:
    """The entries of a reading with the names that they have in the file; two of one name are a fault."""
    for column in filter(_is_named, list_columns()[0]):
        entries = reading.values.get(column.name)
        if entries is None:
            continue
        named: dict[str, Any] = {}
        for number, entry in enumerate(entries):
            name = str(entry.get(_NAME, ""))
            if not name or name in named:
                says = f"{name} stands here twice." if name else "say what this is of."
                reading.faults.append(FieldFault(f"{column.name}.{number}.{_NAME}", says))
                continue
            rest = {key: value for key, value in entry.items() if key != _NAME}
            named[name] = rest.get(_VALUE) if set(rest) <= {_VALUE} else rest
        if show_value(named) == reading.was.get(column.name):
            del reading.values[column.name], reading.was[column.name]
        else:
            reading.values[column.name] = named


def show_season(desk: Desk, ask: Ask) -> Response:
    """The form of the season."""
    return _show_season(desk, ask, desk.held.look())


def send_season(desk: Desk, ask: Ask) -> Response:
    """Saves what was changed; everything else of the mapping stays as it is in the file."""
    snapshot = desk.held.look()
    columns = [column for column in list_columns()[0] if f"was.{column.name}" in ask.form]
    reading = read_form(columns, ask.form, snapshot.result.profile.words)
    gather_names(reading)
    faults = [*reading.faults, *_find_unknown(reading), *_find_needed(reading, columns, ask.form)]
    now = {**reading.values, **dict.fromkeys(reading.cleared)}
    outcome = Outcome() if faults else save(desk.held, [Mending("season", "", now, reading.was)])
    faults += [fault for _, fault in outcome.faults]
    if faults or outcome.conflicts:
        return _show_season(desk, ask, desk.held.look(), faults, outcome)
    return go_to(address("season", **say_saved(outcome)))


def _find_unknown(reading: FormReading) -> Iterator[FieldFault]:
    """A crop or standard that certgen doesn't know: with it the season couldn't be read any more."""
    for name, load in (("crop", load_profile), ("standards", load_rulebook)):
        said = reading.values.get(name, ())
        for key in (said,) if isinstance(said, str) else said:
            try:
                load(key)
            except StandardError as fault:
                yield FieldFault(name, f"{fault}.")


def _find_needed(
    reading: FormReading, columns: Sequence[Column], form: Mapping[str, str]
) -> Iterator[FieldFault]:
    """A field that was emptied and is needed: by the season, or by what else its mapping still says."""
    for column in columns:
        if column.required and column.name in reading.cleared:
            beside = [one.name for one in columns if one.path[:-1] == column.path[:-1] != ()]
            if not beside or any(form.get(name, "").strip() for name in beside):
                yield FieldFault(column.name, "this is needed.")


def _show_season(
    desk: Desk,
    ask: Ask,
    snapshot: Snapshot,
    faults: Sequence[FieldFault] = (),
    outcome: Outcome | None = None,
) -> Response:
    details = snapshot.season.details
    columns, left = list_columns()
    words, units = snapshot.result.profile.words, usual_units(snapshot)
    there = with_dates(details.raw)
    record = spread(there)
    fields = [keep_typed(_build(column, words, record, there, units), ask.form) for column in columns]
    conflicts = outcome.conflicts if outcome is not None else []
    wrong = [error.text() for error in snapshot.result.errors if error.file == details.file]
    return desk.show(
        "season",
        snapshot,
        status=422 if faults else 409 if conflicts else 200,
        page="season",
        file=details.file,
        parts_of=list(_part(fields)),
        left=[column.field.title or column.name for column in left if details.raw.get(column.name)],
        events=snapshot.result.profile.events,
        practice=snapshot.result.profile.practice,
        wrong=wrong,
        conflicts=[(label_of(fields, one.column), one) for one in conflicts],
        **say_faults(faults, fields),
        offered=offer_names(fields, snapshot),
        said=ask.query,
        first=ask.query.get("field", ""),
    )


def _build(
    column: Column,
    words: Words,
    record: Mapping[str, Any],
    details: Mapping[str, Any],
    units: Mapping[str, str],
) -> FormField:
    made = build_field(column, words, record, units)
    # What stood there is told as it stands in the file.
    return replace(made, was=show_value(details.get(column.name))) if _is_named(column) else made


def _part(fields: Sequence[FormField]) -> Iterator[tuple[str, list[FormField]]]:
    left = list(fields)
    for title, names in _PARTS:
        chosen = [one for one in left if _belongs(one.name, names)]
        left = [one for one in left if one not in chosen]
        if chosen:
            yield title, chosen


def _belongs(name: str, names: str) -> bool:
    listed = names.split()
    return not listed or any(name == one or (one.endswith(".") and name.startswith(one)) for one in listed)
