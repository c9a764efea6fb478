"""The papers: each file with the records that name it, its hash, and what it says where it is small."""

from __future__ import annotations

import base64
from collections import defaultdict
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

from certgen.manifest import list_folders
from certgen.report.wording import whole
from certgen.rules.wording import capital, noun
from certgen.typeset.parts import Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from certgen.manifest import Manifest
    from certgen.records import Season
    from certgen.report.context import Context

#: Larger files are named and hashed; all that is shown together stays small enough for a tablet.
_TEXT_BYTES: Final = 20_000
_PICTURE_BYTES: Final = 200_000
_ALL_BYTES: Final = 2_000_000
_TEXTS: Final = frozenset({".txt", ".csv", ".md"})
#: Pictures that hold nothing but dots, and the bytes that they begin with.
_PICTURES: Final = {
    ".png": ("image/png", b"\x89PNG\r\n\x1a\n"),
    ".jpg": ("image/jpeg", b"\xff\xd8\xff"),
    ".jpeg": ("image/jpeg", b"\xff\xd8\xff"),
}


@dataclass(frozen=True, slots=True)
class Paper:
    """A file: its `anchor` is its name in the manifest. `kind` says what it is evidence of, in words.

    `text` is what it says, `picture` a data address of what it shows; `why` says why neither is here.
    """

    anchor: str
    name: str
    kind: str
    named_by: tuple[Run, ...]
    size: str
    sha256: str
    text: str = ""
    picture: str = ""
    why: str = ""


def list_papers(context: Context, manifest: Manifest) -> tuple[Paper, ...]:
    """Every evidence file of the season and of those before it, as the manifest lists them."""
    folders = {name: season for name, _, season in list_folders(context.season)}
    named = {name: _find_naming(context, season) for name, season in folders.items()}
    room = _ALL_BYTES
    papers = []
    for file in manifest.content["files"]:
        folder, _, last = file["folder"].rpartition("/")
        if last != "evidence":
            continue
        season, tables = folders[folder], named[folder].get(file["path"], {})
        text, picture, why = _show(season, file["path"], file["size"], room)
        room -= file["size"] if text or picture else 0
        papers.append(
            Paper(
                anchor=file["name"],
                name=f"{file['path']} (season {season.details.label})" if folder else file["path"],
                kind=capital(", ".join(noun(table, len(by)) for table, by in tables.items())),
                named_by=part_by_commas(one for by in tables.values() for one in by),
                size=f"{whole(file['size'])} {'byte' if file['size'] == 1 else 'bytes'}",
                sha256=file["sha256"],
                text=text,
                picture=picture,
                why=why,
            )
        )
    return tuple(papers)


def part_by_commas(runs: Iterable[Run]) -> tuple[Run, ...]:
    """Stretches of text with a comma between them."""
    parted: list[Run] = []
    for run in runs:
        parted += [Run(", "), run] if parted else [run]
    return tuple(parted)


def _find_naming(context: Context, season: Season) -> dict[str, dict[str, list[Run]]]:
    """By file and table the records of a season that name it."""
    found: defaultdict[str, dict[str, list[Run]]] = defaultdict(dict)
    for path in season.details.raw.get("evidence", ()):
        found[path].setdefault("season", []).append(Run(f"season {season.details.label}", ""))
    for table, path, identifier in _list_entries(context, season):
        known = season is context.season and identifier in context.order.get(table, {})
        one = Run(f"{noun(table)} {identifier}", f"{table}/{identifier}" if known else "")
        by = found[path].setdefault(table, [])
        if one not in by:
            by.append(one)
    return found


def _list_entries(context: Context, season: Season) -> Iterator[tuple[str, str, str]]:
    for name, table in context.tables.items():
        for column in table.columns:
            if column.kind == "evidence":
                listed = season.exploded(name, column.name)
                for identifier, path in zip(listed["id"].tolist(), listed["value"].tolist(), strict=True):
                    yield name, str(path), str(identifier)


def _show(season: Season, path: str, size: int, room: int) -> tuple[str, str, str]:
    """What a file says, or a picture's address, or why it isn't shown."""
    ending = PurePosixPath(path).suffix.lower()
    most = _TEXT_BYTES if ending in _TEXTS else _PICTURE_BYTES if ending in _PICTURES else 0
    if not most:
        return "", "", "A file of this kind isn’t shown here; the packet holds it as an attachment."
    if size > min(most, room):
        return "", "", "Too large to be shown here; the packet holds it as an attachment."
    data = (season.folder / "evidence" / path).read_bytes()
    if ending in _TEXTS:
        return data.decode("utf-8-sig", "replace"), "", "" if data.strip() else "The file is empty."
    media, head = _PICTURES[ending]
    if not data.startswith(head):
        return "", "", "The file isn’t the kind of picture that its name says."
    return "", f"data:{media};base64,{base64.b64encode(data).decode()}", ""
