"""Records completed by what was written once for many: rounds, laboratory letters and the routine.

A value that stands in the record itself is kept, whatever else says. Where it is silent, what a round or a
letter says of it is taken, an exception before what held for the rest, and for what may be routine the
season's own statement last. Nothing is made up: what nobody said stays silent.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import pandas as pd

from certgen.records.frames import objects, typed_column
from certgen.records.placeholders import says_nothing
from certgen.records.rounds import RoundMembers, target_of
from certgen.records.season import Contradiction
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from certgen.records.season import Season

#: What a round of a kind says of the records that it covers: its own field, and theirs.
_BAGGING: Final = ("flower", "stage", "other_buds_cleared", "secured", "bag_use")
_UNCOVERING: Final = ("outcome", "fruit_marked")
_SAMPLING: Final = ("petiole", "tissue")
#: What a letter says of its samples.
_LETTER: Final = (
    "laboratory", "method", "targets", "incubation", "temperature", "reagent_lot", "controls", "result",
    "reported",
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
        said = self.said.get((table, column), [])
        self.said[table, column] = [one for one in said if one.row not in rows or one.source != source]

    def say(
        self, table: str, column: str, rows: Iterable[int], value: Any, source: str, *, specific: bool
    ) -> None:
        """Takes down that a source says a value of some rows; nothing where it is silent."""
        if not _absent(value):
            words = self.said.setdefault((table, column), [])
            words += [Word(row, value, source, specific) for row in rows]


def complete_season(season: Season, others: Sequence[Season] = ()) -> Season:
    """The season with its rounds, letters and routine laid into the records that they speak of.

    `others` are the farm's other seasons, whose registers say what stands where when its own doesn't.
    """
    if len(season.table("rounds")):
        # A bag's own day comes of its bagging round, and the walks after it need it.
        for kinds in (("bagging", "sampling"), ("check", "uncovering", "picking")):
            season = _lay_words(season, _hear_rounds(season, kinds, others), others)
    if len(season.table("letters")):
        season = _lay_words(season, _hear_letters(season), others)
    return _add_routine(season) if season.details.raw.get("routine") else season


def _lay_words(season: Season, words: _Words, others: Sequence[Season]) -> Season:
    tables, attested, contradicted = dict(season.tables), dict(season.attested), list(season.contradicted)
    for (table, column), said in words.said.items():
        frame = tables[table]
        before = frame[column] if column in frame else pd.Series(pd.NA, frame.index, dtype="boolean")
        values, sources, differing = _fill(before, said, always=column == "result")
        tables[table] = _lay_in(frame, table, column, values)
        attested[table, column] = sources
        if not _only_describes(table, column):
            contradicted += [Contradiction(table, row, column, *told) for row, *told in differing]
    contradicted += [
        Contradiction(
            "screening", row, "report", str(tables["screening"]["report"].iat[row]), source, "not listed"
        )
        for row, source in words.missing
    ]
    if words.looks:
        attested["bagging", "checks"] = [
            "" if own or row not in words.looks else str(words.looks[row][0]["by"])
            for row, own in enumerate(tables["bagging"]["checks"].tolist())
        ]
        tables["bagging"] = _add_looks(tables["bagging"], words.looks)
    tables = _write_tags((season, *others), tables, attested)
    return replace(season, tables=tables, attested=attested, contradicted=tuple(contradicted))


def _only_describes(table: str, column: str) -> bool:
    return any(
        one.name == column and one.field.evidence == "describes" for one in load_tables()[table].columns
    )


# Rounds


def _hear_rounds(season: Season, kinds: Sequence[str], others: Sequence[Season]) -> _Words:
    words, members = _Words(), RoundMembers(season, others)
    frame = season.table("rounds")
    for row in range(len(frame)):
        if frame["kind"].iat[row] in kinds:
            entry = {column: frame[column].iat[row] for column in frame.columns}
            _hear_round(entry, members, words)
    return words


def _hear_round(entry: Mapping[str, Any], members: RoundMembers, words: _Words) -> None:
    kind, day, source = entry["kind"], entry["date"], f"round {entry['round']}"
    table = target_of(kind)
    if kind == "sampling":
        rows = members.samples(entry, day)
        named = set(members.rows_of("screening", entry["samples"]))
    elif kind == "picking":
        rows = members.rows_of("harvests", entry["harvests"])
        named = set()
    else:
        rows = members.bags(entry, day)
        named = set(members.rows_of("bagging", entry["bags"]))
    special = members.exceptions(entry, table, rows)
    plain = [row for row in rows if row not in special]
    told = [row for row in dict.fromkeys((*rows, *special)) if not special.get(row, {}).get("left_out")]

    def say_day(column: str) -> None:
        # A record that a round names by its number can't have been done on another day.
        words.say(table, column, [row for row in told if row in named], day, source, specific=True)
        words.say(table, column, [row for row in told if row not in named], day, source, specific=False)

    if kind == "bagging":
        say_day("covered")
        _say_all(words, table, (*_BAGGING, "tagged", "numbered"), entry, plain, special, source)
    elif kind == "sampling":
        say_day("collected")
        _say_all(words, table, (*_SAMPLING, "marked"), entry, plain, special, source)
    elif kind == "picking":
        _say_all(words, table, (("ripeness", "stage"),), entry, plain, special, source)
    else:
        for row in told:
            condition = special.get(row, {}).get("condition") or _given(entry["condition"])
            if condition:
                look = {"date": day.date(), "condition": condition, "by": source}
                words.looks.setdefault(row, []).append(look)
        if kind == "uncovering":
            say_day("uncovered")
            _say_all(words, table, _UNCOVERING, entry, plain, special, source)
        else:
            most = _given(entry["petals_fallen"])
            fallen = [row for row in told if special.get(row, {}).get("petals_fallen", most)]
            words.say(table, "petal_fall", fallen, day, source, specific=False)


def _say_all(
    words: _Words,
    table: str,
    columns: Iterable[str | tuple[str, str]],
    entry: Mapping[str, Any],
    plain: Sequence[int],
    special: Mapping[int, Mapping[str, Any]],
    source: str,
) -> None:
    """What a round says of several fields: of most of its records, and of the exceptions."""
    for column in columns:
        own, theirs = column if isinstance(column, tuple) else (column, column)
        words.say(table, theirs, plain, entry[own], source, specific=False)
        for row, exception in special.items():
            if exception.get("left_out"):
                continue
            if own in exception:
                words.say(table, theirs, [row], exception[own], source, specific=True)
            else:
                words.say(table, theirs, [row], entry[own], source, specific=False)


# Letters


def _hear_letters(season: Season) -> _Words:
    words, members = _Words(), RoundMembers(season)
    frame, samples = season.table("letters"), season.table("screening")
    quoted = samples["report"].astype(object).tolist()
    for row in range(len(frame)):
        entry: dict[str, Any] = {column: frame[column].iat[row] for column in frame.columns}
        name = entry["letter"]
        number = _given(entry["report"]) or name
        rows = dict.fromkeys(members.rows_of("screening", entry["samples"]))
        quoting = [at for at, report in enumerate(quoted) if report in {name, number}]
        if not entry["samples"]:
            # A letter that lists no samples speaks of those that name it.
            rows |= dict.fromkeys(quoting)
        source = f"letter {name}"
        special: dict[int, Mapping[str, Any]] = {}
        for exception in entry["exceptions"]:
            special.update(dict.fromkeys(members.rows_of("screening", exception["samples"]), exception))
        plain = [at for at in rows if at not in special]
        told = list(dict.fromkeys((*rows, *special)))
        words.say("screening", "report", told, number, source, specific=False)
        words.say("screening", "submitted", told, entry["received"], source, specific=False)
        words.missing += [(at, source) for at in quoting if at not in rows and at not in special]
        # A sample that a letter excepts without a word has no result by it.
        unsaid = {at: one for at, one in special.items() if "result" not in one}
        _say_all(words, "screening", _LETTER, entry, plain, special, source)
        if unsaid:
            words.unsay("screening", "result", unsaid, source)
        if entry["evidence"]:
            words.say("screening", "evidence", told, entry["evidence"], source, specific=False)
    return words


# Laying the words in


def _fill(
    column: pd.Series[Any], said: Sequence[Word], *, always: bool = False
) -> tuple[list[Any], list[str], list[tuple[int, str, str, str]]]:
    """The column's values with what is said where it is silent, who says each, and who says otherwise."""
    values: list[Any] = column.astype(object).tolist()
    sources = [""] * len(values)
    taken: dict[int, Word] = {}
    differing: list[tuple[int, str, str, str]] = []
    # An exception names its record; it goes before what held for the rest.
    for word in sorted(said, key=lambda word: not word.specific):
        row, value = word.row, word.value
        own = values[row]
        if _absent(own):
            values[row], sources[row], taken[row] = value, word.source, word
        elif _plain(own) != _plain(value):
            first = taken.get(row)
            # What held for most gives way to the record and to an exception; of two that name it one is
            # wrong.
            if always or word.specific or (first is not None and not first.specific):
                differing.append((row, _plain(own), word.source, _plain(value)))
    return values, sources, differing


def _lay_in(frame: pd.DataFrame, table: str, column: str, values: list[Any]) -> pd.DataFrame:
    """The table with a column's new values, and with its converted ones if it holds quantities."""
    declared = next((one for one in load_tables()[table].columns if one.name == column), None)
    if declared is None:
        # A word of a round that no record has a field for: whether tags were written, leaves marked.
        return frame.assign(**{column: pd.array(values, dtype="boolean")})
    if declared.kind == "date":
        values = [None if _absent(value) else pd.Timestamp(value).strftime("%Y-%m-%d") for value in values]
    elif declared.kind not in {"list", "evidence", "mapping"}:
        values = [None if _absent(value) else value for value in values]
    return frame.assign(**typed_column(declared, values))


def _add_looks(frame: pd.DataFrame, looks: Mapping[int, Sequence[Mapping[str, Any]]]) -> pd.DataFrame:
    found: list[Any] = frame["checks"].tolist()
    for row, seen in looks.items():
        found[row] = (*found[row], *seen)
    return frame.assign(checks=objects(found))


def _write_tags(
    seasons: Sequence[Season], tables: dict[str, pd.DataFrame], attested: dict[tuple[str, str], Sequence[str]]
) -> dict[str, pd.DataFrame]:
    """Tags and marks that a round says were written as the log has them, where no record copies them."""
    bags = tables["bagging"]
    if "tagged" in bags:
        who = attested.pop(("bagging", "tagged"))
        written = bags["tagged"].fillna(value=False).astype(bool)
        says = {
            "tag.date": bags["covered"],
            "tag.tree": bags["tree"],
            "tag.variety": bags["tree"].map(_variety_of(seasons)).astype("str"),
        }
        bags = _copy_in(bags, written, says, who, "bagging", attested)
        bags = bags.drop(columns="tagged")
    if "numbered" in bags:
        who = attested.pop(("bagging", "numbered"))
        written = bags["numbered"].fillna(value=False).astype(bool)
        bags = _copy_in(bags, written, {"tag.bag": bags["bag"]}, who, "bagging", attested)
        bags = bags.drop(columns="numbered")
    samples = tables["screening"]
    if "marked" in samples:
        who = attested.pop(("screening", "marked"))
        written = samples["marked"].fillna(value=False).astype(bool)
        samples = _copy_in(samples, written, {"mark": samples["tree"]}, who, "screening", attested)
        samples = samples.drop(columns="marked")
    return {**tables, "bagging": bags, "screening": samples}


def _copy_in(
    frame: pd.DataFrame,
    written: pd.Series[bool],
    says: Mapping[str, pd.Series[Any]],
    who: Sequence[str],
    table: str,
    attested: dict[tuple[str, str], Sequence[str]],
) -> pd.DataFrame:
    for column, values in says.items():
        silent = frame[column].isna() & written & values.notna()
        frame = frame.assign(**{column: frame[column].where(~silent, values)})
        before = attested.get((table, column)) or [""] * len(frame)
        attested[table, column] = [
            new if hit else old for hit, new, old in zip(silent.tolist(), who, before, strict=True)
        ]
    return frame


def _variety_of(seasons: Sequence[Season]) -> dict[str, str]:
    """The variety of each tree, out of the first register that has it."""
    varieties: dict[str, str] = {}
    trees: dict[str, str] = {}
    for one in seasons:
        plantings, register = one.table("plantings"), one.table("trees")
        for planting, variety in zip(
            plantings["planting"].tolist(), plantings["variety"].tolist(), strict=True
        ):
            varieties.setdefault(planting, variety)
        for tree, planting in zip(register["tree"].tolist(), register["planting"].tolist(), strict=True):
            trees.setdefault(tree, planting)
    return {tree: varieties[planting] for tree, planting in trees.items() if planting in varieties}


def _add_routine(season: Season) -> Season:
    """What the routine says of records that are silent; nothing if nobody states it."""
    if says_nothing(season.details.raw["routine"]["stated_by"]):
        return season
    tables, attested = dict(season.tables), dict(season.attested)
    for column, table in _ROUTINE:
        value = season.details.raw["routine"].get(column)
        if value is None or (isinstance(value, str) and says_nothing(value)):
            continue
        frame = tables[table]
        value = tuple(value) if isinstance(value, list) else value
        values: list[Any] = frame[column].astype(object).tolist()
        before = attested.get((table, column)) or [""] * len(values)
        silent = [_absent(own) for own in values]
        if "status" in frame:
            # Seed that claims nothing went its own way.
            claims = frame["status"].ne("conventional").tolist()
            silent = [one and claim for one, claim in zip(silent, claims, strict=True)]
        values = [value if one else own for one, own in zip(silent, values, strict=True)]
        tables[table] = _lay_in(frame, table, column, values)
        attested[table, column] = ["routine" if one else old for one, old in zip(silent, before, strict=True)]
    return replace(season, tables=tables, attested=attested)


def _absent(value: Any) -> bool:
    if isinstance(value, (tuple, list)):
        return not value
    return value is None or bool(pd.isna(value))


def _given(value: Any) -> Any:
    return None if _absent(value) else value


def _plain(value: Any) -> str:
    if isinstance(value, (tuple, list)):
        return ", ".join(str(part) for part in value)
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
