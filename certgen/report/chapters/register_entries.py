"""A table's register told by its differences, as entries: what all share once, then each record in a few
words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.report.chapters.register_fields import (
    FieldValues,
    anchor_of,
    gaps_at,
    identifiers_of,
    join_runs,
    read_fields,
)
from certgen.report.chapters.register_plans import PLANS, TellingPlan
from certgen.report.condensing import Plan, Told, condense
from certgen.report.wording import count_of
from certgen.typeset.entries import CompactRegister, Entry, EntryGroup
from certgen.typeset.parts import Run

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.records.tables import Table
    from certgen.report.condensing import Condensed, Runs
    from certgen.report.context import Context

#: What every record of a register shares, and what is so unless a record says otherwise.
_ALL: Final = "All: "
_MOST: Final = "Unless one says otherwise: "
#: What stands where a record says nothing in a field that is told of each.
_NOTHING: Final = (("–", ""),)


def build_entries(
    context: Context,
    table_name: str,
    wanted: frozenset[str] | None = None,
    without: frozenset[str] = frozenset(),
) -> CompactRegister:
    """The register of a table; `wanted` keeps only these identifiers (None: all).

    Fields `without` which it is told stand elsewhere in the packet.
    """
    table = context.tables[table_name]
    teller = _Teller(context, table, without)
    rows = [row for row, name in enumerate(teller.identifiers) if wanted is None or name in wanted]
    condensed = condense(teller.values, rows, teller.plan)
    return CompactRegister(
        table_name,
        f"{table.title}, {count_of(table_name, len(rows))}",
        f"{table.description}{teller.say_order(condensed)}",
        _as_runs(teller.say_common(condensed, rows)),
        tuple(
            EntryGroup(
                _as_runs(teller.say_all((*group.by, *group.shared))),
                tuple(teller.make_entry(member.row, member.told) for member in group.members),
            )
            for group in condensed.groups
        ),
    )


class _Teller:
    """Writes what is told of a table's records."""

    def __init__(self, context: Context, table: Table, without: frozenset[str]) -> None:
        self._context = context
        self._table = table
        self.identifiers = identifiers_of(context, table)
        self._plan = PLANS.get(table.name, TellingPlan())
        fields = read_fields(context, table, self.identifiers, gathered=True)
        for name in without:
            fields.pop(name, None)
        # Where a table has no key, its first field stands for one.
        self._named_by = table.key or next(iter(fields), "")
        self._name = fields.pop(self._named_by, None)
        self._fields = fields
        written = {name: _write_all(one, one.values) for name, one in fields.items()}
        for joined in self._plan.joined:
            self._join(written, fields, [name for name in joined if name in fields])
        first = (*self._plan.each, *self._plan.plain)
        ordered = dict.fromkeys((*first, *written))
        self.values = {name: written[name] for name in ordered if name in written}
        self.plan = Plan(self._plan.each, self._plan.groups, self._expect())

    def _expect(self) -> dict[str, list[Runs | None]]:
        """What a reader knows of each record before it is told."""
        return {
            name: _write_all(self._fields[name], one.find(self._context))
            for name, one in self._plan.expected.items()
            if name in self.values
        }

    def _join(
        self,
        written: dict[str, list[Runs | None]],
        fields: Mapping[str, FieldValues],
        names: Sequence[str],
    ) -> None:
        """Tell some fields as one, under the name of the first."""
        if len(names) < 2:
            return
        parts = [written.pop(name) for name in names]
        labels = ["" if name in self._plan.plain else fields[name].label for name in names]
        known: dict[tuple[Runs | None, ...], Runs | None] = {}
        for said in set(zip(*parts, strict=True)):
            named = (
                ((f"{label} ", ""), *runs) if label and number else runs
                for number, (label, runs) in enumerate(zip(labels, said, strict=True))
                if runs is not None
            )
            known[said] = join_runs(named, ", ") or None
        written[names[0]] = [known[said] for said in zip(*parts, strict=True)]

    def say_order(self, condensed: Condensed) -> str:
        """What stands at each record, in its order."""
        if not condensed.each or not self._named_by:
            return ""
        title = self._table.column(self._named_by).field.title or self._named_by
        names = [title[:1].lower() + title[1:], *(self._fields[name].title for name in condensed.each)]
        return f" Each entry: {', '.join(names)}, then the rest."

    def say_common(self, condensed: Condensed, rows: Sequence[int]) -> Runs:
        """What all records share, and then what most of them do."""
        most = [told for told in condensed.shared if not self._holds_for_all(told, rows)]
        every = [told for told in condensed.shared if told not in most]
        parts = [
            ((opening, ""), *self.say_all(shared), (".", ""))
            for opening, shared in ((_ALL, every), (_MOST, most))
            if shared
        ]
        return join_runs(parts, " ")

    def _holds_for_all(self, told: Told, rows: Sequence[int]) -> bool:
        values = self.values[told.name]
        known = self.plan.expected[told.name] if told.expected else [told.value] * len(values)
        return all(values[row] == known[row] for row in rows)

    def say_all(self, told: Sequence[Told]) -> Runs:
        """What some fields say, one after the other."""
        return join_runs(map(self._say, told), "; ")

    def make_entry(self, row: int, told: Sequence[Told]) -> Entry:
        """A record: its name, what each tells, its gaps, and where it differs."""
        each = [one for one in told if one.name in self._plan.each]
        rest = [one for one in told if one not in each]
        name = self._name.write(self._name.values[row]) if self._name else ((str(row + 1), ""),)
        node = Node(self._table.name, self.identifiers[row])
        stated = join_runs((one.value or _NOTHING for one in each), ", ")
        more = join_runs((*gaps_at(self._context, node), *map(self._say, rest)), "; ")
        runs = (*name, *((((" ", ""), *stated)) if stated else ()))
        between = "; " if stated else " "
        return Entry(
            anchor_of(self._table.name, self.identifiers[row], row),
            _as_runs((*runs, *(((between, ""), *more) if more else ()))),
        )

    def _say(self, told: Told) -> Runs:
        """A field's value behind its name, or that nothing is said of it."""
        field = self._fields[told.name]
        if told.expected:
            return ((self._plan.expected[told.name].words, ""),)
        if told.value is None:
            return ((f"{field.title} –", ""),)
        label = "" if told.name in self._plan.plain else field.label
        return (((f"{label} ", ""), *told.value)) if label else told.value


def _as_runs(texts: Runs) -> tuple[Run, ...]:
    return tuple(Run(text, href) for text, href in texts)


def _write_all(field: FieldValues, values: Sequence[object]) -> list[Runs | None]:
    """Each value as it is written; one that stands at many records is written once."""
    known: dict[object, Runs] = {}

    def say(value: object) -> Runs | None:
        if value is None:
            return None
        key = value if isinstance(value, (str, int, bool)) else None
        if key is None:
            return field.write(value)
        if (type(value), value) not in known:
            known[type(value), value] = field.write(value)
        return known[type(value), value]

    return [say(value) for value in values]
