"""The manifest names every file by its digest and says what the report says."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
from pathlib import Path

import pytest

from certgen.examination import examine
from certgen.manifest import (
    ManifestError,
    build_manifest,
    held_files,
    list_attachments,
    manifest_text,
    record_digests,
    statements,
)
from certgen.records import read_season

ON = dt.date(2026, 12, 31)


@pytest.fixture
def folder(example_season: Path, tmp_path: Path) -> Path:
    """A copy of the example season."""
    return Path(shutil.copytree(example_season, tmp_path / "season"))


def test_same_records_give_the_same_bytes(folder: Path) -> None:
    """Two examinations of one folder, one manifest."""
    assert manifest_text(build_manifest(examine(folder, ON))) == manifest_text(
        build_manifest(examine(folder, ON))
    )


def test_every_file_is_there_with_its_digest(folder: Path) -> None:
    """Record files, those of earlier seasons, and evidence, each with the SHA-256 of its bytes."""
    season, _ = read_season(folder)
    assert season is not None

    found = {one.name: one.sha256 for one in held_files(season)}

    on_disk = {
        path.relative_to(folder): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and (path.suffix == ".yaml" or "evidence" in path.parts)
    }
    assert sorted(on_disk.values()) == sorted(found.values())
    assert (
        on_disk[Path("evidence/certificates/operation-2026.txt")]
        == found["evidence/certificates/operation-2026.txt"]
    )


def test_statements_add_up(folder: Path) -> None:
    """Each lot's grams are the sum of what is traced, unproven, rejected and unaccounted."""
    lots = statements(examine(folder, ON))["lots"]

    assert [lot["weight_mg"] for lot in lots] == [
        lot["traced_mg"] + lot["unproven_mg"] + lot["rejected_mg"] + lot["unaccounted_mg"] for lot in lots
    ]
    assert lots


def test_a_file_that_changed_meanwhile_stops_the_report(folder: Path) -> None:
    """A record file edited between reading and writing would make a false report; it is refused."""
    result = examine(folder, ON)
    with (folder / "trees.yaml").open("a") as stream:
        stream.write("# later\n")

    with pytest.raises(ManifestError, match=r"records/trees\.yaml was changed"):
        list(list_attachments(result))


def test_large_evidence_is_named_and_stays_outside(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Evidence beyond the bound is in the manifest with its digest and not among the attachments."""
    monkeypatch.setattr("certgen.manifest.EVIDENCE_BYTES", 0)

    attached = list(list_attachments(examine(folder, ON)))
    named = json.loads(attached[0].data)["files"]

    assert [] == [one.name for one in attached if one.name.startswith("evidence/")]
    assert any(entry["name"].startswith("evidence/") and not entry["attached"] for entry in named)


def test_layout_and_comments_change_no_record_digest(folder: Path) -> None:
    """A record's digest is of its values: another spelling of the same YAML has the same one."""
    before, _ = read_season(folder)
    text = (folder / "trees.yaml").read_text()
    (folder / "trees.yaml").write_text("# walked again\n" + text + "\n\n")
    after, _ = read_season(folder)
    assert before is not None
    assert after is not None

    assert record_digests(before) == record_digests(after)
