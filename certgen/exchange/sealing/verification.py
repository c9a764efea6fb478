"""Is this file what was sealed, and do the records inside still say what its pages say?

Three questions, each answered by itself: does the seal hold over every byte; are the files inside those
that the manifest names; do the rules, run anew on those files alone, come to the statements that the report
makes.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import posixpath
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen import __version__
from certgen.exchange.sealing.attachments import FILE_BYTES, PacketError, read_attachments
from certgen.exchange.sealing.seal import SealState, SignatureState, check_seal, check_signature
from certgen.manifest import FORMAT, NAME, record_digests, statements
from certgen.resources import schemas_dir
from certgen.whole_files import PathError, contained_path

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from certgen.records import Season

_HOME = "season"
_DEPTH = 12


@dataclass(slots=True)
class Verification:
    """What was found. `faults` are in plain words, the worst kind first; `notes` are no faults.

    `first_record` names the first record that differs from what was sealed, as (table, identifier, file).
    """

    seal: SealState
    signature: SignatureState | None = None
    manifest: Mapping[str, Any] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    first_record: tuple[str, str, str] | None = None
    files: int = 0

    @property
    def sound(self) -> bool:
        """Whether seal, files and statements all hold."""
        return not self.faults


def verify_packet(path: Path, *, key: str = "", against: Path | None = None) -> Verification:
    """Verify a packet from the file alone.

    `key` is the public key that it should bear, 64 hexadecimal digits. `against` is a season's folder whose
    records are compared with those inside. Raises `PacketError` when there is nothing to verify.
    """
    pdf = _read(path)
    seal = check_seal(pdf)
    found = Verification(seal)
    _judge_seal(found, pdf, key)
    try:
        inside = read_attachments(pdf)
        manifest = _read_manifest(inside)
    except PacketError as fault:
        if not seal.present or seal.intact:
            raise
        # It was a packet once, and somebody or something damaged it: that is the answer.
        found.faults.append(f"files: {fault}")
        return found
    found.manifest = manifest
    differing = _compare_files(found, manifest, inside)
    with tempfile.TemporaryDirectory(prefix="certgen-verify-") as name:
        folder = _unpack(Path(name), manifest, inside)
        _compare_statements(found, manifest, folder, Path(name), differing)
    if against is not None:
        _compare_folder(found, manifest, against)
    return found


def _read(path: Path) -> bytes:
    try:
        if path.stat().st_size > FILE_BYTES:
            raise PacketError(f"{path.name} is larger than a packet can be")
        return path.read_bytes()
    except OSError as fault:
        raise PacketError(f"{path}: cannot be read ({fault.strerror})") from fault


def _judge_seal(found: Verification, pdf: bytes, key: str) -> None:
    seal = found.seal
    if not seal.intact:
        found.faults.append(f"seal: {seal.fault}")
    elif len(pdf) > seal.sealed_length:
        found.signature = check_signature(pdf, seal.sealed_length)
        if not found.signature.holds:
            found.faults.append(f"seal: {found.signature.fault}")
    if key and seal.key != key:
        found.faults.append("seal: it was not made with the key that was asked for")
    elif seal.intact and not seal.signed:
        found.notes.append(
            "The seal bears no key: it shows that the file is as it was written, not who wrote it."
        )


def _read_manifest(inside: Mapping[str, bytes]) -> dict[str, Any]:
    if NAME not in inside:
        raise PacketError(
            "this PDF holds no records of certgen's: it is another document, or they were taken out of it"
        )
    try:
        manifest = json.loads(inside[NAME])
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


def _compare_files(
    found: Verification, manifest: Mapping[str, Any], inside: Mapping[str, bytes]
) -> list[str]:
    """Compare each file inside with its digest; returns the names of those that differ."""
    named = {NAME}
    differing = []
    outside = 0
    for entry in manifest["files"]:
        name = entry["name"]
        named.add(name)
        if not entry["attached"]:
            outside += 1
        elif name not in inside:
            found.faults.append(f"files: {name} is named by the manifest and not inside")
            differing.append(name)
        elif hashlib.sha256(inside[name]).hexdigest() != entry["sha256"]:
            found.faults.append(f"files: {name} is not the file that the manifest names")
            differing.append(name)
        else:
            found.files += 1
    for name in sorted(set(inside) - named):
        if name.startswith(("records/", "evidence/", "previous-")):
            found.faults.append(f"files: {name} is inside and no part of what was reported on")
    if outside:
        found.notes.append(
            f"{outside} evidence files were too large to put inside; only their digests are known."
        )
    return differing


def _unpack(root: Path, manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Path:
    """Lay the files out as they lay on the grower's disk, all of it below `root`. Raises `PacketError`."""
    folders = {str(part["name"]): posixpath.normpath(str(part["path"])) for part in manifest["folders"]}
    climbs = max((path.split("/").count("..") for path in folders.values()), default=0)
    if climbs > _DEPTH or len(folders) > _DEPTH + 1:
        raise PacketError("the manifest names folders further away than a season's")
    home = "/".join([*(f"above-{i}" for i in range(climbs)), _HOME])
    try:
        for entry in manifest["files"]:
            path = _find_place(root, home, folders, entry)
            data = inside.get(entry["name"]) if entry["attached"] else b""
            if data is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
    except (PathError, KeyError, OSError) as fault:
        raise PacketError(
            "the manifest names a file outside the season's folder; nothing more was done"
        ) from fault
    return contained_path(root, home)


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


def _compare_statements(
    found: Verification, manifest: Mapping[str, Any], folder: Path, root: Path, differing: list[str]
) -> None:
    from certgen.examination import ReadFailure, examine

    try:
        result = examine(folder, dt.date.fromisoformat(manifest["on"]), within=root)
    except ReadFailure as fault:
        found.faults.append(f"statements: the records inside cannot be read: {fault.errors[0].text()}")
        return
    if differing:
        _name_first_record(found, manifest, result.season)
    if manifest["version"] != __version__:
        found.notes.append(
            f"The report was made by version {manifest['version']!s:.20}, this is {__version__}: "
            "rules may have changed since."
        )
    now, then = json.loads(json.dumps(statements(result))), manifest["statements"]
    lots_now = {lot["lot"]: lot for lot in now["lots"]}
    lots_then = {lot["lot"]: lot for lot in then["lots"]}
    for lot in sorted({*lots_now, *lots_then}):
        differing_lot = _differences(f"lot {lot}", lots_then.get(lot), lots_now.get(lot))
        found.faults += [f"statements: {one}" for one in differing_lot]
    for part in ("gaps", "rules", "records"):
        found.faults += [f"statements: {one}" for one in _differences(part, then.get(part), now[part])]
    for part in ("left_out", "reading_errors"):
        if then.get(part) != now[part]:
            words = part.replace("_", " ")
            found.faults.append(
                f"statements: the report says {words} {then.get(part)}, the records inside say {now[part]}"
            )


def _differences(what: str, then: Any, now: Any) -> list[str]:  # parsed JSON
    if then == now:
        return []
    if not isinstance(then, Mapping) or not isinstance(now, Mapping):
        missing = "the report does not name it" if then is None else "the records inside do not hold it"
        return [f"{what}: {missing}"]
    return [
        f"{what}: the report says {name.replace('_', ' ')} {then.get(name, 0)}, "
        f"the records inside say {now.get(name, 0)}"
        for name in sorted({*then, *now})
        if then.get(name) != now.get(name)
    ]


def _name_first_record(found: Verification, manifest: Mapping[str, Any], season: Season) -> None:
    """Find the first record, in reading order, whose digest is not the one that was sealed."""
    now, then = record_digests(season), manifest["records"]
    for table in dict.fromkeys((*now, *then)):
        sealed = [list(map(str, digest)) for digest in then.get(table, [])]
        for row, (new, old) in enumerate(zip_longest(now.get(table, []), sealed)):
            if new != old:
                _name_record(found, season, (table, row), new, old)
                return
    found.notes.append(
        "No record differs: what was changed in the files is layout, comments or season details."
    )


def _name_record(
    found: Verification,
    season: Season,
    place: tuple[str, int],
    new: Sequence[str] | None,
    old: Sequence[str] | None,
) -> None:
    """Says that the record at a table's row is another; `new` and `old` are its identifier and digest."""
    table, row = place
    key = (new or old or [""])[0]
    file = str(season.tables[table]["file"].iat[row]) if new else ""
    found.first_record = (table, key or f"record {row + 1}", file)
    same = new is not None and old is not None and new[0] == old[0]
    what = "differs from what was sealed" if same else "was put in, taken out or moved"
    found.faults.append(f"files: the first record that differs is {table} {key or row + 1}: it {what}")


def _compare_folder(found: Verification, manifest: Mapping[str, Any], folder: Path) -> None:
    """Compare the folder that somebody has today with what the packet was made from."""
    from certgen.examination import read_case

    season, errors = read_case(folder)
    if season is None:
        reason = errors[0].text() if errors else "it holds no season"
        found.faults.append(f"folder: {folder} cannot be read: {reason}")
        return
    sealed = {entry["path"]: entry["sha256"] for entry in manifest["files"] if entry["folder"] == ""}
    here = {path: source.sha256 for path, source in season.sources.items()}
    differing = sorted(path for path in {*sealed, *here} if sealed.get(path) != here.get(path))
    found.faults += [_say_difference(path, sealed, here) for path in differing]
    if differing:
        _name_first_record(found, manifest, season)


def _say_difference(path: str, sealed: Collection[str], here: Collection[str]) -> str:
    if path not in here:
        return f"folder: {path} is not in it"
    if path not in sealed:
        return f"folder: {path} is new"
    return f"folder: {path} is another than when the packet was made"
