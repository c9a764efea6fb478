"""What a packet rests on: every record file and evidence file by its SHA-256, what it says of them, and
all that its pages were made with.

The manifest stands below the report and the exchange, so that the page that lists the files, the file
attached to the PDF and `certgen verify` are three readings of one thing. It names whatever decides the
packet's bytes, so that anybody can make it anew from the files inside; its own SHA-256, printed short on
every page, therefore stands for the packet as a whole.
"""

from __future__ import annotations

import hashlib
import json
import posixpath
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from certgen.records.digests import record_digests

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.examination import Result
    from certgen.records import ReadingError, Season

#: Grows when the manifest's shape changes; readers refuse what they don't know.
FORMAT: Final = 2
NAME: Final = "manifest.json"
#: The manifest of the packet that this one takes the place of, attached as it was.
REPLACED: Final = "replaced-manifest.json"
#: Evidence that together is larger is named and hashed, and stays outside.
EVIDENCE_BYTES: Final = 64 * 1024 * 1024
#: Who sees everything, and who else a packet may be for.
CERTIFIER: Final = "certifier"
READERS: Final = (CERTIFIER, "buyer", "member", "public")
#: Not the system's own list: it differs from machine to machine, and with it the packet's bytes would.
_MEDIA_TYPES: Final = {
    ".csv": "text/csv",
    ".heic": "image/heic",
    ".html": "text/html",
    ".jpeg": "image/jpeg",
    ".jpg": "image/jpeg",
    ".md": "text/markdown",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".tif": "image/tiff",
    ".tiff": "image/tiff",
    ".txt": "text/plain",
    ".webp": "image/webp",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_FINGERPRINT_LETTERS: Final = 20


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
class LeftOut:
    """What of a season a packet of some lots' line doesn't hold: by table the number of records, the number
    of files, and of the files that it does hold those that tell of other lots as well.
    """

    records: tuple[tuple[str, int], ...] = ()
    files: int = 0
    shared: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PacketOptions:
    """What was chosen for a packet: its paper, how much of the registers, the lots that it is about (None:
    all), whether it is the short one.

    `reader` says for whom it is, one of READERS. For anybody but the certifier `lots` names one lot and
    `party` is who it is for by name. A packet of less than the season has in `full` the SHA-256 of the full
    packet of the same records, day and paper; for the certifier `left_out` says what isn't in it.
    """

    page: str = "A4"
    registers: str = "full"
    lots: tuple[str, ...] | None = None
    reader: str = CERTIFIER
    party: str = ""
    full: str = ""
    left_out: LeftOut | None = None
    short: bool = False

    @property
    def withholds(self) -> bool:
        """Whether names are codes and evidence is kept back: it is for somebody else than the certifier."""
        return self.reader != CERTIFIER

    @property
    def is_full(self) -> bool:
        """Whether every record of the season is in it."""
        return not self.withholds and self.left_out is None


@dataclass(frozen=True, slots=True)
class Maker:
    """What a packet was made by: certgen's version, the SHA-256 of its code, and by name the version of
    everything else that decides how a page comes out.
    """

    version: str
    code: str
    setting: Mapping[str, str]


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


def held_files(season: Season, outside: Mapping[str, tuple[str, int]] | None = None) -> tuple[Held, ...]:
    """Every record file and evidence file of the season and of those before it, with digests.

    `outside` gives digest and size of evidence whose bytes aren't at hand, by name. Raises `ManifestError`
    when an evidence file cannot be read.
    """
    absent = outside or {}
    found = []
    room = EVIDENCE_BYTES
    for name, _, one in list_folders(season):
        lead = f"{name}/" if name else ""
        for path, source in sorted(one.sources.items()):
            found.append(Held(f"{lead}records/{path}", path, name, source.sha256, source.size))
        for path in one.evidence_files:
            held = f"{lead}evidence/{path}"
            digest, size = absent.get(held) or _digest_file(one.folder / "evidence" / path)
            attached = size <= room
            room -= size if attached else 0
            found.append(Held(held, path, f"{lead}evidence", digest, size, attached))
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


def digest_records(season: Season) -> str:
    """One SHA-256 for every record file and evidence file of the season and of those before it.

    It is taken of a JSON object without blanks, keys sorted, in ASCII: `files` lists [name, SHA-256] in order
    of the names, `unread` what was refused or lost as [folder, file, message], all as the manifest gives
    them, so that whoever holds a packet can take it too. Raises `ManifestError` when an evidence file cannot
    be read.
    """
    content = {
        "files": sorted([held.name, held.sha256] for held in held_files(season)),
        "unread": [
            [name, error.file, error.message]
            for name, _, folder in list_folders(season)
            for error in (*folder.refused, *folder.lost)
        ],
    }
    written = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(written.encode("ascii")).hexdigest()


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
        "findings": [[gap.rule, gap.table, list(gap.ids)] for gap in result.gaps],
        "records": {name: int(count) for name, count in summary.records.items() if count},
        "left_out": summary.left_out,
        "reading_errors": len(result.errors),
    }


@dataclass(frozen=True, eq=False)
class Manifest:
    """The manifest of one packet: its `content` as JSON, its `text` as the bytes that are attached.

    `replaced` are the bytes of the manifest of the packet that this one takes the place of, or none.
    """

    content: Mapping[str, Any]
    replaced: bytes = b""

    @cached_property
    def text(self) -> bytes:
        """The bytes that are attached."""
        return manifest_text(self.content)

    @cached_property
    def sha256(self) -> str:
        """What stands for the packet: 64 hexadecimal digits."""
        return hashlib.sha256(self.text).hexdigest()

    @property
    def fingerprint(self) -> str:
        """The start of `sha256` as it is printed."""
        return write_fingerprint(self.sha256)


def write_fingerprint(sha256: str) -> str:
    """The first 80 bits of a packet's SHA-256 in groups of four digits, short enough to read out."""
    return " ".join(sha256[start : start + 4] for start in range(0, _FINGERPRINT_LETTERS, 4))


def build_manifest(
    result: Result,
    maker: Maker,
    options: PacketOptions | None = None,
    *,
    replaced: bytes = b"",
    outside: Mapping[str, tuple[str, int]] | None = None,
) -> Manifest:
    """The manifest of a packet: what it is made from, by what, how, as of which day, and what it says.

    `replaced` is the manifest of the packet that it takes the place of; `outside` is as in `held_files`.
    Raises `ManifestError` when an evidence file cannot be read.
    """
    season, chosen = result.season, options or PacketOptions()
    details = season.details
    content = {
        "format": FORMAT,
        "tool": "certgen",
        "version": maker.version,
        "code": maker.code,
        "setting": dict(maker.setting),
        "on": result.on.isoformat(),
        "options": _write_options(chosen),
        "season": {
            "label": details.label,
            "operation": details.operation.name,
            "certificate": details.operation.certificate or "",
            "crop": details.crop,
            "standards": list(details.standards),
        },
        "folders": [
            {
                "name": name,
                "path": path,
                "refused": [_error(error) for error in folder.refused],
                "lost": [_error(error) for error in folder.lost],
            }
            for name, path, folder in list_folders(season)
        ],
        "files": [asdict(held) for held in held_files(season, outside)],
        "statements": statements(result),
        "records": record_digests(season),
        "replaces": hashlib.sha256(replaced).hexdigest() if replaced else None,
    }
    return Manifest(content, replaced)


def _write_options(chosen: PacketOptions) -> dict[str, Any]:
    """What was chosen; of a full packet no more than before there were others."""
    written: dict[str, Any] = {
        "page": chosen.page,
        "registers": chosen.registers,
        "lots": None if chosen.lots is None else list(chosen.lots),
    }
    if chosen.short:
        written["short"] = True
    if chosen.withholds:
        written |= {"for": chosen.reader, "to": chosen.party, "full": chosen.full}
    if chosen.left_out is not None:
        left = chosen.left_out
        told = {"records": dict(left.records), "files": left.files, "shared": list(left.shared)}
        written |= {"full": chosen.full, "left_out": told}
    return written


def _error(error: ReadingError) -> dict[str, Any]:
    return {
        "file": error.file,
        "line": error.line,
        "column": error.column,
        "message": error.message,
        "field": error.field,
    }


def manifest_text(manifest: Mapping[str, Any]) -> bytes:
    """The manifest as the bytes that are attached."""
    return (json.dumps(manifest, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n").encode()


def list_attachments(result: Result, manifest: Manifest) -> Iterator[Attachment]:
    """Every file to put inside the packet, manifest first.

    Raises `ManifestError` when a file is no longer the one that was examined: such a packet would be false.
    """
    yield Attachment(
        NAME,
        manifest.text,
        "application/json",
        "Supplement",
        "What this packet was made from and what it says",
    )
    if manifest.replaced:
        yield Attachment(
            REPLACED,
            manifest.replaced,
            "application/json",
            "Supplement",
            "The manifest of the packet that this one replaces",
        )
    folders = {name: season.folder for name, _, season in list_folders(result.season)}
    folders |= {f"{name}/evidence".lstrip("/"): folder / "evidence" for name, folder in folders.items()}
    for entry in manifest.content["files"]:
        if entry["attached"]:
            yield _attach(entry, (folders[entry["folder"]] / entry["path"]).read_bytes())


def _attach(entry: Mapping[str, Any], data: bytes) -> Attachment:
    if hashlib.sha256(data).hexdigest() != entry["sha256"]:
        raise ManifestError(f"{entry['name']} was changed while the report was being made; make it again")
    if not entry["folder"].endswith("evidence"):
        return Attachment(entry["name"], data, "application/yaml", "Source", "A record file")
    media_type = _MEDIA_TYPES.get(posixpath.splitext(entry["path"])[1].lower(), "application/octet-stream")
    description = "Evidence named by the records, or lying beside them"
    return Attachment(entry["name"], data, media_type, "Supplement", description)
