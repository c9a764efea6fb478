"""What a report rests on: every record file and evidence file by its SHA-256, and what the report says of
them.

The manifest stands below the report and the exchange, so that the page that lists the files, the file
attached to the PDF and `certgen verify` are three readings of one thing. Identical records, version and day
give identical bytes.
"""

from __future__ import annotations

import hashlib
import json
import mimetypes
import posixpath
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.records.rows import is_absent, plain_values
from certgen.records.tables import load_tables

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.examination import Result
    from certgen.records import Season

#: Grows when the manifest's shape changes; readers refuse what they don't know.
FORMAT: Final = 1
NAME: Final = "manifest.json"
#: Evidence that together is larger is named and hashed, and stays outside.
EVIDENCE_BYTES: Final = 64 * 1024 * 1024
_DIGEST_LETTERS: Final = 12


class ManifestError(ValueError):
    """A file that changed while the report was made, or a manifest that cannot be read."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file to be put inside the report.

    `name` as in the manifest (`records/trees.yaml`), `media_type` and `relationship` as PDF/A-3 asks for
    them.
    """

    name: str
    data: bytes
    media_type: str
    relationship: str
    description: str


@dataclass(frozen=True, slots=True)
class Held:
    """A file that the manifest names: its path below its folder, digest and size; `attached` if it is
    inside the PDF.
    """

    name: str
    path: str
    folder: str
    sha256: str
    size: int
    attached: bool = True


def list_folders(season: Season) -> Iterator[tuple[str, str, Season]]:
    """The folders of the season and of those before it: a name for the manifest, the path seen from the
    season, the season that was read there.
    """
    name, path, number = "", ".", 0
    current: Season | None = season
    while current is not None:
        yield name, path, current
        number += 1
        path = posixpath.normpath(posixpath.join(path, current.details.previous or "."))
        name, current = f"previous-{number}", current.previous


def held_files(season: Season) -> tuple[Held, ...]:
    """Every record file and evidence file of the season and of those before it, with digests.

    Raises `ManifestError` when an evidence file cannot be read.
    """
    found = []
    room = EVIDENCE_BYTES
    for name, _, one in list_folders(season):
        lead = f"{name}/" if name else ""
        for path, source in sorted(one.sources.items()):
            found.append(Held(f"{lead}records/{path}", path, name, source.sha256, source.size))
        for path in one.evidence_files:
            digest, size = _digest_file(one.folder / "evidence" / path)
            attached = size <= room
            room -= size if attached else 0
            found.append(Held(f"{lead}evidence/{path}", path, f"{lead}evidence", digest, size, attached))
    return tuple(found)


def _digest_file(path: Path) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    try:
        with path.open("rb") as stream:
            while piece := stream.read(1 << 20):
                digest.update(piece)
                size += len(piece)
    except OSError as fault:
        raise ManifestError(f"evidence/{path.name}: cannot be read ({fault.strerror})") from fault
    return digest.hexdigest(), size


def statements(result: Result) -> dict[str, Any]:
    """What the report claims, in a form that can be compared: standings by lot and gram, gaps by rule,
    counts.
    """
    summary = result.summary
    return {
        "lots": [
            {
                "lot": name,
                "variety": lot.variety,
                "standing": lot.standing,
                "weight_mg": int(lot.weight_mg),
                "traced_mg": int(lot.traced_mg),
                "unproven_mg": int(lot.unproven_mg),
                "rejected_mg": int(lot.rejected_mg),
                "unaccounted_mg": int(lot.unaccounted_mg),
            }
            for name, lot in sorted(result.lots.items())
        ],
        "gaps": dict(summary.gaps),
        "rules": dict(summary.rules),
        "records": {name: int(count) for name, count in summary.records.items() if count},
        "left_out": summary.left_out,
        "reading_errors": len(result.errors),
    }


def record_digests(season: Season) -> dict[str, list[list[str]]]:
    """For each table, each record's identifier and a short digest of its values as typed, in reading order.

    They serve to name the first record that differs when a file's digest does. A field that is absent adds
    nothing, so that a later version with more fields computes the same digests.
    """
    return {
        name: [[key, digest] for key, digest in _digest_table(season, name)]
        for name in load_tables()
        if len(season.tables[name])
    }


def _digest_table(season: Season, name: str) -> Iterator[tuple[str, str]]:
    table, frame = load_tables()[name], season.tables[name]
    labels = [column.name for column in table.columns]
    rows = zip(*(plain_values(frame[label]) for label in labels), strict=True)
    keys = plain_values(frame[table.key]) if table.key else [""] * len(frame)
    for key, row in zip(keys, rows, strict=True):
        present = [
            f"{label}={_written(value)}"
            for label, value in zip(labels, row, strict=True)
            if not is_absent(value)
        ]
        yield str(key), hashlib.sha256("\x1f".join(present).encode()).hexdigest()[:_DIGEST_LETTERS]


def _written(value: Any) -> str:  # whatever a column holds
    if isinstance(value, tuple):
        return "\x1e".join(_written(part) for part in value)
    if isinstance(value, Mapping):
        return "\x1d".join(
            f"{key}:{_written(part)}" for key, part in sorted(value.items()) if not is_absent(part)
        )
    if hasattr(value, "isoformat"):
        return str(value.isoformat())[:10]
    return str(value)


def build_manifest(result: Result) -> dict[str, Any]:
    """The manifest of a report: what it was made from, by which version, on which day, and what it says."""
    season = result.season
    details = season.details
    return {
        "format": FORMAT,
        "tool": "certgen",
        "version": result.version,
        "on": result.on.isoformat(),
        "season": {
            "label": details.label,
            "operation": details.operation.name,
            "crop": details.crop,
            "standards": list(details.standards),
        },
        "folders": [{"name": name, "path": path} for name, path, _ in list_folders(season)],
        "files": [
            {
                "name": one.name,
                "path": one.path,
                "folder": one.folder,
                "sha256": one.sha256,
                "size": one.size,
                "attached": one.attached,
            }
            for one in held_files(season)
        ],
        "statements": statements(result),
        "records": record_digests(season),
    }


def manifest_text(manifest: Mapping[str, Any]) -> bytes:
    """The manifest as the bytes that are attached."""
    return (json.dumps(manifest, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n").encode()


def list_attachments(result: Result) -> Iterator[Attachment]:
    """Every file to put inside the report, manifest first.

    Raises `ManifestError` when a file is no longer the one that was examined: such a report would be false.
    """
    manifest = build_manifest(result)
    yield Attachment(
        NAME,
        manifest_text(manifest),
        "application/json",
        "Supplement",
        "What this report was made from and what it says",
    )
    folders = {name: season.folder for name, _, season in list_folders(result.season)}
    folders |= {f"{name}/evidence".lstrip("/"): folder / "evidence" for name, folder in folders.items()}
    for entry in manifest["files"]:
        if not entry["attached"]:
            continue
        data = (folders[entry["folder"]] / entry["path"]).read_bytes()
        if hashlib.sha256(data).hexdigest() != entry["sha256"]:
            raise ManifestError(f"{entry['name']} was changed while the report was being made; make it again")
        is_record = not entry["folder"].endswith("evidence")
        yield Attachment(
            entry["name"],
            data,
            "application/yaml"
            if is_record
            else mimetypes.guess_type(entry["path"])[0] or "application/octet-stream",
            "Source" if is_record else "Supplement",
            "A record file" if is_record else "Evidence named by the records, or lying beside them",
        )
