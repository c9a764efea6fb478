"""What a telephone reads off a card, and the signature on it."""

from __future__ import annotations

import base64
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from signed import new_signer, rsa_signer

from certgen.exchange.lot_card.code import (
    TEXT_BYTES,
    CardCode,
    check_signature,
    read_code,
    sign_facts,
    write_code,
)
from certgen.exchange.lot_card.facts import CardError, digest_facts


def test_the_text_says_what_the_lot_is_without_a_network(card: dict[str, Any]) -> None:
    """Lot, variety, standing by gram, whose records of which day, packet and card: nothing to look up."""
    digits = digest_facts(card)
    assert [
        "Seed lot card: lot L1",
        "Amber Kestrel, Carica papaya L.",
        "traced: 8 g traced",
        "Larkfold Seed Orchard, records as of 2026-10-01",
        "Name C-0417/2026/lots/L1",
        "Packet 0123 4567 89ab cdef 0123",
        "Card " + " ".join(digits[start : start + 4] for start in range(0, 20, 4)),
    ] == write_code(card).splitlines()


def test_a_lot_that_is_held_back_says_so(card: dict[str, Any]) -> None:
    """Whoever reads the code in a shop has no other page."""
    assert write_code({**card, "held": True}).splitlines()[2] == "traced: 8 g traced; held back"


@pytest.mark.parametrize("signer", [new_signer("K. Wren"), rsa_signer(pss=False)])
def test_a_signature_is_over_every_line(card: dict[str, Any], signer: Any) -> None:
    """With any line changed it doesn't hold, nor with another key."""
    signed = sign_facts(card, signer)
    code = read_code(write_code(signed))
    assert check_signature(code, signer.signing_cert)
    assert not check_signature(code, new_signer("somebody else").signing_cert)
    for at in range(len(code.lines)):
        lines = (*code.lines[:at], code.lines[at] + " ", *code.lines[at + 1 :])
        assert not check_signature(
            CardCode(lines, code.on, code.packet, code.card, code.signature), signer.signing_cert
        )


def test_no_single_bit_of_a_signature_can_change(card: dict[str, Any]) -> None:
    """Each one flipped, it no longer holds."""
    signer = new_signer("K. Wren")
    code = read_code(write_code(sign_facts(card, signer)))
    for bit in range(8 * len(code.signature)):
        flipped = bytearray(code.signature)
        flipped[bit // 8] ^= 1 << bit % 8
        changed = CardCode(code.lines, code.on, code.packet, code.card, bytes(flipped))
        assert not check_signature(changed, signer.signing_cert)


def test_a_telephone_may_change_line_ends(card: dict[str, Any]) -> None:
    """Carriage returns, and blanks at the end of a line, are the telephone's."""
    text = write_code(sign_facts(card, new_signer("K. Wren")))
    assert read_code(text) == read_code("\n" + text.replace("\n", " \r\n") + "\n\n")


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("Packet 0", "Packet o"),
        lambda text: text.partition("\n")[2],
        lambda text: text + "\nSignature %%%",
        lambda text: text + "\nand more",
        lambda _text: "",
        lambda _text: "Seed lot card: lot",
    ],
)
def test_what_is_no_whole_code_is_refused(card: dict[str, Any], change: Any) -> None:
    """The message asks to read it anew; nothing is guessed."""
    with pytest.raises(CardError, match="read the code anew"):
        read_code(change(write_code(card)))


@given(st.text())
def test_noise_is_refused(text: str) -> None:
    """Whatever a telephone makes of another code."""
    with pytest.raises(CardError):
        read_code(text)


def test_names_of_any_length_fit_the_code(card: dict[str, Any]) -> None:
    """A name is cut, and stays on its line."""
    text = write_code({**card, "lot": "L\n" * 400, "variety": "V " * 400})
    assert 7 == len(text.splitlines())
    assert len(text) < 500 < TEXT_BYTES


def test_the_certificate_travels_with_the_facts(card: dict[str, Any]) -> None:
    """Signed facts bear the key's certificate, so that a card alone can be checked."""
    signer = new_signer("K. Wren")
    held = sign_facts(card, signer)["signature"]["certificate"]
    assert base64.b64decode(held) == signer.signing_cert.dump()
