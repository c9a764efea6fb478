"""What a packet changed against the one that it takes the place of, read from their two manifests.

A correction is no forgery, as long as it says what it corrects. So the new packet carries the old one's
manifest inside: whoever holds it can see what was added, changed and taken out, and can match the old
packet by its fingerprint without having it.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.manifest import Manifest

    #: A finding: its rule, the table and the identifiers that it stands at.
    Finding = tuple[str, str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class TableChanges:
    """What changed in one table, by identifier; of records that have none, by their place among them."""

    table: str
    added: tuple[str, ...]
    changed: tuple[str, ...]
    removed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LotChange:
    """A lot whose standing or grams moved: `before` and `after` as in the manifest, None for no such lot."""

    lot: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class PacketChanges:
    """All that differs between two packets: records by table, evidence files, findings, lots, the day.

    `files` are those of evidence, as (name, what became of it). `other_season` is set where they are of
    different operations or seasons, so that one can't correct the other.
    """

    tables: tuple[TableChanges, ...]
    files: tuple[tuple[str, str], ...]
    opened: tuple[Finding, ...]
    closed: tuple[Finding, ...]
    lots: tuple[LotChange, ...]
    days: tuple[str, str]
    other_season: bool

    @property
    def is_empty(self) -> bool:
        """Whether records, evidence, findings and lots are the same."""
        return not (self.tables or self.files or self.opened or self.closed or self.lots)


def read_replaced(manifest: Manifest) -> dict[str, Any]:
    """The manifest of the packet that this one takes the place of. Raises ValueError if it can't be read."""
    content: dict[str, Any] = json.loads(manifest.replaced)
    return content


def compare_manifests(old: Mapping[str, Any], new: Mapping[str, Any]) -> PacketChanges:
    """What `new` says otherwise than `old`; both keep to the manifest's schema."""
    findings = [Counter(map(_finding, one["statements"]["findings"])) for one in (old, new)]
    before, after = ({lot["lot"]: lot for lot in one["statements"]["lots"]} for one in (old, new))
    return PacketChanges(
        tables=tuple(_compare_tables(old["records"], new["records"])),
        files=tuple(_compare_evidence(old, new)),
        opened=tuple((findings[1] - findings[0]).elements()),
        closed=tuple((findings[0] - findings[1]).elements()),
        lots=tuple(
            LotChange(lot, before.get(lot), after.get(lot))
            for lot in dict.fromkeys((*before, *after))
            if before.get(lot) != after.get(lot)
        ),
        days=(old["on"], new["on"]),
        other_season=any(old["season"][key] != new["season"][key] for key in ("operation", "label")),
    )


def _finding(listed: Sequence[Any]) -> Finding:
    rule, table, names = listed
    return rule, table, tuple(names)


def _compare_tables(
    old: Mapping[str, Sequence[Sequence[str]]], new: Mapping[str, Sequence[Sequence[str]]]
) -> Iterator[TableChanges]:
    for table in dict.fromkeys((*new, *old)):
        before, after = _by_name(old.get(table, ())), _by_name(new.get(table, ()))
        added = tuple(name for name in after if name not in before)
        removed = tuple(name for name in before if name not in after)
        changed = tuple(name for name in after if name in before and before[name] != after[name])
        if added or removed or changed:
            yield TableChanges(table, added, changed, removed)


def _by_name(records: Sequence[Sequence[str]]) -> dict[str, str]:
    """Each record's digest by its identifier; the second of one identifier is told apart from the first."""
    found: dict[str, str] = {}
    seen: Counter[str] = Counter()
    for key, digest in records:
        seen[key] += 1
        name = key or f"record {seen[key]}"
        found[name if name not in found else f"{key} ({seen[key]})"] = digest
    return found


def _compare_evidence(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    before, after = (
        {file["name"]: file["sha256"] for file in one["files"] if file["folder"].endswith("evidence")}
        for one in (old, new)
    )
    for name in sorted({*before, *after}):
        if name not in before:
            yield name, "added"
        elif name not in after:
            yield name, "removed"
        elif before[name] != after[name]:
            yield name, "changed"
