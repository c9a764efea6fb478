"""The files of a co-op's own control: read strictly, and the papers that they name looked for."""

from __future__ import annotations

import stat
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.coop.members.control import GROUP, Control
from certgen.coop.members.form_reading import FormDocument, read_form
from certgen.records.places import ReadingError
from certgen.records.record_files.files import EVIDENCE
from certgen.rules.wording import day
from certgen.whole_files import PathError, contained_path

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from pathlib import Path

    from certgen.coop.members.form_reading import Objection

#: The lists of a control file, with the field that numbers an entry.
_LISTS: Final = {
    "agreements": "",
    "certificates": "",
    "inspectors": "inspector",
    "inspections": "inspection",
    "sanctions": "sanction",
    "requests": "request",
}
#: Days of one entry of which the later can't lie before the earlier.
_ORDERED: Final = (
    ("signed", "until"),
    ("from", "until"),
    ("from", "lifted"),
    ("asked", "deadline"),
    ("asked", "answered"),
)
#: Fields that name papers.
_PAPERS: Final = frozenset({"paper", "declaration", "closed_with", "lifted_with", "answered_with"})
_NEEDS: Final = "needs at least one of the lists " + ", ".join(f"`{name}:`" for name in _LISTS)


def read_control(
    folder: Path, files: Sequence[str], members: Collection[str]
) -> tuple[Control | None, tuple[ReadingError, ...]]:
    """All control files of a co-op as one, or None and every error in them. `members` are the keys."""
    lists: dict[str, list[Any]] = {name: [] for name in _LISTS}
    errors: list[ReadingError] = []
    seen: dict[tuple[str, str], str] = {}
    for file in files:
        if not (folder / file).exists():
            errors.append(
                ReadingError(file, None, None, "isn't there; write it or leave it out of `control`")
            )
            continue
        found = read_form(folder, file, "control", _NEEDS)
        if not isinstance(found, FormDocument):
            errors += found
            continue
        errors += found.place(list(_object(found.record, file, members, seen)))
        for name, entries in found.record.items():
            lists[name] += entries
    if errors:
        return None, tuple(errors)
    return _build(lists, _list_filed(folder, lists)), ()


def _object(
    record: Mapping[str, Any], file: str, members: Collection[str], seen: dict[tuple[str, str], str]
) -> Iterator[Objection]:
    """What a schema can't say: members that exist, numbers given once, days in their order."""
    for name, entries in record.items():
        for at, entry in enumerate(entries):
            yield from _object_to_names((name, at), entry, members)
            yield from _object_to_days((name, at), entry)
            for number, finding in enumerate(entry.get("findings", ())):
                for field in ("deadline", "closed"):
                    if field in finding and finding[field] < entry["date"]:
                        what = f"lies before the inspection of {_day(entry['date'])}"
                        yield (name, at, "findings", number, field), what
            key = _LISTS[name] and " ".join(str(entry[_LISTS[name]]).casefold().split())
            if key and seen.setdefault((name, key), f"{file} {at}") != f"{file} {at}":
                yield (name, at, _LISTS[name]), f"'{entry[_LISTS[name]]}' stands already among the {name}"


def _object_to_names(
    place: tuple[str, int], entry: Mapping[str, Any], members: Collection[str]
) -> Iterator[Objection]:
    for field in ("member", "holder"):
        if field in entry and entry[field] not in members and (field, entry[field]) != ("holder", GROUP):
            yield (*place, field), f"coop.yaml has no member '{entry[field]}'"
    for field in ("own_holding", "family"):
        for number, key in enumerate(entry.get(field, ())):
            if key not in members:
                yield (*place, field, number), f"coop.yaml has no member '{key}'"


def _object_to_days(place: tuple[str, int], entry: Mapping[str, Any]) -> Iterator[Objection]:
    for first, last in _ORDERED:
        # Days are written so that their text sorts as they do.
        if first in entry and last in entry and entry[last] < entry[first]:
            yield (*place, last), f"lies before `{first}`, {_day(entry[first])}"


def _day(text: str) -> str:
    return day(date.fromisoformat(text))


def _list_filed(folder: Path, lists: Mapping[str, Any]) -> tuple[str, ...]:
    """The papers named anywhere that are files with something in them."""
    return tuple(sorted(paper for paper in set(_name_papers(lists)) if _is_filed(folder, paper)))


def _name_papers(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (part for name, part in value.items() if name in _PAPERS)
        value = list(value.values())
    if isinstance(value, list):
        for part in value:
            yield from _name_papers(part)


def _is_filed(folder: Path, paper: str) -> bool:
    try:
        status = contained_path(contained_path(folder, EVIDENCE), paper).stat()
    except (PathError, OSError, RuntimeError, ValueError):
        return False
    return stat.S_ISREG(status.st_mode) and status.st_size > 0


def _build(lists: Mapping[str, list[Any]], filed: tuple[str, ...]) -> Control:
    from msgspec import convert

    # `from` is a word of Python's own.
    renamed = {
        name: [
            {("since" if field == "from" else field): value for field, value in one.items()}
            for one in entries
        ]
        for name, entries in lists.items()
    }
    return convert({**renamed, "filed": filed}, Control)
