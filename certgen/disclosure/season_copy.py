"""The new season's folder: what is shown of each year's records, and a note in the place of every file."""

from __future__ import annotations

import hashlib
import hmac
import posixpath
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from certgen.disclosure.choice import is_same_name
from certgen.disclosure.codes import Codes
from certgen.disclosure.record_copies import RecordCopier, order_of_code
from certgen.exchange.editing.yaml_text import render_fields, render_record, with_days
from certgen.exchange.spreadsheets.rows import records_of
from certgen.manifest import held_files
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import TABLE_NAMES, load_season_table, load_tables
from certgen.rules.growing.approvals import find_approvals
from certgen.rules.samples.soundness import names_tree

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from certgen.disclosure.choice import Rows
    from certgen.examination import Result
    from certgen.manifest import Held

#: Digest and size, by name, of evidence whose bytes aren't at hand.
Outside = Mapping[str, tuple[str, int]]

RECORDS: Final = "records.yaml"
#: Where a season before lies, seen from the one after it.
_EARLIER: Final = ".earlier"
_NOTE: Final = (
    "This file is withheld. The operation keeps it, and it lies in the full packet.\n"
    "Salted SHA-256: {digest}\n"
    "Only whoever has the full packet can hold the file against it.\n"
)
#: Stands in the records themselves, so that whatever is made of them carries it.
_SEASON_NOTE: Final = (
    "Made anew for {party}: lot {lot} and what it rests on, in codes. Other movements of the lot are left"
    " out, so these records say nothing of its stock."
)


def derive_key(result: Result, evidence: Mapping[str, Held], *about: str) -> bytes:
    """A key that only whoever has all the season's records can know. `about` keeps two disclosures apart.

    It is taken of the files' bytes, not of their digests: those are printed.
    """
    digest = hashlib.sha256(b"certgen disclosure\0")
    for _, source in sorted(result.farm.sources.items()):
        digest.update(hashlib.sha256(b"\0" + source.text.encode()).digest())
    for held in evidence.values():
        digest.update(held.sha256.encode())
    for part in about:
        digest.update(b"\0" + part.encode())
    return digest.digest()


def _list_evidence(result: Result, outside: Outside) -> Mapping[str, Held]:
    """Every evidence file by the name that the farm's tables have for it."""
    found = {}
    for held in held_files(result.season, outside):
        folder = held.folder.removesuffix("evidence").rstrip("/")
        if held.folder.endswith("evidence"):
            number = int(folder.rpartition("-")[2]) if folder else 0
            path = result.farm.stretches[number].path
            found[posixpath.normpath(f"../{path}/evidence/{held.path}") if path else held.path] = held
    return found


class SeasonCopy:
    """One season's records made anew in a folder. `party` is who it is for, or empty; `outside` is as in
    `held_files`."""

    def __init__(
        self, result: Result, lot: str, party: str, rows: Rows, outside: Outside = MappingProxyType({})
    ) -> None:
        self._result, self._farm, self._lot, self._party, self._rows = result, result.farm, lot, party, rows
        self._evidence = _list_evidence(result, outside)
        self._key = derive_key(result, self._evidence, lot, " ".join(party.split()).casefold())
        self._codes = Codes(self._key, self._keep())
        #: By season the names of files as its records have them, and their codes.
        self._files: list[dict[str, str]] = [{} for _ in self._farm.stretches]
        self._at = 0
        self._copier = RecordCopier(self._codes, self._name(None), self._name(rows), self._withhold)
        self._written = {
            name: self._spell(name, records_of(self._farm, name)) for name in TABLE_NAMES if rows[name]
        }

    def _keep(self) -> dict[str, frozenset[str]]:
        """What the reader knows already: whose seed it is, which lot, and their own papers."""
        operation = self._result.season.details.operation
        moves = self._farm.table("movements")
        own = {
            document
            for row, (who, document) in enumerate(plain_rows(moves, "party", "document"))
            if row in self._rows["movements"] and document and is_same_name(who, self._party)
        }
        return {
            "lots": frozenset({self._lot}),
            "party": frozenset(filter(None, (operation.name, operation.certifier, self._party))),
            "paper": frozenset(filter(None, (operation.certificate, *own))),
        }

    def _name(self, rows: Rows | None) -> dict[str, set[str]]:
        """By table the identifiers of all rows, or of some."""
        found = {}
        for name, table in load_tables().items():
            names = plain_values(self._farm.table(name)[table.key]) if table.key else []
            found[name] = {one for row, one in enumerate(names) if rows is None or row in rows[name]}
        return found

    def _spell(self, table: str, records: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """The records with what is written on tags and leaves in the numbers' own spelling, where the rules
        take it for the number."""
        case, columns = self._result.case, self._farm.columns(table)
        if table == "screening":
            marked = names_tree(case, columns["mark"], columns["tree"])
            for record, same in zip(records, marked.tolist(), strict=True):
                if same:
                    record["mark"] = record["tree"]
        if table == "inputs":
            # A name is withheld, so an approval that was found by it, and that counts, is cited.
            for row, approval in find_approvals(case).items():
                if approval.holds or "allowed_by" not in records[row]:
                    records[row]["approval"] = approval.material
        if table == "bagging":
            for column, own in (("tree", "tree"), ("bag", "bag")):
                same_names = case.spelling.are_called(columns[f"tag.{column}"], columns[own])
                for record, same in zip(records, same_names, strict=True):
                    if same:
                        record["tag"][column] = record[own]
        return records

    def _withhold(self, name: str) -> str:
        """The name under which a file is withheld; one that isn't there gets a name all the same."""
        code = self._files[self._at][name] = self._codes.code("file", name)
        return f"{code}.txt"

    def write(self, folder: Path) -> None:
        """Writes the new season below an empty folder."""
        self._render()
        self._codes.settle()
        for number, text in enumerate(self._render()):
            place = folder.joinpath(*([_EARLIER] * number))
            place.mkdir(parents=True, exist_ok=True)
            (place / RECORDS).write_text(text, encoding="utf-8")
            for name, code in self._files[number].items():
                self._write_note(place / "evidence", name, code)

    def _render(self) -> list[str]:
        """The text of each season's record file, the latest first."""
        return ["\n".join(self._render_season(number)) + "\n" for number in range(len(self._farm.stretches))]

    def _render_season(self, number: int) -> Iterator[str]:
        stretch = self._farm.stretches[number]
        self._at = number
        season = self._copier.copy(load_season_table().fields, with_days(stretch.details.raw))
        season["note"] = _SEASON_NOTE.format(lot=self._lot, party=self._party or "anybody")
        if number + 1 < len(self._farm.stretches):
            season["previous"] = _EARLIER
        yield "season:"
        yield from (line.text for line in render_fields(season, 2))
        for name, records in self._written.items():
            rows = self._farm.rows_of(name, number)
            copies = [
                self._copier.copy(load_tables()[name].fields, records[row], name)
                for row in sorted(self._rows[name])
                if rows.start <= row < rows.stop
            ]
            key = load_tables()[name].key
            # A table whose number isn't declared to be shown isn't shown.
            copies = [copy for copy in copies if key in copy]
            if copies:
                yield f"{name}:"
                for copy in sorted(copies, key=lambda one: order_of_code(one.get(key))):
                    yield from (line.text for line in render_record(copy, 2))

    def _write_note(self, folder: Path, name: str, code: str) -> None:
        held = self._evidence.get(name)
        if held is None:
            return
        folder.mkdir(exist_ok=True)
        note = _NOTE.format(digest=self.digest(name, held)) if held.size else ""
        (folder / f"{code}.txt").write_text(note, encoding="utf-8")

    def digest(self, name: str, held: Held) -> str:
        """A digest that whoever guesses the file can't take: a tag's few words can be guessed."""
        salt = hmac.new(self._key, f"file\0{name}".encode(), hashlib.sha256).digest()
        return hashlib.sha256(salt + bytes.fromhex(held.sha256)).hexdigest()
