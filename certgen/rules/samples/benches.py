"""Who answers for a test: a laboratory with a letter of its own, or the operation's own bench."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from pandas import Series

    from certgen.rules.case import Case

_OWN: Final = re.compile(
    r"\b(?:own|our|ours|we|us|self|myself|in-house|in house|home|home-made|farm bench|kitchen)\b",
    re.IGNORECASE,
)


def is_own_bench(case: Case, laboratories: Series[Any]) -> Series[bool]:
    """Which laboratories are the operation itself or its people, by name or in so many words."""
    operation = case.season.details.operation
    folded = laboratories.str.casefold().str.strip()
    names = [name.casefold().strip() for name in (operation.name, operation.responsible) if name]
    own = folded.isin(names) | laboratories.str.contains(_OWN, na=False)
    return own.fillna(value=False).astype(bool)
