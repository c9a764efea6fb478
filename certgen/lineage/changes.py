"""What changed from one season to the next, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from pandas import DataFrame

    from certgen.records import Season


class Alteration(NamedTuple):
    """One field of a record that both seasons hold: what it said and what it says, as typed; '' for "
    "nothing."""

    id: str
    field: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Change:
    """What came and went of one subject, each in the order of the records, and what was altered.

    `key` is the table or one of `varieties`, `materials`, `equipment`, `suppliers`, `standards`,
    `operation`; `title` is what a page calls it.
    """

    key: str
    title: str
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    altered: tuple[Alteration, ...] = ()

    @property
    def any(self) -> bool:
        """Whether anything changed at all."""
        return bool(self.added or self.removed or self.altered)


@dataclass(frozen=True, slots=True)
class Changes:
    """A season against an earlier one, subject by subject; `changed` leaves out those that stayed the "
    "same."""

    before: str
    after: str
    subjects: tuple[Change, ...]

    @property
    def changed(self) -> tuple[Change, ...]:
        """The subjects of which anything changed."""
        return tuple(change for change in self.subjects if change.any)

    def of(self, key: str) -> Change:
        """One subject by its key; KeyError for one that isn't compared."""
        return {change.key: change for change in self.subjects}[key]


#: Tables whose records live on from season to season: key, title, and the fields that are compared.
_LASTING: Final = (
    (
        "blocks",
        "block",
        "Blocks",
        (
            "status",
            "organic_since",
            "last_prohibited_substance",
            "area",
            "boundary",
            "buffer",
            "nearest_same_crop",
        ),
    ),
    ("plantings", "planting", "Plantings", ("block", "variety", "planted", "material", "material_status")),
    ("trees", "tree", "Trees", ("planting", "sex", "removed")),
)
#: Words out of a column, or out of a list in it: subject, title, (table, column) pairs.
_WORDS: Final = (
    ("varieties", "Varieties", (("plantings", "variety"), ("lots", "variety"))),
    ("materials", "Input materials", (("inputs", "material"),)),
    ("equipment", "Equipment", (("batches", "equipment"), ("cleaning", "equipment"))),
    ("suppliers", "Suppliers of seed and inputs", (("plantings", "origin.supplier"), ("inputs", "supplier"))),
    ("laboratories", "Laboratories", (("screening", "laboratory"), ("tests", "laboratory"))),
    ("methods", "Ways of screening", (("screening", "method"),)),
)
_OPERATION: Final = ("name", "certificate", "certifier", "address", "responsible")


def compare_seasons(before: Season, after: Season) -> Changes:
    """What changed from `before` to `after`.

    Records that live on are matched by their number and compared field by field, as typed; a tree that the
    earlier season had removed already is not missed by the later one. Varieties, materials, equipment and
    the like are compared as sets of words, whatever their letter case. Lots are the later season's own.
    """
    subjects = [
        *(_compare_records(before, after, *lasting) for lasting in _LASTING),
        *(
            _compare_words(key, title, _words(before, columns), _words(after, columns))
            for key, title, columns in _WORDS
        ),
        _compare_lots(before, after),
        _compare_words("standards", "Standards", before.details.standards, after.details.standards),
        _compare_words(
            "events_of_concern",
            "Events of concern",
            before.details.events_of_concern,
            after.details.events_of_concern,
        ),
        _compare_operation(before, after),
    ]
    return Changes(before.details.label, after.details.label, tuple(subjects))


def _compare_records(
    before: Season, after: Season, table: str, key: str, title: str, fields: tuple[str, ...]
) -> Change:
    old, new = _records(before, table, key, fields), _records(after, table, key, fields)
    removed = {name for name, values in old.items() if table == "trees" and values.get("removed")}
    kept = [name for name in new if name in old]
    return Change(
        table,
        title,
        _without(new, old),
        _without(old, {*new, *removed}),
        tuple(change for name in kept for change in _alterations(name, fields, old[name], new[name])),
    )


def _without(names: Iterable[str], others: Collection[str]) -> tuple[str, ...]:
    return tuple(name for name in names if name not in others)


def _alterations(
    name: str, fields: tuple[str, ...], old: Mapping[str, str], new: Mapping[str, str]
) -> Iterator[Alteration]:
    for field in fields:
        if old[field] != new[field]:
            yield Alteration(name, field, old[field], new[field])


def _records(season: Season, table: str, key: str, fields: tuple[str, ...]) -> dict[str, dict[str, str]]:
    """The fields of each record as typed, by number; the first of two with one number."""
    frame = season.table(table)
    columns = {field: _typed(frame, field) for field in fields}
    found: dict[str, dict[str, str]] = {}
    for row, identifier in enumerate(_typed(frame, key)):
        if identifier:
            found.setdefault(identifier, {field: columns[field][row] for field in fields})
    return found


def _typed(frame: DataFrame, column: str) -> list[str]:
    """A column as text, days as they are typed; '' where nothing stands."""
    series = frame[column]
    shown = series.dt.strftime("%Y-%m-%d") if series.dtype.kind == "M" else series
    return [str(value) if there else "" for value, there in zip(shown, series.notna(), strict=True)]


def _words(season: Season, columns: tuple[tuple[str, str], ...]) -> list[str]:
    found: list[Any] = []
    for table, column in columns:
        frame = season.table(table)
        values = frame[column]
        if values.dtype == object:
            found += [word for words in values.tolist() for word in words]
        else:
            found += values.dropna().unique().tolist()
    return found


def _compare_words(key: str, title: str, before: Iterable[str], after: Iterable[str]) -> Change:
    old, new = _fold(before), _fold(after)
    return Change(
        key,
        title,
        tuple(word for folded, word in new.items() if folded not in old),
        tuple(word for folded, word in old.items() if folded not in new),
    )


def _fold(words: Iterable[str]) -> Mapping[str, str]:
    """Each word once, under a spelling without letter case and needless spaces."""
    found: dict[str, str] = {}
    for word in words:
        found.setdefault(" ".join(str(word).split()).casefold(), str(word))
    return found


def _compare_lots(before: Season, after: Season) -> Change:
    """New lots, and those that the season before had and the later one's ledger no longer names."""
    moved = after.table("movements")["lot"].dropna().unique().tolist()
    old, new = before.table("lots")["lot"].tolist(), after.table("lots")["lot"].tolist()
    there = {*new, *moved}
    return Change(
        "lots",
        "Lots",
        tuple(lot for lot in dict.fromkeys(new) if lot not in set(old)),
        tuple(lot for lot in dict.fromkeys(old) if lot not in there),
    )


def _compare_operation(before: Season, after: Season) -> Change:
    old, new = before.details.operation, after.details.operation
    return Change(
        "operation",
        "The operation",
        altered=tuple(
            Alteration(new.name, field, getattr(old, field), getattr(new, field))
            for field in _OPERATION
            if getattr(old, field) != getattr(new, field)
        ),
    )
