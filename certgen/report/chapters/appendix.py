"""The index of identifiers, the manifest, and the files that travel inside the packet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.manifest import held_files, list_attachments
from certgen.records.rows import plain_rows, plain_values
from certgen.report.wording import whole
from certgen.typeset.parts import Attached, Register, RegisterColumn

if TYPE_CHECKING:
    from certgen.report.context import Context

MANIFEST_LEAD: Final = (
    "Every record file and evidence file that this packet rests on, with its SHA-256. The record files"
    " themselves are attached to this PDF, so what is printed here can be held against what was written down."
)


def build_identifiers(
    context: Context,
) -> tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...]:
    """Every identifier with the anchors where it stands, table by table, in the order of the registers."""
    groups = []
    for name, table in context.tables.items():
        if not table.key:
            continue
        listed: dict[str, None] = {}
        for identifier in plain_values(context.season.table(name)[table.key]):
            if identifier:
                listed.setdefault(identifier, None)
        if listed:
            entries = tuple(
                (
                    one,
                    (
                        f"{name}/{one}",
                        f"row/{name}/{one}",
                        *(f"gap/{gap}" for gap in _gaps(context, name, one)),
                    ),
                )
                for one in listed
            )
            groups.append((table.title, entries))
    documents: dict[str, list[str]] = {}
    for movement, document in plain_rows(context.season.table("movements"), "movement", "document"):
        if document and movement:
            documents.setdefault(document, []).append(f"movements/{movement}")
    if documents:
        groups.append(("Invoices and documents", tuple((one, tuple(at)) for one, at in documents.items())))
    return tuple(groups)


def _gaps(context: Context, table: str, name: str) -> tuple[int, ...]:
    from certgen.lineage import Node

    return context.result.numbers_of(Node(table, name))


def collect_attachments(context: Context) -> tuple[Attached, ...]:
    """The manifest, and the record and evidence files as they were examined.

    Raises `certgen.manifest.ManifestError` when a file has changed since.
    """
    return tuple(
        Attached(one.name, one.data, one.media_type, one.relationship, one.description)
        for one in list_attachments(context.result)
    )


def build_manifest(context: Context) -> Register:
    """The printed manifest: every file that the packet rests on, with its hash."""
    rows = tuple(
        (
            f"file/{one.name}",
            (
                ((one.name, ""),),
                ((whole(one.size), ""),),
                (("inside" if one.attached else "too large, kept by the operation", ""),),
                ((one.sha256, ""),),
            ),
        )
        for one in held_files(context.season)
    )
    columns = (
        RegisterColumn("File", 3),
        RegisterColumn("Bytes", 0.4, "number"),
        RegisterColumn("This PDF", 0.6),
        RegisterColumn("SHA-256", 0.1, "digest"),
    )
    return Register("manifest", "", "", columns, rows)
