"""Members examined before, kept under what their records were: a second run examines only what changed.

An entry is JSON behind its own checksum, written whole or not at all, and its name covers everything that
the result depends on: the records, the day, certgen's own code, standards and schemas. Whatever doesn't
look right is passed over and the member is examined.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import replace
from functools import cache
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen import __version__
from certgen.coop.members.facts import MemberSummary
from certgen.records.cache import cache_folder
from certgen.resources import schemas_dir
from certgen.whole_files import write_entry

if TYPE_CHECKING:
    from datetime import date

_SUFFIX: Final = ".member"
#: An entry larger than this was not written by certgen.
_BYTES: Final = 8 * 1024 * 1024


def default_folder() -> Path | None:
    """Examined members among the user's caches; None where the environment turns caches off."""
    home = cache_folder()
    return None if home is None else home / "coop"


@cache
def edition() -> str:
    """Stands for the code, the standards and the schemas that an examination goes by."""
    package = Path(__file__).parents[2]
    made_by = hashlib.sha256(__version__.encode())
    rooms = ("records", "standards", "lineage", "figures", "rules", "coop", "exchange")
    files = chain(
        [package / "examination.py"],
        *((package / room).rglob("*.py") for room in rooms),
        (package / "standards").rglob("*.yaml"),
        schemas_dir().glob("*.json"),
    )
    for path in sorted(path for path in files if "examples" not in path.parts):
        made_by.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return made_by.hexdigest()


class SummaryCache:
    """A folder of examined members, or nothing at all (`folder` None)."""

    def __init__(self, folder: Path | None, on: date) -> None:
        self._folder = folder
        self._on = on

    def load(self, member: str, fingerprint: str, source: str) -> MemberSummary | None:
        """The summary of the records with that fingerprint, under the member's own key; None if not kept.

        `source` tells apart readings of the same bytes: a season's folder within them.
        """
        if self._folder is None:
            return None
        name = self._name(fingerprint, source)
        try:
            path = self._folder / name[:2] / f"{name}{_SUFFIX}"
            if path.stat().st_size > _BYTES:
                return None
            seal, _, body = path.read_bytes().partition(b"\n")
            if seal.decode("ascii") != _seal(name, body):
                return None
            kept = MemberSummary.from_json(json.loads(body))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return None
        return replace(kept, member=member) if kept.fingerprint == fingerprint else None

    def store(self, summary: MemberSummary, source: str) -> None:
        """Keep an examined member. A folder that can't be written costs time the next time, nothing else."""
        if self._folder is None or summary.state not in {"read", "unreadable"} or summary.crashed:
            return
        name = self._name(summary.fingerprint, source)
        body = json.dumps(summary.as_json(), ensure_ascii=False, separators=(",", ":")).encode(
            "utf-8", "surrogatepass"
        )
        with suppress(OSError):
            path = self._folder / name[:2] / f"{name}{_SUFFIX}"
            write_entry(path, _seal(name, body).encode() + b"\n" + body)

    def _name(self, fingerprint: str, source: str) -> str:
        told = f"{edition()}\0{self._on.isoformat()}\0{source}\0{fingerprint}"
        return hashlib.sha256(told.encode("utf-8", "surrogateescape")).hexdigest()


def _seal(name: str, body: bytes) -> str:
    return hashlib.sha256(name.encode() + b"\0" + body).hexdigest()
