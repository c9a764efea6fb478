"""Files as records name them, spelled as they lie in the evidence folder.

An accented letter is one sign or two (é, or e and ´), by keyboard and by disk: some systems store the other
than was typed. Both are one name (Unicode's form NFC tells), so a record means the file that is there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final
from unicodedata import normalize

from certgen.records.frames import objects
from certgen.records.joining.renaming import FILES_IN_PARTS, names_file
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.records.columns import Columns
    from certgen.records.season import Season

#: What names files in the `season` mapping, at any depth.
_NAMED_IN_SEASON: Final = frozenset({"evidence", "paper"})


def spell_as_filed(season: Season) -> Season:
    """The season with each file that its records name spelled as the one that is there, where only the way
    of typing differs. A file that is there under the very name is meant before any other.
    """
    there = {normalize("NFC", file): file for file in season.evidence_files if not file.isascii()}
    if not there:
        return season
    speller = _Speller(there, frozenset(season.evidence_files))
    changed = {}
    for name in load_tables():
        columns = dict(speller.respelled(name, season.columns(name)))
        if columns:
            changed[name] = season.columns(name).adding(**columns)
    details = replace(season.details, raw=speller.spell_within(season.details.raw))
    return replace(season.with_tables(changed) if changed else season, details=details)


class _Speller:
    def __init__(self, there: Mapping[str, str], files: frozenset[str]) -> None:
        self.there, self.files = there, files

    def spell(self, named: Any) -> Any:
        """A name, or several; anything else stays."""
        if isinstance(named, str):
            return named if named in self.files else self.there.get(normalize("NFC", named), named)
        if isinstance(named, (tuple, list)):
            return type(named)(map(self.spell, named))
        return named

    def respelled(self, table: str, records: Columns) -> dict[str, Any]:
        """The columns of a table in which a name is spelled otherwise now."""
        found = {}
        for column in load_tables()[table].columns:
            told = records[column.name].tolist() if len(records) else []
            if names_file(table, column):
                spelled = [self.spell(one) for one in told]
            elif fields := FILES_IN_PARTS.get((table, column.name), ()):
                spelled = [tuple(self._spell_fields(one, fields) for one in parts) for parts in told]
            else:
                continue
            if spelled != told:
                found[column.name] = objects(spelled)
        return found

    def _spell_fields(self, entry: Mapping[str, Any], fields: tuple[str, ...]) -> dict[str, Any]:
        return {**entry, **{name: self.spell(entry[name]) for name in fields if name in entry}}

    def spell_within(self, part: Any) -> Any:
        """The `season` mapping, or a part of it."""
        if isinstance(part, dict):
            return {
                name: self.spell(inner) if name in _NAMED_IN_SEASON else self.spell_within(inner)
                for name, inner in part.items()
            }
        if isinstance(part, (tuple, list)):
            return type(part)(map(self.spell_within, part))
        return part
