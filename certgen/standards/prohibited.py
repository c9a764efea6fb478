"""Names of materials that no rulebook allows on organic land, as people write them."""

from __future__ import annotations

import re
from functools import lru_cache

from certgen.standards.reading import read_data


@lru_cache(maxsize=1)
def prohibited_names() -> re.Pattern[str]:
    """A pattern that finds any of the names in a material's description, whatever their letter case.

    'glyphosate-based' names one, 'glyphosate-free' and 'non-glyphosate' don't.
    """
    with read_data("prohibited") as file:
        kinds = file.word_lists("kinds")
        file.text("source")
        file.text("mark")
    names = sorted((name for words in kinds.values() for name in words), key=len, reverse=True)
    return re.compile(
        rf"(?<!\w)(?<!non-)(?:{'|'.join(map(re.escape, names))})s?(?!\w)(?!-free)", re.IGNORECASE
    )
