"""The manifest of a packet and the files inside it, laid out as they lay on the grower's disk."""

from __future__ import annotations

import datetime as dt
import json
import os
import posixpath
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from certgen.manifest import CERTIFIER, FORMAT, NAME, LeftOut, Maker, PacketOptions
from certgen.records.places import ReadingError, Refusals
from certgen.resources import schemas_dir
from certgen.verification.attachments import PacketError
from certgen.whole_files import PathError, contained_path

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

_HOME: Final = "season"
#: Further away than any season's folder names another, and more than any season has before it.
_DEPTH: Final = 12
#: Larger than any file that somebody keeps as evidence.
_LARGEST: Final = 1 << 40


def read_manifest(inside: Mapping[str, bytes]) -> dict[str, Any]:
    """The manifest among a packet's files. Raises `PacketError` for one that certgen didn't write."""
    if NAME not in inside:
        raise PacketError(
            "this PDF holds no records of certgen's: it is another document, or they were taken out of it"
        )
    return parse_manifest(inside[NAME])


def parse_manifest(text: bytes) -> dict[str, Any]:
    """A manifest from its bytes. Raises `PacketError` where it doesn't keep to its schema."""
    try:
        manifest = json.loads(text)
        # A lone surrogate, which JSON can name and no text can hold, is a ValueError here and nowhere later.
        json.dumps(manifest, ensure_ascii=False).encode()
        if manifest["format"] != FORMAT:
            raise PacketError(
                f"the manifest has format {manifest['format']!s:.20}; this version reads {FORMAT}"
            )
        dt.date.fromisoformat(manifest["on"])
        sound = _manifest_form().is_valid(manifest)
    except PacketError:
        raise
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError):
        sound = False
    if not sound:
        raise PacketError("the manifest inside cannot be read; it was not written by certgen, or was changed")
    return dict(manifest)


@cache
def _manifest_form() -> Any:
    """What decides whether a manifest keeps to its schema, so that nothing further on has to ask."""
    import jsonschema_rs

    schema = (schemas_dir() / "output" / "manifest.json").read_text(encoding="utf-8")
    return jsonschema_rs.Draft202012Validator(json.loads(schema))


def stated_maker(manifest: Mapping[str, Any]) -> Maker:
    """What the packet says it was made by."""
    return Maker(manifest["version"], manifest["code"], dict(manifest["setting"]))


def stated_options(manifest: Mapping[str, Any]) -> PacketOptions:
    """What the packet says was chosen for it."""
    chosen = manifest["options"]
    lots, left = chosen["lots"], chosen.get("left_out")
    return PacketOptions(
        chosen["page"],
        chosen["registers"],
        None if lots is None else tuple(lots),
        chosen.get("for", CERTIFIER),
        chosen.get("to", ""),
        chosen.get("full", ""),
        None
        if left is None
        else LeftOut(tuple(left["records"].items()), left["files"], tuple(left["shared"])),
        chosen.get("short", False),
    )


def stated_refusals(manifest: Mapping[str, Any]) -> tuple[Refusals, ...]:
    """What the packet says couldn't be read where it was made, this season's first."""
    return tuple(
        Refusals(tuple(_errors(folder["refused"])), tuple(_errors(folder["lost"])))
        for folder in manifest["folders"]
    )


def _errors(listed: list[dict[str, Any]]) -> Iterator[ReadingError]:
    for error in listed:
        yield ReadingError(
            error["file"], error["line"], error["column"], error["message"], field=error["field"]
        )


def files_outside(manifest: Mapping[str, Any]) -> dict[str, tuple[str, int]]:
    """Digest and size, by name, of the evidence that was too large to be put inside."""
    return {
        file["name"]: (file["sha256"], file["size"]) for file in manifest["files"] if not file["attached"]
    }


def lay_out(root: Path, manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Path:
    """Write the files below `root` as they lay on the grower's disk, and return the season's folder.

    Evidence that isn't inside gets a file of its size, which holds nothing. Raises `PacketError` for a name
    that leads elsewhere.
    """
    folders = {str(part["name"]): posixpath.normpath(str(part["path"])) for part in manifest["folders"]}
    climbs = max((path.split("/").count("..") for path in folders.values()), default=0)
    if climbs > _DEPTH or len(folders) > _DEPTH + 1:
        raise PacketError("the manifest names folders further away than a season's")
    home = "/".join([*(f"above-{i}" for i in range(climbs)), _HOME])
    written: set[Path] = set()
    try:
        for entry in manifest["files"]:
            path = _find_place(root, home, folders, entry)
            if path in written:
                raise PathError(str(entry["path"]))
            data = inside.get(entry["name"]) if entry["attached"] else b""
            if data is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
                written.add(path)
            if not entry["attached"]:
                # What there was no room for goes by its size; no disk is filled with it.
                os.truncate(path, min(entry["size"], _LARGEST))
    except (PathError, KeyError, OSError) as fault:
        raise PacketError(
            "the manifest names a file twice, or outside the season's folder; nothing more was done"
        ) from fault
    folder = contained_path(root, home)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _find_place(root: Path, home: str, folders: Mapping[str, str], entry: Mapping[str, Any]) -> Path:
    """Where a file of the manifest goes. Raises `PathError` and `KeyError` for one that leads elsewhere."""
    folder = str(entry["folder"])
    below = folders[folder.removesuffix("evidence").rstrip("/")]
    if folder.endswith("evidence"):
        below = posixpath.join(below, "evidence")
    place = posixpath.normpath(posixpath.join(home, below, entry["path"]))
    path = contained_path(root, place)
    if posixpath.isabs(below) or not path.resolve().is_relative_to(root.resolve()):
        raise PathError(place)
    return path
