"""What two seasons tell of one record: what may change from year to year, and what can't both be true."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from certgen.records.season import SeasonDetails
    from certgen.records.tables import Column

#: What may change from year to year without a contradiction, beside what only describes.
_FREE: Final = frozenset({
    "evidence", "boundary", "buffer", "non_gm_statement", "search_log", "short", "origin.packet",
})  # fmt: skip


def tells_otherwise(
    table: str, column: Column, here: Any, there: Any, since: date, before: SeasonDetails
) -> bool:
    """Whether two years' words for one field can't both be true; `since` when a block has been organic."""
    place = (table, column.name)
    if column.field.evidence == "describes" or column.name in _FREE:
        return False
    if place == ("blocks", "status"):
        # Land changes its status, but not behind a season's back.
        return here == "organic" and there != "organic" and not since > before.start
    if place == ("blocks", "last_prohibited_substance"):
        # A later day may have come in between; an earlier one, or none, unsays what was known.
        return here != there and (here == "none known" or str(here) <= before.end.isoformat())
    if place == ("trees", "sex") and there == "unknown":
        return False
    if place == ("bagging", "checks"):
        # Whoever tells later may have looked again; what was seen before was seen all the same.
        return not looks(there) <= looks(here)
    return differ(here, there)


def looks(told: Any) -> set[tuple[Any, Any]]:
    """The day and the condition of each look at a bag."""
    return {(look.get("date"), look.get("condition")) for look in told}


def differ(here: Any, there: Any) -> bool:
    """Whether two values are another; letter case and needless spaces make no other text."""
    if isinstance(here, str) and isinstance(there, str):
        return " ".join(here.split()).casefold() != " ".join(there.split()).casefold()
    return bool(here != there)


def shown(value: Any) -> str:
    """A value as it is quoted: days as typed, yes and no as words, lists with commas."""
    if isinstance(value, (tuple, list)):
        return ", ".join(shown(part) for part in value)
    if isinstance(value, dict):
        return " ".join(shown(part) for name, part in value.items() if not name.endswith("_mg"))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, date) else str(value)


#: Lists of what an inspector tried and found.
_VISITED: Final = {("visits", "exercises"), ("visits", "findings")}


def told_besides(table: str, column: str, here: Any, there: Any) -> list[Any]:
    """What an earlier season tells of a record that counts beside what the later one tells of it.

    A bag found torn doesn't become whole by being left out, nor is a finding closed by that.
    """
    if column == "checks":
        return [look for look in there if not looks([look]) <= looks(here)]
    if (table, column) in _VISITED:
        return [one for one in there if one not in here]
    return []
