"""What is entered from day to day: each kind with the table it goes to, its fields, and what carries over.

A kind asks for few fields; what else its table holds stands on the record's own page. A walk along many
bags is one round, a laboratory's letter on many samples one letter: written once, by whoever saw it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.desk.devices import ASKING
from certgen.desk.form_fields import UNITS, FormField, build_field, show_value
from certgen.desk.saving import next_number
from certgen.desk.visits import this_visit
from certgen.exchange.spreadsheets.rows import unflatten
from certgen.records.rows import entered_values
from certgen.records.tables import Column, load_tables

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from certgen.desk.held_season import Snapshot
    from certgen.records import Season
    from certgen.records.tables import Table


@dataclass(frozen=True, slots=True)
class EntryKind:
    """One kind of daily entry.

    `fields` and `more` are columns of its table in the order they are asked for, `more` behind a fold.
    `fixed` holds what every such record says, `today` the columns that begin with the day, and `kept` those
    that begin with what the last such record said: never a weight, a count, a result or a source. `again` are
    the columns that somebody repeats from the last one at a press, having seen that it is so.
    """

    slug: str
    title: str
    says: str
    table: str
    fields: tuple[str, ...]
    kept: tuple[str, ...] = ()
    more: tuple[str, ...] = ("note", "recorded_by", "evidence")
    fixed: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    today: tuple[str, ...] = ("date",)
    again: tuple[str, ...] = ()
    #: The pieces of work whose cautions go with it, as `standards.cautions` names them.
    work: tuple[str, ...] = ()

    def columns(self) -> tuple[Column, ...]:
        """All the columns that the form asks for."""
        table = load_tables()[self.table]
        return tuple(table.column(name) for name in (*self.fields, *self.more))


KINDS: Final[Mapping[str, EntryKind]] = MappingProxyType(
    {
        kind.slug: kind
        for kind in (
            EntryKind(
                "bag-on", "Bag on", "A bag put on a flower.", "bagging",
                ("bag", "tree", "covered", "flower", "stage", "other_buds_cleared", "secured"),
                ("flower", "stage", "recorded_by", "bag_use"),
                ("bag_use", "pollen_parent", "note", "recorded_by", "evidence"),
                today=("covered",),
                again=("flower", "stage", "other_buds_cleared", "secured", "bag_use"),
                work=("bag round",),
            ),
            EntryKind(
                "check", "Check", "A look at bags that hang: one, or a whole walk along them.", "rounds",
                ("round", "bags", "condition", "date", "by"),
                ("by",),
                ("exceptions", "petals_fallen", "note", "evidence"),
                MappingProxyType({"kind": "check"}),
                work=("bag round",),
            ),
            EntryKind(
                "bag-off", "Bag off", "Bags taken off, and whether fruit has set.", "rounds",
                ("round", "bags", "outcome", "fruit_marked", "date", "by"),
                ("by",),
                ("exceptions", "note", "evidence"),
                MappingProxyType({"kind": "uncovering"}),
                work=("bag round",),
            ),
            EntryKind(
                "picked", "Picked", "Fruit picked on one day, and how it ripens on.", "harvests",
                ("harvest", "date", "bags", "fruits", "weight", "stage", "status"),
                ("stage", "status", "recorded_by"),
                ("trees", "ripening.temperature", "ripening.until", "ripening.colour", "note", "recorded_by",
                 "evidence"),
                work=("picking",),
            ),
            EntryKind(
                "sampled", "Sampled", "A leaf cut for the laboratory.", "screening",
                ("sample", "tree", "collected", "petiole", "mark"),
                ("laboratory", "tissue", "recorded_by"),
                ("trees", "tissue", "laboratory", "submitted", "note", "recorded_by", "evidence"),
                today=("collected",),
                again=("laboratory", "tissue", "submitted"),
                work=("leaf round",),
            ),
            EntryKind(
                "results", "Results", "One letter of a laboratory, for all its samples.", "letters",
                ("letter", "laboratory", "report", "samples", "result", "exceptions", "method", "targets",
                 "controls", "received", "reported", "evidence"),
                ("laboratory", "method", "targets"),
                ("condition", "incubation", "temperature", "reagent_lot", "note", "recorded_by"),
                today=(),
            ),
            EntryKind(
                "run", "Run", "Fruit of some pickings cut, cleaned and dried as one batch.", "batches",
                ("batch", "date", "harvests", "wet_weight", "dry_weight", "moisture", "status", "equipment",
                 "blade", "runs", "rinses", "floated_off"),
                ("status", "equipment", "blade", "drying.method", "recorded_by"),
                ("drying.method", "drying.temperature", "drying.from", "drying.to", "drying.humidity",
                 "other_seed", "fermentation", "water", "floats", "never_packed.weight", "never_packed.why",
                 "note", "recorded_by", "evidence"),
                work=("extraction", "cleaning", "drying"),
            ),
            EntryKind(
                "packed", "Packed", "A lot packed from batches or from other lots.", "lots",
                ("lot", "variety", "packed", "sources", "weight", "containers", "net_weight", "status",
                 "packaging", "storage"),
                ("variety", "status", "packaging", "container_use", "storage", "recorded_by"),
                ("container_use", "packaging_contains", "storage_temperature", "generation",
                 "treatment.treated", "treatment.with", "note", "recorded_by", "evidence"),
                today=("packed",),
                work=("treated seed",),
            ),
            EntryKind(
                "sold", "Sold", "Seed that went to a buyer.", "movements",
                ("movement", "date", "lot", "weight", "party", "document", "status",
                 "last_certified_operation"),
                ("status", "last_certified_operation", "recorded_by"),
                ("carrier", "note", "recorded_by", "evidence"),
                MappingProxyType({"kind": "sold"}),
                again=("party", "document", "carrier", "status", "last_certified_operation"),
            ),
            EntryKind(
                "counted", "Counted", "What a lot weighs on the scale today.", "movements",
                ("movement", "date", "lot", "weight"),
                ("recorded_by",),
                fixed=MappingProxyType({"kind": "counted"}),
            ),
        )
    }
)  # fmt: skip


def find_kind(table: str) -> EntryKind | None:
    """The kind of entry that adds to a table, the first where there are several."""
    return next((kind for kind in KINDS.values() if kind.table == table), None)


def fill_form(
    kind: EntryKind, snapshot: Snapshot, given: Mapping[str, str], day: date, *, sent: bool = False
) -> tuple[tuple[FormField, ...], tuple[FormField, ...]]:
    """The fields that a kind asks for, and those behind the fold, filled as far as can be known.

    `given` are values that an address or a refused form brings; of one that was `sent` nothing is filled in.
    """
    started: dict[str, Any] = {} if sent else _start(kind, snapshot, day)
    words = snapshot.result.profile.words
    units = usual_units(snapshot, kind.table)
    record = _nest({**started, **_entries(given)})

    def build(name: str) -> FormField:
        column = load_tables()[kind.table].column(name)
        made = build_field(column, words, record, units)
        return refill(made, {**{key: show_value(value) for key, value in started.items()}, **given})

    asked = tuple(map(build, kind.fields))
    if kind.slug == "bag-on":
        asked = (*asked, refill(_TAGGED, given))
    return asked, tuple(map(build, kind.more))


#: A tag says the day, the tree and its variety; to type them again for each bag is asked of nobody.
_TAGGED: Final = FormField(
    "tagged", "Tag written", "yes_no", "On the spot, with this day, the tree and its variety."
)


def complete_record(
    kind: EntryKind, record: Mapping[str, Any], form: Mapping[str, str], season: Season
) -> dict[str, Any]:
    """The record with what every record of the kind says, and the tag as the form's one answer tells it."""
    whole = {**record, **kind.fixed}
    if kind.slug == "bag-on" and form.get("tagged") == "yes":
        told = {
            "date": record.get("covered"),
            "variety": find_variety(season, record.get("tree")),
            "tree": record.get("tree"),
        }
        whole["tag"] = {name: value for name, value in told.items() if value}
    order = list(load_tables()[kind.table].fields)
    return {name: whole[name] for name in sorted(whole, key=order.index)}


def find_variety(season: Season | None, tree: object) -> str:
    """The variety of a tree by its planting, in this season or one before it; empty if none says."""
    while season is not None:
        row = season.record("trees", str(tree)) or {}
        planting = season.record("plantings", str(row.get("planting", ""))) or {}
        if planting.get("variety"):
            return str(planting["variety"])
        season = season.previous
    return ""


def _entries(given: Mapping[str, str]) -> dict[str, Any]:
    """As many empty entries of a list as a refused form had rows: what stood in them is filled in after."""
    rows: dict[str, int] = {}
    for key in given:
        head, *rest = key.split(".")
        if len(rest) >= 2 and rest[0].isdigit():
            rows[head] = max(rows.get(head, 0), int(rest[0]) + 1)
    return {head: tuple({} for _ in range(min(number, 200))) for head, number in rows.items()}


def refill(made: FormField, given: Mapping[str, str]) -> FormField:
    """The field with what a form or an address says of it, to the letter."""
    if made.rows:
        return replace(made, rows=tuple(tuple(refill(one, given) for one in row) for row in made.rows))
    return replace(
        made, value=given.get(made.name, made.value), unit=given.get(f"{made.name}.unit", made.unit)
    )


def _nest(values: Mapping[str, Any]) -> dict[str, Any]:
    return unflatten(values)


def _start(kind: EntryKind, snapshot: Snapshot, day: date) -> dict[str, Any]:
    """The next number, the day, and what the last entry of the kind said."""
    table = load_tables()[kind.table]
    started: dict[str, Any] = dict.fromkeys(kind.today, day)
    started[table.key] = next_number(snapshot.season, table.name)
    last = {**_find_last(kind, snapshot, kind.kept), **name_writer(table)}
    if "by" in kind.kept and this_visit().person:
        # Who enters a walk of today has most often walked it; the field is there to say otherwise.
        last["by"] = this_visit().person
    for name in kind.kept:
        value = last.get(name)
        if value is not None and name in {*kind.fields, *kind.more}:
            started[name] = value
    device = ASKING.get()
    if device is not None:
        # What was entered last may have been another's; who walks here is who holds this phone.
        started |= {name: device.person for name in _WHO if name in {*kind.fields, *kind.more}}
    if kind.slug == "sold" and "last_certified_operation" not in started:
        started["last_certified_operation"] = snapshot.season.details.operation.name
    return started


#: The columns that say who saw what is entered.
_WHO: Final = ("by", "recorded_by")


def name_writer(table: Table) -> dict[str, str]:
    """The column that says who wrote a record down, with whoever is at the desk; nothing where nobody gave a
    name. Who saw it is another question.
    """
    person = this_visit().person
    return {"recorded_by": person} if person and "recorded_by" in table.fields else {}


def repeat_last(kind: EntryKind, snapshot: Snapshot) -> dict[str, str]:
    """What a form would repeat of the last entry of the kind, by field, with the tag's one answer."""
    last = _find_last(kind, snapshot, (*kind.again, "covered", "tag.date") if kind.again else ())
    found = {name: show_value(last[name]) for name in kind.again if last.get(name) is not None}
    if kind.slug == "bag-on" and last.get("tag.date") and last["tag.date"] == last.get("covered"):
        found[_TAGGED.name] = "yes"
    return found


def fill_again(kind: EntryKind, snapshot: Snapshot, form: Mapping[str, str]) -> dict[str, str]:
    """A form with what it leaves empty as the last entry said it."""
    repeated = repeat_last(kind, snapshot)
    return {**form, **{name: text for name, text in repeated.items() if not form.get(name, "").strip()}}


def say_again(kind: EntryKind, snapshot: Snapshot) -> str:
    """What would be repeated, in words: `Secured: yes; Tag written: yes`."""
    table = load_tables()[kind.table]
    titles = {name: table.column(name).field.title or name for name in kind.again}
    titles[_TAGGED.name] = _TAGGED.label
    return "; ".join(f"{titles[name]}: {text}" for name, text in repeat_last(kind, snapshot).items())


def list_awaited(snapshot: Snapshot) -> list[tuple[str, list[str]]]:
    """The samples that have no result yet, by laboratory in the order of the files."""
    frame = snapshot.result.season.tables["screening"]
    waiting = frame[frame["result"].isna()]
    found: dict[str, list[str]] = {}
    for sample, laboratory in zip(waiting["sample"], waiting["laboratory"], strict=True):
        found.setdefault(laboratory if isinstance(laboratory, str) else "", []).append(str(sample))
    return list(found.items())


def _find_last(kind: EntryKind, snapshot: Snapshot, names: tuple[str, ...]) -> dict[str, Any]:
    """What the last record of the kind says by column, rounds and letters included."""
    frame = snapshot.result.season.tables[kind.table]
    for name, value in kind.fixed.items():
        frame = frame[frame[name] == value]
    if frame.empty:
        return {}
    last = frame.tail(1)
    return {name: entered_values(last[name])[0] for name in names if name in last.columns}


def usual_units(snapshot: Snapshot, of: str = "") -> dict[str, str]:
    """The units that the farm's own scales show, by kind of quantity, and those last written in each column
    `of` a table: fruit is weighed on another scale than seed.
    """
    found: dict[str, str] = {}
    step = str(snapshot.season.details.raw.get("scale_step", "")).split()
    if step and step[-1] in UNITS["mass"]:
        found["mass"] = step[-1]
    for table, column, kind in (
        ("screening", "petiole", "length"),
        ("harvests", "ripening.temperature", "temperature"),
    ):
        written = [text for text in snapshot.season.tables[table][column].dropna().tolist() if text]
        unit = str(written[-1]).split(" ")[-1] if written else ""
        if unit in UNITS[kind]:
            found[kind] = unit
    return {**found, **_list_written_units(snapshot, of)} if of else found


def _list_written_units(snapshot: Snapshot, table: str) -> dict[str, str]:
    found = {}
    for column in load_tables()[table].columns:
        if column.field.is_quantity:
            written = snapshot.season.tables[table][column.name].dropna().tolist()
            unit = str(written[-1]).split(" ")[-1] if written else ""
            if unit in UNITS[column.kind]:
                found[column.name] = unit
    return found
