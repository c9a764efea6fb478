"""A packet is verified from the file alone: its records, what it states, its pages, who signed it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from printed_packets import (
    ON,
    blank_pdf,
    edited,
    inside,
    line_packet,
    manifest_of,
    packet_of,
    verdicts,
    with_files,
    with_manifest,
    write_line,
)
from signed import new_signer

from certgen.exchange.signing.signature import sign_bytes
from certgen.limits import Limits
from certgen.manifest import NAME, PacketOptions
from certgen.verification.attachments import PacketError, read_attachments
from certgen.verification.files import verify_file
from certgen.verification.verification import verify_bytes

if TYPE_CHECKING:
    from pathlib import Path


COVERS = (
    "certgen.verification.files",
    "certgen.verification.answers",
    "certgen.verification.attachments",
    "certgen.verification.packet_files",
    "certgen.verification.rebuilding",
    "certgen.verification.signers",
)


def test_an_honest_packet_is_sound() -> None:
    """Left alone, it is the same to the last byte as the one that its records give."""
    found = verify_bytes(line_packet())

    assert {"Records": "holds", "Statements": "holds", "Pages": "holds", "Signature": "unasked"} == verdicts(
        found
    )
    assert (True, ()) == (found.sound, found.faults)
    assert manifest_of(line_packet())["on"] == ON.isoformat()


def test_every_answer_says_what_it_shows_or_leaves_open() -> None:
    """No line of the answer stands without what it proves, or what it doesn't."""
    assert [] == [
        answer.subject
        for answer in verify_bytes(line_packet()).answers
        if not (answer.shows or answer.leaves)
    ]


@pytest.mark.parametrize(
    "options",
    [PacketOptions("Letter", "none"), PacketOptions("A4", "lots", ("L1",))],
    ids=["letter", "one lot"],
)
def test_options_are_taken_from_the_manifest(tmp_path: Path, options: PacketOptions) -> None:
    """Another paper, fewer registers, one lot: the packet comes out the same from its manifest alone."""
    assert verify_bytes(packet_of(write_line(tmp_path / "season"), options)).sound


def test_a_season_with_what_cannot_be_read_is_sound(tmp_path: Path) -> None:
    """Files that can't be read as files aren't inside; what was said of them is, and the packet holds."""
    wrong = {"tree": "T1", "planting": "P1", "sex": "no such sex"}
    folder = write_line(tmp_path / "season", trees=[wrong])
    (folder / "broken.yaml").write_bytes(b"trees: \xff\xfe\n")
    (folder / "notes.yml.txt").write_text("trees: []\n")
    (folder / "wrong.yaml").write_text("trees: [\n")

    found = verify_bytes(packet_of(folder))

    assert ([], True) == (list(found.faults), found.sound)


def test_a_season_before_that_is_lost_is_sound(tmp_path: Path) -> None:
    """A season before that is named and isn't there: what was said of it travels in the manifest."""
    folder = write_line(tmp_path / "season")
    text = json.loads((folder / "season.yaml").read_text())
    text["season"]["previous"] = "../2025"
    (folder / "season.yaml").write_text(json.dumps(text))

    assert verify_bytes(packet_of(folder)).sound


def test_seasons_before_travel_along(tmp_path: Path) -> None:
    """A season before is inside, and is examined with it."""
    write_line(tmp_path / "2025")
    folder = write_line(tmp_path / "season")
    text = json.loads((folder / "season.yaml").read_text())
    text["season"]["previous"] = "../2025"
    (folder / "season.yaml").write_text(json.dumps(text))
    packet = packet_of(folder)

    assert verify_bytes(packet).sound
    assert "previous-1/records/season.yaml" in inside(packet)


def test_evidence_too_large_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Evidence that stayed outside is named as unseen; the packet holds all the same."""
    monkeypatch.setattr("certgen.manifest.EVIDENCE_BYTES", 0)
    found = verify_bytes(packet_of(write_line(tmp_path / "season")))

    assert (True, True) == (found.sound, "evidence/letters/S1.txt" in found.answers[0].leaves)


def test_quick_leaves_the_pages_out() -> None:
    """Without the pages a stamp isn't seen; the answer says that they were left out."""
    found = verify_bytes(edited(line_packet(), lambda pdf: pdf.pages.remove(p=1)), quick=True)

    assert {
        "Records": "holds",
        "Statements": "holds",
        "Pages": "unasked",
        "Signature": "unasked",
    } == verdicts(found)


def test_a_changed_record_is_named() -> None:
    """A record file that was changed inside isn't the one that the manifest names."""
    text = inside(line_packet())["records/season.yaml"].replace(b"hermaphrodite", b"female", 1)

    found = verify_bytes(with_files(line_packet(), {"records/season.yaml": text}))

    assert "records: records/season.yaml is not the file that the manifest names" == found.faults[0]


def test_a_changed_statement_is_found() -> None:
    """A manifest that claims more than the records bear is contradicted by what they give."""

    def claim(manifest: dict[str, Any]) -> None:
        manifest["statements"]["lots"][0]["weight_mg"] += 1

    found = verify_bytes(with_manifest(line_packet(), claim))

    assert ("fails", True) == (
        verdicts(found)["Statements"],
        any(fault.startswith("statements: statements.lots") for fault in found.faults),
    )


def test_another_operation_over_the_same_records_is_found() -> None:
    """A manifest that names another operation than the records do."""
    found = verify_bytes(
        with_manifest(line_packet(), lambda manifest: manifest["season"].update(operation="Somebody Else"))
    )

    assert any("season.operation" in fault for fault in found.faults)


def test_a_key_that_was_asked_for_must_have_signed() -> None:
    """When a key is asked for, an unsigned file does not do."""
    found = verify_bytes(line_packet(), key="ab" * 32)

    assert ("fails", False) == (verdicts(found)["Signature"], found.sound)


@pytest.mark.parametrize("path", ["../../../../evil.yaml", "/etc/evil.yaml", "a\\b.yaml"])
def test_paths_that_lead_out_write_nothing(path: str) -> None:
    """A manifest that names a file outside the season's folder ends the verification."""
    packet = with_manifest(line_packet(), lambda manifest: manifest["files"][0].update(path=path))

    with pytest.raises(PacketError, match="outside the season's folder"):
        verify_bytes(packet)


@pytest.mark.parametrize(
    "content", [b"{}", b"[]", b"not json", b'{"format": 99}', b'{"format": 2, "on": "x"}']
)
def test_a_strange_manifest_is_a_clear_error(content: bytes) -> None:
    """Whatever stands in the manifest, the answer is words and no traceback."""
    with pytest.raises(PacketError, match="manifest"):
        verify_bytes(blank_pdf({NAME: content}))


def test_a_pdf_without_records_is_a_clear_error() -> None:
    """Any other PDF is told apart."""
    with pytest.raises(PacketError, match="holds no records of certgen's"):
        verify_bytes(blank_pdf({}))


def test_what_unpacks_too_far_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """An attachment that unpacks to more than is allowed is not unpacked any further."""
    monkeypatch.setattr("certgen.verification.attachments.ATTACHMENT_BYTES", 1000)

    with pytest.raises(PacketError, match="unpacks to more"):
        read_attachments(blank_pdf({NAME: b" " * 1_000_000}))


def test_no_pdf_is_a_clear_error() -> None:
    """A file that is no PDF at all says so."""
    with pytest.raises(PacketError, match="this is not a PDF"):
        verify_bytes(b"hello")


def test_a_pdf_cut_short_is_a_clear_error() -> None:
    """A packet of which half arrived is told apart from one that was never a PDF."""
    with pytest.raises(PacketError, match="cut short or damaged"):
        verify_bytes(line_packet()[:2000])


def test_a_packet_that_asks_for_too_much_is_set_aside(tmp_path: Path) -> None:
    """Verified under limits, what takes too long ends, and is named."""
    file = tmp_path / "packet.pdf"
    file.write_bytes(line_packet())

    with pytest.raises(PacketError, match=r"packet\.pdf takes longer than"):
        verify_file(file, limits=Limits(0.01, 4096))


def test_a_file_is_verified_in_a_process_of_its_own(tmp_path: Path) -> None:
    """What `certgen verify` calls comes to the same answers."""
    file = tmp_path / "packet.pdf"
    file.write_bytes(line_packet())

    assert verdicts(verify_bytes(line_packet(), quick=True)) == verdicts(verify_file(file, quick=True))


@pytest.mark.parametrize("signed", [False, True])
def test_without_the_library_for_signatures_the_rest_is_told(
    monkeypatch: pytest.MonkeyPatch, signed: bool
) -> None:
    """A signed packet isn't called changed where nothing can read its signature, nor called sound."""
    packet = sign_bytes(line_packet(), new_signer("Larkfold Seed Orchard")) if signed else line_packet()
    monkeypatch.setattr("certgen.exchange.signing.offline._NEEDED", ("no_such_package",))

    found = verify_bytes(packet)

    assert ("unknown" if signed else "holds", not signed) == (verdicts(found)["Pages"], found.sound)
    assert "certgen[signing]" in found.answers[-1].says
