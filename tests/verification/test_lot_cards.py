"""A lot's card is verified from the file, and held against the records of a packet or a folder."""

from __future__ import annotations

import hashlib
import io
import json
from typing import TYPE_CHECKING, Any

import pikepdf
import pytest
from printed_packets import ON, inside, line_packet, verdicts, write_line
from signed import new_signer

from certgen.examination import examine
from certgen.exchange.lot_card.code import sign_facts, write_code
from certgen.exchange.lot_card.facts import gather_facts
from certgen.exchange.lot_card.page import NAME, set_card
from certgen.exchange.signing.certificates import key_digest
from certgen.limits import Limits
from certgen.manifest import NAME as MANIFEST
from certgen.report.packet import find_maker
from certgen.verification.attachments import PacketError
from certgen.verification.files import looks_like_card
from certgen.verification.lot_cards import verify_card, verify_card_bytes

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from certgen.verification.answers import Verification

Facts = dict[str, Any]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small season's folder."""
    return write_line(tmp_path_factory.mktemp("line"))


@pytest.fixture(scope="module")
def packet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its packet, as a file."""
    path = tmp_path_factory.mktemp("packet") / "report.pdf"
    path.write_bytes(line_packet())
    return path


@pytest.fixture(scope="module")
def facts(season: Path) -> Facts:
    """What the card of its lot says, beside that packet."""
    result = examine(season, ON)
    sha256 = hashlib.sha256(inside(line_packet())[MANIFEST]).hexdigest()
    return gather_facts(result, "L1", sha256, find_maker(result))


def verify(data: bytes, **asked: Any) -> Verification:
    """The answers about a card from its bytes."""
    found = verify_card_bytes(data, **asked)
    assert found is not None
    return found


def test_an_honest_card_holds_alone(facts: Facts) -> None:
    """The page follows from the facts; what the records come to is left open, and said."""
    found = verify(set_card(facts))
    assert {"Page": "holds", "Signature": "unasked", "Records": "unasked"} == verdicts(found)
    assert found.sound


def test_an_honest_card_holds_beside_its_packet(facts: Facts, packet: Path) -> None:
    """The lot's facts are taken from the packet's records anew, and the packet is the one that is named."""
    found = verify(set_card(facts), against=packet)
    assert {"Page": "holds", "Signature": "unasked", "Records": "holds"} == verdicts(found)


def test_an_honest_card_holds_beside_the_folder(facts: Facts, season: Path) -> None:
    """A folder bears no fingerprint, and that is said."""
    found = verify(set_card(facts), against=season)
    assert {"Page": "holds", "Signature": "unasked", "Records": "holds"} == verdicts(found)
    assert "a folder bears no fingerprint" in found.answers[-1].leaves


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"traced_mg": 9000, "weight_mg": 9000}, "traced_mg: it says 9000, the records inside give 8000"),
        ({"variety": "Rosy Cistern"}, "variety: it says"),
        ({"parents.trees": 40}, "parents.trees: it says 40"),
        (
            {
                "germination": {
                    "percent": 99,
                    "seeds": 400,
                    "agrees": True,
                    "tested": "2026-09-01",
                    "holds_until": "",
                    "by": "",
                }
            },
            "germ",
        ),
        ({"packet": "0" * 64}, "packet: the card goes with 0000 0000 0000 0000 0000"),
        ({"on": "2026-09-30"}, "on: it says"),
        ({"label": [["Status", "organic"], ["Grade", "best"]]}, "label"),
    ],
)
def test_a_forged_fact_is_found_beside_the_packet(
    facts: Facts, packet: Path, change: Mapping[str, Any], named: str
) -> None:
    """The page of forged facts follows from them; the records give others, which are named."""
    forged = json.loads(json.dumps(facts))
    for path, value in change.items():
        *above, name = path.split(".")
        place = forged
        for part in above:
            place = place[part]
        place[name] = value
    found = verify(set_card(forged), against=packet)
    assert {"Page": "holds", "Signature": "unasked", "Records": "fails"} == verdicts(found)
    assert any(named in detail for detail in found.answers[-1].details)


def test_a_lot_of_another_operation_is_found(facts: Facts, packet: Path) -> None:
    """A lot that the packet doesn't know."""
    found = verify(set_card({**facts, "lot": "L9"}), against=packet)
    assert "no record bears the lot number L9" in found.answers[-1].says


def test_a_page_that_was_drawn_over_is_found(facts: Facts) -> None:
    """With the facts left alone, the page isn't what they give."""
    with pikepdf.open(io.BytesIO(set_card(facts))) as document:
        document.pages[0].contents_add(b"q 0 0 100 100 re f Q")
        out = io.BytesIO()
        document.save(out)
    assert {"Page": "fails", "Signature": "unasked", "Records": "unasked"} == verdicts(verify(out.getvalue()))


def test_what_is_appended_is_found(facts: Facts) -> None:
    """Bytes behind the end, as a PDF program adds them."""
    found = verify(set_card(facts) + b"\n% more\n")
    assert "Something was added behind the page" in found.answers[0].says
    assert not found.sound


def test_another_version_is_never_called_forged(facts: Facts) -> None:
    """A card that other code made comes out otherwise here: unknown, and why."""
    other = {**facts, "made_by": {**facts["made_by"], "code": "f" * 64}}
    changed = set_card({**other, "variety": "Amber  Kestrel"})
    with pikepdf.open(io.BytesIO(changed)) as document:
        document.attachments[NAME].obj.EF.F.write((json.dumps(other) + "\n").encode())
        out = io.BytesIO()
        document.save(out)
    assert "unknown" == verdicts(verify(out.getvalue()))["Page"]


def test_a_signed_card_names_its_signer(facts: Facts) -> None:
    """Claimed where nobody vouches, by the key where it was named, and refused for another."""
    signer = new_signer("K. Wren")
    card = set_card(sign_facts(facts, signer))
    digest = key_digest(signer.signing_cert)
    alone = verify(card).answers[1]
    assert ("holds", True) == (alone.verdict, "claims to be K. Wren" in alone.says)
    named = verify(card, key=digest, certificates=[signer.signing_cert]).answers[1]
    assert ("holds", f"Signed by K. Wren. Key {digest[:4]}") == (named.verdict, named.says[:27])
    other = verify(card, key=key_digest(new_signer("other").signing_cert)).answers[1]
    assert "fails" == other.verdict
    unsigned = verify(set_card(facts), key=digest).answers[1]
    assert "fails" == unsigned.verdict


def test_a_signature_of_another_card_is_found(facts: Facts) -> None:
    """Moved to a card with one gram more, it isn't over these lines."""
    signature = sign_facts(facts, new_signer("K. Wren"))["signature"]
    found = verify(set_card({**facts, "traced_mg": 9000, "weight_mg": 9000, "signature": signature}))
    assert "fails" == verdicts(found)["Signature"]


@pytest.mark.parametrize("certificate", ["", "AAAA", "!!", "MIIB"])
def test_a_broken_certificate_is_no_signature(facts: Facts, certificate: str) -> None:
    """What can't be read vouches for nobody."""
    signature = {**sign_facts(facts, new_signer("K. Wren"))["signature"], "certificate": certificate}
    found = verify(set_card({**facts, "signature": signature}), key="0" * 64)
    assert not found.sound


def test_the_text_of_a_code_is_checked_alone(facts: Facts, packet: Path) -> None:
    """As read off paper: signature by the key that one holds, facts by the packet."""
    signer = new_signer("K. Wren")
    text = write_code(sign_facts(facts, signer)).encode()
    held = {"certificates": [signer.signing_cert]}
    assert {"Code": "holds", "Signature": "holds", "Records": "holds"} == verdicts(
        verify(text, against=packet, **held)
    )
    assert {"Code": "holds", "Signature": "unasked", "Records": "unasked"} == verdicts(verify(text))
    forged = text.replace(b"8 g traced", b"9 g traced")
    assert {"Code": "holds", "Signature": "fails", "Records": "fails"} == verdicts(
        verify(forged, against=packet, **held)
    )


@pytest.mark.parametrize("text", [b"{}", b"[]", b"\xff", b'{"format": 1}', b"[" * 100_000])
def test_facts_that_certgen_never_wrote_are_refused(facts: Facts, text: bytes) -> None:
    """Nothing further on has to ask whether they keep to their schema."""
    with pikepdf.open(io.BytesIO(set_card(facts))) as document:
        document.attachments[NAME].obj.EF.F.write(text)
        out = io.BytesIO()
        document.save(out)
    with pytest.raises(PacketError, match="facts inside this card can't be read"):
        verify(out.getvalue())


def test_limits_end_it(facts: Facts, tmp_path: Path) -> None:
    """A card that asks for more than a card does is set aside, with the limit named."""
    path = tmp_path / "card.pdf"
    path.write_bytes(set_card(facts))
    with pytest.raises(PacketError, match="a lot's card doesn't"):
        verify_card(path, limits=Limits(0.001, 4096))


def test_a_card_in_a_file_is_verified_under_limits(facts: Facts, tmp_path: Path) -> None:
    """In a process of its own, with certificates handed over, the answers are the same."""
    signer = new_signer("K. Wren")
    card = set_card(sign_facts(facts, signer))
    path = tmp_path / "card.pdf"
    path.write_bytes(card)
    found = verify_card(path, certificates=[signer.signing_cert])
    assert found is not None
    assert found.answers == verify(card, certificates=[signer.signing_cert]).answers


def test_a_packet_is_no_card(packet: Path, tmp_path: Path) -> None:
    """Nor is any other text; a code's text is."""
    assert not looks_like_card(packet)
    assert verify_card_bytes(packet.read_bytes()) is None
    path = tmp_path / "note.txt"
    path.write_text("Seed lot AK-1", encoding="utf-8")
    assert not looks_like_card(path)
    path.write_text("\nSeed lot card: lot AK-1\n", encoding="utf-8")
    assert looks_like_card(path)
