"""`coop.yaml`: whose records the office collects, read as strictly as a season, with every value's place."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from certgen.coop.members.control import GROUP, Control
from certgen.coop.members.control_reading import read_control
from certgen.coop.members.form_reading import FormDocument, read_form
from certgen.records.joining.placeholders import says_nothing
from certgen.records.places import ReadingError
from certgen.records.record_files.files import EVIDENCE
from certgen.whole_files import LinkError, PathError, contained_path, name_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from certgen.coop.members.form_reading import Objection

FILE: Final = "coop.yaml"
_NEEDS: Final = "needs two entries: `coop:` with its name, and `members:` with a list"
#: How a member may hand its records in. Each member does it in exactly one way.
SOURCES: Final = ("folder", "archive", "workbook")


@dataclass(frozen=True, slots=True)
class Member:
    """One member of the co-op. `source` is one of SOURCES, `path` lies below the co-op's folder.

    `inspected` is the day of the group's own last inspection of it, `left` the last day on which it was a
    member. `office` is the co-op's own seed room,
    which is nobody's holding.
    """

    key: str
    name: str
    source: str
    path: str
    certificate: str
    joined: dt.date
    season: str = ""
    inspected: dt.date | None = None
    office: bool = False
    left: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Looked:
    """The office looked at a `question`, by its code: who, on which day, and what was found."""

    question: str
    by: str
    date: dt.date
    found: str

    def counts_on(self, day: dt.date) -> bool:
        """Whether it was done by that day and says something."""
        return self.date <= day and not says_nothing(self.by) and not says_nothing(self.found)


@dataclass(frozen=True, slots=True)
class Coop:
    """A co-op and its members, in the order of the file.

    `control` is what its own control wrote, None where coop.yaml names no file of it.
    """

    name: str
    members: tuple[Member, ...]
    certifier: str = ""
    certificate: str = ""
    office: str = ""
    standards: tuple[str, ...] = ()
    shared_equipment: tuple[str, ...] = ()
    control: Control | None = None
    answer_days: int | None = None
    looked_at: tuple[Looked, ...] = ()

    @property
    def has_control(self) -> bool:
        """Whether the co-op inspects its members itself: it holds the certificate, or keeps such records."""
        return bool(self.certificate) or self.control is not None


def read_coop(folder: Path) -> tuple[Coop | None, tuple[ReadingError, ...]]:
    """The co-op of a folder, or None and every error in its list of members, each with its place."""
    if folder.exists() and not folder.is_dir():
        kind = name_type(folder.stat().st_mode)
        return None, (ReadingError(folder.as_posix(), None, None, f"is {kind}; name the co-op's folder"),)
    if not (folder / FILE).exists():
        asks = "write one that names the co-op and its members; `example_coop` shows how"
        return None, (ReadingError(folder.as_posix(), None, None, f"there is no {FILE} here; {asks}"),)
    found = read_form(folder, FILE, "coop", _NEEDS)
    if not isinstance(found, FormDocument):
        return None, found
    if errors := found.place([*_object(found.record, folder), *_object_to_control(found.record, folder)]):
        return None, errors
    control, files = None, found.record["coop"].get("control", ())
    if files:
        control, errors = read_control(folder, files, [one["member"] for one in found.record["members"]])
        if control is None:
            return None, errors
    return _build(found.record, control), ()


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
        yield from _object_to_days(place, member)
        given = [source for source in SOURCES if source in member]
        if len(given) != 1:
            asks = "name either a `folder`, an `archive` or a `workbook`"
            yield place, f"member {key}: {asks}{', not several' if given else ''}"
            continue
        fault = _object_to_home(folder, member[given[0]], at, homes)
        if fault:
            yield (*place, given[0]), fault


def _object_to_days(place: tuple[str, int], member: Mapping[str, Any]) -> Iterator[Objection]:
    # Days are written so that their text sorts as they do.
    if "left" in member and member["left"] < member["joined"]:
        said = f"member {member['member']} can't have left before it joined, on {member['joined']}"
        yield (*place, "left"), said


def _object_to_control(record: Mapping[str, Any], folder: Path) -> Iterator[Objection]:
    """What the co-op wrote itself lies where no member writes, and no member bears the group's name."""
    files = record["coop"].get("control", ())
    homes = list(_list_homes(record, folder)) if files else []
    papers = (folder / EVIDENCE).resolve()
    for at, (member, home) in enumerate(homes):
        if member.casefold() == GROUP:
            yield ("members", at, "member"), f"'{GROUP}' means the group itself; give the member another key"
        if home is not None and home.is_relative_to(papers):
            where = f"'{EVIDENCE}' holds the co-op's own papers; a member's records lie elsewhere"
            yield ("members", at, _source_of(record["members"][at])), where
    for at, file in enumerate(files):
        fault = _object_to_file(folder, file, homes)
        if not fault and file in files[:at]:
            fault = f"'{file}' stands here already; name each file once"
        if fault:
            yield ("coop", "control", at), fault


def _object_to_file(folder: Path, file: str, homes: Sequence[tuple[str, Path | None]]) -> str:
    """What is wrong with where a file of the control lies."""
    try:
        path = contained_path(folder, file).resolve()
    except (PathError, OSError, RuntimeError) as fault:
        return f"{fault}; the co-op's own files lie below its folder"
    if path == (folder / FILE).resolve():
        return "that is the list of members itself; the control's files are others"
    for member, home in homes:
        if home is not None and path.is_relative_to(home):
            return f"'{file}' lies where {member} hands its records in; the co-op's own lie elsewhere"
    return ""


def _list_homes(record: Mapping[str, Any], folder: Path) -> Iterator[tuple[str, Path | None]]:
    """Each member with the place of its records, None where that is at fault itself."""
    for member in record["members"]:
        try:
            yield member["member"], contained_path(folder, member[_source_of(member)]).resolve()
        except (PathError, OSError, RuntimeError, KeyError):
            yield member["member"], None


def _source_of(member: Mapping[str, Any]) -> str:
    return next((source for source in SOURCES if source in member), "member")


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


def _build(record: Mapping[str, Any], control: Control | None) -> Coop:
    from msgspec import convert

    members = []
    for entry in record["members"]:
        source = _source_of(entry)
        members.append({**entry, "key": entry["member"], "source": source, "path": entry[source]})
    coop = convert(
        {**record["coop"], "members": members, "control": None, "looked_at": record.get("looked_at", [])},
        Coop,
    )
    return replace(coop, control=control)
