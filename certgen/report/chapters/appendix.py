"""The index of identifiers, the manifest, and the files that travel inside the packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.lineage import Node
from certgen.manifest import list_attachments
from certgen.report.wording import whole
from certgen.typeset.parts import Attachment, Register, RegisterColumn

if TYPE_CHECKING:
    from certgen.manifest import Manifest
    from certgen.report.context import Context

MANIFEST_LEAD: Final = (
    "Every record file and evidence file that this packet rests on, with its SHA-256. The record files"
    " themselves are attached to this PDF, so that what is printed here can be compared with what was written"
    " down."
)

#: An identifier of the index, and the anchors where it stands.
Entry = tuple[str, tuple[str, ...]]


def build_identifiers(context: Context) -> tuple[tuple[str, tuple[Entry, ...]], ...]:
    """Every identifier with the anchors where it stands, table by table, in the order of the registers."""
    groups = []
    for name, table in context.tables.items():
        identifiers = context.season.columns(name).values(table.key) if table.key else []
        entries = tuple(_entry(context, name, own) for own in dict.fromkeys(identifiers) if own)
        if entries:
            groups.append((table.title, entries))
    return tuple(groups)


def _entry(context: Context, table: str, name: str) -> Entry:
    gaps = (f"gap/{number}" for number in context.result.numbers_of(Node(table, name)))
    return name, (f"{table}/{name}", f"row/{table}/{name}", *gaps)


def collect_attachments(context: Context, manifest: Manifest) -> tuple[Attachment, ...]:
    """The manifest, and the record and evidence files as they were examined.

    Raises `certgen.manifest.ManifestError` when a file has changed since.
    """
    return tuple(
        Attachment(file.name, file.data, file.media_type, file.relationship, file.description)
        for file in list_attachments(context.result, manifest)
    )


def list_attached(manifest: Manifest) -> frozenset[str]:
    """The names of the record and evidence files that travel inside the packet."""
    return frozenset(file["name"] for file in manifest.content["files"] if file["attached"])


def list_files(manifest: Manifest) -> Register:
    """The printed manifest: every file that the packet rests on, with its hash."""
    rows = tuple(
        (
            f"file/{file['name']}",
            (
                ((file["name"], ""),),
                ((whole(file["size"]), ""),),
                (("inside", file["name"]) if file["attached"] else ("too large, kept by the operation", ""),),
                ((file["sha256"], ""),),
            ),
        )
        for file in manifest.content["files"]
    )
    columns = (
        RegisterColumn("File", 3),
        RegisterColumn("Bytes", 0.4, "number"),
        RegisterColumn("This PDF", 0.6),
        RegisterColumn("SHA-256", 0.1, "digest"),
    )
    return Register("manifest", "", "", columns, rows)
