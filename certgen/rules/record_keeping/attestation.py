"""Rounds that nobody answers for, and what they alone tell of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from certgen.records.joining.placeholders import says_nothing
from certgen.records.joining.rounds import RoundMembers

if TYPE_CHECKING:
    from certgen.records.columns import Array
    from certgen.rules.case import Case


def list_unattested(case: Case) -> tuple[tuple[int, str, Array], ...]:
    """The rounds that nobody answers for, by row: each with the table and the rows that it speaks of."""
    rounds = case.columns("rounds")
    silent = [row for row, by in enumerate(rounds["by"].tolist()) if says_nothing(by)]
    if not silent:
        return ()
    members, told = RoundMembers(case.season), rounds.records(np.array(silent))
    return tuple((row, *members.covered("rounds", entry)) for row, entry in zip(silent, told, strict=True))


def find_nobodys(case: Case, table: str, *fields: str) -> list[int]:
    """The rows of a table of which some field is told by a round that nobody answers for alone."""
    attested = case.season.attested
    columns = [attested[table, field] for field in fields if (table, field) in attested]
    rows = case.spoken_by_nobody.get(table, [])
    return [row for row in rows if any(column[row].startswith("round ") for column in columns)]


def list_spoken(case: Case) -> dict[str, list[int]]:
    """By table the rows that some round speaks of that nobody answers for."""
    spoken: dict[str, Array] = {}
    # Thousands of rounds may speak of the same thousands of records, which are one array then.
    told = {(table, id(covers)): (table, covers) for _, table, covers in case.unattested}
    for table, covers in told.values():
        if table not in spoken:
            spoken[table] = np.zeros(len(case.columns(table)), dtype=bool)
        spoken[table][covers] = True
    return {table: np.flatnonzero(hit).tolist() for table, hit in spoken.items()}
