from __future__ import annotations

from datetime import date

import pytest
from printed_packets import verdicts

from certgen.disclosure.disclosing import disclose_lot
from certgen.disclosure.line_season import cut_to_lots
from certgen.examination import examine
from certgen.manifest import PacketOptions, build_manifest
from certgen.report.packet import find_maker
from certgen.report.writing import set_pdf
from certgen.rules.example_seasons import load_example
from certgen.verification.files import verify_file
from certgen.verification.supplied import read_supplied

ON = date(2026, 10, 31)
BUYER = "Quillmere Growers"


def disclose(result, full):
    """A buyer's packet that says it comes from a full one."""
    with disclose_lot(result, "L1", BUYER) as shown:
        return set_pdf(shown, PacketOptions("A4", "none", ("L1",), "buyer", BUYER, full))


@pytest.fixture(scope="module")
def packets(tmp_path_factory):
    """The season's folder, its full packet, and its buyer's."""
    folder = load_example("bag-failed", "good").write(tmp_path_factory.mktemp("season"))
    result = examine(folder, ON)
    places = tmp_path_factory.mktemp("packets")
    (places / "full.pdf").write_bytes(set_pdf(result, PacketOptions("A4", "none")))
    full = build_manifest(result, find_maker(result), PacketOptions("A4")).sha256
    (places / "lot.pdf").write_bytes(disclose(result, full))
    return folder, places


def test_a_buyers_packet_alone_holds_and_says_what_it_cannot_know(packets):
    """Its pages follow from the records inside; where those come from isn't asked."""
    _, places = packets
    found = verify_file(places / "lot.pdf")
    assert found.sound
    assert {"Pages": "holds", "Statements": "holds", "Withheld": "unasked"}.items() <= verdicts(found).items()
    said = next(answer for answer in found.answers if answer.subject == "Withheld")
    assert "--against" in said.leaves


@pytest.mark.parametrize("against", ["full.pdf", "folder"])
def test_it_is_made_anew_from_the_full_packet_or_the_folder(packets, against):
    """Whoever has the full packet, whatever its registers, finds the very same records and digests."""
    folder, places = packets
    found = verify_file(
        places / "lot.pdf", quick=True, against=folder if against == "folder" else places / against
    )
    assert "holds" == verdicts(found)["Withheld"]


def test_another_seasons_packet_does_not_bear_it_out(packets, tmp_path):
    """Of records with one bag less the copy differs, and so does the full packet that it names."""
    _, places = packets
    other = load_example("bag-failed", "bad").write(tmp_path)
    found = verify_file(places / "lot.pdf", quick=True, against=other)
    assert verdicts(found)["Withheld"] in {"fails", "unknown"}
    assert not found.sound


def test_a_false_origin_fails(packets, tmp_path):
    """A packet that names another full packet isn't what these records disclose."""
    folder, _ = packets
    (tmp_path / "lot.pdf").write_bytes(disclose(examine(folder, ON), "ab" * 32))
    found = verify_file(tmp_path / "lot.pdf", quick=True, against=folder)
    assert "fails" == verdicts(found)["Withheld"]


@pytest.fixture(scope="module")
def line(packets):
    """The folder of the packet about lot L1 and its line alone, made for the certifier."""
    folder, places = packets
    result = examine(folder, ON)
    full = build_manifest(result, find_maker(result), PacketOptions("A4")).sha256
    with cut_to_lots(result, ["L1"]) as (cut, left_out):
        options = PacketOptions("A4", "full", ("L1",), full=full, left_out=left_out)
        (places / "line.pdf").write_bytes(set_pdf(cut, options))
    return places


def test_a_packet_of_one_line_holds_and_says_what_it_cannot_know(line):
    """Its pages follow from the records inside; whether anything else bears on the lot isn't asked."""
    found = verify_file(line / "line.pdf")
    assert {"Pages": "holds", "Statements": "holds", "Left out": "unasked"}.items() <= verdicts(found).items()
    said = next(answer for answer in found.answers if answer.subject == "Left out")
    assert "about lot L1 and its line alone" in said.says


@pytest.mark.parametrize("against", ["full.pdf", "folder"])
def test_a_packet_of_one_line_is_cut_anew_from_the_full_one(packets, line, against):
    """Whoever has the full packet, or the folder, comes to the very same files."""
    folder, _ = packets
    found = verify_file(
        line / "line.pdf", quick=True, against=folder if against == "folder" else line / against
    )
    assert "holds" == verdicts(found)["Left out"]


def test_a_packet_of_one_line_of_other_records_fails(line, tmp_path):
    """Of records with a torn bag more it differs."""
    other = load_example("bag-failed", "bad").write(tmp_path)
    found = verify_file(line / "line.pdf", quick=True, against=other)
    assert "fails" == verdicts(found)["Left out"]


def test_one_line_shows_nothing_of_bought_seed(line):
    """What was left out may speak against it, so a supplier is asked for the full packet."""
    found = read_supplied((line / "line.pdf").read_bytes())
    assert "ask for a full one" in found.faults[0]
    assert {} == found.lots


def test_what_is_withheld_shows_nothing_of_bought_seed(packets):
    """A buyer's packet is no supplier's packet: its letters can't be looked at."""
    _, places = packets
    found = read_supplied((places / "lot.pdf").read_bytes())
    assert found.faults == (
        "it withholds its evidence, and what is withheld shows nothing; ask for a full one",
    )
    assert {} == found.lots
