"""Identifiers: each names one record, and each that is named belongs to a record."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from certgen.lineage import Node
from certgen.records.rows import indexed_rows, plain_rows
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import noun

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from pandas import DataFrame

    from certgen.records.tables import Table
    from certgen.rules.case import Case


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
    known = {name: set(case.keyed(name).index.tolist()) for name, table in load_tables().items() if table.key}
    for table in load_tables().values():
        for column in () if case.season.table(table.name).empty else table.columns:
            if column.refers_to:
                names = set().union(*(known[one] for one in column.refers_to))
                frame = _named(case, table, column.name, names, is_list=column.kind == "list")
                if frame is not None:
                    yield from _unknown(table, column.refers_to, frame, names)
    yield from _unknown_in_visits(case, known)
    yield from _unknown_sheets(case, known["submissions"])
    for field, target in (("batch", "batches"), ("lot", "lots")):
        frame = case.season.exploded("lots", "sources")
        named = frame.assign(value=[part.get(field) for part in frame["value"].tolist()], step=field)
        yield from _unknown(
            load_tables()["lots"],
            (target,),
            named.assign(column="sources")[named["value"].notna() & ~named["value"].isin(known[target])],
            known[target],
        )


def _unknown_in_visits(case: Case, known: Mapping[str, set[str]]) -> Iterator[Finding]:
    """What an exercise, a sample or a finding of a visit is about, and no record bears."""
    visits = load_tables()["visits"]
    for column in ("exercises", "samples", "findings"):
        item = visits.column(column).field.item
        targets = () if item is None else item.fields["about"].item.refers_to  # type: ignore[union-attr]
        names = set().union(*(known[one] for one in targets))
        for row, visit, position, entry in plain_rows(
            case.season.exploded("visits", column), "row", "id", "position", "value"
        ):
            for place, value in enumerate(entry.get("about") or ()):
                if value not in names:
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


def _unknown_sheets(case: Case, known: set[str]) -> Iterator[Finding]:
    """Sheets that an inspector's samples are said to have gone with, and no submission bears."""
    samples = case.season.exploded("visits", "samples")
    for row, visit, position, entry in plain_rows(samples, "row", "id", "position", "value"):
        sheet = entry.get("sheet")
        if sheet is not None and sheet not in known:
            said = f"Visit {visit} names sheet {sheet} for a sample, and no submission bears that number."
            yield Finding("visits", visit or "", row, ("samples", position, "sheet"), said, weight="advice")


def _named(
    case: Case, table: Table, column: str, known: Collection[str], *, is_list: bool
) -> DataFrame | None:
    """The identifiers that a column names and that aren't known: `row`, `id`, `value`, `column`, `position`
    in a list or -1; None where there are none."""
    if is_list:
        frame = case.season.exploded(table.name, column)
        unknown = ~frame["value"].isin(known)
        return frame[unknown].assign(column=column, step=None) if unknown.any() else None
    frame = case.season.table(table.name)
    unknown = frame[column].notna() & ~frame[column].isin(known)
    if not unknown.any():
        return None
    key = table.key or "rule"
    frame = frame[[key, column]][unknown]
    return frame.assign(
        row=frame.index, id=frame[key], value=frame[column], column=column, position=-1, step=None
    )


def _unknown(
    table: Table, targets: tuple[str, ...], frame: DataFrame, names: Collection[str]
) -> Iterator[Finding]:
    alike = _spelled_alike(names) if not frame.empty else {}
    for row, identifier, value, column, position, step in plain_rows(
        frame, "row", "id", "value", "column", "position", "step"
    ):
        what = noun(targets[0]) if len(targets) == 1 else "record"
        holder = f"{noun(table.name).capitalize()} {identifier or ''}".strip()
        field = (column,) if position < 0 else (column, position, step) if step else (column, position)
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
        if meant := alike.get(_fold(value)):
            message = f"{message} Did you mean {meant}?"
        yield Finding(
            table.name,
            identifier or "",
            row,
            field,
            message,
            # Seed that is moved under an unknown number is never mere advice, nor is something that went
            # wrong, or was sprayed, on a record that may be any.
            weight="unproven" if table.name in {"movements", "incidents", "inputs", "recalls"} else None,
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
        if not table.key:
            continue
        frame = case.season.table(table.name)
        if len(frame) < 2:
            continue
        repeated = frame[table.key].notna() & frame[table.key].duplicated(keep="first")
        if not repeated.any():
            continue
        sizes = frame[table.key].value_counts()
        for row, identifier in indexed_rows(frame, table.key, where=repeated):
            number = int(sizes[identifier])
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
