"""What this packet corrects: the records, findings and standings that differ from the one it replaces."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from certgen.corrections import compare_manifests, read_replaced
from certgen.manifest import write_fingerprint
from certgen.report.tables import Column, mass, table
from certgen.report.wording import key
from certgen.rules.wording import NOUNS, day
from certgen.typeset.parts import Chapter, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import Any

    from certgen.corrections import Finding, LotChange, PacketChanges
    from certgen.manifest import Manifest
    from certgen.typeset.parts import Part

_LEAD = (
    "This packet takes the place of the one of records as of {day}, whose fingerprint is {fingerprint}."
    " Below stands all that differs. The older packet’s manifest is attached, so that this list can be made"
    " again; it tells nothing of who gave the older packet to whom."
)
_OTHER = "The packet that it replaces is of another operation or season: compare the two with care."
_SAME = "Records, evidence, findings and standings are the same in both."


def build_corrections(manifest: Manifest) -> Chapter:
    """The chapter of a packet that replaces another one."""
    old = read_replaced(manifest)
    changes = compare_manifests(old, manifest.content)
    lead = _LEAD.format(
        day=day(date.fromisoformat(old["on"])),
        fingerprint=write_fingerprint(manifest.content["replaces"]),
    )
    words = [lead]
    if changes.other_season:
        words.append(_OTHER)
    if changes.is_empty:
        words.append(_SAME)
    parts: list[Part] = [Prose(tuple(words)), *_tables(changes)]
    section = Section("corrections", "What this packet corrects", 1, tuple(parts), style="chapter")
    return Chapter("corrections", (section,))


def _tables(changes: PacketChanges) -> Iterator[Part]:
    if changes.lots:
        yield _list_lots(changes.lots)
    for caption, findings in (
        ("Findings that are gone", changes.closed),
        ("Findings that are new", changes.opened),
    ):
        if findings:
            yield _list_findings(caption, findings)
    if changes.tables:
        yield table(
            "Records",
            (
                Column("Records", "text", lambda one: say_table(one.table), "16%"),
                Column("Added", "text", lambda one: ", ".join(one.added)),
                Column("Changed", "text", lambda one: ", ".join(one.changed)),
                Column("Taken out", "text", lambda one: ", ".join(one.removed)),
            ),
            changes.tables,
        )
    if changes.files:
        yield table(
            "Evidence",
            (
                Column("File", "text", lambda one: one[0]),
                Column("Change", "text", lambda one: one[1], "20%"),
            ),
            changes.files,
        )


def _list_lots(lots: Sequence[LotChange]) -> Part:
    return table(
        "Lots whose standing or grams moved",
        (
            Column("Lot", "key", lambda one: key(one.lot, f"lots/{one.lot}" if one.after else "")),
            Column("Was", "text", lambda one: say_lot(one.before)),
            Column("Is", "text", lambda one: say_lot(one.after)),
        ),
        lots,
    )


def _list_findings(caption: str, findings: Sequence[Finding]) -> Part:
    return table(
        caption,
        (
            Column("Rule", "key", lambda one: one[0], "34%"),
            Column("At", "text", lambda one: f"{say_table(one[1])} {', '.join(one[2])}".strip()),
        ),
        findings,
    )


def say_table(name: str) -> str:
    """A table's records in the plural; a table that this version doesn't know by its own name."""
    return NOUNS[name][1] if name in NOUNS else name


def say_lot(lot: Mapping[str, Any] | None) -> str:
    """A lot's standing with the grams of each class that it has; "not there" for no lot."""
    if lot is None:
        return "not there"
    classes = ("traced", "unproven", "rejected", "unaccounted")
    parts = [
        f"{amount.text()} {name}"
        for name in classes
        if lot[f"{name}_mg"] and (amount := mass(lot[f"{name}_mg"])) is not None
    ]
    return f"{lot['standing']}: {', '.join(parts) or 'no grams'}"
