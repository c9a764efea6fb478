"""What differs between a packet and an earlier one, or a season's folder as it is now."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.corrections import compare_manifests
from certgen.manifest import NAME, held_files, write_fingerprint
from certgen.records.digests import record_digests
from certgen.report.chapters.corrections import say_lot, say_table
from certgen.rules.wording import day
from certgen.verification.attachments import read_attachments
from certgen.verification.packet_files import read_manifest

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from certgen.corrections import Finding, PacketChanges
    from certgen.verification.answers import Verification

#: More names of one group than anybody reads on a terminal.
_NAMED: Final = 200


def compare_packet(found: Verification, earlier: bytes) -> None:
    """Say what differs from an earlier packet, given as its bytes.

    A packet that says what it replaces is a correction; one that doesn't is another packet. Raises
    `PacketError` for bytes that are no packet.
    """
    from certgen.exchange.signing.signature import read_signatures

    inside = read_attachments(read_signatures(earlier).base)
    old = read_manifest(inside)
    digests = hashlib.sha256(inside[NAME]).hexdigest(), found.sha256
    changes = compare_manifests(old, found.manifest)
    other = (
        f"the packet of records as of {day(date.fromisoformat(old['on']))}, {write_fingerprint(digests[0])}"
    )
    leaves = "Whether that one is sound: verify it by itself. Nor does this say who was given which."
    if digests[0] == digests[1]:
        found.add(
            "Earlier packet", "holds", f"Both are {other}: the same records, options and day.", leaves=leaves
        )
    elif found.manifest["replaces"] == digests[0]:
        says = f"This is a correction: it says on page 1 that it replaces {other}."
        found.add("Earlier packet", "holds", says, list(say_changes(changes)), leaves=leaves)
    elif old["replaces"] == digests[1]:
        says = f"The other is the newer: {other} says that it replaces this packet. Use that one."
        found.add("Earlier packet", "unknown", says, list(say_changes(changes)), leaves=leaves)
    else:
        says = f"It differs from {other}, and doesn't say that it replaces it."
        found.add("Earlier packet", "unknown", says, list(say_changes(changes)), leaves=leaves)


def compare_folder(found: Verification, folder: Path) -> None:
    """Say what a season's folder holds today that the packet doesn't, and the other way round."""
    from certgen.standards.season_reading import read_case

    season, errors = read_case(folder)
    if season is None:
        reason = errors[0].text() if errors else "it holds no season"
        found.add("Folder", "fails", f"{folder} cannot be read: {reason}")
        return
    here = {
        **found.manifest,
        "records": record_digests(season),
        "files": [
            {"name": one.name, "folder": one.folder, "sha256": one.sha256} for one in held_files(season)
        ],
    }
    details = [*say_changes(compare_manifests(found.manifest, here)), *_say_files(found.manifest, here)]
    if details:
        says = (
            f"{folder} isn't as it was when the packet was made; the packet itself may be sound all the same."
        )
        found.add("Folder", "fails", says, details)
    else:
        found.add("Folder", "holds", f"{folder} holds the same records and evidence, file by file.")


def _say_files(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    """Record files that came, went or are otherwise written."""
    before, after = (
        {file["name"]: file["sha256"] for file in one["files"] if not file["folder"].endswith("evidence")}
        for one in (then, now)
    )
    for name in sorted({*before, *after}):
        if name not in after:
            yield f"{name} is not in it"
        elif name not in before:
            yield f"{name} is new"
        elif before[name] != after[name]:
            yield f"{name} is written otherwise"


def say_changes(changes: PacketChanges) -> Iterator[str]:
    """All that differs, grouped, a line a group."""
    if changes.other_season:
        yield "the two are of different operations or seasons"
    if changes.days[0] != changes.days[1]:
        yield f"records as of {changes.days[1]}, before as of {changes.days[0]}"
    for table in changes.tables:
        groups = (("added", table.added), ("changed", table.changed), ("taken out", table.removed))
        said = "; ".join(f"{word} {_list(names)}" for word, names in groups if names)
        yield f"{say_table(table.table)}: {said}"
    for name, what in changes.files:
        yield f"{name}: {what}"
    for lot in changes.lots:
        yield f"lot {lot.lot}: was {say_lot(lot.before)}; is {say_lot(lot.after)}"
    for word, findings in (("closed", changes.closed), ("opened", changes.opened)):
        yield from (f"finding {word}: {_say_finding(finding)}" for finding in findings[:_NAMED])


def _say_finding(finding: Finding) -> str:
    rule, table, names = finding
    return f"{rule}, {say_table(table)} {_list(names)}".strip()


def _list(names: Sequence[str]) -> str:
    shown = ", ".join(names[:_NAMED])
    return f"{shown} and {len(names) - _NAMED} more" if len(names) > _NAMED else shown
