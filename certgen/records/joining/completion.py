"""Records completed by what was written once for many: rounds, laboratory letters and the routine.

A value that stands in the record itself is kept, whatever else says. Where it is silent, what a round or a
letter says of it is taken, an exception before what held for the rest, and for what may be routine the
season's own statement last. Nothing is made up: what nobody said stays silent.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records.columns import group_rows, is_in, is_known
from certgen.records.frames import fill_column
from certgen.records.joining.custody import lay_custody
from certgen.records.joining.placeholders import says_nothing
from certgen.records.joining.rounds import Excepted, RoundMembers
from certgen.records.joining.sayings import Disagreements, Looks, Saying, fill_silent
from certgen.records.joining.written_tags import WORDS, write_tags
from certgen.records.rows import is_absent
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.records.columns import Array, Columns
    from certgen.records.season import Season

#: What a round of a kind says of the records that it covers: its own field, and theirs.
_BAGGING: Final = ("flower", "stage", "other_buds_cleared", "secured", "bag_use")
_SAMPLING: Final = ("petiole", "tissue")
#: What a letter says of its samples.
_LETTER: Final = (
    "laboratory", "method", "targets", "incubation", "temperature", "reagent_lot", "controls", "result",
    "reported", "condition",
)  # fmt: skip
#: What the routine may say: its field, and the table that it speaks of.
_ROUTINE: Final = (
    ("laboratory", "screening"),
    ("equipment", "batches"),
    ("blade", "batches"),
    ("bag_use", "bagging"),
    ("packaging", "lots"),
    ("container_use", "lots"),
    ("storage", "lots"),
)


@dataclass
class _Words:
    """What is said of each table's columns."""

    said: dict[tuple[str, str], list[Saying]] = field(default_factory=dict)
    looks: Looks = field(default_factory=Looks)
    #: Samples that name a letter which doesn't list them, and the letter.
    missing: list[tuple[Array, str]] = field(default_factory=list)
    #: By who says it what was said, as places in `said`, and the rows of which it was taken back then.
    _by_source: dict[tuple[str, str, str], list[int | Array]] = field(default_factory=dict)

    def unsay(self, table: str, column: str, rows: Array, source: str) -> None:
        """Lets `take_back` take back what a source was said to say of some rows so far."""
        if len(rows):
            self._by_source.setdefault((table, column, source), []).append(rows)

    def take_back(self, table: str, column: str, size: int) -> None:
        """Takes back of a column of so many rows what was unsaid of it."""
        for (about, name, _), told in self._by_source.items():
            if (about, name) != (table, column) or all(isinstance(one, int) for one in told):
                continue
            said, kept = self.said[table, column], np.ones(size, dtype=bool)
            for one in reversed(told):
                if isinstance(one, int):
                    said[one] = said[one]._replace(rows=said[one].rows[kept[said[one].rows]])
                else:
                    kept[one] = False

    def say(self, table: str, column: str, rows: Array, value: Any, source: str, *, specific: bool) -> None:
        """Takes down that a source says a value of some rows; nothing where it is silent."""
        if not is_absent(value):
            said = self.said.setdefault((table, column), [])
            if len(rows):
                self._by_source.setdefault((table, column, source), []).append(len(said))
                said.append(Saying(rows, value, source, specific))


def complete_season(season: Season, others: Sequence[Season] = ()) -> Season:
    """The season with its rounds, letters and routine laid into the records that they speak of.

    `others` are the farm's other seasons, whose registers say what stands where when its own doesn't.
    """
    if len(season.columns("rounds")):
        # A bag's own day comes of its bagging round, and the walks after it need it.
        for kinds in (("bagging", "sampling"), ("check", "uncovering", "picking")):
            season = _lay_words(season, _hear_rounds(season, kinds, others), others)
    if len(season.columns("letters")):
        season = _lay_words(season, _hear_letters(season), others)
    season = lay_custody(season)
    return _add_routine(season) if season.details.raw.get("routine") else season


def _lay_words(season: Season, words: _Words, others: Sequence[Season]) -> Season:
    tables: dict[str, Columns] = {}
    written: dict[tuple[str, str], tuple[list[Any], list[str]]] = {}
    attested, told = dict(season.attested), Disagreements()
    for (table, column), said in words.said.items():
        records = tables.get(table, season.columns(table))
        against = None if _only_describes(table, column) else told
        if column in WORDS.get(table, ()):
            values: list[Any] = [None] * len(records)
            written[table, column] = values, fill_silent(values, said, (table, column), against)
        else:
            values = records.values(column)
            attested[table, column] = fill_silent(
                values, said, (table, column), against, always=column == "result"
            )
            tables[table] = fill_column(records, load_tables()[table].column(column), values)
    reports = tables.get("screening", season.columns("screening"))["report"]
    for rows, source in words.missing:
        told.add(("screening", "report"), reports, rows, source, "not listed")
    if words.looks:
        bags = tables.get("bagging", season.columns("bagging"))
        attested["bagging", "checks"] = [
            "" if own else first
            for own, first in zip(bags["checks"].tolist(), words.looks.first(len(bags)), strict=True)
        ]
        tables["bagging"] = words.looks.add_to(bags)
    write_tags((season, *others), tables, written, attested)
    contradicted = (*season.contradicted, *told.list())
    return replace(season.with_tables(tables), attested=attested, contradicted=contradicted)


def _only_describes(table: str, column: str) -> bool:
    return any(
        one.name == column and one.field.evidence == "describes" for one in load_tables()[table].columns
    )


# Rounds


def _hear_rounds(season: Season, kinds: Sequence[str], others: Sequence[Season]) -> _Words:
    words, members = _Words(), RoundMembers(season, others)
    rounds = season.columns("rounds")
    for entry in rounds.records(np.flatnonzero(is_in(rounds["kind"], kinds))):
        _hear_round(entry, members, words)
    return words


def _hear_round(entry: Mapping[str, Any], members: RoundMembers, words: _Words) -> None:
    kind, source = entry["kind"], f"round {entry['round']}"
    table, rows = members.covered("rounds", entry)
    special = members.exceptions(entry, table, rows)
    most = _without(rows, [one.rows for one in special])
    heard = _Heard(words, table, entry, source, most, special)
    if kind == "bagging":
        heard.say_day("covered", members.named(table, entry))
        heard.say_all((*_BAGGING, "tagged", "numbered"))
        heard.answer_for()
    elif kind == "sampling":
        heard.say_day("collected", members.named(table, entry))
        heard.say_all((*_SAMPLING, "marked"))
    elif kind == "picking":
        heard.say_all((("ripeness", "stage"),))
    else:
        heard.look()
        if kind == "uncovering":
            heard.say_day("uncovered", members.named(table, entry))
            heard.say_all(("outcome",))
            heard.say_marks(members.outcomes)
        else:
            heard.say_fallen()


def _without(rows: Array, others: Sequence[Array]) -> Array:
    """The rows that stand in none of the others; the same array where all do."""
    if not others:
        return rows
    kept = ~np.isin(rows, np.concatenate(others))
    return rows if kept.all() else rows[kept]


@dataclass(frozen=True, slots=True)
class _Heard:
    """A round or letter that is being heard: what it says of most of its records, and of the exceptions."""

    words: _Words
    table: str
    entry: Mapping[str, Any]
    source: str
    #: The rows of which it says what holds for most.
    most: Array
    special: Sequence[Excepted]

    @property
    def told(self) -> Iterator[Excepted]:
        """The rows that it doesn't leave out, those of which it says what holds for most first."""
        yield Excepted(self.most, {})
        yield from (one for one in self.special if not one.says.get("left_out"))

    def say_day(self, column: str, named: Array) -> None:
        """A record that a round names by its number can't have been done on another day."""
        for rows, _ in self.told:
            # Nearly always all that it covers are named, or none.
            called = np.ones(len(rows), dtype=bool) if rows is named else np.isin(rows, named)
            for specific in (True, False):
                hit = called if specific else ~called
                meant = rows if hit.all() else rows[hit]
                self._say(column, meant, self.entry["date"], specific=specific)

    def say_all(self, columns: Iterable[str | tuple[str, str]]) -> None:
        """What it says of several fields, each by its own name or as (its own name, the records')."""
        for column in columns:
            own, theirs = column if isinstance(column, tuple) else (column, column)
            for rows, says in self.told:
                self._say(theirs, rows, says.get(own, self.entry[own]), specific=own in says)

    def _say(self, column: str, rows: Array, value: Any, *, specific: bool) -> None:
        self.words.say(self.table, column, rows, value, self.source, specific=specific)

    def say_marks(self, outcomes: Array) -> None:
        """Whether fruit was marked: what held for most is said of flowers that set fruit only. `outcomes` are
        what the bags' own records say, which goes before the round's word."""
        for rows, says in self.told:
            specific = "fruit_marked" in says
            bore = outcomes[rows] == "set"
            if says.get("outcome", self.entry["outcome"]) in {"set", None}:
                bore |= ~is_known(outcomes[rows])
            meant = rows if specific or bore.all() else rows[bore]
            marked = says.get("fruit_marked", self.entry["fruit_marked"])
            self._say("fruit_marked", meant, marked, specific=specific)

    def answer_for(self) -> None:
        """Whoever walked the round answers for a record that names nobody."""
        named = [
            who for who in (self.entry["recorded_by"], self.entry["by"]) if who and not says_nothing(who)
        ]
        for rows, _ in self.told:
            self._say("recorded_by", rows, next(iter(named), None), specific=False)

    def say_fallen(self) -> None:
        """Of which bags the petals had fallen on the round's day."""
        for rows, says in self.told:
            fallen = says.get("petals_fallen", self.entry["petals_fallen"])
            self._say("petal_fall", rows if fallen else rows[:0], self.entry["date"], specific=False)

    def look(self) -> None:
        """The condition in which each bag was found on the round's day, where it tells one."""
        for rows, says in self.told:
            condition = says.get("condition") or self.entry["condition"]
            if condition:
                look = {"date": self.entry["date"], "condition": condition, "by": self.source}
                self.words.looks.add(rows, look)


# Letters


def _hear_letters(season: Season) -> _Words:
    words, members = _Words(), RoundMembers(season)
    quoting = {
        report: np.array(rows) for report, rows in group_rows(season.columns("screening")["report"]).items()
    }
    for entry in season.columns("letters").records():
        _hear_letter(entry, members, quoting, words)
    words.take_back("screening", "result", len(season.columns("screening")))
    return words


def _hear_letter(
    entry: Mapping[str, Any], members: RoundMembers, quoting: Mapping[str, Array], words: _Words
) -> None:
    """Takes down what a letter says; `quoting` are the samples that name each report."""
    name = entry["letter"]
    number, source = entry["report"] or name, f"letter {name}"
    quoted = [quoting[one] for one in dict.fromkeys((name, number)) if one in quoting]
    naming = quoted[0] if len(quoted) == 1 else np.sort(np.concatenate([np.zeros(0, dtype="int64"), *quoted]))
    # A letter that lists no samples speaks of those that name it.
    listed = members.named("screening", entry) if entry["samples"] else naming
    special = _hear_exceptions(entry, members)
    most = _without(listed, [one.rows for one in special])
    heard = _Heard(words, "screening", entry, source, most, special)
    for rows, _ in heard.told:
        words.say("screening", "report", rows, number, source, specific=False)
        words.say("screening", "submitted", rows, entry["received"], source, specific=False)
        words.say("screening", "evidence", rows, entry["evidence"], source, specific=False)
    left = _without(naming, [listed, *(one.rows for one in special)])
    if len(left):
        words.missing.append((left, source))
    heard.say_all(_LETTER)
    for rows, says in special:
        # A sample that a letter excepts without a word has no result by it.
        if "result" not in says:
            words.unsay("screening", "result", rows, source)


def _hear_exceptions(entry: Mapping[str, Any], members: RoundMembers) -> list[Excepted]:
    """What a letter says otherwise of some samples; of two exceptions that name one the later counts."""
    found = [Excepted(members.named("screening", one), one) for one in entry["exceptions"]]
    if len(found) == 1:
        return found
    last = np.zeros(1 + max((int(one.rows.max(initial=0)) for one in found), default=0), dtype="int64")
    for at, one in enumerate(found):
        last[one.rows] = at
    return [Excepted(one.rows[last[one.rows] == at], one.says) for at, one in enumerate(found)]


# The routine


def _add_routine(season: Season) -> Season:
    """What the routine says of records that are silent; nothing if nobody states it."""
    routine: Mapping[str, Any] = season.details.raw["routine"]
    if says_nothing(routine["stated_by"]):
        return season
    tables: dict[str, Columns] = {}
    attested = dict(season.attested)
    for column, table in _ROUTINE:
        value = routine.get(column)
        if value is None or (isinstance(value, str) and says_nothing(value)):
            continue
        records = tables.get(table, season.columns(table))
        silent = _are_silent(records, column)
        before = attested.get((table, column)) or [""] * len(records)
        said = tuple(value) if isinstance(value, list) else value
        values = [said if hit else own for hit, own in zip(silent, records.values(column), strict=True)]
        tables[table] = fill_column(records, load_tables()[table].column(column), values)
        attested[table, column] = ["routine" if hit else old for hit, old in zip(silent, before, strict=True)]
    return replace(season.with_tables(tables), attested=attested)


def _are_silent(records: Columns, column: str) -> list[bool]:
    """Which records of a table say nothing in a column where the routine may speak for them."""
    silent = records.absent(column)
    if "status" in records:
        # Seed that claims nothing went its own way.
        silent &= records["status"] != "conventional"
    found: list[bool] = silent.tolist()
    return found
