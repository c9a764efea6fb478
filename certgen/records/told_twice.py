"""What two seasons tell of one record: what may change from year to year, and what can't both be true."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import pandas as pd

if TYPE_CHECKING:
    from certgen.records.season import SeasonDetails
    from certgen.records.tables import Column

#: What may change from year to year without a contradiction, beside what only describes.
_FREE: Final = frozenset({
    "evidence", "boundary", "buffer", "non_gm_statement", "search_log", "short",
})  # fmt: skip


def tells_otherwise(
    table: str, column: Column, here: Any, there: Any, new: pd.DataFrame, row: int, before: SeasonDetails
) -> bool:
    """Whether two years' words for one field can't both be true."""
    name = column.name
    if column.field.evidence == "describes":
        return False
    if table == "blocks" and name == "status":
        # Land changes its status, but not behind a season's back.
        since: Any = new["organic_since"].iat[row]
        return here == "organic" and there != "organic" and not since > pd.Timestamp(before.start)
    if table == "blocks" and name == "last_prohibited_substance" and here != there:
        # A later day may have come in between; an earlier one, or none, unsays what was known.
        return here == "none known" or str(here) <= before.end.isoformat()
    if name in _FREE or (table == "trees" and name == "sex" and there == "unknown"):
        return False
    if name == "checks":
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


def is_absent(value: Any) -> bool:
    """Whether nothing stands in a field."""
    if isinstance(value, (tuple, list, dict)):
        return not value
    return value is None or bool(pd.isna(value))


def shown(value: Any) -> str:
    """A value as it is quoted."""
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, tuple):
        return ", ".join(shown(part) for part in value)
    if isinstance(value, dict):
        return " ".join(shown(part) for name, part in value.items() if not name.endswith("_mg"))
    return str(value)
