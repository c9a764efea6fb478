"""What a packet changed against the one that it replaces, from their manifests alone."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from printed_packets import line_packet, manifest_of, packet_of, write_line
from seasons import one_line, sale, tree

from certgen.corrections import compare_manifests

if TYPE_CHECKING:
    from pathlib import Path

COVERS = ("certgen.report.chapters.corrections",)


def test_a_packet_differs_in_nothing_from_itself() -> None:
    """No record, file, finding or lot."""
    manifest = manifest_of(line_packet())

    assert (True, False) == (
        (changes := compare_manifests(manifest, manifest)).is_empty,
        changes.other_season,
    )


def test_records_are_told_by_table(tmp_path: Path) -> None:
    """Added, changed and taken out, each by its identifier; the lot's standing moves with them."""
    tables = one_line()
    tables["trees"].append(tree("T2"))
    tables["screening"][0]["result"] = "positive"
    new = manifest_of(packet_of(write_line(tmp_path / "new", **tables, movements=[])))

    changes = compare_manifests(manifest_of(line_packet()), new)

    assert {
        "trees": (("T2",), (), ()),
        "screening": ((), ("S1",), ()),
        "movements": ((), (), ("M1",)),
    } == {one.table: (one.added, one.changed, one.removed) for one in changes.tables}
    assert [("L1", "traced", "rejected")] == [
        (one.lot, one.before and one.before["standing"], one.after and one.after["standing"])
        for one in changes.lots
    ]
    assert "parent-positive" in {rule for rule, _, _ in changes.opened}


def test_one_record_of_two_with_a_name_is_told(tmp_path: Path) -> None:
    """Of two records with one identifier the second is told apart from the first."""
    sales = [sale("M1", "L1", grams) for grams in (3, 2)]
    new = manifest_of(packet_of(write_line(tmp_path / "new", movements=sales)))

    changes = compare_manifests(manifest_of(line_packet()), new)

    assert [("movements", ("M1 (2)",), ())] == [(one.table, one.added, one.changed) for one in changes.tables]


def test_evidence_and_season_are_compared() -> None:
    """A letter that is another, and packets of two operations."""
    old = manifest_of(line_packet())
    new = deepcopy(old)
    new["files"][-1]["sha256"] = "0" * 64
    new["season"]["operation"] = "Somebody Else"

    changes = compare_manifests(old, new)

    assert ((("evidence/letters/S1.txt", "changed"),), True) == (changes.files, changes.other_season)
