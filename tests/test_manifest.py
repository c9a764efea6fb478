"""The manifest names every file by its digest and says what the report says."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from pathlib import Path

import pytest

from certgen.examination import Result, examine
from certgen.manifest import (
    Maker,
    Manifest,
    ManifestError,
    PacketOptions,
    build_manifest,
    digest_records,
    held_files,
    list_attachments,
    statements,
)
from certgen.records import read_season
from certgen.records.digests import record_digests

COVERS = ("certgen.records.digests",)

ON = dt.date(2026, 12, 31)
MAKER = Maker("0.1.0", "0" * 64, {"weasyprint": "70.0"})


def manifest_of(result: Result) -> Manifest:
    """The manifest of a packet of a result, made by nothing in particular."""
    return build_manifest(result, MAKER)


def test_same_records_give_the_same_bytes(example_copy: Path) -> None:
    """Two examinations of one folder, one manifest and one fingerprint."""
    one, other = (manifest_of(examine(example_copy, ON)) for _ in range(2))

    assert (one.text, one.fingerprint) == (other.text, other.fingerprint)


def test_whatever_decides_the_bytes_changes_the_fingerprint(example_copy: Path) -> None:
    """Other paper, another library, another day, a packet that is replaced: each is another packet."""
    result = examine(example_copy, ON)
    later = examine(example_copy, dt.date(2027, 1, 1))
    made = [
        manifest_of(result),
        build_manifest(result, MAKER, PacketOptions("Letter")),
        build_manifest(result, Maker("0.1.0", "0" * 64, {"weasyprint": "71.0"})),
        manifest_of(later),
        build_manifest(result, MAKER, replaced=b"{}"),
    ]

    assert 5 == len({manifest.fingerprint for manifest in made})


def test_a_fingerprint_is_short_and_the_start_of_the_digest(example_copy: Path) -> None:
    """Five groups of four digits, from the SHA-256 of the bytes that are attached."""
    manifest = manifest_of(examine(example_copy, ON))

    assert hashlib.sha256(manifest.text).hexdigest()[:20] == manifest.fingerprint.replace(" ", "")
    assert [4] * 5 == [len(group) for group in manifest.fingerprint.split(" ")]


def test_every_file_is_there_with_its_digest(example_copy: Path) -> None:
    """Record files, those of earlier seasons, and evidence, each with the SHA-256 of its bytes."""
    season, _ = read_season(example_copy)
    assert season is not None

    found = {one.name: one.sha256 for one in held_files(season)}

    on_disk = {
        path.relative_to(example_copy): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in example_copy.rglob("*")
        if path.is_file() and (path.suffix == ".yaml" or "evidence" in path.parts)
    }
    assert sorted(on_disk.values()) == sorted(found.values())
    assert (
        on_disk[Path("evidence/certificates/operation-2026.txt")]
        == found["evidence/certificates/operation-2026.txt"]
    )


def test_the_records_digest_is_that_of_the_files_a_packet_names(example_copy: Path) -> None:
    """Taken here from the packet's manifest: names and digests, what was refused, as JSON in ASCII."""
    (example_copy / "odd.yaml").write_bytes(b"\xff\xfe")
    result = examine(example_copy, ON)
    manifest = build_manifest(result, MAKER).content
    content = {
        "files": sorted([held["name"], held["sha256"]] for held in manifest["files"]),
        "unread": [
            [folder["name"], error["file"], error["message"]]
            for folder in manifest["folders"]
            for error in (*folder["refused"], *folder["lost"])
        ],
    }
    written = json.dumps(content, separators=(",", ":")).encode()
    assert ["odd.yaml"] == [file for _, file, _ in content["unread"]]

    assert hashlib.sha256(written).hexdigest() == digest_records(result.season)


@pytest.mark.parametrize(
    "name", ["trees.yaml", "evidence/letters/bf-26-0031.txt", ".season-2025/season.yaml"]
)
def test_the_records_digest_rests_on_every_byte(example_copy: Path, name: str) -> None:
    """A blank line in a record, a letter or a file of the season before."""
    before = digest_records(examine(example_copy, ON).season)
    path = example_copy / name
    path.write_bytes(path.read_bytes() + b"\n")

    assert before != digest_records(examine(example_copy, ON).season)


def test_two_files_are_never_taken_for_one(example_copy: Path) -> None:
    """A name that holds what stands between two entries can't stand for both: JSON writes it otherwise."""
    evidence = example_copy / "evidence"
    (evidence / "a.txt").write_bytes(b"1")
    (evidence / "b.txt").write_bytes(b"2")
    two = digest_records(examine(example_copy, ON).season)
    first = hashlib.sha256(b"1").hexdigest()
    (evidence / "a.txt").unlink()
    (evidence / "b.txt").unlink()
    both = evidence / f'a.txt","{first}"],["evidence' / "b.txt"
    both.parent.mkdir()
    both.write_bytes(b"2")

    assert two != digest_records(examine(example_copy, ON).season)


def test_statements_add_up(example_copy: Path) -> None:
    """Each lot's grams are the sum of what is traced, unproven, rejected and unaccounted."""
    lots = statements(examine(example_copy, ON))["lots"]

    assert [lot["weight_mg"] for lot in lots] == [
        lot["traced_mg"] + lot["unproven_mg"] + lot["rejected_mg"] + lot["unaccounted_mg"] for lot in lots
    ]
    assert lots


def test_a_file_that_changed_meanwhile_stops_the_report(example_copy: Path) -> None:
    """A record file edited between reading and writing would make a false report; it is refused."""
    result = examine(example_copy, ON)
    with (example_copy / "trees.yaml").open("a") as stream:
        stream.write("# later\n")

    with pytest.raises(ManifestError, match=r"records/trees\.yaml was changed"):
        list(list_attachments(result, manifest_of(result)))


def test_large_evidence_is_named_and_stays_outside(
    example_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Evidence beyond the bound is in the manifest with its digest and not among the attachments."""
    monkeypatch.setattr("certgen.manifest.EVIDENCE_BYTES", 0)

    result = examine(example_copy, ON)
    attached = list(list_attachments(result, manifest_of(result)))
    named = json.loads(attached[0].data)["files"]

    assert [] == [one.name for one in attached if one.name.startswith("evidence/")]
    assert any(entry["name"].startswith("evidence/") and not entry["attached"] for entry in named)


def test_layout_and_comments_change_no_record_digest(example_copy: Path) -> None:
    """A record's digest is of its values: another spelling of the same YAML has the same one."""
    before, _ = read_season(example_copy)
    text = (example_copy / "trees.yaml").read_text()
    (example_copy / "trees.yaml").write_text("# walked again\n" + text + "\n\n")
    after, _ = read_season(example_copy)
    assert before is not None
    assert after is not None

    assert record_digests(before) == record_digests(after)
