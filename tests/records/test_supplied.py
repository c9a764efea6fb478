"""Suppliers' packets as records name them, and who is asked about which."""

from __future__ import annotations

import json
import os

import pytest
from seasons import lot, one_line, planting, write_season
from stand_ins import StandIns, packet_text

from certgen.exchange.signing.certificates import fingerprint
from certgen.manifest import EVIDENCE_BYTES
from certgen.records.joining.farm import join_seasons
from certgen.records.supplied import ATTACHED_BYTES, fingerprint_of, list_packets, read_packets
from certgen.standards.season_reading import read_case

PART = {
    "supplier": "Brackwen Seed Exchange",
    "supplier_lot": "X-1",
    "packet": "packets/a.pdf",
    "weight": "2 g",
}


@pytest.fixture
def farm(tmp_path):
    """`farm(files, before=None, **tables)`: a season with its evidence; `before` are those of last year."""

    def build(files=(), before=None, **tables):
        folder = tmp_path / "2026"
        folder.mkdir()
        write_season(folder, details={"previous": "../2025"} if before else {}, **{**one_line(), **tables})
        if before:
            (tmp_path / "2025").mkdir()
            years = {"from": "2024-11-01", "to": "2025-10-31"}
            write_season(tmp_path / "2025", label="2025", details=years, **before)
        for path, text in dict(files).items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_text(text, encoding="utf-8")
        season, errors = read_case(folder)
        assert () == errors
        return join_seasons(season)

    return build


def test_lots_and_plantings_name_packets(farm) -> None:
    """Each with the steps to where it stands."""
    origin = {"supplier": "Brackwen Seed Exchange", "packet": "b.pdf"}
    found = farm(
        lots=[lot("L1", [{"batch": "X1", "weight": "6 g"}, PART], 8)], plantings=[planting(origin=origin)]
    )

    assert [
        ("plantings", "P1", 0, ("origin", "packet"), "b.pdf"),
        ("lots", "L1", 0, ("sources", 1, "packet"), "packets/a.pdf"),
    ] == [tuple(one) for one in list_packets(found)]


def test_a_packet_of_the_year_before_lies_in_that_years_folder(farm) -> None:
    """Named from here; and taken over where only that year says it."""
    origin = {"supplier": "Brackwen Seed Exchange", "packet": "b.pdf"}
    before = {"lots": [lot("K1", [PART], 2)], "plantings": [planting(origin=origin)], "blocks": []}
    found = farm({"../2025/evidence/packets/a.pdf": packet_text()}, before=before)

    assert ["../../2025/evidence/b.pdf", "../../2025/evidence/packets/a.pdf"] == [
        one.file for one in list_packets(found)
    ]
    reader = StandIns()
    assert ["../../2025/evidence/packets/a.pdf"] == list(read_packets(found, reader).packets)
    assert ["a.pdf"] == reader.read


def test_without_a_reader_none_is_verified(farm) -> None:
    """Nor is one that isn't there, or that is empty."""
    lots = [lot("L1", [PART, {**PART, "packet": "none.pdf"}, {**PART, "packet": "empty.pdf"}], 6)]
    found = farm({"evidence/packets/a.pdf": packet_text(), "evidence/empty.pdf": ""}, lots=lots)

    assert {} == read_packets(found, None).packets
    assert ["packets/a.pdf"] == list(read_packets(found, StandIns()).packets)


def test_what_replaces_a_packet_is_asked_of_every_file(farm) -> None:
    """Though no record names it; of others than PDFs nobody asks."""
    files = {
        "evidence/packets/a.pdf": packet_text(),
        "evidence/letters/new.PDF": packet_text(replaces="0001"),
        "evidence/new.txt": json.dumps({"replaces": "0002"}),
    }
    found = farm(files, lots=[lot("L1", [PART], 2)])

    assert {"0001": "letters/new.PDF"} == read_packets(found, StandIns()).replaced


def test_a_packet_that_a_report_has_no_room_for_proves_nothing(farm) -> None:
    """Whoever has the report alone must come to the same answer; sizes are all that counts."""
    found = farm(
        {"evidence/packets/a.pdf": packet_text(), "evidence/a.bin": "x"}, lots=[lot("L1", [PART], 2)]
    )
    reader = StandIns()
    os.truncate(found.folder / "evidence" / "a.bin", ATTACHED_BYTES - 100)
    (packet,) = read_packets(found, reader).packets.values()

    assert (
        "it is too large to be put inside a report, so whoever reads that can't verify it",
    ) == packet.faults
    assert [] == reader.read
    assert EVIDENCE_BYTES == ATTACHED_BYTES


def test_a_key_has_one_fingerprint_however_it_is_written() -> None:
    """The one that signing prints: the first 32 digits of its digest, in groups of four."""
    digest = "0f1a" * 16

    assert fingerprint(digest) == fingerprint_of(digest)
    assert [4] * 8 == [len(group) for group in fingerprint_of(digest.upper()).split(" ")]
    assert fingerprint_of(digest) == fingerprint_of(fingerprint_of(digest).upper())
