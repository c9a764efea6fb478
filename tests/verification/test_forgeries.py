"""Every forgery of the catalogue is found, and what was changed is named."""

from __future__ import annotations

import re

import pytest
from forgeries import FORGERIES, SIGNER, STRANGER, Forgery
from printed_packets import line_packet
from signed import new_signer

from certgen.exchange.signing.certificates import key_digest
from certgen.exchange.signing.signature import sign_bytes
from certgen.verification.attachments import PacketError
from certgen.verification.verification import verify_bytes

COVERS = ("certgen.verification.comparison",)


@pytest.mark.parametrize("forgery", FORGERIES, ids=[one.name for one in FORGERIES])
def test_a_forgery_is_found_and_named(forgery: Forgery) -> None:
    """No forged packet is sound, and what was changed is told, by page where it is on a page."""
    packet = forgery.forge(line_packet())
    assert packet != line_packet()
    try:
        found = verify_bytes(packet)
    except PacketError as fault:
        told = str(fault)
    else:
        assert not found.sound
        told = "\n".join(found.faults)

    assert re.search(forgery.named, told), told


def test_there_are_enough_forgeries() -> None:
    """The catalogue doesn't shrink, and no name stands twice."""
    names = [one.name for one in FORGERIES]

    assert (True, len(names)) == (len(names) >= 80, len(set(names)))


def test_an_honest_signature_is_no_forgery() -> None:
    """Signed and left alone, all holds: whose key it is stays open until somebody vouches for it."""
    signer = new_signer(SIGNER)
    signed = sign_bytes(line_packet(), signer)
    found = verify_bytes(signed, key=key_digest(signer.signing_cert))
    vouched = verify_bytes(signed, trusted=[signer.signing_cert])

    assert (True, True) == (found.sound, vouched.sound)
    assert f"claims to be {SIGNER}" in found.answers[-1].says
    assert "claims to be" not in vouched.answers[-1].says


def test_a_second_signature_is_no_forgery() -> None:
    """An inspector may sign behind the grower."""
    twice = sign_bytes(sign_bytes(line_packet(), new_signer(SIGNER)), new_signer(STRANGER))

    assert ["holds"] * 2 == [
        answer.verdict for answer in verify_bytes(twice).answers if answer.subject == "Signature"
    ]


def test_a_strangers_signature_is_not_the_one_asked_for() -> None:
    """Signed by somebody whose certificate bears the same name: the key isn't the one that was asked for."""
    mine, theirs = new_signer(SIGNER), new_signer(f"{SIGNER} ")
    found = verify_bytes(sign_bytes(line_packet(), theirs), key=key_digest(mine.signing_cert))

    assert any(fault.startswith("signature: It isn't signed by the key") for fault in found.faults)
