"""Identifiers: each names one record, and each that is named belongs to a record."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in, repeats
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from certgen.records.columns import Array
    from certgen.rules.case import Case

    #: Where something is named: row, the record's number, steps to the field, and what is named.
    Named = tuple[int, str | None, tuple[str | int, ...], str]


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "eu:2018/848 39(1)", "us-nop:205.403(d)(5)"),
    remedy="Correct the number here, or write the record that it names.",
)
def reference_unknown(case: Case) -> Iterator[Finding]:
    """A record names something that no record bears, so the line ends there.

    Behind a number without a record anything could stand. Most often it is a slip of the pen; then the
    record is there under another number, and the line is whole again as soon as the number is right.
    """
    for table, key, column, targets, is_list in _references():
        if len(case.columns(table)):
            known = _known(case, targets)
            named = (_in_list if is_list else _in_column)(case, table, key, column, known)
            yield from _unknown(table, targets, named, known)
    if len(case.columns("visits")):
        yield from _unknown_in_visits(case)
        yield from _unknown_sheets(case)
    packed = case.joined("packed")
    for field, source, target in (("batch", "batch", "batches"), ("lot", "source_lot", "lots")):
        known = _known(case, (target,))
        rows = packed.rows("lot_row", "lot", "position", source, where=_unheard(packed[source], known))
        named = ((row, lot, ("sources", position, field), value) for _, row, lot, position, value in rows)
        yield from _unknown("lots", (target,), named, known)


@cache
def _references() -> tuple[tuple[str, str, str, tuple[str, ...], bool], ...]:
    """The columns that name records: table, its key, column, tables of what is named, and is it a list?"""
    return tuple(
        (table.name, table.key or "rule", column.name, column.refers_to, column.kind == "list")
        for table in load_tables().values()
        for column in table.columns
        if column.refers_to
    )


def _known(case: Case, targets: tuple[str, ...]) -> Collection[str]:
    """The numbers that records of some tables bear."""
    found = [case.columns(name).first(load_tables()[name].key) for name in targets]
    return found[0] if len(found) == 1 else set().union(*found)


def _unheard(values: Array, known: Collection[str]) -> Array:
    """For each value: is something named that isn't known?"""
    unheard = set(values.tolist()).difference(known) - {None}
    return is_in(values, unheard) if unheard else np.zeros(len(values), dtype=bool)


def _in_list(case: Case, table: str, _: str, column: str, known: Collection[str]) -> Iterator[Named]:
    elements = case.season.elements(table, column)
    where = _unheard(elements["value"], known)
    for _, row, identifier, position, value in elements.rows("row", "id", "position", "value", where=where):
        yield row, identifier, (column, position), value


def _in_column(case: Case, table: str, key: str, column: str, known: Collection[str]) -> Iterator[Named]:
    columns = case.columns(table)
    for row, identifier, value in columns.rows(key, column, where=_unheard(columns[column], known)):
        yield row, identifier, (column,), value


def _unknown_in_visits(case: Case) -> Iterator[Finding]:
    """What an exercise, a sample or a finding of a visit is about, and no record bears."""
    visits = load_tables()["visits"]
    for column in ("exercises", "samples", "findings"):
        item = visits.column(column).field.item
        targets = () if item is None else item.fields["about"].item.refers_to  # type: ignore[union-attr]
        known = _known(case, targets)
        elements = case.season.elements("visits", column)
        for _, row, visit, position, entry in elements.rows("row", "id", "position", "value"):
            for place, value in enumerate(entry.get("about") or ()):
                if value not in known:
                    yield Finding(
                        "visits",
                        visit or "",
                        row,
                        (column, position, "about", place),
                        f"Visit {visit} names record {value}, and no record bears that number.",
                        # What an inspector looked at may be any lot then.
                        weight="unproven",
                        cause=(targets, value),
                        supply=f"a record of {value}",
                    )


def _unknown_sheets(case: Case) -> Iterator[Finding]:
    """Sheets that an inspector's samples are said to have gone with, and no submission bears."""
    known, samples = _known(case, ("submissions",)), case.season.elements("visits", "samples")
    for _, row, visit, position, entry in samples.rows("row", "id", "position", "value"):
        sheet = entry.get("sheet")
        if sheet is not None and sheet not in known:
            said = f"Visit {visit} names sheet {sheet} for a sample, and no submission bears that number."
            yield Finding("visits", visit or "", row, ("samples", position, "sheet"), said, weight="advice")


def _unknown(
    table: str, targets: tuple[str, ...], named: Iterable[Named], known: Collection[str]
) -> Iterator[Finding]:
    alike: dict[str, str] | None = None
    for row, identifier, field, value in named:
        what = noun(targets[0]) if len(targets) == 1 else "record"
        holder = f"{noun(table).capitalize()} {identifier or ''}".strip()
        message = f"{holder} names {what} {value}, and no {what} bears that number."
        remedy = None
        if targets == ("lots",):
            message = (
                f"{holder} names lot {value}, and no lot of this season or an earlier one bears that number."
            )
            remedy = (
                "Correct the number, or write the lot. If it is an earlier season's, name its folder "
                "under `previous:` in the `season` mapping."
            )
        alike = _spelled_alike(known) if alike is None else alike
        if meant := alike.get(_fold(value)):
            message = f"{message} Did you mean {meant}?"
        yield Finding(
            table,
            identifier or "",
            row,
            field,
            message,
            # Seed that is moved under an unknown number is never mere advice, nor is something that went
            # wrong, or was sprayed, on a record that may be any.
            weight="unproven" if table in {"movements", "incidents", "inputs", "recalls"} else None,
            cause=(targets, value),
            supply=f"a record of {what} {value}",
            remedy=remedy,
        )


def _spelled_alike(names: Collection[str]) -> dict[str, str]:
    """By spelling without case, signs and leading zeros the one number that it stands for, if it is one."""
    found: dict[str, str] = {}
    several: set[str] = set()
    for one in names:
        folded = _fold(one)
        if found.setdefault(folded, one) != one:
            several.add(folded)
    return {folded: one for folded, one in found.items() if folded not in several}


def _fold(number: str) -> str:
    """`2` and `02`, `CB-26-1` and `cb/26/001`: what people take for one number."""
    parts = re.findall(r"[^\W\d_]+|[0-9]+", number.casefold())
    return "-".join(part.lstrip("0") or "0" if part.isdecimal() else part for part in parts)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.307(a)(2)"),
    remedy="Give each record a number of its own, and correct what names it.",
)
def identifier_repeated(case: Case) -> Iterator[Finding]:
    """Two records of one table bear the same number, so nobody can say which is meant.

    Whatever names the number could mean either record. The checks go by the first; the line of both is
    in doubt.
    """
    for table in load_tables().values():
        columns = case.columns(table.name)
        if not table.key or len(columns.first(table.key)) == len(columns):
            continue
        rows = group_rows(columns[table.key])
        for row, identifier in columns.rows(table.key, where=repeats(columns[table.key])):
            number = len(rows[identifier])
            yield Finding(
                table.name,
                identifier,
                row,
                (table.key,),
                f"{number} {noun(table.name, number)} bear the number {identifier}.",
                cause=(table.name, identifier),
                reaches=(Node(table.name, identifier),),
                supply=f"a number of its own for each {noun(table.name)} called {identifier}",
            )
