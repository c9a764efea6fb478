"""Names for the season's things that mean the same to somebody else: URIs under one base.

Without a base of the grower's own the names lie under a domain reserved for examples, which can never be
anybody's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import quote

VOCABULARY = "https://certgen.example/voc/"
DEFAULT_BASE = "https://certgen.example/id/"


@dataclass(frozen=True, slots=True)
class Names:
    """Builds URIs below `base`, season by season."""

    base: str
    season: str

    def of(self, table: str, identifier: str, season: str = "") -> str:
        """The URI of a record; `season` names an earlier one."""
        return f"{self.base}{quote(season or self.season, safe='')}/{table}/{quote(identifier, safe='')}"


def check_base(base: str) -> str:
    """The base with a slash at its end. Raises `ValueError` unless it is an absolute http(s) or urn URI."""
    if not re.fullmatch(
        r"(https?://[A-Za-z0-9.-]+(:[0-9]+)?(/[A-Za-z0-9._~/-]*)?|urn:[a-z0-9][a-z0-9-]{1,31}:[A-Za-z0-9._:/-]*)",
        base,
    ):
        raise ValueError(
            f"'{base}' is no address that names can begin with; write one like https://your-farm.example/id/"
        )
    return base if base.endswith(("/", ":")) else f"{base}/"
