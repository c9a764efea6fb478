"""A packet is verified from the file alone: seal, files inside, and what the report says of them."""

from __future__ import annotations

import datetime as dt
import io
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pikepdf
import pytest

from certgen.examination import examine
from certgen.exchange.sealing.attachments import PacketError, read_attachments
from certgen.exchange.sealing.seal import seal_bytes
from certgen.exchange.sealing.verification import verify_packet
from certgen.manifest import list_attachments

if TYPE_CHECKING:
    from collections.abc import Callable

COVERS = ("certgen.exchange.sealing.attachments",)
ON = dt.date(2026, 12, 31)
Files = dict[str, bytes]


def pdf_with(files: Files) -> bytes:
    """A sealed PDF of one empty page with files inside."""
    document = pikepdf.new()
    document.add_blank_page()
    for name, data in files.items():
        document.attachments[name] = pikepdf.AttachedFileSpec(document, data, filename=name)
    out = io.BytesIO()
    document.save(out, deterministic_id=True)
    return seal_bytes(out.getvalue())


@pytest.fixture(scope="module")
def season_folder(example_season: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the example season that tests may read."""
    return Path(shutil.copytree(example_season, tmp_path_factory.mktemp("s") / "example"))


@pytest.fixture(scope="module")
def files(season_folder: Path) -> Files:
    """What a report of the example season holds."""
    return {one.name: one.data for one in list_attachments(examine(season_folder, ON))}


def packet(tmp_path: Path, files: Files) -> Path:
    """A packet with these files, written."""
    path = tmp_path / "packet.pdf"
    path.write_bytes(pdf_with(files))
    return path


def change(files: Files, name: str, edit: Callable[[bytes], bytes]) -> Files:
    """The files with one of them changed."""
    return {**files, name: edit(files[name])}


def test_an_untouched_packet_is_sound(tmp_path: Path, files: Files, season_folder: Path) -> None:
    """Sealed and left alone, everything holds, from the file alone and beside the grower's folder."""
    found = verify_packet(packet(tmp_path, files), against=season_folder)

    assert ([], len(files) - 1) == (found.faults, found.files)


def test_a_changed_record_is_named(tmp_path: Path, files: Files) -> None:
    """Somebody changed one record inside and sealed the file anew: the file and the record are named."""
    changed = change(
        files, "records/trees.yaml", lambda data: data.replace(b"sex: hermaphrodite", b"sex: unknown", 1)
    )
    assert changed != files

    found = verify_packet(packet(tmp_path, changed))

    assert "files: records/trees.yaml is not the file that the manifest names" == found.faults[0]
    assert found.first_record is not None
    assert ("trees", "trees.yaml") == (found.first_record[0], found.first_record[2])
    assert any(
        fault.startswith(f"files: the first record that differs is trees {found.first_record[1]}")
        for fault in found.faults
    )


def test_a_changed_statement_is_found(tmp_path: Path, files: Files) -> None:
    """A manifest that claims more than the records bear is contradicted, lot by lot."""

    def claim(data: bytes) -> bytes:
        manifest = json.loads(data)
        lot = next(lot for lot in manifest["statements"]["lots"] if lot["standing"] != "traced")
        lot["standing"] = "traced"
        return json.dumps(manifest).encode()

    found = verify_packet(packet(tmp_path, change(files, "manifest.json", claim)))

    assert ["statements: lot"] == sorted({fault[:15] for fault in found.faults})
    assert "the report says standing traced, the records inside say" in found.faults[0]


def test_files_put_in_and_taken_out_are_found(tmp_path: Path, files: Files) -> None:
    """A record file that the manifest does not name, and one that it names and is gone."""
    with_more = {name: data for name, data in files.items() if name != "records/inputs.yaml"}
    with_more["records/extra.yaml"] = b"trees: []\n"

    faults = verify_packet(packet(tmp_path, with_more)).faults

    assert "files: records/inputs.yaml is named by the manifest and not inside" in faults
    assert "files: records/extra.yaml is inside and no part of what was reported on" in faults


def test_a_broken_seal_is_found_first(tmp_path: Path, files: Files) -> None:
    """Bytes behind the end of the file are the first fault."""
    path = packet(tmp_path, files)
    path.write_bytes(path.read_bytes() + b"% x\n")

    assert "seal: " == verify_packet(path).faults[0][:6]


def test_another_key_is_a_fault(tmp_path: Path, files: Files) -> None:
    """When a key is asked for, an unsigned file does not do."""
    assert ["seal: it was not made with the key that was asked for"] == verify_packet(
        packet(tmp_path, files), key="ab" * 32
    ).faults


@pytest.mark.parametrize("path", ["../../../../evil.yaml", "/etc/evil.yaml", "a\\b.yaml"])
def test_paths_that_lead_out_write_nothing(tmp_path: Path, files: Files, path: str) -> None:
    """A manifest that names a file outside the season's folder ends the verification."""

    def lead_out(data: bytes) -> bytes:
        manifest = json.loads(data)
        manifest["files"][0]["path"] = path
        return json.dumps(manifest).encode()

    with pytest.raises(PacketError, match="outside the season's folder"):
        verify_packet(packet(tmp_path, change(files, "manifest.json", lead_out)))


@pytest.mark.parametrize(
    "content", [b"{}", b"[]", b"not json", b'{"format": 99}', b'{"format": 1, "on": "x"}']
)
def test_a_strange_manifest_is_a_clear_error(tmp_path: Path, files: Files, content: bytes) -> None:
    """Whatever stands in the manifest, the answer is words and no traceback."""
    with pytest.raises(PacketError, match="manifest"):
        verify_packet(packet(tmp_path, {**files, "manifest.json": content}))


def test_a_pdf_without_records_is_a_clear_error(tmp_path: Path) -> None:
    """Any other PDF is told apart."""
    with pytest.raises(PacketError, match="holds no records of certgen's"):
        verify_packet(packet(tmp_path, {}))


def test_what_unpacks_too_far_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """An attachment that unpacks to more than is allowed is not unpacked any further."""
    monkeypatch.setattr("certgen.exchange.sealing.attachments.ATTACHMENT_BYTES", 1000)

    with pytest.raises(PacketError, match="unpacks to more"):
        read_attachments(pdf_with({"manifest.json": b" " * 1_000_000}))


def test_no_pdf_is_a_clear_error(tmp_path: Path) -> None:
    """A file that is no PDF at all says so."""
    (tmp_path / "x.pdf").write_bytes(b"hello")

    with pytest.raises(PacketError, match="this is not a PDF"):
        verify_packet(tmp_path / "x.pdf")


def test_a_pdf_cut_short_is_a_clear_error(tmp_path: Path) -> None:
    """A packet of which half arrived is told apart from one that was never a PDF."""
    (tmp_path / "x.pdf").write_bytes(packet(tmp_path, {}).read_bytes()[:200])

    with pytest.raises(PacketError, match="cut short or damaged"):
        verify_packet(tmp_path / "x.pdf")


def test_a_folder_that_moved_on_is_told_apart(tmp_path: Path, files: Files, season_folder: Path) -> None:
    """Beside the packet, today's folder may have another record: it is named."""
    later = Path(shutil.copytree(season_folder, tmp_path / "later"))
    text = (later / "trees.yaml").read_text()
    (later / "trees.yaml").write_text(text.replace("sex: hermaphrodite", "sex: unknown", 1))

    found = verify_packet(packet(tmp_path, files), against=later)

    assert "folder: trees.yaml is another than when the packet was made" in found.faults
    assert found.first_record is not None
    assert "trees" == found.first_record[0]
