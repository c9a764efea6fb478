"""A packet beside an earlier one, and beside the season's folder as it is now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from printed_packets import inside, line_packet, packet_of, write_line
from seasons import movement

from certgen.manifest import NAME
from certgen.verification.earlier import compare_folder, compare_packet
from certgen.verification.verification import verify_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from certgen.verification.answers import Answer


SALES = [movement("M2", "L1", "sold", 2, party="Osier Bank Growers", document="INV-2")]


def beside(packet: bytes, earlier: bytes) -> Answer:
    """What is said of two packets."""
    found = verify_bytes(packet, quick=True)
    compare_packet(found, earlier)
    return found.answers[-1]


def test_a_correction_is_told_as_one(tmp_path: Path) -> None:
    """A packet that says what it replaces is sound, says so on page 1, and lists what it changed."""
    folder = write_line(tmp_path / "season", movements=SALES)
    corrected = packet_of(folder, replaced=inside(line_packet())[NAME])

    answer = beside(corrected, line_packet())

    assert verify_bytes(corrected).sound
    assert ("holds", True) == (answer.verdict, answer.says.startswith("This is a correction"))
    assert "movements: added M2; taken out M1" in answer.details


def test_the_older_of_two_is_no_longer_to_be_used(tmp_path: Path) -> None:
    """Verified beside the packet that replaced it, the old one is named as such."""
    corrected = packet_of(write_line(tmp_path / "s", movements=SALES), replaced=inside(line_packet())[NAME])

    answer = beside(line_packet(), corrected)

    assert ("unknown", True) == (answer.verdict, answer.says.startswith("The other is the newer"))


def test_another_packet_is_no_correction(tmp_path: Path) -> None:
    """One that differs and doesn't say what it replaces; and the same packet twice."""
    other = packet_of(write_line(tmp_path / "season", movements=SALES))

    assert ["unknown", "holds"] == [
        beside(other, line_packet()).verdict,
        beside(line_packet(), line_packet()).verdict,
    ]


def test_a_folder_that_moved_on_is_told_by_record(tmp_path: Path) -> None:
    """Every record that differs today is named, table by table; the same folder holds."""
    same, later = write_line(tmp_path / "same"), write_line(tmp_path / "later", movements=SALES)
    (later / "evidence" / "letters" / "S1.txt").write_text("another letter\n")
    verdicts, details = [], []
    for folder in (same, later):
        found = verify_bytes(line_packet(), quick=True)
        compare_folder(found, folder)
        verdicts.append(found.answers[-1].verdict)
        details.append(found.answers[-1].details)

    assert ["holds", "fails"] == verdicts
    assert (
        (),
        (
            "movements: added M2; taken out M1",
            "evidence/letters/S1.txt: changed",
            "records/season.yaml is written otherwise",
        ),
    ) == tuple(details)
