"""`coop.yaml`: whose records the office collects, read as strictly as a season, with every value's place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.records.construction import record_converter
from certgen.records.extracts import explain_record
from certgen.records.faults import Faults
from certgen.records.files import read_bytes
from certgen.records.locating import locate_values, span_between
from certgen.records.parsing import ParsingError, decode, open_document, skip
from certgen.records.places import ReadingError
from certgen.records.tables import load_form

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from certgen.records.locating import Span

FILE: Final = "coop.yaml"
#: How a member may hand its records in. Each member does it in exactly one way.
SOURCES: Final = ("folder", "archive", "workbook")


@dataclass(frozen=True, slots=True)
class Member:
    """One member of the co-op. `source` is one of SOURCES, `path` lies below the co-op's folder."""

    key: str
    name: str
    source: str
    path: str
    season: str
    certificate: str
    joined: date


@dataclass(frozen=True, slots=True)
class Coop:
    """A co-op and its members, in the order of the file."""

    name: str
    certifier: str
    certificate: str
    office: str
    standards: tuple[str, ...]
    shared_equipment: tuple[str, ...]
    members: tuple[Member, ...]


def read_coop(folder: Path) -> tuple[Coop | None, tuple[ReadingError, ...]]:
    """The co-op of a folder, or None and every error in its list of members, each with its place."""
    if not (folder / FILE).is_file():
        asks = "write one that names the co-op and its members; `example_coop` shows how"
        return None, (ReadingError(folder.as_posix(), None, None, f"there is no {FILE} here; {asks}"),)
    data = read_bytes(folder, FILE)
    if isinstance(data, ReadingError):
        return None, (data,)
    try:
        return _read(decode(data, FILE), folder)
    except ParsingError as fault:
        return None, (fault.error,)


def _read(text: str, folder: Path) -> tuple[Coop | None, tuple[ReadingError, ...]]:
    from yaml.events import MappingStartEvent

    faults = Faults(room=1000)
    with open_document(text, FILE) as (event, take):
        if not isinstance(event, MappingStartEvent):
            if event is not None:
                skip(event, take)
            message = "needs two entries: `coop:` with its name, and `members:` with a list"
            return None, (ReadingError(FILE, 1, 1, message),)
        record, last = record_converter(load_form("coop").fields, {})(event, take, faults)
    span = span_between(event, last)
    if faults.count:
        return None, tuple(ReadingError(FILE, *fault) for fault in faults.found)
    objections = [(part.path, part.message) for part in explain_record("coop", record)]
    objections = objections or list(_object(record, folder))
    if objections:
        return None, _place(text, span, objections)
    return _build(record), ()


def _place(
    text: str, span: Span, objections: list[tuple[tuple[str | int, ...], str]]
) -> tuple[ReadingError, ...]:
    places = locate_values(text, span, [path for path, _ in objections])
    found = [ReadingError(FILE, *places[path], message) for path, message in objections]
    return tuple(sorted(found, key=lambda error: (error.line or 0, error.column or 0, error.message)))


def _object(record: Mapping[str, Any], folder: Path) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What a schema can't say: keys and folders of their own, one way of handing in, standards that exist."""
    from certgen.standards import RULEBOOKS

    for at, standard in enumerate(record["coop"].get("standards", ())):
        if standard not in RULEBOOKS:
            yield (
                ("coop", "standards", at),
                f"there is no rulebook '{standard}'; there are {', '.join(RULEBOOKS)}",
            )
    keys: dict[str, int] = {}
    homes: dict[Path, int] = {}
    for at, member in enumerate(record["members"]):
        key = member["member"]
        if "/" in key or key.startswith("."):
            yield (
                ("members", at, "member"),
                f"'{key}' names a letter's file too: leave '/' and a dot in front out",
            )
        # A file system may take large and small letters for the same.
        first = keys.setdefault(key.casefold(), at)
        if first != at:
            yield (
                ("members", at, "member"),
                f"'{key}' stands already at the member before it in the list (number {first + 1})",
            )
        given = [source for source in SOURCES if source in member]
        if len(given) != 1:
            asks = "name either a `folder`, an `archive` or a `workbook`"
            yield (("members", at), f"member {key}: {asks}{', not several' if given else ''}")
            continue
        yield from _object_to_home(folder, member[given[0]], (at, given[0]), homes)


def _object_to_home(
    folder: Path, path: str, at: tuple[int, str], homes: dict[Path, int]
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """A member's place lies below the co-op's folder, and in nobody else's."""
    from certgen.whole_files import PathError, contained_path

    try:
        home = contained_path(folder, path).resolve()
    except (PathError, OSError, RuntimeError) as fault:
        yield (("members", *at), f"{fault}; a member's records lie below the co-op's folder")
        return
    if home == folder.resolve():
        yield (("members", *at), "that is the co-op's own folder; each member needs one of its own")
        return
    for around in (home, *home.parents):
        if around in homes:
            number = homes[around] + 1
            yield (
                ("members", *at),
                f"'{path}' lies in the place of member number {number}; no two may share one",
            )
            return
    for other, number in homes.items():
        if other.is_relative_to(home):
            yield (
                ("members", *at),
                f"'{path}' holds the place of member number {number + 1}; no two may share one",
            )
            return
    homes[home] = at[0]


def _build(record: Mapping[str, Any]) -> Coop:
    told = record["coop"]
    members = []
    for entry in record["members"]:
        source = next(one for one in SOURCES if one in entry)
        members.append(
            Member(
                key=entry["member"],
                name=entry["name"],
                source=source,
                path=entry[source],
                season=entry.get("season", ""),
                certificate=entry["certificate"],
                joined=date.fromisoformat(entry["joined"]),
            )
        )
    return Coop(
        name=told["name"],
        certifier=told.get("certifier", ""),
        certificate=told.get("certificate", ""),
        office=told.get("office", ""),
        standards=tuple(told.get("standards", ())),
        shared_equipment=tuple(told.get("shared_equipment", ())),
        members=tuple(members),
    )
