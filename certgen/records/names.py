"""Names that mean the same record to anybody: its farm, the season that owns it, its table and number.

A name is a path (`QR-2018-0147/2025/lots/AB-25-1`) below a base. The farm is told by its certificate's
number, or by its name, behind an `@`, where it has none. A record is owned by the earliest season of the farm
whose files hold it, and named by what that season says of its operation: so whichever later season is
exported, and whichever certificate the farm has by then, its name stays.

Without a base of the grower's own the names lie under a domain reserved for examples, which can never be
anybody's.
"""

from __future__ import annotations

import hashlib
import re
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final
from unicodedata import normalize
from urllib.parse import quote

if TYPE_CHECKING:
    from certgen.records.joining.farm import Farm, Stretch
    from certgen.records.season import Season

VOCABULARY: Final = "https://certgen.example/voc/"
DEFAULT_BASE: Final = "https://certgen.example/id/"


@dataclass(frozen=True)
class Names:
    """The names of a farm's records, as whoever holds `farm` gives them.

    `base` is what an address begins with, as `check_base` gives it. `coded` is set where the records are
    those made for a reader, in codes that mean something in that one copy alone: their names say so, but for
    those of the lots that are `told` by their own number.
    """

    farm: Farm
    base: str = DEFAULT_BASE
    coded: str = ""
    told: frozenset[str] = frozenset()

    def address(self, path: str) -> str:
        """A name below the base."""
        return self.base + path

    def of(self, table: str, identifier: str) -> str:
        """The path of a record, by what the farm's tables call it.

        A number that no record bears is one of the season's own: it is named there.
        """
        known = table == "lots" and identifier in self.told
        return self._write(table, identifier, "" if known else self._mark)

    def event(self, table: str, identifier: str, end: str = "event") -> str:
        """The path of what a record tells of; `end` tells two things of one record apart."""
        return f"{self._write(table, identifier, self._mark)}/{end}"

    def _write(self, table: str, identifier: str, mark: str) -> str:
        owner = self._owner(table, identifier)
        number = identifier.removesuffix(f" ({self.farm.stretches[owner].label})") if owner else identifier
        return f"{self._seasons[owner]}/{mark}{table}/{write_segment(number)}"

    def paper(self, kind: str, number: str, table: str, identifier: str) -> str:
        """The path of a paper (`reports`, `documents`) that a record names."""
        return f"{self._seasons[self._owner(table, identifier)]}/{self._mark}{kind}/{write_segment(number)}"

    def stretch(self, table: str, identifier: str) -> Stretch:
        """The season that owns a record."""
        return self.farm.stretches[self._owner(table, identifier)]

    def operation(self, table: str = "", identifier: str = "") -> str:
        """The path of the operation that owns a record; without one, of the season's own."""
        return write_farm(self.stretch(table, identifier))

    def place(self, name: str = "") -> str:
        """The path of a place of the operation that no record stands for, or of its premises as a whole."""
        return f"{self.operation()}/{self._mark}premises{f'/{_fold(name)}' if name else ''}"

    def party(self, name: str) -> str:
        """The path of somebody whom the records name. However it is written, one name is one party; the
        operation's own is the operation.
        """
        if _fold(name) == _fold(self.farm.details.operation.name):
            return self.operation()
        return f"{self.operation()}/{self._mark}parties/{_fold(name)}"

    def certificate(self, number: str) -> str:
        """The path of the operation's certificate."""
        return f"{self.operation()}/certificates/{write_segment(number)}"

    @property
    def _mark(self) -> str:
        return f"@{self.coded}/" if self.coded else ""

    def _owner(self, table: str, identifier: str) -> int:
        """Which of the farm's seasons owns a record; 0 is the one at hand."""
        first = self.farm.first_told.get(table, {}).get(identifier)
        if first is not None:
            return first
        if table not in self.farm.first_rows:
            return 0
        row = self.farm.row(table, identifier)
        return 0 if row is None else bisect_right(self.farm.first_rows[table], row) - 1

    @cached_property
    def _seasons(self) -> tuple[str, ...]:
        """Farm and season as the paths of the farm's seasons begin."""
        found: list[str] = []
        for stretch in self.farm.stretches:
            farm = write_farm(stretch)
            path = f"{farm}/{write_segment(stretch.details.label)}"
            # Two seasons with one label are a slip of the label, and still not one season.
            found.append(f"{path}@{stretch.details.start.isoformat()}" if path in found else path)
        return tuple(found)


def write_farm(stretch: Stretch) -> str:
    """A season's operation as the first part of a name: by certificate, or by name where it has no number."""
    operation = stretch.details.operation
    return (
        write_segment(operation.certificate) if operation.certificate else f"@{write_segment(operation.name)}"
    )


def write_segment(text: str) -> str:
    """A text as one part of a path, percent-encoded: all of it that isn't a letter A to Z, a digit or `-._~`
    (RFC 3986, unreserved).

    Letters that can be typed in two ways are written in one (NFC), blanks drawn together. A part of dots
    alone would be read as a step up, so a `$`, which is encoded elsewhere, stands before it.
    """
    written = quote(normalize("NFC", " ".join(text.split())), safe="")
    return f"${written}" if written in {"", ".", ".."} else written


def _fold(name: str) -> str:
    return write_segment(normalize("NFC", name).casefold())


def digest_codes(season: Season) -> str:
    """What tells one season in codes from another: twelve digits of the SHA-256 of its files."""
    whole = hashlib.sha256()
    for file, source in sorted(season.sources.items()):
        whole.update(f"{file}\0{source.sha256}\n".encode())
    return whole.hexdigest()[:12]


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
