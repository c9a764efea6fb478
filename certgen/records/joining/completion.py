"""Records completed by what was written once for many: rounds, laboratory letters and the routine.

A value that stands in the record itself is kept, whatever else says. Where it is silent, what a round or a
letter says of it is taken, an exception before what held for the rest, and for what may be routine the
season's own statement last. Nothing is made up: what nobody said stays silent.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from certgen.records.columns import is_in
from certgen.records.frames import fill_column, objects
from certgen.records.joining.contradictions import shown
from certgen.records.joining.custody import lay_custody
from certgen.records.joining.placeholders import says_nothing
from certgen.records.joining.rounds import RoundMembers
from certgen.records.joining.written_tags import WORDS, write_tags
from certgen.records.rows import is_absent
from certgen.records.season import Contradiction
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from certgen.records.columns import Columns
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


class Word(NamedTuple):
    """That a round, a letter or the routine says a value of one record's field."""

    row: int
    value: Any
    source: str
    specific: bool


@dataclass
class _Words:
    """What is said of each table's columns."""

    said: dict[tuple[str, str], list[Word]] = field(default_factory=dict)
    looks: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    #: Samples that name a letter which doesn't list them, and the letter.
    missing: list[tuple[int, str]] = field(default_factory=list)

    def unsay(self, table: str, column: str, rows: Collection[int], source: str) -> None:
        """Takes back what a source was said to say of some rows."""
        said = self.said.get((table, column))
        if rows and said:
            said[:] = [word for word in said if word.row not in rows or word.source != source]

    def say(
        self, table: str, column: str, rows: Iterable[int], value: Any, source: str, *, specific: bool
    ) -> None:
        """Takes down that a source says a value of some rows; nothing where it is silent."""
        if not is_absent(value):
            words = self.said.setdefault((table, column), [])
            words += [Word(row, value, source, specific) for row in rows]


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
    attested, contradicted = dict(season.attested), list(season.contradicted)
    for (table, column), said in words.said.items():
        records = tables.get(table, season.columns(table))
        if column in WORDS.get(table, ()):
            values, sources, differing = _fill([None] * len(records), said)
            written[table, column] = values, sources
        else:
            values, sources, differing = _fill(records.values(column), said, always=column == "result")
            tables[table] = fill_column(records, load_tables()[table].column(column), values)
            attested[table, column] = sources
        if not _only_describes(table, column):
            contradicted += [Contradiction(table, row, column, *told) for row, *told in differing]
    reports = tables.get("screening", season.columns("screening"))["report"]
    contradicted += [
        Contradiction("screening", row, "report", str(reports[row]), source, "not listed")
        for row, source in words.missing
    ]
    if words.looks:
        bags = tables.get("bagging", season.columns("bagging"))
        attested["bagging", "checks"] = [
            "" if own or row not in words.looks else str(words.looks[row][0]["by"])
            for row, own in enumerate(bags["checks"].tolist())
        ]
        tables["bagging"] = _add_looks(bags, words.looks)
    write_tags((season, *others), tables, written, attested)
    return replace(season.with_tables(tables), attested=attested, contradicted=tuple(contradicted))


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
    named = set(members.named(table, entry))
    special = members.exceptions(entry, table, rows)
    heard = _Heard(words, table, entry, source, [row for row in rows if row not in special], special)
    told = [row for row in dict.fromkeys((*rows, *special)) if not special.get(row, {}).get("left_out")]
    if kind == "bagging":
        heard.say_day("covered", told, named)
        heard.say_all((*_BAGGING, "tagged", "numbered"))
        heard.answer_for(told)
    elif kind == "sampling":
        heard.say_day("collected", told, named)
        heard.say_all((*_SAMPLING, "marked"))
    elif kind == "picking":
        heard.say_all((("ripeness", "stage"),))
    else:
        heard.look(told)
        if kind == "uncovering":
            heard.say_day("uncovered", told, named)
            heard.say_all(("outcome",))
            heard.say_marks(members.outcomes)
        else:
            fallen = [
                row for row in told if special.get(row, {}).get("petals_fallen", entry["petals_fallen"])
            ]
            words.say(table, "petal_fall", fallen, entry["date"], source, specific=False)


@dataclass(frozen=True, slots=True)
class _Heard:
    """A round or letter that is being heard: what it says of most of its records, and of the exceptions."""

    words: _Words
    table: str
    entry: Mapping[str, Any]
    source: str
    #: The rows of which it says what holds for most.
    most: Sequence[int]
    special: Mapping[int, Mapping[str, Any]]

    def say_day(self, column: str, told: Sequence[int], named: Collection[int]) -> None:
        """A record that a round names by its number can't have been done on another day."""
        for specific in (True, False):
            rows = [row for row in told if (row in named) is specific]
            self.words.say(self.table, column, rows, self.entry["date"], self.source, specific=specific)

    def say_all(self, columns: Iterable[str | tuple[str, str]]) -> None:
        """What it says of several fields, each by its own name or as (its own name, the records')."""
        for column in columns:
            own, theirs = column if isinstance(column, tuple) else (column, column)
            self._say(theirs, self.most, self.entry[own], specific=False)
            for row, exception in self.special.items():
                if not exception.get("left_out"):
                    value = exception.get(own, self.entry[own])
                    self._say(theirs, [row], value, specific=own in exception)

    def _say(self, column: str, rows: Sequence[int], value: Any, *, specific: bool) -> None:
        self.words.say(self.table, column, rows, value, self.source, specific=specific)

    def say_marks(self, outcomes: Sequence[str | None]) -> None:
        """Whether fruit was marked: what held for most is said of flowers that set fruit only. `outcomes` are
        what the bags' own records say, which goes before the round's word."""
        usual, marked = self.entry["outcome"], self.entry["fruit_marked"]
        bore = [row for row in self.most if (outcomes[row] or usual) in {"set", None}]
        self._say("fruit_marked", bore, marked, specific=False)
        for row, exception in self.special.items():
            specific = "fruit_marked" in exception
            outcome = outcomes[row] or exception.get("outcome", usual)
            if not exception.get("left_out") and (specific or outcome in {"set", None}):
                self._say("fruit_marked", [row], exception.get("fruit_marked", marked), specific=specific)

    def answer_for(self, told: Sequence[int]) -> None:
        """Whoever walked the round answers for a record that names nobody."""
        named = [
            who for who in (self.entry["recorded_by"], self.entry["by"]) if who and not says_nothing(who)
        ]
        self._say("recorded_by", told, next(iter(named), None), specific=False)

    def look(self, told: Sequence[int]) -> None:
        """The condition in which each bag was found on the round's day, where it tells one."""
        for row in told:
            condition = self.special.get(row, {}).get("condition") or self.entry["condition"]
            if condition:
                look = {"date": self.entry["date"], "condition": condition, "by": self.source}
                self.words.looks.setdefault(row, []).append(look)


# Letters


def _hear_letters(season: Season) -> _Words:
    words, members = _Words(), RoundMembers(season)
    quoted = season.columns("screening").values("report")
    for entry in season.columns("letters").records():
        _hear_letter(entry, members, quoted, words)
    return words


def _hear_letter(
    entry: Mapping[str, Any], members: RoundMembers, quoted: Sequence[str | None], words: _Words
) -> None:
    """Takes down what a letter says; `quoted` is the report that each sample names."""
    name = entry["letter"]
    number, source = entry["report"] or name, f"letter {name}"
    quoting = [row for row, report in enumerate(quoted) if report in {name, number}]
    # A letter that lists no samples speaks of those that name it.
    listed = members.named("screening", entry) if entry["samples"] else quoting
    special: dict[int, Mapping[str, Any]] = {}
    for exception in entry["exceptions"]:
        special.update(dict.fromkeys(members.named("screening", exception), exception))
    told = list(dict.fromkeys((*listed, *special)))
    words.say("screening", "report", told, number, source, specific=False)
    words.say("screening", "submitted", told, entry["received"], source, specific=False)
    words.missing += [(row, source) for row in quoting if row not in told]
    most = [row for row in dict.fromkeys(listed) if row not in special]
    _Heard(words, "screening", entry, source, most, special).say_all(_LETTER)
    # A sample that a letter excepts without a word has no result by it.
    words.unsay("screening", "result", _without(special, "result"), source)
    words.say("screening", "evidence", told, entry["evidence"], source, specific=False)


def _without(special: Mapping[int, Mapping[str, Any]], field_name: str) -> set[int]:
    return {row for row, exception in special.items() if field_name not in exception}


# Laying the words in


def _fill(
    values: list[Any], said: Sequence[Word], *, always: bool = False
) -> tuple[list[Any], list[str], list[tuple[int, str, str, str]]]:
    """A column's values with what is said where it is silent, who says each, and who says otherwise."""
    sources = [""] * len(values)
    taken: dict[int, Word] = {}
    differing: list[tuple[int, str, str, str]] = []
    # An exception names its record; it goes before what held for the rest.
    for word in sorted(said, key=lambda word: not word.specific):
        row, value = word.row, word.value
        own = values[row]
        if is_absent(own):
            values[row], sources[row], taken[row] = value, word.source, word
        elif shown(own) != shown(value):
            first = taken.get(row)
            # What held for most gives way to the record and to an exception; of two that name it one is
            # wrong.
            if always or word.specific or (first is not None and not first.specific):
                differing.append((row, shown(own), word.source, shown(value)))
    return values, sources, differing


def _add_looks(bags: Columns, looks: Mapping[int, Sequence[Mapping[str, Any]]]) -> Columns:
    found = bags["checks"].tolist()
    for row, seen in looks.items():
        found[row] = (*found[row], *seen)
    return bags.adding(checks=objects(found))


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
