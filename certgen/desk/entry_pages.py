"""Enter: what was done today, a form a kind; and any record's own page, with every field of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from certgen.desk.answering import RefusedError, address, find_table, go_to, hand, say_saved
from certgen.desk.entry_kinds import (
    KINDS,
    EntryKind,
    complete_record,
    fill_again,
    fill_form,
    find_kind,
    list_awaited,
    name_writer,
    refill,
    say_again,
    usual_units,
)
from certgen.desk.field_words import label_column, say_fields
from certgen.desk.form_fields import FormField, build_field, is_picture
from certgen.desk.form_reading import FieldFault, FormReading, complete_numbers, find_unknown, read_form
from certgen.desk.record_links import list_naming, list_next
from certgen.desk.saving import Addition, Mending, Outcome, next_number, save, try_out
from certgen.dossier.line import Line
from certgen.lineage import Node
from certgen.records.nouns import noun
from certgen.records.record_files.files import find_evidence
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot

#: Tables whose numbers are offered while typing, as long as they are no more than a list can show.
_OFFERED = 3000


def show_kinds(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001 (every page is asked the same way)
    """What can be entered."""
    return desk.show("enter", desk.held.look(), page="enter", kinds=KINDS.values(), tables=load_tables())


def show_entry(desk: Desk, ask: Ask) -> Response:
    """The form of one kind, filled as far as the last entry and the address tell."""
    kind, snapshot = _find_kind(ask), desk.held.look()
    given = {name: text for name, text in ask.query.items() if name in {*kind.fields, *kind.more}}
    return _show_entry(desk, snapshot, kind, fill_form(kind, snapshot, given, snapshot.result.on), ask)


def send_entry(desk: Desk, ask: Ask) -> Response:
    """Saves an entry, and shows the form of the next one."""
    kind, snapshot = _find_kind(ask), desk.held.look()
    if ask.form.get("again") == "yes":
        ask = replace(ask, form=fill_again(kind, snapshot, ask.form))
    reading, addition = _read_entry(kind, snapshot, ask.form)
    faults = [*reading.faults, *_list_unknown(addition, snapshot, ask.form)]
    outcome = Outcome() if faults else save(desk.held, [addition])
    faults += [fault for _, fault in outcome.faults]
    if faults:
        fields = fill_form(kind, snapshot, ask.form, snapshot.result.on, sent=True)
        return _show_entry(desk, desk.held.look(), kind, fields, ask, faults)
    told = say_saved(outcome)
    tree = str(addition.values.get("tree", ""))
    if "saved" in told and tree != ask.form.get("tree", "").strip():
        # It was named by its bare number.
        told["saved"] += f" on tree {tree}"
    return go_to(address("enter", kind.slug, **told))


def try_entry(desk: Desk, ask: Ask) -> Response:
    """What is wrong with an entry as far as it is typed, for the fields that hold something."""
    kind, snapshot = _find_kind(ask), desk.held.look()
    reading, addition = _read_entry(kind, snapshot, ask.form)
    faults = [*reading.faults, *find_unknown(kind.table, addition.values, snapshot.season)]
    if not reading.faults:
        faults += [fault for _, fault in try_out(snapshot, [addition]).faults]
    told = {
        fault.name: say_fields(fault.says, kind.table) for fault in faults if _is_typed(fault.name, ask.form)
    }
    return hand({"faults": told, "meant": _list_meant(reading, ask.form)})


def _list_meant(reading: FormReading, form: Mapping[str, str]) -> dict[str, str]:
    """The fields that are taken for another name than was typed, each with that name."""
    return {
        name: value
        for name, value in reading.values.items()
        if isinstance(value, str) and form.get(name, "").strip().isdecimal() and value != form[name].strip()
    }


def _is_typed(name: str, form: Mapping[str, str]) -> bool:
    return bool(form.get(name, "").strip())


def _find_kind(ask: Ask) -> EntryKind:
    kind = KINDS.get(ask.path.get("kind", ""))
    if kind is None:
        raise RefusedError(f"There is no entry of the kind '{ask.path.get('kind', '')}'.")
    return kind


def _read_entry(kind: EntryKind, snapshot: Snapshot, form: Mapping[str, str]) -> tuple[FormReading, Addition]:
    reading = read_form(kind.columns(), form, snapshot.result.profile.words)
    if form.get("anyway") != "yes":
        complete_numbers(reading, kind.columns(), snapshot.season)
    record = complete_record(kind, reading.record(kind.table), form, snapshot.season)
    return reading, Addition(kind.table, record)


def _list_unknown(addition: Addition, snapshot: Snapshot, form: Mapping[str, str]) -> list[FieldFault]:
    """Numbers that nothing bears, unless the form says that they are meant."""
    if form.get("anyway") == "yes":
        return []
    return list(find_unknown(addition.table, addition.values, snapshot.season))


def _show_entry(
    desk: Desk,
    snapshot: Snapshot,
    kind: EntryKind,
    fields: tuple[tuple[FormField, ...], tuple[FormField, ...]],
    ask: Ask,
    faults: Sequence[FieldFault] = (),
) -> Response:
    asked, more = fields
    return desk.show(
        "entry",
        snapshot,
        status=422 if faults else 200,
        page="enter",
        kind=kind,
        kinds=KINDS.values(),
        asked=asked,
        more=more,
        again=say_again(kind, snapshot),
        picks="tree" in kind.fields,
        awaited=list_awaited(snapshot) if kind.slug == "results" else [],
        cautions=snapshot.result.profile.cautions.at(*kind.work),
        more_open=any(
            fault.name.split(".")[0] in {one.name.split(".")[0] for one in more} for fault in faults
        ),
        **say_faults(faults, (*asked, *more)),
        offered=offer_names((*asked, *more), snapshot),
        said=ask.query,
        first=_first_empty(asked),
    )


def say_faults(faults: Sequence[FieldFault], fields: Iterable[FormField]) -> dict[str, object]:
    """The faults by field, and those that no field of the form can show."""
    shown = {name for one in fields for name in _names(one)}
    by_field: dict[str, str] = {}
    other = []
    for fault in (fault._replace(says=say_fields(fault.says, "")) for fault in faults):
        name = fault.name if fault.name in shown else fault.name.split(".")[0]
        if name in shown:
            by_field.setdefault(name, fault.says)
        else:
            other.append(fault.says)
    unknown = any("is called '" in fault.says for fault in faults)
    return {"faults": by_field, "other_faults": other, "may_insist": unknown, "refused": bool(faults)}


def _names(one: FormField) -> list[str]:
    return [one.name, *(name for row in one.rows for inner in row for name in _names(inner))]


def _first_empty(fields: Sequence[FormField]) -> str:
    """Where the next entry begins: the first field that nothing stands in."""
    empty = (one.rows[0][0].name if one.rows else one.name for one in fields if not one.value)
    return next(empty, fields[0].name if fields else "")


def offer_names(fields: Iterable[FormField], snapshot: Snapshot) -> dict[str, tuple[str, ...]]:
    """The numbers that fields may name, by their tables: what a browser lists while somebody types."""
    tables = {
        one.refers_to for field in fields for one in (field, *(inner for row in field.rows for inner in row))
    }
    found = {}
    for names in tables:
        if not names:
            continue
        known = [
            str(key)
            for name in names
            for key in snapshot.season.tables[name][load_tables()[name].key].tolist()
        ]
        found["-".join(names)] = tuple(known[-_OFFERED:])
    return found


def show_record(desk: Desk, ask: Ask) -> Response:
    """A record with every field that its table has, what is found at it, and what names it."""
    return _show_record(desk, ask, desk.held.look())


def send_record(desk: Desk, ask: Ask) -> Response:
    """Saves what was changed of a record."""
    snapshot = desk.held.look()
    if snapshot.season.row(find_table(ask), ask.path.get("name", "")) is None:
        return _hand_back(desk, ask, snapshot)
    table, name = _find_record(ask, snapshot)
    columns = [column for column in load_tables()[table].columns if f"was.{column.name}" in ask.form]
    reading = read_form(columns, ask.form, snapshot.result.profile.words)
    faults = list(reading.faults)
    mending = Mending(table, name, {**reading.values, **dict.fromkeys(reading.cleared)}, reading.was)
    if not faults and ask.form.get("anyway") != "yes":
        faults += find_unknown(table, reading.record(table), snapshot.season)
    outcome = Outcome() if faults else save(desk.held, [mending])
    faults += [fault for _, fault in outcome.faults]
    if faults or outcome.conflicts:
        return _show_record(desk, ask, desk.held.look(), faults, outcome)
    back = ask.form.get("back", "")
    where = address("findings") if back == "findings" else address("record", table, name)
    return go_to(where + "?" + address("", **say_saved(outcome)).partition("?")[2])


def _hand_back(desk: Desk, ask: Ask, snapshot: Snapshot) -> Response:
    """What was typed for a record that isn't there any more, or whose file can't be read just now: it can be
    sent once more, and until then it stands on the page.
    """
    table = load_tables()[find_table(ask)]
    typed = [
        (label_column(column), ask.form[column.name])
        for column in table.columns
        if ask.form.get(column.name, "").strip() != ask.form.get(f"was.{column.name}", "").strip()
    ]
    says = f"Not saved: {noun(table.name)} '{ask.path.get('name', '')}' isn't among the records just now."
    return desk.show(
        "refused",
        snapshot,
        status=409,
        page="",
        says=says,
        typed=typed,
        again=dict(ask.form),
        where=address("record", table.name, ask.path.get("name", "")),
    )


def _find_record(ask: Ask, snapshot: Snapshot) -> tuple[str, str]:
    table, name = find_table(ask), ask.path.get("name", "")
    if snapshot.season.row(table, name) is None:
        raise RefusedError(f"There is no {noun(table)} '{name}' among this season's records.")
    return table, name


def _show_record(
    desk: Desk,
    ask: Ask,
    snapshot: Snapshot,
    faults: Sequence[FieldFault] = (),
    outcome: Outcome | None = None,
) -> Response:
    table, name = _find_record(ask, snapshot)
    declared = load_tables()[table]
    record = snapshot.season.record(table, name) or {}
    words, units = snapshot.result.profile.words, usual_units(snapshot)
    fields = [
        build_field(column, words, record, units)
        for column in declared.columns
        if column.name != declared.key
    ]
    if ask.form:
        fields = [keep_typed(one, ask.form) for one in fields]
    conflicts = outcome.conflicts if outcome is not None else []
    row = snapshot.season.row(table, name)
    place = snapshot.season.place(table, row or 0)
    return desk.show(
        "record",
        snapshot,
        status=422 if faults else 409 if conflicts else 200,
        page="tables",
        table=declared,
        name=name,
        fields=fields,
        conflicts=[(label_of(fields, one.column), one) for one in conflicts],
        gaps=_list_gaps(snapshot, table, name),
        naming=list_naming(snapshot.season, table, name),
        about=_describe(snapshot, table, name),
        steps=list_next(table, name),
        papers=_list_papers(snapshot, record),
        line=snapshot.season.locate([place])[place][0],
        file=place.file,
        attested=_list_attested(snapshot, table, row or 0, record),
        **say_faults(faults, fields),
        offered=offer_names(fields, snapshot),
        said=ask.query,
        first=ask.query.get("field", ""),
    )


def _describe(snapshot: Snapshot, table: str, name: str) -> str:
    """What a record says in a few words, with what the checks make of it."""
    about = Line(snapshot.result, Node(table, name)).describe(Node(table, name))
    return about[:1].upper() + about[1:]


def _list_papers(snapshot: Snapshot, record: Mapping[str, Any]) -> list[tuple[str, bool, bool]]:
    """The papers that a record names: each with whether it is a picture, and whether it is there."""
    held = record.get("evidence") or ()
    return [
        (name, is_picture(name), find_evidence(snapshot.folder, name) is not None)
        for name in ((held,) if isinstance(held, str) else held)
    ]


def label_of(fields: Sequence[FormField], column: str) -> str:
    """What a form calls a column."""
    return next((one.label for one in fields if one.name == column), column)


def keep_typed(made: FormField, form: Mapping[str, str]) -> FormField:
    """What was typed stays typed; what the form was made from is what stands there now, so that whoever saves
    again has seen it.
    """
    was = form.get(f"was.{made.name}")
    untouched = not made.rows and form.get(made.name, "").strip() == (was or "").strip()
    return made if was is None or untouched else refill(made, form)


def _list_gaps(snapshot: Snapshot, table: str, name: str) -> list[tuple[int, Any]]:
    return [(number, snapshot.result.gap(number)) for number in snapshot.result.numbers_of(Node(table, name))]


def _list_attested(
    snapshot: Snapshot, table: str, row: int, record: Mapping[str, Any]
) -> list[tuple[str, str, str]]:
    """What rounds, letters and the routine say of a record that it doesn't say itself: field, value, who."""
    from certgen.desk.form_fields import show_value, value_at
    from certgen.records.rows import plain_value

    completed = snapshot.result.season
    found = []
    for column in load_tables()[table].columns:
        says = completed.attested.get((table, column.name), ())
        who = says[row] if row < len(says) else ""
        if who and value_at(record, column.path) is None:
            value = show_value(plain_value(completed.tables[table][column.name].iat[row]))
            found.append((column.field.title or column.name, value, who))
    return found


def show_new(desk: Desk, ask: Ask) -> Response:
    """The form of a new record with every field of its table."""
    return _show_new(desk, ask, desk.held.look())


def send_new(desk: Desk, ask: Ask) -> Response:
    """Saves a new record of any table."""
    table, snapshot = find_table(ask), desk.held.look()
    declared = load_tables()[table]
    reading = read_form(declared.columns, ask.form, snapshot.result.profile.words)
    addition = Addition(table, reading.record(table))
    faults = [*reading.faults, *_list_unknown(addition, snapshot, ask.form)]
    outcome = Outcome() if faults else save(desk.held, [addition])
    faults += [fault for _, fault in outcome.faults]
    if faults:
        return _show_new(desk, ask, desk.held.look(), faults)
    return go_to(address("tables", table, **say_saved(outcome)))


def _show_new(desk: Desk, ask: Ask, snapshot: Snapshot, faults: Sequence[FieldFault] = ()) -> Response:
    declared = load_tables()[find_table(ask)]
    words, units = snapshot.result.profile.words, usual_units(snapshot, declared.name)
    start = name_writer(declared)
    if declared.key:
        start[declared.key] = next_number(snapshot.season, declared.name)
    given = ask.form or {key: text for key, text in ask.query.items() if key in declared.fields}
    fields = [
        replace(refill(build_field(column, words, start, units), given), was="")
        for column in declared.columns
    ]
    kind = find_kind(declared.name)
    return desk.show(
        "new",
        snapshot,
        status=422 if faults else 200,
        page="tables",
        table=declared,
        kind=kind,
        cautions=snapshot.result.profile.cautions.of_table(declared.name),
        fields=fields,
        **say_faults(faults, fields),
        offered=offer_names(fields, snapshot),
        said=ask.query,
        first=_first_empty(fields),
    )
