"""`coop.yaml`: whose records the office collects, read as strictly as a season, with every value's place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.records.places import ReadingError
from certgen.records.record_files.construction import record_converter
from certgen.records.record_files.extracts import explain_record
from certgen.records.record_files.files import read_bytes
from certgen.records.record_files.locating import locate_values, span_between
from certgen.records.record_files.mistakes import Mistakes
from certgen.records.record_files.parsing import ParsingError, decode, open_document, skip
from certgen.records.tables import load_form
from certgen.whole_files import LinkError, PathError, contained_path, name_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from certgen.records.record_files.locating import Span

    #: The path of a value in the file, and what is wrong with it.
    Objection = tuple[tuple[str | int, ...], str]

FILE: Final = "coop.yaml"
#: How a member may hand its records in. Each member does it in exactly one way.
SOURCES: Final = ("folder", "archive", "workbook")


@dataclass(frozen=True, slots=True)
class Member:
    """One member of the co-op. `source` is one of SOURCES, `path` lies below the co-op's folder.

    `inspected` is the day of the group's own last inspection of it.
    """

    key: str
    name: str
    source: str
    path: str
    certificate: str
    joined: date
    season: str = ""
    inspected: date | None = None


@dataclass(frozen=True, slots=True)
class Coop:
    """A co-op and its members, in the order of the file."""

    name: str
    members: tuple[Member, ...]
    certifier: str = ""
    certificate: str = ""
    office: str = ""
    standards: tuple[str, ...] = ()
    shared_equipment: tuple[str, ...] = ()


def read_coop(folder: Path) -> tuple[Coop | None, tuple[ReadingError, ...]]:
    """The co-op of a folder, or None and every error in its list of members, each with its place."""
    if folder.exists() and not folder.is_dir():
        kind = name_type(folder.stat().st_mode)
        return None, (ReadingError(folder.as_posix(), None, None, f"is {kind}; name the co-op's folder"),)
    if not (folder / FILE).exists():
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

    faults = Mistakes(room=1000)
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


def _place(text: str, span: Span, objections: Sequence[Objection]) -> tuple[ReadingError, ...]:
    places = locate_values(text, span, [path for path, _ in objections])
    errors = [ReadingError(FILE, *places[path], message) for path, message in objections]
    return tuple(sorted(errors, key=lambda error: (error.line or 0, error.column or 0, error.message)))


def _object(record: Mapping[str, Any], folder: Path) -> Iterator[Objection]:
    """What a schema can't say: keys and folders of their own, one way of handing in, standards that exist."""
    from certgen.standards import RULEBOOKS

    for at, standard in enumerate(record["coop"].get("standards", ())):
        if standard not in RULEBOOKS:
            there = ", ".join(RULEBOOKS)
            yield ("coop", "standards", at), f"there is no rulebook '{standard}'; there are {there}"
    keys: dict[str, int] = {}
    homes: dict[Path, int] = {}
    for at, member in enumerate(record["members"]):
        key, place = member["member"], ("members", at)
        if "/" in key or key.startswith("."):
            asks = "leave '/' and a dot in front out"
            yield (*place, "member"), f"'{key}' names a letter's file too: {asks}"
        # A file system may take large and small letters for the same.
        first = keys.setdefault(key.casefold(), at)
        if first != at:
            where = f"the member before it in the list (number {first + 1})"
            yield (*place, "member"), f"'{key}' stands already at {where}"
        given = [source for source in SOURCES if source in member]
        if len(given) != 1:
            asks = "name either a `folder`, an `archive` or a `workbook`"
            yield place, f"member {key}: {asks}{', not several' if given else ''}"
            continue
        fault = _object_to_home(folder, member[given[0]], at, homes)
        if fault:
            yield (*place, given[0]), fault


def _object_to_home(folder: Path, path: str, at: int, homes: dict[Path, int]) -> str:
    """What is wrong with a member's place: it lies below the co-op's folder, and in nobody else's."""
    try:
        home = contained_path(folder, path).resolve()
    except LinkError:
        # That member's folder is at fault, not the list: it is named when its records are read.
        return ""
    except (PathError, OSError, RuntimeError) as fault:
        return f"{fault}; a member's records lie below the co-op's folder"
    if home == folder.resolve():
        return "that is the co-op's own folder; each member needs one of its own"
    for around in (home, *home.parents):
        if around in homes:
            return f"'{path}' lies in the place of member number {homes[around] + 1}; no two may share one"
    for other, number in homes.items():
        if other.is_relative_to(home):
            return f"'{path}' holds the place of member number {number + 1}; no two may share one"
    homes[home] = at
    return ""


def _build(record: Mapping[str, Any]) -> Coop:
    from msgspec import convert

    members = []
    for entry in record["members"]:
        source = next(source for source in SOURCES if source in entry)
        members.append({**entry, "key": entry["member"], "source": source, "path": entry[source]})
    return convert({**record["coop"], "members": members}, Coop)
