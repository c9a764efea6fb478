"""Entries that only look like one: a question mark, a dash, 'unknown'. They say no more than an empty
field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.records.frames import objects

if TYPE_CHECKING:
    from certgen.records.columns import Columns
    from certgen.records.season import Season

_SIGNS: Final = ("?", "??", "???", "-", "--", "---", "–", "—", ".", "..", "...", "*", "/", "_")
_WORDS: Final = (
    "n/a", "na", "n.a.", "none", "unknown", "not known", "tbd", "tba", "tbc", "todo", "x", "xx", "xxx", "nil",
    "pending", "to follow", "later", "missing", "nobody", "somebody", "someone", "various", "misc",
    "nothing", "no",
)  # fmt: skip
#: What says that there was none of it.
_NONE: Final = ("-", "--", "---", "–", "—", "/", "n/a", "na", "n.a.", "none", "nil", "nothing", "no")
#: Text columns whose words show something; what a used container held may well have been 'none'.
_SHOWING: Final = {
    "screening": ("laboratory", "report"),
    "letters": ("laboratory", "report"),
    "blocks": ("boundary",),
    "plantings": ("origin.supplier", "origin.certificate"),
    "lots": ("packaging",),
    "tests": ("laboratory", "report"),
    "movements": ("party", "document", "last_certified_operation"),
    "inputs": ("allowed_by", "condition_met"),
    "materials": ("approved_by",),
    "batches": ("never_packed.why",),
    "incidents": ("action",),
}
_CONTENTS: Final = {"bagging": ("previous_contents",), "lots": ("previous_contents",)}
#: Where any other word speaks against the seed: other seed that nobody can name was other seed, and a
#: condition that nobody knows was a condition.
_AGAINST: Final = {"batches": ("other_seed",), "materials": ("condition",)}


def says_nothing(text: str) -> bool:
    """Whether a text only looks like an entry."""
    return _fold(text) in (*_SIGNS, *_WORDS)


def _fold(text: str) -> str:
    return text.strip().casefold()


def mask_placeholders(season: Season) -> Season:
    """The season with entries that say nothing taken for absent, in the columns that show something."""
    changed: dict[str, Columns] = {}
    for columns_of, words in (
        (_SHOWING, (*_SIGNS, *_WORDS)),
        (_CONTENTS, (*_SIGNS, "unknown", "not known", "tbd")),
        (_AGAINST, _NONE),
    ):
        for table, columns in columns_of.items():
            for column in columns:
                texts = set(season.columns(table)[column].tolist())
                empty = {text for text in texts if text is not None and _fold(text) in words}
                if empty:
                    records = changed.get(table, season.columns(table))
                    kept = [None if text in empty else text for text in records[column].tolist()]
                    changed[table] = records.adding(**{column: objects(kept)})
    return season.with_tables(changed) if changed else season
