"""Members examined before, kept under what their records were: a second run examines only what changed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen.coop.members.facts import MemberSummary
from certgen.disk_cache import DiskCache, cache_folder, hash_files
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from datetime import date

_ENTRY_BYTES: Final = 8 * 1024 * 1024
#: Room for some ten thousand members: a co-op with thousands must not push out its own.
_MOST_BYTES: Final = 1024 * 1024 * 1024


def default_folder() -> Path | None:
    """Examined members among the user's caches; None where the environment turns caches off."""
    home = cache_folder()
    return None if home is None else home / "coop"


@cache
def edition() -> str:
    """Stands for the code, the standards and the schemas that an examination goes by."""
    package = Path(__file__).parents[2]
    files = chain(package.rglob("*.py"), package.rglob("*.yaml"), schemas_dir().glob("*.json"))
    return hash_files(path for path in files if "examples" not in path.parts)


class SummaryCache:
    """A folder of examined members as of a day, or nothing at all (`folder` None)."""

    def __init__(self, folder: Path | None, on: date) -> None:
        self._summaries = DiskCache(
            folder, ".member", MemberSummary, most_bytes=_MOST_BYTES, entry_bytes=_ENTRY_BYTES
        )
        self._on = on.isoformat()

    def load(self, member: str, fingerprint: str, source: str) -> MemberSummary | None:
        """The summary of the records with that fingerprint, under the member's own key; None if not kept.

        `source` tells apart readings of the same bytes: a season's folder within them.
        """
        kept = self._summaries.load(edition(), self._on, source, fingerprint)
        return None if kept is None else replace(kept, member=member)

    def store(self, summary: MemberSummary, source: str) -> None:
        """Keep an examined member, unless a fault of certgen or of the machine is part of its summary."""
        if summary.state in {"read", "unreadable"} and not summary.crashed:
            self._summaries.store(summary, edition(), self._on, source, summary.fingerprint)

    def prune(self) -> None:
        """Keep the folder within its bound."""
        self._summaries.prune()
