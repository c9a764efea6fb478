"""What the records themselves leave in doubt: what couldn't be read, and what two of them tell
differently."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records import Place
from certgen.records.columns import is_in
from certgen.records.joining.rounds import list_named
from certgen.records.tables import load_tables
from certgen.rules.clauses import RECORDS
from certgen.rules.findings import Finding
from certgen.rules.registry import rule
from certgen.rules.wording import capital, count, day, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.records.record_files.unread import Unread
    from certgen.rules.case import Case


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Mend the record or the file as the reading error says. Until it is read it may say anything.",
)
def record_unread(case: Case) -> Iterator[Finding]:
    """Something stands in the folder that couldn't be read, and it may speak against the claim.

    A result with a slip of the pen is still a result. What is left out is counted against every lot that
    it may speak of, until it is read.
    """
    every = tuple(Node("lots", lot) for lot in dict.fromkeys(case.columns("lots")["lot"].tolist()))
    spoken = [(unread, _speaks_of(case, unread)) for unread in case.season.unread]
    anything = [unread for unread, nodes in spoken if nodes is None]
    single = len(anything) if len(anything) * len(every) <= MOST_REACHED else MOST_REACHED // len(every)
    rest = anything[single:] if len(anything) - single > 1 else []
    together = set(map(id, rest))
    for unread, nodes in spoken:
        if nodes is not None:
            about = f" It names {_name(nodes)}."
            yield _find_unread(unread, f"could not be read, and may say anything.{about}", nodes)
        elif id(unread) not in together:
            yield _find_unread(unread, "could not be read, and may say anything.", every)
    # Each of them stands at every lot: of thousands of both the pairs would be too many.
    for unread in rest:
        more = f"and {count(len(rest) - 1, 'more record')} could not be read, and may say anything."
        first = unread is rest[0]
        found = _find_unread(unread, more, every if first else ())
        supply = f"{_tell(unread)} and {len(rest) - 1} more in a form that can be read"
        yield found._replace(cause=_TOGETHER, supply=supply)


#: So many lots are counted at unread records that may speak of any, each at every record, one by one.
MOST_REACHED: Final = 200_000
_TOGETHER: Final = "unread together"


def _find_unread(unread: Unread, says: str, reaches: tuple[Node, ...]) -> Finding:
    error = unread.error
    return Finding(
        unread.table or "season",
        error.left_out or error.file,
        None,
        (),
        f"{capital(_tell(unread))} {says}",
        reaches=reaches,
        supply=f"{_tell(unread)} in a form that can be read",
        place=Place(error.file, ("", error.line or 1, error.column or 1)),
    )


def _tell(unread: Unread) -> str:
    if not unread.error.left_out:
        return f"something in {unread.error.file}"
    table, _, identifier = unread.error.left_out.partition(" ")
    return f"{noun(table)} {identifier}" if table in load_tables() else f"a record in {unread.error.file}"


def _name(nodes: tuple[Node, ...]) -> str:
    tables = dict.fromkeys(node.table for node in nodes)
    return join(name(table, [node.id for node in nodes if node.table == table]) for table in tables)


def _speaks_of(case: Case, unread: Unread) -> tuple[Node, ...] | None:
    """The records that an unread one names; None if it can't be told."""
    if unread.names is None:
        return None
    found: dict[Node, None] = {}
    for tables, identifier in unread.names:
        nodes = [Node(table, identifier) for table in tables if Node(table, identifier) in case.lineage]
        if not nodes and unread.table not in tables:
            # It names a record that isn't there, perhaps another with a slip of the pen.
            return None
        found.update(dict.fromkeys(nodes))
    return tuple(found) if case.lineage.lots_of(found) or not _claims(unread) else None


def _claims(unread: Unread) -> bool:
    """Whether a record of this kind could speak of a lot at all without naming anything on its line."""
    return unread.table not in {"explanations", "inputs", "cleaning"}


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Find out which is true, and correct the other.",
)
def records_disagree(case: Case) -> Iterator[Finding]:
    """Two places tell one thing differently: a record and a round or letter, or the records of two years.

    A tree stands in one place, a sample has one result. Where two entries say otherwise one of them is wrong,
    and nobody can say which.
    """
    for one in case.season.contradicted:
        table = load_tables()[one.table]
        identifier = str(case.columns(one.table)[table.key][one.row])
        field = next((column.field.title for column in table.columns if column.name == one.field), one.field)
        more = f" It is told otherwise {count(one.more, 'more time')}." if one.more else ""
        yield Finding(
            one.table,
            identifier,
            one.row,
            (one.field,),
            f"{capital(noun(one.table))} {identifier} says '{one.here}' under {field.lower()}, and"
            f" {one.there} says '{one.says}'.{more}",
            supply=f"the true {field.lower()} of {noun(one.table)} {identifier}",
        )


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Correct the number or the range, or write the records that it means.",
)
def round_names_unknown(case: Case) -> Iterator[Finding]:
    """A round or a letter names something that no record bears, so what it says of it holds for nothing.

    What was seen on a walk is shown for what the walk names. A range whose ends have different letters means
    nothing at all.
    """
    for one in list_named(case.season):
        if one.meant or (not one.target and one.row >= case.season.own(one.table)):
            continue
        nodes: Sequence[Node] = ()
        if one.covers is not None:
            # Nobody knows which of them it was: all that the round or letter speaks of are in doubt.
            nodes = case.nodes(one.target, one.covers)
        yield Finding(
            one.table,
            one.identifier,
            one.row,
            one.steps,
            f"{capital(noun(one.table))} {one.identifier} names '{one.text}', and no record bears that "
            "number.",
            weight="unproven" if one.target else "advice",
            reaches=nodes,
            supply=f"what '{one.text}' means in {noun(one.table)} {one.identifier}",
        )


@rule(
    weight="unproven",
    clauses=RECORDS,
    remedy="Write under `by` who walked the round and saw it.",
)
def round_unattested(case: Case) -> Iterator[Finding]:
    """A round says what was done or seen, and nobody answers for it.

    What is written once for many is worth as much as the word of whoever saw it.
    """
    told = {row: (table, covers) for row, table, covers in case.unattested}
    if not told:
        return
    rounds = case.columns("rounds")
    silent = is_in(np.arange(len(rounds)), told)
    for row, identifier, when, kind in rounds.rows("round", "date", "kind", where=silent):
        table, covers = told[row]
        yield Finding(
            "rounds",
            identifier,
            row,
            ("by",),
            f"Round {identifier} of {day(when)} ({kind}) doesn't say who walked it.",
            reaches=case.nodes(table, covers),
            supply=f"who walked round {identifier}",
        )
